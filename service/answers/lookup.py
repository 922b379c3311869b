"""What a lookup is, and what it answers with."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from service.answers.blocks import also_block, chosen_method, corrections_block
from service.answers.cautions import cautions
from service.answers.document import document
from service.answers.echo import Echo
from service.answers.evaluate import Evaluation
from service.answers.figure import Figure
from service.answers.registry import Registry
from service.answers.situation import Situation
from service.errors import BadQuestion
from service.parameters import Given, Members, Parameter, Parameters, Question, read_question

FORMATS = ("json", "txt", "csv", "md", "wiki", "dokuwiki", "html", "svg", "png")
"""Suffixes of a lookup; some lookups offer fewer."""
NOTHING: Mapping[str, str] = MappingProxyType({})


@dataclass(frozen=True)
class Lead:
    """What a reader sees first, in every format.

    Parameters
    ----------
    sentence : str
        What a person would say; it stands alone.
    label : str
        What the largest words are: ``Keeps apart above``.
    headline : str
        The largest words: a number with its band, or a verdict. Of a safety sheet, the safe end.
    caution : str
        Key of the one caution that matters most; among the answer's own.
    """

    sentence: str
    label: str
    headline: str
    caution: str = ""


@dataclass(frozen=True)
class Answer:
    """One answer, typed and in SI, that becomes a document which any renderer can show.

    Parameters
    ----------
    lookup : str
        Key of the lookup.
    asked : Echo
        Every parameter that applies, as understood, and which of it was assumed.
    results : mapping
        Result fields, in order; a field that does not apply is absent.
    method : mapping, optional
        The method block of the preferred method.
    also : list
        The other methods with their own value and ``difference_percent``.
    corrections : mapping
        Factors that were applied.
    notes : list of str
        Sentences.
    cautions : tuple of str
        Keys of the caution sentences.
    gas_cautions : tuple of str
        Keys of what the gas adds.
    title : str
        One line for headings, where it says more than that of the lookup.
    figure : callable, optional
        Makes the picture of this answer, where a curve is asked for; a card is drawn otherwise.
    first : tuple of str
        Where cautions stand before everything else, as on the switch-on sheet: ``("cautions",)``.
    lead : Lead, optional
        What stands first in every format.
    written : mapping of str to str
        Formats, by suffix, that the answer writes itself: a sheet to be filled in is not its fields in rows.
    not_alone : mapping of str to str
        Fields that mislead without the rest of the answer, and why: they are not given alone.
    """

    lookup: str
    asked: Echo
    results: Mapping[str, object]
    method: Mapping[str, object] | None = None
    also: list[dict[str, object]] = field(default_factory=list)
    corrections: Mapping[str, object] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    cautions: tuple[str, ...] = ()
    gas_cautions: tuple[str, ...] = ()
    title: str = ""
    figure: Callable[[], Figure | None] | None = None
    first: tuple[str, ...] = ()
    written: Mapping[str, str] = field(default_factory=dict)
    not_alone: Mapping[str, str] = field(default_factory=dict)
    lead: Lead | None = None

    @classmethod
    def at(
        cls,
        lookup: str,
        here: Situation,
        asked: Echo,
        results: Mapping[str, object],
        evaluations: Sequence[Evaluation],
        registry: Registry,
        *,
        title: str = "",
        notes: Iterable[str] = (),
        cautions: tuple[str, ...] = (),
        lead: Lead | None = None,
        figure: Callable[[], Figure | None] | None = None,
        first: tuple[str, ...] = (),
        written: Mapping[str, str] = NOTHING,
    ) -> Answer:
        """Return an answer that stands on evaluations of a situation, of one element each.

        Method, other methods and corrections are those of the last one; notes those of all, behind the situation's and
        before the lookup's own; the gas adds its cautions.

        Parameters
        ----------
        evaluations : sequence of Evaluation
            Each of them answered.
        notes : iterable of str
            The lookup's own.
        cautions, lead, figure, first, written
            As those of an answer.
        """
        last = evaluations[-1]
        estimated = (note for one in evaluations for note in one.preferred().estimate.notes)
        return cls(
            lookup,
            asked,
            results,
            chosen_method(last),
            also_block(last),
            corrections_block(last),
            [*here.notes, *last.arrangement.notes, *estimated, *notes],
            cautions,
            registry.gas_cautions(last.case.gas),
            title,
            figure,
            first,
            written,
            lead=lead,
        )

    def document(self, registry: Registry) -> dict[str, Any]:
        """Return the answer as the JSON document of the interface."""
        whole: dict[str, Any] = {"lookup": self.lookup, **self._led(), "asked": document(self.asked)}
        whole |= document(self.results)
        if self.method is not None:
            whole["method"] = dict(self.method)
        whole |= {
            "also": document(self.also),
            "corrections": dict(self.corrections),
            "notes": list(dict.fromkeys(self.notes)),
        }
        whole["cautions"] = cautions(self.cautions, self.gas_cautions)
        leading = {key: whole[key] for key in ("lookup", *self.first)}
        return {**leading, **whole, **registry.versions}

    def _led(self) -> dict[str, object]:
        if self.lead is None:
            return {}
        headline = {"label": self.lead.label, "text": self.lead.headline}
        return {
            "sentence": self.lead.sentence,
            "headline": headline | ({"caution": self.lead.caution} if self.lead.caution else {}),
        }


@dataclass(frozen=True)
class Least:
    """The least distances of one question, or of many that get the same sentences, without the answer around them.

    Numbers are those of one question, or arrays.

    Parameters
    ----------
    distances : tuple of float
        What is asked for [m], that which governs first.
    governed_by : str
        Key of the requirement that asks for the first.
    notes : sequence of str
        Sentences that belong to it.
    cautions : tuple of str
        Keys of cautions.
    about : tuple of float
        What further sentences are made of.
    """

    distances: tuple[float, ...]
    governed_by: str
    notes: Sequence[str] = ()
    cautions: tuple[str, ...] = ()
    about: tuple[float, ...] = ()


@dataclass(frozen=True)
class Lookup:
    """One question that the service answers.

    Parameters
    ----------
    key : str
        Path segment: ``/v1/<key>``.
    summary : str
        One sentence: what is asked.
    parameters : tuple of Parameter
        Everything that may be asked with.
    answer : callable
        From a question to an `Answer`.
    example : str
        A query that works, without the leading question mark.
    formats : tuple of str
        Suffixes offered.
    single_values : bool
        Whether ``only`` is accepted.
    results : mapping of str to str
        Result field to its meaning, for the reference.
    body : Members, optional
        What the body may hold, of a question that is posted.
    also_asked : bool
        Whether it is asked in a query too.
    answer_given : callable, optional
        From a body to an `Answer`.
    from_sheet : callable, optional
        From the text of a sheet and the query beside it to the JSON structure of the body.
    keeps_question : bool
        Whether a refusal never points to another question, as any other would be about a weaker barrier.
    one_of : tuple of tuple of str
        Where what is required alone does not make a question: sets of parameters of which one, at least, is given too.
    place : int
        Among the questions of the page: the lowest first, then by title.
    more : tuple of str
        Further queries that work and whose answers have other parts than the example's.
    many : callable, optional
        From a batch of questions as understood to how they are answered, piece by piece; a batch does not ask a lookup
        without it.
    """

    key: str
    title: str
    summary: str
    parameters: tuple[Parameter, ...]
    answer: Callable[[Question], Answer] = field(repr=False)
    example: str
    formats: tuple[str, ...] = FORMATS
    single_values: bool = True
    results: Mapping[str, str] = field(default_factory=dict)
    body: Members | None = None
    also_asked: bool = False
    answer_given: Callable[[Given], Answer] | None = field(default=None, repr=False)
    from_sheet: Callable[[str, Mapping[str, str]], dict[str, object]] | None = field(default=None, repr=False)
    keeps_question: bool = False
    one_of: tuple[tuple[str, ...], ...] = ()
    place: int = 100
    more: tuple[str, ...] = ()
    many: Callable[[object], Any] | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        """Work through the parameters once, not at every question."""
        object.__setattr__(self, "parameters", Parameters(self.parameters))

    def read(self, pairs: Iterable[tuple[str, str]]) -> Question:
        """Return a question as understood.

        Raises
        ------
        BadQuestion
            As `read_question` does.
        """
        return read_question(self.key, self.parameters, pairs)

    def asked_by(self) -> str:
        """Return what a question needs besides what is required of it, in words for the reference."""
        ways = [" and ".join(names) for names in self.one_of]
        return f"Needs {'; or '.join(ways)}." if ways else ""

    @property
    def post(self) -> bool:
        """Whether the question comes in a body, and never in a query."""
        return self.body is not None and not self.also_asked


def only_posted(member: str, detail: str) -> Callable[[Question], Answer]:
    """Return the answer of a lookup whose question comes in a body only: a query is refused for what it cannot hold."""

    def refuse(_: Question) -> Answer:
        raise BadQuestion.about(member, detail, ("POST",))

    return refuse


def parameters_of(lookup: Callable[[Registry], Lookup], registry: Registry) -> tuple[Parameter, ...]:
    """Return the parameters of a lookup that another one asks; they are declared once, not at every question."""
    return registry.kept("parameters", lookup, lambda: lookup(registry).parameters)

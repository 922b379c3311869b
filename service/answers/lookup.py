"""What a lookup is, what it answers with, and the blocks of its answer: estimates, methods, corrections."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from service.answers.cautions import cautions
from service.answers.document import Echo, document
from service.answers.evaluate import Evaluated, Evaluation
from service.answers.figure import Figure
from service.answers.registry import Registry
from service.answers.situation import Situation
from service.errors import BadQuestion
from service.methods import Method
from service.parameters import Given, Members, Parameter, Parameters, Question, read_question
from service.units import Quantity


def finite_or_none(value: float | np.floating[Any]) -> float | None:
    """Return a float, or ``None`` for NaN."""
    plain = float(value)
    return None if math.isnan(plain) else plain


def voltage(value: float, low: float = np.nan, high: float = np.nan, unit: str | None = None) -> Quantity:
    """Return a peak voltage [V]; a NaN value makes a bracket, a NaN bound is absent."""
    return Quantity(finite_or_none(value), "voltage", finite_or_none(low), finite_or_none(high), unit)


def spread(values: ArrayLike, dimension: str) -> Quantity:
    """Return the two ends of some values as one quantity; one value where they are equal."""
    low, high = float(np.min(values)), float(np.max(values))
    if math.isclose(low, high, rel_tol=SAME):
        return Quantity(low, dimension)
    return Quantity(None, dimension, low=low, high=high)


def ends_of(values: ArrayLike) -> float | dict[str, float]:
    """Return the two ends of numbers without a unit; one number where they are equal."""
    low, high = float(np.min(values)), float(np.max(values))
    return low if math.isclose(low, high, rel_tol=SAME) else {"low": low, "high": high}


SAME = 1e-12
"""Relative difference of two ends that is only rounding."""


def method_block(method: Method, provenance: str | None = None, row: str | None = None) -> dict[str, object]:
    """Return the method block of an answer.

    Parameters
    ----------
    provenance : str, optional
        Of the rows used, where it differs from row to row.
    row : str, optional
        Which rows were used.
    """
    block = dict(_said_of(method))
    if row:
        block["row"] = row
    block["provenance"] = provenance or method.provenance
    return block


@lru_cache(maxsize=2048)
def _said_of(method: Method) -> dict[str, object]:
    block: dict[str, object] = {
        "key": method.key,
        "title": method.title,
        "kind": method.kind,
        "validity": method.validity.words,
    }
    if method.uncertainty_percent is not None:
        block["uncertainty_percent"] = method.uncertainty_percent
    return block | {"source": method.source.block()}


def chosen_method(evaluation: Evaluation) -> dict[str, object]:
    """Return the method block of the preferred method, with the uncertainty that its band shows."""
    chosen = evaluation.preferred()
    block = method_block(chosen.method, chosen.estimate.provenance, chosen.estimate.row)
    return _with_band(block, *evaluation.numbers())


def _with_band(block: dict[str, object], value: float, low: float, high: float) -> dict[str, object]:
    """Return a method block with the uncertainty that a band shows, the wider half where they differ."""
    if not (math.isfinite(value) and math.isfinite(low) and math.isfinite(high) and value > 0):
        return block
    return block | {"uncertainty_percent": round(float(max(value - low, high - value) / value * 100), 2)}


def also_block(evaluation: Evaluation, unit: str | None = None) -> list[dict[str, object]]:
    """Return every other valid method with its own value and its difference from the answer.

    The difference is of the values; of a bracket there is none.
    """
    return [_other(one, evaluation, unit) for one in evaluation.others()]


def _other(one: Evaluated, evaluation: Evaluation, unit: str | None) -> dict[str, object]:
    place, estimate = one.at(0), one.estimate
    value, low, high = (float(array[place]) for array in (estimate.value, estimate.low, estimate.high))
    block = _with_band(method_block(one.method, estimate.provenance, estimate.row), value, low, high)
    if any(map(math.isfinite, (value, low, high))):
        block["breakdown_voltage"] = voltage(value, low, high, unit)
    answer = float(evaluation.value[0])
    if math.isfinite(value) and math.isfinite(answer):
        block["difference_percent"] = round((value / answer - 1) * 100, 2)
    if estimate.inception is not None and np.isfinite(estimate.inception[place]):
        block["inception_voltage"] = voltage(float(estimate.inception[place]), unit=unit)
    return block


def corrections_block(evaluation: Evaluation) -> dict[str, float]:
    """Return the factors that the preferred method applied, and the relative density."""
    chosen = evaluation.preferred()
    place = chosen.at(0)
    case = evaluation.case
    factors = {"relative_air_density" if case.in_air else "relative_density": float(case.relative_density[0])}
    return factors | {name: float(values[place]) for name, values in chosen.estimate.corrections.items()}


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

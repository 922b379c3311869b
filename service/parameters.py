"""The single declaration of what a question may hold, and the reading of it.

A `Parameter` is declared once; query reading, the OpenAPI description, form fields, axis labels and error texts
all come from it. Reading turns text into SI values; nothing is defaulted without being listed as assumed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from service import units
from service.errors import BadQuestion, Fault, UnknownName, did_you_mean, quoted
from service.spoken import said
from service.units import Quantity

Value = float | int | str | bool | tuple[Any, ...]
"""A read value: SI float, count, key, truth, or a list of quantities or keys."""

LIMITS = {"low": "at least", "high": "at most"}

MOST_LISTED = 16
"""Most entries of a comma list."""
MOST_PAIRS = 64
"""Most names in one question; no lookup knows half as many."""
MOST_FAULTS = 20
"""Most faults that one refusal tells; the rest is counted."""

PHYSICAL: Mapping[str, tuple[float, float]] = {
    "length": (1e-10, 1e5),
    "coordinate": (-1e5, 1e5),
    "altitude": (-5e3, 1e5),
    "pressure": (1e-10, 1e9),
    "temperature": (1.0, 1e4),
    "pd": (1e-10, 1e9),
    "voltage": (1e-6, 1e9),
    "humidity": (0.0, 10.0),
    "fraction": (0.0, 10.0),
    "frequency": (1e-6, 1e12),
    "field": (1.0, 1e13),
    "capacitance": (1e-16, 1e6),
    "charge": (1e-16, 1e6),
    "energy": (1e-15, 1e15),
    "current": (1e-15, 1e9),
    "power": (1e-15, 1e15),
    "resistance": (1e-6, 1e18),
    "time": (1e-15, 1e10),
    "angle": (0.0, 7.0),
    "number": (-1e12, 1e12),
    "count": (0, 1e6),
}
"""Inclusive bounds [SI] of a declaration that states none: wider than anything on a bench, and far from overflow."""

LONGEST_BOUND = 12
"""Most characters of a bound in words; a longer one is told by its power of ten."""

LONGEST_TEXT = 500
"""Most characters of a text."""


@dataclass(frozen=True)
class Parameter:
    """One thing that may be asked with.

    Parameters
    ----------
    name : str
        As in the query.
    dimension : str
        A key of `units.DIMENSIONS`, or one of ``number``, ``count``, ``choice``, ``boolean``, ``text``.
    meaning : str
        One sentence for the reference, the form and the error text.
    low, high : float, optional
        Inclusive bounds in SI that hold whatever is asked; those of `PHYSICAL` where none are given.
    default : str, optional
        As it would be written in a query.
    choices : tuple of str
        The accepted keys of a ``choice``.
    required : bool
        Refused when missing.
    many : bool
        A comma list.
    measured : bool
        A voltage that the question's ``measure`` applies to.
    example : str, optional
        For the reference and the form.
    hints : mapping
        Other names in lower case, to the key that is surely meant; they are offered, not accepted.
    aliases : mapping
        Other names in lower case that are read as a key, such as chemical formulas; the echo names the key.
    digits : bool
        Whether the last digit typed says how well the value is known: ``48V`` and ``48.0V`` are two questions.
    excludes, needs : tuple of str
        Other parameters, as far as a question has them, that it must not stand beside, and that it cannot do without.
    """

    name: str
    dimension: str
    meaning: str
    low: float | None = None
    high: float | None = None
    default: str | None = None
    choices: tuple[str, ...] = ()
    required: bool = False
    many: bool = False
    measured: bool = False
    example: str | None = None
    hints: Mapping[str, str] = field(default_factory=dict, compare=False)
    aliases: Mapping[str, str] = field(default_factory=dict, compare=False)
    digits: bool = False
    excludes: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        bounds = zip(("low", "high"), PHYSICAL.get(self.dimension, (None, None)), strict=True)
        for name, bound in bounds:
            if getattr(self, name) is None:
                object.__setattr__(self, name, bound)

    def read(self, text: str) -> Value:
        """Return the SI value of one text, or a tuple of them for a list.

        Parameters
        ----------
        text : str
            As given.

        Raises
        ------
        BadQuestion
            When it cannot be read, or lies outside the bounds.
        """
        if not text.strip():
            raise BadQuestion.about(self.name, f"{self.name} is empty.", self.accepted())
        if not self.many:
            return self._one(text)
        if text.count(",") >= MOST_LISTED:
            detail = f"{self.name} lists {text.count(',') + 1} values; at most {MOST_LISTED} are read."
            raise BadQuestion.about(self.name, detail, self.accepted())
        parts = [part.strip() for part in text.split(",")]
        if not all(parts):
            raise BadQuestion.about(self.name, f"{self.name} has an empty place in its comma list.", self.accepted())
        values = [self._one(part) for part in parts]
        if len(set(values)) < len(values):
            raise BadQuestion.about(self.name, f"{self.name} names one value twice.", self.accepted())
        return tuple(values)

    def accepted(self) -> tuple[str, ...]:
        """Return what is accepted: keys, or unit spellings."""
        if self.choices:
            return self.choices
        if self.dimension in units.DIMENSIONS:
            return units.accepted(self.dimension)
        return {"boolean": ("true", "false"), "count": ("a whole number",), "number": ("a plain number",)}.get(
            self.dimension, ()
        )

    def _one(self, text: str) -> float | int | str | bool:
        if self.dimension == "choice":
            return self._choice(text)
        readers: dict[str, Callable[[str], float | int | str | bool]] = {
            "number": self._number,
            "count": self._count,
            "boolean": self._boolean,
            "text": self._said,
        }
        reader = None if self.dimension in units.DIMENSIONS else readers.get(self.dimension)
        value = reader(text) if reader else units.read(self.name, text, self.dimension, zero=self.low == 0.0)
        if isinstance(value, float | int) and not isinstance(value, bool):
            self._check_bounds(value, text)
        return value

    def holds(self, value: float) -> bool:
        """Return whether an SI value lies within the bounds."""
        return (self.low is None or value >= self.low) and (self.high is None or value <= self.high)

    def _check_bounds(self, value: float, text: str) -> None:
        if not self.holds(value):
            end = "low" if self.low is not None and value < self.low else "high"
            detail = f"{self.name} must be {LIMITS[end]} {self.bounds_in_words()[end]}; '{quoted(text)}' lies outside."
            raise BadQuestion.about(self.name, detail, self.accepted(), self.bounds())

    def bounds_in_words(self) -> dict[str, str]:
        """Return the bounds in words."""
        pairs = {"low": self.low, "high": self.high}
        known = ((end, bound) for end, bound in pairs.items() if bound is not None)
        if self.dimension not in units.DIMENSIONS:
            return {end: f"{bound:.6g}" for end, bound in known}
        return {end: self._bound_in_words(bound) for end, bound in known}

    def _bound_in_words(self, bound: float) -> str:
        words = said(bound, self.dimension)
        kind = units.DIMENSIONS[self.dimension]
        return words if len(words) <= LONGEST_BOUND else f"{units.shown(bound, self.dimension):.6g} {kind.shown}"

    def beside(self) -> str:
        """Return what it excludes and needs, in words for the reference."""
        words = {"Not beside": self.excludes, "Needs": self.needs}
        return " ".join(f"{word} {' or '.join(names)}." for word, names in words.items() if names)

    def bounds(self) -> dict[str, object]:
        """Return the bounds: quantities, or plain numbers."""
        pairs = {"low": self.low, "high": self.high}
        return {key: self.show(bound) for key, bound in pairs.items() if bound is not None}

    def show(self, value: Value, measure: Any = None) -> object:
        """Return a value as the answer echoes it: a quantity, a plain value, or a list of them."""
        if isinstance(value, tuple):
            return [self.show(one, measure) for one in value]
        if self.dimension in units.DIMENSIONS and not isinstance(value, str):
            return Quantity(float(value), self.dimension, measure=measure)
        return value

    def _number(self, text: str) -> float:
        if len(text) > units.LONGEST or not units.PLAIN_NUMBER.fullmatch(text):
            raise BadQuestion.about(
                self.name, f"{self.name} is a plain number without a unit; '{quoted(text)}' is not.", self.accepted()
            )
        value = float(text)
        if not abs(value) < float("inf"):
            raise BadQuestion.about(self.name, f"{self.name} is not finite.", self.accepted())
        return value

    def _count(self, text: str) -> int:
        if not re.fullmatch(r"[0-9]{1,9}", text, re.ASCII):
            raise BadQuestion.about(
                self.name, f"{self.name} is a whole number without a unit; '{quoted(text)}' is not.", self.accepted()
            )
        return int(text)

    def _choice(self, text: str) -> str:
        if text not in self.choices:
            if text.casefold() in self.aliases:
                return self.aliases[text.casefold()]
            folded = {choice.casefold(): choice for choice in self.choices} | dict(self.hints)
            raise UnknownName.among(self.name, text, self.choices, folded.get(text.casefold(), ""))
        return text

    def _said(self, text: str) -> str:
        if len(text) > LONGEST_TEXT or not text.isprintable():
            detail = f"{self.name} must be one line of at most {LONGEST_TEXT} characters."
            raise BadQuestion.about(self.name, detail)
        return text

    def _boolean(self, text: str) -> bool:
        if text not in ("true", "false"):
            raise BadQuestion.about(
                self.name, f"{self.name} is true or false; '{quoted(text)}' is neither.", ("true", "false")
            )
        return text == "true"


@dataclass(frozen=True)
class Question:
    """A question as understood: SI values by parameter name, and which of them were defaults.

    Parameters
    ----------
    lookup : str
        Key of the lookup.
    values : mapping
        Read values; a parameter that was neither given nor has a default is absent.
    assumed : frozenset of str
        Names of the values that are defaults.
    parameters : mapping
        The declarations, for showing values.
    typed : mapping
        The given values as text, as they were typed.
    """

    lookup: str
    values: Mapping[str, Value]
    assumed: frozenset[str] = frozenset()
    parameters: Mapping[str, Parameter] = field(default_factory=dict)
    typed: Mapping[str, str] = field(default_factory=dict)

    def __contains__(self, name: str) -> bool:
        return name in self.values

    def given(self, name: str) -> bool:
        """Return whether a value was given, not assumed."""
        return name in self.values and name not in self.assumed

    def number(self, name: str) -> float:
        """Return a value that is an SI number.

        Raises
        ------
        BadQuestion
            When it is missing.
        """
        value = self.values.get(name)
        if value is None:
            raise self.missing(name)
        return float(value)  # type: ignore[arg-type]  # declared as a number

    def optional(self, name: str) -> float | None:
        """Return an SI number, or ``None`` where it is absent."""
        return self.number(name) if name in self.values else None

    def key(self, name: str) -> str:
        """Return a value that is a key.

        Raises
        ------
        BadQuestion
            When it is missing.
        """
        value = self.values.get(name)
        if value is None:
            raise self.missing(name)
        return str(value)

    def listed(self, name: str) -> tuple[Any, ...]:
        """Return a comma list; empty where it is absent."""
        value = self.values.get(name, ())
        return value if isinstance(value, tuple) else (value,)

    def typed_of(self, parameters: Iterable[Parameter]) -> list[tuple[str, str]]:
        """Return name and text of those parameters that were typed."""
        names = {parameter.name for parameter in parameters}
        return [(name, text) for name, text in self.typed.items() if name in names]

    def half_digit(self, name: str) -> float:
        """Return half a unit of the last place that was typed, in SI; zero for a default, and for what is no number."""
        declared, text = self.parameters.get(name), self.typed.get(name)
        if text is None or declared is None or declared.many:
            return 0.0
        if declared.dimension in units.DIMENSIONS:
            return units.half_digit(text, declared.dimension)
        return units.half_digit(text) if declared.dimension == "number" else 0.0

    def missing(self, name: str) -> BadQuestion:
        """Return the error that a parameter is needed."""
        declared = self.parameters.get(name)
        wanted = f": {declared.meaning}" if declared else "."
        example = f" For example {name}={declared.example}." if declared and declared.example else ""
        return BadQuestion.about(name, f"{name} is needed{wanted}{example}", declared.accepted() if declared else ())


def read_question(lookup: str, parameters: Sequence[Parameter], pairs: Iterable[tuple[str, str]]) -> Question:
    """Read text pairs into a question; every fault is found before one error names them all.

    Parameters
    ----------
    lookup : str
        Key of the lookup.
    parameters : sequence of Parameter
        What it knows.
    pairs : iterable of (str, str)
        Name and text, from path and query together.

    Returns
    -------
    Question

    Raises
    ------
    BadQuestion
        When a name is unknown or repeated, a text empty or unreadable, or a required one missing.
    """
    known = parameters if isinstance(parameters, Parameters) else Parameters(parameters)
    declared, defaults, required = known.by_name, known.defaults, known.required
    given, faults = _sort_out(declared, pairs)
    values: dict[str, Value] = {}
    for name, text in given.items():
        try:
            values[name] = declared[name].read(text)
        except BadQuestion as error:
            faults.extend(error.faults)
    assumed = [name for name in defaults if name not in given]
    values |= {name: defaults[name] for name in assumed}
    question = Question(lookup, values, frozenset(assumed), declared, given)
    faults.extend(fault for name in required if name not in given for fault in question.missing(name).faults)
    if faults:
        raise told(faults)
    return question


def told(faults: Sequence[Fault], more: int = 0) -> BadQuestion:
    """Return one error that tells the first faults and counts the rest.

    Parameters
    ----------
    faults : sequence of Fault
    more : int
        Faults that were found and not kept.
    """
    first, rest = faults[:MOST_FAULTS], len(faults[MOST_FAULTS:]) + more
    sentences = [*(fault.detail for fault in first), *([f"And {rest} more."] if rest else [])]
    return BadQuestion(" ".join(sentences), first)


class Parameters(tuple[Parameter, ...]):
    """The parameters of one question, worked through once."""

    @cached_property
    def by_name(self) -> dict[str, Parameter]:
        """Declarations by name."""
        return {parameter.name: parameter for parameter in self}

    @cached_property
    def defaults(self) -> dict[str, Value]:
        """Defaults as read."""
        return {one.name: one.read(str(one.default)) for one in self if one.default is not None}

    @cached_property
    def required(self) -> tuple[str, ...]:
        """Names that must be given."""
        return tuple(one.name for one in self if one.required)


def _sort_out(
    declared: Mapping[str, Parameter], pairs: Iterable[tuple[str, str]]
) -> tuple[dict[str, str], list[Fault]]:
    given: dict[str, str] = {}
    faults: list[Fault] = []
    for number, (name, text) in enumerate(pairs):
        if number >= MOST_PAIRS:
            raise told([Fault("", f"A question holds at most {MOST_PAIRS} names; this one holds more.")])
        if name not in declared:
            why = did_you_mean(name, declared)
            faults.append(Fault(name[: units.LONGEST], f"'{quoted(name)}' is not known here{why}.", tuple(declared)))
        elif name in given:
            faults.append(Fault(name, f"{name} is given more than once.", declared[name].accepted()))
        else:
            given[name] = text
    return given, faults


@dataclass(frozen=True)
class Members:
    """What a JSON object may hold: flat members that are read as in a query, and parts with a structure of their own.

    Parameters
    ----------
    parameters : tuple of Parameter
        Flat members, text or a number each; together they make a `Question`.
    parts : tuple of Part
        Lists and objects.
    open : bool
        Whether further members are let in; `Given.rest` holds them as they are.
    """

    parameters: tuple[Parameter, ...] = ()
    parts: tuple[Part, ...] = ()
    open: bool = False


@dataclass(frozen=True)
class Listed:
    """A list of values, of objects or of lists.

    Parameters
    ----------
    of : Parameter, Members or Listed
    least, most : int
        Fewest and most entries.
    """

    of: Parameter | Members | Listed
    least: int = 1
    most: int = 1000


@dataclass(frozen=True)
class Part:
    """A member that is a list or an object.

    Parameters
    ----------
    name : str
    meaning : str
        One sentence for the reference and the error text.
    kind : Members, Listed or None
        ``None`` for an object that is taken as it is.
    required : bool
    """

    name: str
    meaning: str
    kind: Members | Listed | None
    required: bool = False


@dataclass(frozen=True)
class Given:
    """A JSON object as understood.

    Parameters
    ----------
    question : Question
        The flat members.
    parts : mapping
        By name, as far as given: a `Given`, a tuple of them, `Values`, a tuple of those, or an object as it is.
    where : str
        Path of this object with its dot, empty for the body itself: ``readings[0].``.
    rest : mapping
        Of an open object the members that are not declared, as they are.
    """

    question: Question
    parts: Mapping[str, Any] = field(default_factory=dict)
    where: str = ""
    rest: Mapping[str, object] = field(default_factory=dict)

    def fault(self, name: str, detail: str, accepted: Iterable[str] = ()) -> Fault:
        """Return a fault of one of these members; the detail begins with its name."""
        return Fault(self.where + name, self.where + detail, tuple(accepted))


@dataclass(frozen=True)
class Values:
    """A list of values as understood, beside what was typed.

    Parameters
    ----------
    values : tuple
        SI numbers or keys.
    texts : tuple of str
    """

    values: tuple[Any, ...]
    texts: tuple[str, ...]

"""What an electrode arrangement is made of: its methods, and where each of them is valid.

A method is registered once, as the function object itself with its validity and source. Functions get only the
elements of a case that lie inside their validity; they never clip and never see an invalid value.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from service import spoken, units
from service.methods.case import NOTHING, BoolArray, Case, Estimate, FloatArray, banded, is_same
from service.methods.drawing import Sketch
from service.parameters import Parameter
from service.reference import Source
from service.units import ROUNDING

__all__ = [
    "DENSITY",
    "FRACTION",
    "FREQUENCY",
    "GAP",
    "NOTHING",
    "PRESSURE",
    "PRODUCT",
    "TEMPERATURE",
    "Arrangement",
    "BoolArray",
    "Case",
    "Estimate",
    "FloatArray",
    "Limit",
    "LimitedQuantity",
    "Method",
    "Validity",
    "banded",
]

Bound = float | Callable[[Case], FloatArray]


@dataclass(frozen=True, eq=False)
class LimitedQuantity:
    """What a limit is about: a parameter of a question, or what follows from several; one object for one quantity.

    Parameters
    ----------
    key : str
        A parameter or an attribute of `Case`; of a quantity with a function of its own, any name.
    dimension : str
        Of `units.DIMENSIONS`; ``number`` for a plain one.
    noun : str
        As a sentence names it.
    of : callable, optional
        The quantity of a case; by default the dimension or attribute of that key.
    unit : str
        Of a plain number that has one.
    """

    key: str
    dimension: str
    noun: str
    of: Callable[[Case], FloatArray] | None = field(default=None, repr=False)
    unit: str = ""

    def value(self, case: Case) -> FloatArray:
        """Return the quantity per element."""
        of = self.of
        if of is not None:
            return of(case) if case.is_plain else case.kept(self, lambda: of(case))
        if self.key in case.dimensions:
            return case.dimensions[self.key]
        found: FloatArray = getattr(case, self.key)
        return found

    def is_same(self, case: Case) -> bool:
        """Return whether the quantity is known to be one number throughout a case, without working it out."""
        return self.of is None and is_same(self.value(case))

    def number(self, case: Case) -> float:
        """Return the quantity of a case of one element, worked out once a case."""
        known = case.numbers.get(self)
        if known is None:
            known = case.numbers[self] = single(self.value(case))
        return known

    def said(self, value: float) -> str:
        """Return a value in words."""
        return spoken.said(value, self.dimension) if self.dimension in units.DIMENSIONS else self._number(value)

    def between(self, low: float, high: float) -> str:
        """Return a range in words; an end that is no bound is left out."""
        if low == high:
            return f"exactly {self.said(low)}"
        first, last = (self.said(end) if 0 < end < np.inf else "" for end in (low, high))
        if not (first and last):
            return f"from {first}" if first else f"to {last}"
        (number, _, unit), (_, _, other) = first.partition(" "), last.partition(" ")
        return f"{number if unit == other else first} to {last}"

    def _number(self, value: float) -> str:
        return f"{value:.4g} {self.unit}".rstrip()


GAP = LimitedQuantity("gap", "length", "gap")
PRESSURE = LimitedQuantity("pressure", "pressure", "pressure")
TEMPERATURE = LimitedQuantity("temperature", "temperature", "temperature")
FREQUENCY = LimitedQuantity("frequency", "frequency", "frequency")
PRODUCT = LimitedQuantity("pd", "pd", "pressure times gap (at 20 °C)")
DENSITY = LimitedQuantity("relative_density", "number", "relative density")
FRACTION = LimitedQuantity(
    "fraction",
    "fraction",
    "fraction of the first gas",
    lambda case: case.filled(np.nan) if case.fraction is None else case.fraction,
)


def single(value: FloatArray | float) -> float:
    """Return what a case of one element has, in plain numbers or in arrays, as a plain number."""
    return value if isinstance(value, float) else np.asarray(value).item()


@dataclass(frozen=True)
class Limit:
    """One range of validity, which says itself: in words, and in the refusal of what lies outside it.

    Parameters
    ----------
    parameter : str
        What an asker would change where it fails; always a parameter of a question.
    quantity : LimitedQuantity
        What is limited.
    low, high : float or callable
        Inclusive bounds in SI, or functions of the case that return them per element.
    below, above : str
        What to ask instead where the quantity lies below or above; never what holds more, or bars less.
    usual : tuple of float, optional
        Bounds to say where they are functions of the case.
    where : str
        What such bounds depend on.
    """

    parameter: str
    quantity: LimitedQuantity
    low: Bound = -np.inf
    high: Bound = np.inf
    below: str = ""
    above: str = ""
    usual: tuple[float, float] | None = None
    where: str = ""

    @cached_property
    def plain(self) -> tuple[float, float] | None:
        """The bounds, where they are the same for every case."""
        if callable(self.low) or callable(self.high):
            return None
        return self.low, self.high

    @property
    def words(self) -> str:
        """The range for a person."""
        ends = self.usual or self.plain
        said = "" if ends is None else f" {self.quantity.between(*ends)}"
        return f"{self.quantity.noun}{said}{self.where}"

    def advice(self, case: Case) -> str:
        """Return what to ask instead of a case of one element that lies outside."""
        low, high = self.bounds(case)
        value = self.quantity.value(case)
        return self.below if value[0] < low[0] else self.above if value[0] > high[0] else ""

    def bounds(self, case: Case) -> tuple[FloatArray, FloatArray]:
        """Return lower and upper bound per element."""
        low, high = (bound(case) if callable(bound) else np.full(case.size, bound) for bound in (self.low, self.high))
        return low, high

    def holds_at_one(self, case: Case) -> bool:
        """Return what `holds` says of a case of one element, by plain numbers."""
        value = self.quantity.number(case)
        low = single(self.low(case)) if callable(self.low) else self.low
        high = single(self.high(case)) if callable(self.high) else self.high
        if low <= value <= high:
            return True
        slack = ROUNDING * abs(value)
        return low - slack <= value <= high + slack

    def holds(self, case: Case) -> BoolArray:
        """Return where the quantity lies within the bounds, with the slack that absorbs unit rounding."""
        value = self.quantity.value(case)
        if self.plain is not None and is_same(value):
            return np.broadcast_to(self._within(value[:1], *self.plain), value.shape)
        return self._within(value, *(bound(case) if callable(bound) else bound for bound in (self.low, self.high)))

    @staticmethod
    def _within(value: FloatArray, low: float | FloatArray, high: float | FloatArray) -> BoolArray:
        with np.errstate(invalid="ignore"):
            slack = ROUNDING * np.abs(value)
            return (value >= low - slack) & (value <= high + slack)


@dataclass(frozen=True)
class Validity:
    """Where a method answers: keys that must match, and ranges that must hold.

    Parameters
    ----------
    gases, waveforms : frozenset of str
        Accepted keys; empty for all.
    polarities : frozenset of str
        Accepted polarities; an unasked polarity always matches.
    options : mapping of str to frozenset
        Accepted keys of further options.
    limits : tuple of Limit
        Ranges.
    given_secondary : bool
        Whether the method answers only where a secondary coefficient is given.
    """

    gases: frozenset[str] = frozenset()
    waveforms: frozenset[str] = frozenset()
    polarities: frozenset[str] = frozenset()
    options: Mapping[str, frozenset[str]] = field(default_factory=lambda: NOTHING)
    limits: tuple[Limit, ...] = ()
    given_secondary: bool = False

    @property
    def keys(self) -> Mapping[str, frozenset[str]]:
        """Accepted keys by the parameter that chooses among them; what takes any key is absent."""
        of_all = {"gas": self.gases, "waveform": self.waveforms, "polarity": self.polarities, **self.options}
        return {name: keys for name, keys in of_all.items() if keys}

    @cached_property
    def words(self) -> str:
        """The same for a person."""
        chosen = [_in_words(name, keys) for name, keys in self.keys.items()]
        given = ["only with a given gamma"] if self.given_secondary else []
        return ", ".join([*chosen, *given, *(limit.words for limit in _merged(self.limits))])

    def applies(self, case: Case) -> bool:
        """Return whether the keys match."""
        return (
            (not self.gases or case.gas in self.gases)
            and (not self.waveforms or case.waveform in self.waveforms)
            and (not self.polarities or case.polarity is None or case.polarity in self.polarities)
            and (case.secondary is not None or not self.given_secondary)
            and all(case.options.get(name) in keys for name, keys in self.options.items())
        )

    def foreign(self, case: Case) -> tuple[str, ...]:
        """Return the parameters whose keys do not match."""
        asked = {"gas": case.gas, "waveform": case.waveform, "polarity": case.polarity, **case.options}
        return tuple(name for name, keys in self.keys.items() if asked.get(name) not in (None, *keys))

    def holds_at_one(self, case: Case) -> bool:
        """Return whether keys and ranges hold at a case of one element."""
        return self.applies(case) and self.reaches(case)

    def reaches(self, case: Case) -> bool:
        """Return whether the ranges hold at a case of one element."""
        numbers = case.numbers
        for limit, quantity, low, high in self._ranges:
            value = numbers.get(quantity)
            if value is None:
                value = quantity.number(case)
            if not low <= value <= high and not limit.holds_at_one(case):
                return False
        return True

    @cached_property
    def _ranges(self) -> tuple[tuple[Limit, LimitedQuantity, float, float], ...]:
        """The limits beside their plain bounds, which most values meet without a call; NaN where bounds vary."""
        return tuple((one, one.quantity, *(one.plain or (np.nan, np.nan))) for one in self.limits)

    def mask(self, case: Case) -> BoolArray:
        """Return where keys and ranges hold; each range is asked only of what the ranges before it left."""
        if case.size == 1:
            return np.array([self.holds_at_one(case.plain)])
        mask = np.full(case.size, self.applies(case))
        some = case
        for limit in self.limits:
            if not some.size or (not mask[0] and not mask.any()):
                break
            held = limit.holds(some)
            if not (bool(held[0]) if held.strides == (0,) else held.all()):
                mask[mask] = held
                some = case.select(mask)
        return mask


OWN_WORDS = ("gas", "waveform")
"""Parameters whose keys need no name before them."""


def _in_words(name: str, keys: frozenset[str]) -> str:
    said = " or ".join(key.replace("-", " ") for key in sorted(keys))
    return said if name in OWN_WORDS else f"{name} {said}"


def _merged(limits: tuple[Limit, ...]) -> list[Limit]:
    """Return limits with those of the same quantity made one, where their bounds are plain."""
    found: dict[tuple[str, bool], Limit] = {}
    for limit in limits:
        key = (limit.quantity.key, limit.plain is None)
        other = found.get(key)
        if other is None or limit.plain is None or other.plain is None:
            found[key] = limit
        else:
            (first, last), (low, high) = other.plain, limit.plain
            found[key] = replace(other, low=max(first, low), high=min(last, high))
    return list(found.values())


@dataclass(frozen=True, eq=False)
class Method:
    """A way to a breakdown voltage, registered once.

    Parameters
    ----------
    key : str
        Unique within the service.
    title : str
        For a person.
    kind : str
        ``table``, ``formula``, ``model`` or ``bracket``.
    function : callable
        Case inside the validity to `Estimate`.
    validity : Validity
        Where it answers.
    uncertainty_percent : float or None
        Stated half width of its band; ``None`` for a bracket.
    source : Source
        Where its numbers come from.
    provenance : str
        Honest word for how the numbers came here.
    similarity : bool
        Whether the voltage depends on pressure and gap through their product only.
    place_uncertainty : tuple of float
        Relative half widths, below and above, of the gap or pressure at which a voltage is reached on the left branch.
    thin : bool
        Whether electrons cross the gap with few collisions, so that X-rays come with the voltage.
    by_numbers : bool
        Whether the function takes a case in plain numbers too.
    by_criterion : bool
        Whether it solves the field of these electrodes for inception, so that it takes over the errors of the field.
    scaled_to : str
        Key of the method whose values it is scaled to meet; empty of others.
    """

    key: str
    title: str
    kind: str
    function: Callable[[Case], Estimate] = field(repr=False)
    validity: Validity = field(repr=False)
    uncertainty_percent: float | None
    source: Source
    provenance: str
    similarity: bool = False
    place_uncertainty: tuple[float, float] = (0.0, 0.0)
    thin: bool = False
    by_numbers: bool = False
    by_criterion: bool = False
    scaled_to: str = ""

    def estimate(self, case: Case) -> Estimate:
        """Return what the function says of a case inside the validity, in arrays or in plain numbers as the case is."""
        if case.is_plain and not self.by_numbers:
            return self.function(case.in_arrays).plain
        return self.function(case)


@dataclass(frozen=True)
class Arrangement:
    """An electrode arrangement: what it is on a bench, its sizes, and its methods in order of trust.

    Parameters
    ----------
    key : str
        As in the query.
    title : str
        For headings.
    on_the_bench : str
        One sentence.
    methods : tuple of Method
        In order of trust; the first that is valid is preferred.
    parameters : tuple of Parameter
        Sizes and options beside the gap.
    gap_from : callable, optional
        Gap [m] from the dimensions, for arrangements whose sizes fix it.
    completes : callable, optional
        For `gap_from` arrangements: dimensions with the one that a gap fixes filled in, from the inner one.
    notes : tuple of str
        Sentences that belong to every answer.
    gap_by : str
        Parameter that changes the gap.
    advice : mapping of str to str
        What to ask instead where no method takes the key of a parameter, by that parameter.
    sketch : Sketch, optional
        How it is drawn.
    shapeless, uniform : bool
        Whether it stands for electrodes of any shape; whether its field is uniform, so that none holds more.
    """

    key: str
    title: str
    on_the_bench: str
    methods: tuple[Method, ...]
    parameters: tuple[Parameter, ...] = ()
    gap_from: Callable[[Mapping[str, FloatArray]], FloatArray] | None = None
    completes: Callable[[Mapping[str, FloatArray], FloatArray], Mapping[str, FloatArray]] | None = None
    notes: tuple[str, ...] = field(default=())
    gap_by: str = "gap"
    advice: Mapping[str, str] = field(default_factory=lambda: NOTHING)
    sketch: Sketch | None = None
    shapeless: bool = False
    uniform: bool = False
    _applying: dict[tuple[object, ...], tuple[Method, ...]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def dimensions(self, case: Case, gap: FloatArray) -> Mapping[str, FloatArray]:
        """Return the dimensions of a case at a gap [m], with the one that it fixes."""
        return case.dimensions if self.completes is None else self.completes(case.dimensions, gap)

    def applying(self, case: Case) -> tuple[Method, ...]:
        """Return the methods whose keys match a case, in order of trust."""
        keys = (case.gas, case.waveform, case.polarity, case.secondary is None, *sorted(case.options.items()))
        if keys not in self._applying:
            self._applying[keys] = tuple(method for method in self.methods if method.validity.applies(case))
        return self._applying[keys]

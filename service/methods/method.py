"""What an electrode arrangement is made of: its methods, and where each of them is valid.

A method is registered once, as the function object itself with its validity and source. Functions get only the
elements of a case that lie inside their validity; they never clip and never see an invalid value.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from service.methods.case import NOTHING, BoolArray, Case, Estimate, FloatArray, banded
from service.methods.drawing import Sketch
from service.parameters import Parameter

__all__ = [
    "NOTHING",
    "Arrangement",
    "BoolArray",
    "Case",
    "Estimate",
    "FloatArray",
    "Limit",
    "Method",
    "Source",
    "Validity",
    "banded",
]

Bound = float | Callable[[Case], FloatArray]


@dataclass(frozen=True)
class Limit:
    """One range of validity: a quantity of the case and its bounds, all SI.

    Parameters
    ----------
    quantity : str
        What is limited: a parameter (``gap``, ``pressure``) or a derived quantity (``pd``, ``relative_density``).
    dimension : str
        Dimension of the quantity; ``number`` for a plain one.
    low, high : float or callable
        Inclusive bounds, or functions of the case that return them per element.
    of : callable, optional
        The quantity of a case; by default the attribute or dimension of that name.
    """

    quantity: str
    dimension: str
    low: Bound = -np.inf
    high: Bound = np.inf
    of: Callable[[Case], FloatArray] | None = field(default=None, repr=False)

    def value(self, case: Case) -> FloatArray:
        """Return the limited quantity per element."""
        if self.of is not None:
            return self.of(case)
        if self.quantity in case.dimensions:
            return case.dimensions[self.quantity]
        return np.asarray(getattr(case, self.quantity), dtype=np.float64)

    def bounds(self, case: Case) -> tuple[FloatArray, FloatArray]:
        """Return lower and upper bound per element."""
        low, high = (bound(case) if callable(bound) else np.full(case.size, bound) for bound in (self.low, self.high))
        return low, high

    def holds_at_one(self, case: Case) -> bool:
        """Return what `holds` says of a case of one element, by plain numbers."""
        numbers = case.numbers
        if self.of is None:
            value = numbers.get(self.quantity)
            if value is None:
                value = numbers[self.quantity] = float(self.value(case)[0])
        else:
            value = float(self.of(case)[0])
        slack = 1e-9 * abs(value)
        low = float(self.low(case)[0]) if callable(self.low) else self.low
        high = float(self.high(case)[0]) if callable(self.high) else self.high
        return low - slack <= value <= high + slack

    def holds(self, case: Case) -> BoolArray:
        """Return where the quantity lies within the bounds; a billionth of slack absorbs unit rounding."""
        value, (low, high) = self.value(case), self.bounds(case)
        with np.errstate(invalid="ignore"):
            slack = 1e-9 * np.abs(value)
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
    words : str
        The same for a person.
    given_secondary : bool
        Whether the method answers only where a secondary coefficient is given.
    """

    gases: frozenset[str] = frozenset()
    waveforms: frozenset[str] = frozenset()
    polarities: frozenset[str] = frozenset()
    options: Mapping[str, frozenset[str]] = field(default_factory=lambda: NOTHING)
    limits: tuple[Limit, ...] = ()
    words: str = ""
    given_secondary: bool = False

    def applies(self, case: Case) -> bool:
        """Return whether the keys match."""
        return (
            (not self.gases or case.gas in self.gases)
            and (not self.waveforms or case.waveform in self.waveforms)
            and (not self.polarities or case.polarity is None or case.polarity in self.polarities)
            and (case.secondary is not None or not self.given_secondary)
            and all(case.options.get(name) in keys for name, keys in self.options.items())
        )

    def holds_at_one(self, case: Case) -> bool:
        """Return whether keys and ranges hold at a case of one element."""
        return self.applies(case) and all(limit.holds_at_one(case) for limit in self.limits)

    def mask(self, case: Case) -> BoolArray:
        """Return where keys and ranges hold; each range is asked only of what the ranges before it left."""
        if case.size == 1:
            return np.array([self.holds_at_one(case)])
        mask = np.full(case.size, self.applies(case))
        for limit in self.limits:
            if not mask.any():
                break
            mask[mask] = limit.holds(case.select(mask))
        return mask


@dataclass(frozen=True)
class Source:
    """Where numbers come from.

    Parameters
    ----------
    key : str
        Source key; the full citation lives once, in the data package of that key.
    citation, edition, table : str
        As printed.
    """

    key: str
    citation: str
    edition: str = ""
    table: str = ""


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
        Anything with ``key``, ``citation``, ``edition``, ``table``.
    provenance : str
        Honest word for how the numbers came here.
    similarity : bool
        Whether the voltage depends on pressure and gap through their product only.
    place_uncertainty : tuple of float
        Relative half widths, below and above, of the gap or pressure at which a voltage is reached on the left branch.
    """

    key: str
    title: str
    kind: str
    function: Callable[[Case], Estimate] = field(repr=False)
    validity: Validity = field(repr=False)
    uncertainty_percent: float | None
    source: Any
    provenance: str
    similarity: bool = False
    place_uncertainty: tuple[float, float] = (0.0, 0.0)


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
    advice : str
        What to ask instead where no method answers; one sentence.
    sketch : Sketch, optional
        How it is drawn.
    """

    key: str
    title: str
    on_the_bench: str
    methods: tuple[Method, ...]
    parameters: tuple[Parameter, ...] = ()
    gap_from: Callable[[Mapping[str, FloatArray]], FloatArray] | None = None
    completes: Callable[[Mapping[str, FloatArray], FloatArray], Mapping[str, FloatArray]] | None = None
    notes: tuple[str, ...] = field(default=())
    advice: str = ""
    sketch: Sketch | None = None
    _applying: dict[tuple[Any, ...], tuple[Method, ...]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def applying(self, case: Case) -> tuple[Method, ...]:
        """Return the methods whose keys match a case, in order of trust."""
        keys = (case.gas, case.waveform, case.polarity, case.secondary is None, *sorted(case.options.items()))
        if keys not in self._applying:
            self._applying[keys] = tuple(method for method in self.methods if method.validity.applies(case))
        return self._applying[keys]

"""What an electrode arrangement is made of: a case, its methods, their validity and their estimates.

A method is registered once, as the function object itself with its validity and source. Functions get only the
elements of a case that lie inside their validity; they never clip and never see an invalid value.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.parameters import Parameter

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

NOTHING: Mapping[str, Any] = MappingProxyType({})


@dataclass(frozen=True)
class Case:
    """One question or many of the same kind; every array has the same shape ``(n,)``, SI.

    Parameters
    ----------
    gap : ndarray
        Shortest distance between the electrodes [m].
    pressure : ndarray
        Absolute pressure [Pa].
    temperature : ndarray
        Gas temperature [K].
    humidity : ndarray
        Absolute humidity of air [kg/m3]; NaN in other gases.
    dimensions : mapping of str to ndarray
        Sizes of the electrodes [m], by parameter name.
    options : mapping of str to str
        Keys such as ``earthing``.
    gas : str
        Gas key.
    fraction : ndarray or None
        Mole fraction of the first gas of a mixture.
    waveform : str
        ``ac``, ``dc``, ``lightning-impulse``, ``switching-impulse`` or ``pulse-train``.
    polarity : str or None
        ``positive`` or ``negative``; ``None`` asks for the weaker.
    frequency : ndarray
        Frequency of an alternating voltage or of a pulse's oscillation [Hz]; zero where there is none.
    secondary : float or None
        A given secondary coefficient gamma, for closed forms only.
    """

    gap: FloatArray
    pressure: FloatArray
    temperature: FloatArray
    humidity: FloatArray
    frequency: FloatArray
    dimensions: Mapping[str, FloatArray] = field(default_factory=lambda: NOTHING)
    options: Mapping[str, str] = field(default_factory=lambda: NOTHING)
    gas: str = "air"
    fraction: FloatArray | None = None
    waveform: str = "ac"
    polarity: str | None = None
    secondary: float | None = None

    @property
    def size(self) -> int:
        """Number of elements."""
        return int(self.gap.size)

    @cached_property
    def relative_density(self) -> FloatArray:
        """Air density relative to 20 degC and 101.3 kPa."""
        return (self.pressure / 101300.0) * (293.15 / self.temperature)

    @cached_property
    def reduced_pressure(self) -> FloatArray:
        """Pressure of the same density at 20 degC [Pa]."""
        return self.pressure * (293.15 / self.temperature)

    @cached_property
    def pd(self) -> FloatArray:
        """Pressure times gap at 20 degC [Pa m]."""
        return self.reduced_pressure * self.gap

    def select(self, mask: BoolArray) -> Case:
        """Return the elements where the mask is true."""
        if bool(mask.all()):
            return self
        return self._mapped(lambda array: array[mask])

    def take(self, index: NDArray[np.intp]) -> Case:
        """Return the elements at the positions of an index array, repeated where it repeats them."""
        return self._mapped(lambda array: array[index])

    def with_gap(self, gap: FloatArray) -> Case:
        """Return this case, of one element, at many gaps [m]."""
        return replace(self.repeated(gap.size), gap=gap)

    def repeated(self, count: int) -> Case:
        """Return a case of one element repeated ``count`` times."""
        return self._mapped(lambda array: np.broadcast_to(array[:1], (count,)))

    def _mapped(self, change: Callable[[FloatArray], FloatArray]) -> Case:
        return replace(
            self,
            gap=change(self.gap),
            pressure=change(self.pressure),
            temperature=change(self.temperature),
            humidity=change(self.humidity),
            frequency=change(self.frequency),
            fraction=None if self.fraction is None else change(self.fraction),
            dimensions={name: change(array) for name, array in self.dimensions.items()},
        )


@dataclass(frozen=True)
class Estimate:
    """Peak voltages [V] of a case; arrays of the case's shape.

    Parameters
    ----------
    value : ndarray
        Breakdown voltage; NaN makes a bracket of ``low`` and ``high``.
    low, high : ndarray
        Band; NaN where there is no bound.
    inception : ndarray, optional
        Voltage at which a discharge starts, where it differs from breakdown or stands for it.
    utilization : ndarray, optional
        Mean over greatest field.
    corrections : mapping of str to ndarray
        Factors that were applied, by name.
    notes : tuple of str
        Sentences that belong to the answer, for any of its elements.
    provenance : str, optional
        Of the rows used, where it differs from row to row.
    row : str, optional
        Which row or rows of the table were used, for a person.
    """

    value: FloatArray
    low: FloatArray
    high: FloatArray
    inception: FloatArray | None = None
    utilization: FloatArray | None = None
    corrections: Mapping[str, FloatArray] = field(default_factory=lambda: NOTHING)
    notes: tuple[str, ...] = ()
    provenance: str | None = None
    row: str | None = None


def banded(
    value: FloatArray,
    fraction: float | FloatArray,
    *,
    corrections: Mapping[str, FloatArray] = NOTHING,
    notes: tuple[str, ...] = (),
    provenance: str | None = None,
    row: str | None = None,
) -> Estimate:
    """Return an estimate with a symmetrical relative band.

    Parameters
    ----------
    value : ndarray
        Peak voltage [V].
    fraction : float or ndarray
        Half width of the band, relative.
    corrections, notes, provenance, row
        As in `Estimate`.
    """
    return Estimate(
        value,
        value * (1 - fraction),
        value * (1 + fraction),
        corrections=corrections,
        notes=notes,
        provenance=provenance,
        row=row,
    )


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
    of: Callable[[Case], FloatArray] | None = None

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
    """

    gases: frozenset[str] = frozenset()
    waveforms: frozenset[str] = frozenset()
    polarities: frozenset[str] = frozenset()
    options: Mapping[str, frozenset[str]] = field(default_factory=lambda: NOTHING)
    limits: tuple[Limit, ...] = ()
    words: str = ""

    def applies(self, case: Case) -> bool:
        """Return whether the keys match."""
        return (
            (not self.gases or case.gas in self.gases)
            and (not self.waveforms or case.waveform in self.waveforms)
            and (not self.polarities or case.polarity is None or case.polarity in self.polarities)
            and all(case.options.get(name) in keys for name, keys in self.options.items())
        )

    def mask(self, case: Case) -> BoolArray:
        """Return where keys and ranges hold; each range is asked only of what the ranges before it left."""
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


@dataclass(frozen=True)
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
    place_uncertainty : float
        Relative uncertainty of the gap or pressure at which a voltage is reached, where the curve is steep.
    """

    key: str
    title: str
    kind: str
    function: Callable[[Case], Estimate]
    validity: Validity
    uncertainty_percent: float | None
    source: Any
    provenance: str
    similarity: bool = False
    place_uncertainty: float = 0.0


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

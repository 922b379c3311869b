"""A question about a gap as arrays, and what a method says of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields
from functools import cached_property
from types import MappingProxyType
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from service.physics.atmosphere import REFERENCE_TEMPERATURE, relative_density
from service.physics.numbers import Functions, Numbers, functions_for

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
Kept = TypeVar("Kept")

NOTHING: Mapping[str, Any] = MappingProxyType({})
AIR, VACUUM = "air", "vacuum"
"""Gases that physics tells apart, whatever others the data hold: moisture, ozone and the laws of corona belong to air,
and where there is no gas neither its density counts nor Paschen's law."""


@dataclass(frozen=True)
class Case:
    """One question or many of the same kind; every array has the same shape ``(n,)``, SI.

    What a single question asks goes through `plain`, the same case with a plain number in place of every array; methods
    that are written for both say so.

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
    bare : bool
        Whether voltages alone are wanted, as where a place is searched: a method may leave out words and factors.
    """

    gap: FloatArray
    pressure: FloatArray
    temperature: FloatArray
    humidity: FloatArray
    frequency: FloatArray
    dimensions: Mapping[str, FloatArray] = field(default_factory=lambda: NOTHING)
    options: Mapping[str, str] = field(default_factory=lambda: NOTHING)
    gas: str = AIR
    fraction: FloatArray | None = None
    waveform: str = "ac"
    polarity: str | None = None
    secondary: float | None = None
    bare: bool = False

    @property
    def size(self) -> int:
        """Number of elements."""
        return 1 if self.is_plain else int(self.gap.size)

    @property
    def in_air(self) -> bool:
        """Whether the gas is air."""
        return self.gas == AIR

    @property
    def in_vacuum(self) -> bool:
        """Whether there is no gas."""
        return self.gas == VACUUM

    @property
    def is_plain(self) -> bool:
        """Whether plain numbers stand in place of arrays."""
        gap: Any = self.gap
        return isinstance(gap, float)

    @property
    def once(self) -> Case:
        """The first element in plain numbers, where all are known to be the same; otherwise the case as it is."""
        others = (self.pressure, self.temperature, self.humidity, self.frequency, *self.dimensions.values())
        alike = all(map(is_same, (self.gap, *others, *(() if self.fraction is None else (self.fraction,)))))
        return self.take(np.array([0])).plain if alike else self

    @cached_property
    def of(self) -> Functions:
        """Functions that go with the numbers of this case."""
        return functions_for(self.gap)

    @cached_property
    def plain(self) -> Case:
        """The case of one element with a plain number in place of every array."""
        if self.is_plain:
            return self
        made = self._mapped(lambda array: array.item(), 1)
        made.__dict__.update(in_arrays=self, numbers=self.numbers)
        return made

    @cached_property
    def in_arrays(self) -> Case:
        """The case with arrays, for what takes nothing else."""
        return self._mapped(lambda number: np.array([number]), 1) if self.is_plain else self

    def filled(self, value: float) -> Numbers:
        """Return a value for every element."""
        return value if self.is_plain else np.full(self.gap.size, value)

    @cached_property
    def numbers(self) -> dict[object, float]:
        """Limited quantities of a case of one element as plain numbers, as far as they were asked for."""
        return {}

    @cached_property
    def relative_density(self) -> FloatArray:
        """Air density relative to 20 degC and 101.3 kPa."""
        return once_where_same(relative_density, self.pressure, self.temperature)

    @cached_property
    def reduced_pressure(self) -> FloatArray:
        """Pressure of the same density at 20 degC [Pa]."""
        return once_where_same(_reduced, self.pressure, self.temperature)

    @cached_property
    def pd(self) -> FloatArray:
        """Pressure times gap at 20 degC [Pa m]."""
        return self.reduced_pressure * self.gap

    def kept(self, key: object, make: Callable[[], Kept]) -> Kept:
        """Return what several methods need of this very case, made by the first that asks."""
        memory: dict[object, Any] = self.__dict__.setdefault("_kept", {})
        if key not in memory:
            memory[key] = make()
        found: Kept = memory[key]
        return found

    def select(self, mask: BoolArray) -> Case:
        """Return the elements where the mask is true."""
        if self.is_plain or mask.all():
            return self
        return self._mapped(lambda array: array[mask], int(np.count_nonzero(mask)))

    def take(self, index: NDArray[np.intp]) -> Case:
        """Return the elements at the positions of an index array, repeated where it repeats them."""
        return self._mapped(lambda array: array.take(index), index.size)

    def but(self, other: Mapping[str, Any]) -> Case:
        """Return the same with other fields, by name; as `dataclasses.replace`, at a fifth of its time."""
        made: Case = object.__new__(Case)
        made.__dict__.update({name: self.__dict__[name] for name in FIELDS}, **other)
        return made

    def with_gap(self, gap: FloatArray) -> Case:
        """Return this case, of one element, at many gaps [m]."""
        return self.repeated(gap.size).but({"gap": gap})

    def repeated(self, count: int) -> Case:
        """Return a case of one element repeated ``count`` times."""
        if self.size != 1:
            raise ValueError("only a case of one element is repeated")
        return self._mapped(lambda array: same(array, count), count)

    def _mapped(self, some: Callable[[FloatArray], Any], count: int) -> Case:
        def change(array: FloatArray) -> Any:
            """Return some elements; what is one number throughout stays so."""
            return same(array, count) if is_same(array) else some(array)

        return self.but(
            {
                "gap": change(self.gap),
                "pressure": change(self.pressure),
                "temperature": change(self.temperature),
                "humidity": change(self.humidity),
                "frequency": change(self.frequency),
                "fraction": None if self.fraction is None else change(self.fraction),
                "dimensions": {name: change(array) for name, array in self.dimensions.items()},
            }
        )


FIELDS = tuple(one.name for one in fields(Case))


def is_same(array: FloatArray) -> bool:
    """Return whether an array is known to be one number throughout, since it was laid over many elements."""
    return getattr(array, "strides", None) == (0,) and array.size > 1


def same(array: FloatArray, count: int) -> FloatArray:
    """Return the first element of an array laid over many; what `numpy.broadcast_to` gives, at a tenth of its time."""
    laid: FloatArray = np.ndarray((count,), array.dtype, array[:1].tobytes(), strides=(0,))
    return laid


def once_where_same(relation: Callable[..., FloatArray], *arrays: Any) -> FloatArray:
    """Return a relation of arrays; it is worked out once where each of them is one number throughout.

    Parameters
    ----------
    relation : callable
        Of arrays of one shape, element by element.
    arrays : ndarray
    """
    if isinstance(arrays[0], float) or not all(map(is_same, arrays)):
        return relation(*arrays)
    return same(relation(*(array[:1] for array in arrays)), arrays[0].size)


def _reduced(pressure: FloatArray, temperature: FloatArray) -> FloatArray:
    return pressure * (REFERENCE_TEMPERATURE / temperature)


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

    def between(self, low: FloatArray, high: FloatArray) -> Estimate:
        """Return the same with other ends."""
        return Estimate(
            self.value,
            low,
            high,
            self.inception,
            self.utilization,
            self.corrections,
            self.notes,
            self.provenance,
            self.row,
        )

    @property
    def in_arrays(self) -> Estimate:
        """The same with arrays in place of plain numbers."""
        return self._mapped(lambda number: np.array([number])) if self.is_plain else self

    @property
    def plain(self) -> Estimate:
        """The same of one element with plain numbers in place of arrays."""
        return self if self.is_plain else self._mapped(lambda array: array.item())

    @property
    def is_plain(self) -> bool:
        """Whether plain numbers stand in place of arrays."""
        value: object = self.value
        return isinstance(value, float)

    def _mapped(self, change: Callable[[Any], Any]) -> Estimate:
        return Estimate(
            change(self.value),
            change(self.low),
            change(self.high),
            None if self.inception is None else change(self.inception),
            None if self.utilization is None else change(self.utilization),
            {name: change(factor) for name, factor in self.corrections.items()} if self.corrections else NOTHING,
            self.notes,
            self.provenance,
            self.row,
        )


def banded(
    value: FloatArray,
    fraction: float | FloatArray,
    *,
    corrections: Mapping[str, FloatArray] = NOTHING,
    notes: tuple[str, ...] = (),
    row: str | None = None,
) -> Estimate:
    """Return an estimate with a symmetrical relative band.

    Parameters
    ----------
    value : ndarray
        Peak voltage [V].
    fraction : float or ndarray
        Half width of the band, relative.
    corrections, notes, row
        As in `Estimate`.
    """
    return Estimate(
        value,
        value * (1 - fraction),
        value * (1 + fraction),
        corrections=corrections,
        notes=notes,
        row=row,
    )

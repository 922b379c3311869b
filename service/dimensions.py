"""Dimensions and the closed table of their unit spellings: the only place with conversion factors."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property



@dataclass(frozen=True)
class Unit:
    """A spelling of a unit: ``SI = number * scale + offset``.

    Parameters
    ----------
    scale : Decimal
        SI units in one of this unit, exact where the definition is.
    offset : Decimal
        Added after scaling; only temperatures have one.
    """

    scale: Decimal
    offset: Decimal = Decimal(0)

    @cached_property
    def shift(self) -> int | None:
        """Power of ten of the scale, where it is one and there is no offset: it only moves the decimal point."""
        power = self.scale.adjusted()
        return power if not self.offset and self.scale == Decimal(1).scaleb(power) else None

    def to_si(self, number: str) -> float:
        """Return the SI value of a decimal numeral, rounded once so that the echo looks right."""
        if self.shift is not None and "e" not in number and "E" not in number:
            return float(f"{number}e{self.shift}")
        return float(Decimal(number) * self.scale + self.offset)

    def from_si(self, value: float) -> float:
        """Return an SI value in this unit, rounded once so that the echo looks right."""
        number = repr(value)
        if self.shift is not None and "e" not in number and "n" not in number:  # nor inf, nor nan
            return float(f"{number}e{-self.shift}")
        return float((Decimal(number) - self.offset) / self.scale)


def _metric(symbol: str, prefixes: str, base: str = "1") -> dict[str, Unit]:
    powers = {"G": 9, "M": 6, "k": 3, "h": 2, "": 0, "c": -2, "m": -3, "u": -6, "n": -9, "p": -12}
    names = ["" if prefix == "-" else prefix for prefix in prefixes]
    return {f"{name}{symbol}": Unit(Decimal(base).scaleb(powers[name])) for name in names}


def _plain(spellings: Mapping[str, float | str]) -> dict[str, Unit]:
    return {name: Unit(Decimal(str(factor))) for name, factor in spellings.items()}


@dataclass(frozen=True)
class Dimension:
    """A dimension with its accepted spellings and the one unit used in answers.

    Parameters
    ----------
    title : str
        For error texts.
    shown : str
        Unit of answers; a spelling that is accepted in questions too.
    spellings : mapping
        Every accepted spelling.
    lowest : float or None
        Exclusive lower bound in SI; ``None`` for no bound.
    """

    title: str
    shown: str
    spellings: Mapping[str, Unit]
    lowest: float | None = 0.0

    @cached_property
    def folded(self) -> Mapping[str, list[str]]:
        """Spellings by their case-folded form."""
        found: dict[str, list[str]] = {}
        for name in self.spellings:
            found.setdefault(name.casefold(), []).append(name)
        return found


_TORR = Decimal(101325) / Decimal(760)
_PRESSURES: dict[str, Unit] = {
    **_metric("Pa", "-hkM"),
    **_metric("bar", "-m", "1e5"),
    "Torr": Unit(_TORR),
    "torr": Unit(_TORR),
    "mTorr": Unit(_TORR / 1000),
    **_plain({"atm": 101325, "mmHg": 133.32236842105263, "inHg": "3386.389", "psi": 6894.757293168361}),
}

DIMENSIONS: Mapping[str, Dimension] = {
    "length": Dimension(
        "a length",
        "mm",
        {
            **_metric("m", "k-cmun"),
            **_plain({"in": "0.0254", "inch": "0.0254", "mil": "2.54e-5", "thou": "2.54e-5", "ft": "0.3048"}),
        },
    ),
    "altitude": Dimension("an altitude", "m", {**_metric("m", "-k"), **_plain({"ft": "0.3048"})}, None),
    "pressure": Dimension("an absolute pressure", "kPa", _PRESSURES),
    "temperature": Dimension(
        "a temperature",
        "degC",
        {
            "K": Unit(Decimal(1)),
            "degC": Unit(Decimal(1), Decimal("273.15")),
            "C": Unit(Decimal(1), Decimal("273.15")),
            "degF": Unit(Decimal(5) / Decimal(9), Decimal("459.67") * 5 / 9),
        },
    ),
    "pd": Dimension(
        "a pressure times distance",
        "Pa_m",
        {
            "Pa_m": Unit(Decimal(1)),
            "Torr_cm": Unit(_TORR / 100),
            "bar_mm": Unit(Decimal(100)),
            "bar_cm": Unit(Decimal(1000)),
        },
    ),
    "voltage": Dimension("a voltage", "kV", _metric("V", "-kMm")),
    "humidity": Dimension("an absolute humidity", "g/m3", _plain({"g/m3": "0.001", "g_m3": "0.001"}), None),
    "fraction": Dimension("a fraction", "percent", _plain({"percent": "0.01", "%": "0.01"})),
    "frequency": Dimension("a frequency", "kHz", _metric("Hz", "-kM")),
    "field": Dimension("a field", "kV/mm", _plain({"kV/mm": "1e6", "kV_mm": "1e6", "V/m": "1"})),
    "capacitance": Dimension("a capacitance", "nF", _metric("F", "-unp")),
    "charge": Dimension("a charge", "uC", _metric("C", "-mun")),
    "energy": Dimension("an energy", "J", _metric("J", "-mu")),
    "current": Dimension("a current", "mA", _metric("A", "k-mun")),
    "power": Dimension("a power", "W", _metric("W", "-km")),
    "resistance": Dimension("a resistance", "Mohm", _metric("ohm", "-kMG")),
    "time": Dimension("a time", "s", _metric("s", "-mun")),
    "angle": Dimension("an angle", "deg", {"deg": Unit(Decimal(str(math.pi)) / 180)}),
}

"""Units: text to SI and SI to text, by one closed table of spellings per dimension.

A unit-expression parser is never used on input: one anchored
pattern reads a number and a unit, and the unit must stand in the table.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property
from typing import Final

from service.errors import BadQuestion, did_you_mean, quoted

ROUNDING = 1e-9
"""Relative slack of a comparison with a limit: what was read in another unit, or computed and computed back, still lies
on it. A million times the rounding of a double, and far below any printed digit."""


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
    powers = {"T": 12, "G": 9, "M": 6, "k": 3, "h": 2, "": 0, "c": -2, "m": -3, "u": -6, "n": -9, "p": -12}
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
_THOUSANDTHS = (("", 0), ("m", -3), ("u", -6))
_PRESSURES: dict[str, Unit] = {
    **_metric("Pa", "-hkMmu"),
    **_metric("bar", "-mu", "1e5"),
    **{f"{prefix}{torr}": Unit(_TORR.scaleb(power)) for torr in ("Torr", "torr") for prefix, power in _THOUSANDTHS},
    **_plain({"atm": 101325, "mmHg": 133.32236842105263, "inHg": "3386.389"}),
    **{micron: Unit(Decimal("133.32236842105263") / 1000) for micron in ("um_Hg", "umHg")},
    **{absolute: Unit(Decimal("6894.757293168361")) for absolute in ("psi", "psia")},
}

_LENGTHS: dict[str, Unit] = {
    **_metric("m", "k-cmun"),
    **_plain({"in": "0.0254", "inch": "0.0254", "mil": "2.54e-5", "thou": "2.54e-5", "ft": "0.3048"}),
}

DIMENSIONS: Mapping[str, Dimension] = {
    "length": Dimension("a length", "mm", _LENGTHS),
    "coordinate": Dimension("a coordinate", "mm", _LENGTHS, None),
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
    "frequency": Dimension("a frequency", "kHz", _metric("Hz", "-kMG")),
    "field": Dimension(
        "a field",
        "kV/mm",
        {
            f"{volt}{over}{metre}": Unit(top.scale / below.scale)
            for volt, top in _metric("V", "kM-").items()
            for metre, below in _metric("m", "m-cu").items()
            for over in "/_"
        },
    ),
    "capacitance": Dimension("a capacitance", "nF", _metric("F", "-munp")),
    "charge": Dimension("a charge", "uC", _metric("C", "-mun")),
    "energy": Dimension("an energy", "J", _metric("J", "-kmun")),
    "current": Dimension("a current", "mA", _metric("A", "k-mun")),
    "power": Dimension("a power", "W", _metric("W", "-kMmu") | _metric("VA", "-kM")),
    "resistance": Dimension("a resistance", "Mohm", _metric("ohm", "-kMGT")),
    "time": Dimension("a time", "s", _metric("s", "-mun")),
    "angle": Dimension("an angle", "deg", {"deg": Unit(Decimal(str(math.pi)) / 180)}),
}

ALIKE = 0.75
"""Likeness from which a spelling is suggested, its first two letters being the same: a suggestion may mend a slip of
the pen, never a prefix, since that changes the value by a power of ten."""

LONGEST = 64
"""Most characters of a quantity."""

NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
QUANTITY = re.compile(rf"({NUMBER}) ?([^0-9\s.+\-,][^\s,]*)?", re.ASCII)
PLAIN_NUMBER = re.compile(NUMBER, re.ASCII)
SIGNS = str.maketrans({"µ": "u", "μ": "u", "°": "deg", "Ω": "ohm", "\u2126": "ohm", "·": "_", "⋅": "_", "\u00a0": " "})
"""Signs of printed units, as answers for people show them, to the letters of a question."""
FURTHEST_PLACE = 300
"""Power of ten to which the place of a last digit is taken, as in ``0e-99999999m``: floats end there."""
MOST_PLACES = 24
"""Most digits behind the first one, or behind the point, of a number written to its last place."""
GAUGE = ("psig", "barg", "psi(g)", "bar(g)", "kpag", "mpag")


def accepted(dimension: str) -> tuple[str, ...]:
    """Return the accepted spellings of a dimension."""
    return tuple(DIMENSIONS[dimension].spellings)


def read(parameter: str, text: str, dimension: str, *, zero: bool = False) -> float:
    """Return the SI value of a quantity given as text.

    Parameters
    ----------
    parameter : str
        Name for the error text.
    text : str
        Number, at most one space, unit: ``8mm``, ``101.3 kPa``.
    dimension : str
        Key of `DIMENSIONS`.
    zero : bool
        Whether nought is accepted where a quantity is otherwise greater, as of a tolerance.

    Returns
    -------
    float
        Value in the SI unit of the dimension.

    Raises
    ------
    BadQuestion
        When the text is not a number followed by a unit of this dimension, or not finite, or out of the dimension.

    Examples
    --------
    >>> read("gap", "5um", "length")
    5e-06
    >>> read("temperature", "20degC", "temperature")
    293.15
    """
    kind = DIMENSIONS[dimension]
    number, unit = _split(parameter, text, kind)
    try:
        value = unit.to_si(number)
    except ArithmeticError:
        value = math.inf
    if not math.isfinite(value):
        raise BadQuestion.about(parameter, f"{parameter} is not a finite number.", kind.spellings)
    if kind.lowest is not None and not (value > kind.lowest or (zero and value == kind.lowest)):
        raise BadQuestion.about(
            parameter, f"{parameter} must be greater than zero; '{quoted(text)}' is not.", kind.spellings
        )
    return value


def half_digit(text: str, dimension: str | None = None) -> float:
    """Return half a unit of the last place of a number as it was typed, in SI.

    Parameters
    ----------
    text : str
        A quantity that `read` reads, or a plain number.
    dimension : str, optional
        Key of `DIMENSIONS`; a plain number where there is none.

    Examples
    --------
    >>> half_digit("48V", "voltage"), half_digit("48.0V", "voltage"), half_digit("1.5e3")
    (0.5, 0.05, 50.0)
    """
    if dimension is None:
        number, unit = text.strip(), Unit(Decimal(1))
    else:
        number, unit = _split("", text, DIMENSIONS[dimension])
    place = min(max(int(Decimal(number).as_tuple().exponent), -FURTHEST_PLACE), FURTHEST_PLACE)
    return float(Decimal(5).scaleb(place - 1) * unit.scale)


def written(value: float, dimension: str) -> str:
    """Return an SI value as a number in the answer unit of its dimension that reads back to the very same value.

    Examples
    --------
    >>> written(8e-3, "length"), written(31922763510.378437, "frequency")
    ('8', '31922763.510378437')
    """
    kind = DIMENSIONS[dimension]
    unit = kind.spellings[kind.shown]
    short = repr(unit.from_si(value)).removesuffix(".0")
    if unit.to_si(short) == value:
        return short
    exact = str(((Decimal(repr(value)) - unit.offset) / unit.scale).normalize())  # more digits than a float shows
    return exact if unit.to_si(exact) == value else short


def to_last_place(value: float, half: float, dimension: str) -> str:
    """Return an SI value as text that reads back to it and to the same half digit, in the answer unit.

    Examples
    --------
    >>> to_last_place(8e-3, 5e-5, "length"), to_last_place(2.0, 0.5, "length")
    ('8.0', '2e+3')
    """
    kind = DIMENSIONS[dimension]
    unit = kind.spellings[kind.shown]
    number = Decimal(repr(unit.from_si(value)))
    place = (Decimal(repr(half)) / unit.scale * 2).adjusted()
    if place > 0:
        return _rounded(number, place)
    last = min(place, int(number.normalize().as_tuple().exponent))
    last = max(last, number.adjusted() - MOST_PLACES, -MOST_PLACES)  # finer than any float is
    return f"{number.quantize(Decimal(1).scaleb(last)):f}"


def _rounded(number: Decimal, place: int) -> str:
    """Return a number with its last digit at a power of ten, or all its digits where that would change it."""
    short = number.scaleb(-place)
    return f"{int(short)}e+{place}" if short == int(short) else f"{number:f}"


def _split(parameter: str, text: str, kind: Dimension) -> tuple[str, Unit]:
    quick = QUANTITY.fullmatch(text) if len(text) <= LONGEST else None
    if quick is not None and quick[2] in kind.spellings:
        return quick[1], kind.spellings[quick[2]]
    wanted = f"{kind.title}, a number followed by a unit, for example '8{kind.shown}'"
    if len(text) > LONGEST:
        raise BadQuestion.about(
            parameter, f"{parameter} is longer than {LONGEST} characters; it needs {wanted}.", kind.spellings
        )
    # a plus sign in a query arrives as a space: 1e+3um comes as '1e 3um'
    repaired = re.sub(r"(?<=[0-9.][eE]) (?=[0-9])", "+", text.translate(SIGNS))
    # a power belongs to a unit, behind a letter: after a digit it would make 12 of 1²
    repaired = re.sub(r"(?<=[A-Za-z])[²³]", lambda found: {"²": "2", "³": "3"}[found[0]], repaired)
    match = QUANTITY.fullmatch(repaired)
    if match is None:
        hint = " A comma is never a decimal mark; write a point." if "," in text else ""
        raise BadQuestion.about(
            parameter, f"{parameter} cannot read '{quoted(text)}'; it needs {wanted}.{hint}", kind.spellings
        )
    number, spelling = match.groups()
    if spelling is None:
        raise BadQuestion.about(
            parameter,
            f"{parameter} needs a unit: '{quoted(text)}' is a bare number; it needs {wanted}.",
            kind.spellings,
        )
    return number, find(parameter, spelling, kind)


def find(parameter: str, spelling: str, kind: Dimension) -> Unit:
    """Return the unit of a spelling: exact case first, then folded where that is unique and m is never M.

    Parameters
    ----------
    parameter : str
        Name for the error text.
    spelling : str
        As given.
    kind : Dimension
        The dimension wanted.

    Raises
    ------
    BadQuestion
        When the dimension has no such spelling.
    """
    if spelling in kind.spellings:
        return kind.spellings[spelling]
    if spelling.casefold() in GAUGE:
        raise BadQuestion.about(
            parameter,
            f"{parameter}: '{quoted(spelling)}' is a gauge pressure; give the absolute pressure.",
            kind.spellings,
        )
    candidates = [
        name for name in kind.folded.get(spelling.casefold(), ()) if name[:1] == spelling[:1] or name[0] not in "mM"
    ]
    if len(candidates) == 1:
        return kind.spellings[candidates[0]]
    other = next((known.title for known in DIMENSIONS.values() if spelling in known.spellings), None)
    alike = [name for name in kind.spellings if len(name) > 1 and name[:2] == spelling[:2]]
    why = f", it is the unit of {other}" if other else did_you_mean(spelling, alike, ALIKE)
    raise BadQuestion.about(
        parameter, f"{parameter} needs {kind.title}; '{quoted(spelling)}' is not a unit of it{why}.", kind.spellings
    )


def shown(value: float, dimension: str, unit: str | None = None) -> float:
    """Return an SI value in the answer unit of its dimension, or in another accepted unit."""
    kind = DIMENSIONS[dimension]
    return kind.spellings[unit or kind.shown].from_si(float(value))


def cut(value: float, towards: Callable[[Decimal], int], digits: int = 4) -> float:
    """Return a number with its digits cut to one side: ``math.ceil`` up, ``math.floor`` down.

    Examples
    --------
    >>> cut(13.4101, math.ceil), cut(13.4199, math.floor), cut(13.41, math.ceil), cut(20.31, math.ceil, 2)
    (13.42, 13.41, 13.41, 21.0)
    """
    number = Decimal(repr(value))
    step = Decimal(1).scaleb(number.adjusted() - digits + 1)
    return float(towards(number / step) * step)


def cut_si(value: float, dimension: str, towards: Callable[[Decimal], int], digits: int = 4) -> float:
    """Return an SI value with its digits in the answer unit of its dimension cut to one side.

    Examples
    --------
    >>> cut_si(0.0134101, "length", math.ceil)
    0.01342
    """
    kind = DIMENSIONS[dimension]
    return to_si(cut(shown(value, dimension), towards, digits), kind.shown, dimension)


def to_si(value: float, unit: str, dimension: str) -> float:
    """Return the SI value of a number in a unit of a dimension."""
    return DIMENSIONS[dimension].spellings[unit].to_si(repr(float(value)))


@dataclass(slots=True)
class Quantity:
    """A quantity in SI, with its band where there is one; answers show it in the answer unit of its dimension.

    Nothing of it is changed once it is made: what it shows is worked out once.

    Parameters
    ----------
    value : float or None
        SI value; ``None`` makes a bracket.
    dimension : str
        Key of `DIMENSIONS`.
    low, high : float, optional
        SI bounds of an estimate.
    unit : str, optional
        Another unit than the answer unit of the dimension.
    measure : str, optional
        Of a voltage ``peak`` where nothing is given.
    digits : int, optional
        Significant digits shown, where the last binary ones of products and conversions are not.

    Examples
    --------
    >>> Quantity(8e-3, "length").block()
    {'value': 8.0, 'unit': 'mm'}
    """

    value: Final[float | None]
    dimension: Final[str]
    low: Final[float | None] = None
    high: Final[float | None] = None
    unit: Final[str | None] = None
    measure: Final[str | None] = None
    digits: Final[int | None] = None
    _shown: dict[str, float | str | None] | None = field(default=None, init=False, repr=False, compare=False)

    def block(self) -> dict[str, float | str | None]:
        """Return it as answers show it; the mapping is shared, and not to be changed."""
        if self._shown is None:
            self._shown = self._worked_out()
        return self._shown

    def _worked_out(self) -> dict[str, float | str | None]:
        kind = DIMENSIONS[self.dimension]
        name = self.unit or kind.shown
        from_si = kind.spellings[name].from_si
        value, low, high = self.value, self.low, self.high
        answer: dict[str, float | str | None] = {"value": None if value is None else from_si(float(value))}
        if low is not None:
            answer["low"] = from_si(float(low))
        if high is not None:
            answer["high"] = from_si(float(high))
        if self.digits is not None:
            answer = {end: None if one is None else float(f"{one:.{self.digits}g}") for end, one in answer.items()}
        answer["unit"] = name
        measure = self.stated
        if measure:
            answer["measure"] = measure
        return answer

    @property
    def stated(self) -> str:
        """The measure; of a voltage ``peak`` where nothing else is said."""
        return self.measure or ("peak" if self.dimension == "voltage" else "")


@dataclass(slots=True)
class Series:
    """Values of one dimension in SI, with their bands where there are any; NaN stands for none.

    Parameters
    ----------
    values : iterable of float
        SI values.
    dimension : str
        Key of `DIMENSIONS`.
    low, high : iterable of float, optional
        SI bounds.
    unit : str, optional
        Another unit than the answer unit of the dimension.

    Examples
    --------
    >>> Series([8e-3, math.nan], "length").block()
    {'unit': 'mm', 'values': [8.0, None]}
    """

    values: Final[Iterable[float]]
    dimension: Final[str]
    low: Final[Iterable[float] | None] = None
    high: Final[Iterable[float] | None] = None
    unit: Final[str | None] = None

    def block(self) -> dict[str, object]:
        """Return it as answers show it."""
        kind = DIMENSIONS[self.dimension]
        name = self.unit or kind.shown
        block: dict[str, object] = {"unit": name}
        if self.dimension == "voltage":
            block["measure"] = "peak"
        columns = {"values": self.values, "low": self.low, "high": self.high}
        return block | {key: self._listed(column, name) for key, column in columns.items() if column is not None}

    def _listed(self, column: Iterable[float], name: str) -> list[float | None]:
        unit = DIMENSIONS[self.dimension].spellings[name]
        some = column.tolist() if hasattr(column, "tolist") else column
        numbers = map(float, some)
        if unit.shift == 0:
            return [None if math.isnan(one) else one for one in numbers]
        return [None if math.isnan(one) else unit.from_si(one) for one in numbers]

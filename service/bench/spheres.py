"""Equal spheres as a voltmeter: how they are set up, the spacing for a voltage, how well it is known, and the chart."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, reduce
from itertools import takewhile
from types import MappingProxyType

import numpy as np

from service import spoken, units
from service.answers.cautions import SENTENCES
from service.answers.crossings import rising_inverses
from service.answers.document import Echo
from service.answers.evaluate import Evaluation, evaluate
from service.answers.figure import MOST_CURVES, Bar, Curve, Figure, Mark, PlotAxis, plotted
from service.answers.lookup import voltage
from service.answers.registry import Registry
from service.answers.situation import one, readings
from service.errors import BadQuestion
from service.methods import Arrangement, Case, Estimate, FloatArray, Method
from service.methods.method import GAP
from service.parameters import Parameter, Question
from service.reference import Reference, Table
from service.spoken import said
from service.units import ROUNDING, Quantity

IMPULSES = ("lightning-impulse", "switching-impulse")
FINEST = 9
"""Decimals of a distance [m] that is a multiple of another: nanometres."""
HEIGHTS = ("min_height_over_diameter", "max_height_over_diameter")


@dataclass(frozen=True)
class SurroundingsRow:
    """A row of table 1.

    Parameters
    ----------
    smallest, largest : float
        Sphere diameters [m] that it is for.
    heights : sequence of float
        Least and largest height of the sparking point above earth, over the diameter.
    clearance : float
        Least clearance around the spheres, over the spacing.
    """

    smallest: float
    largest: float
    heights: Sequence[float]
    clearance: float


@dataclass(frozen=True, eq=False)
class Practice:
    """The practice of IEC 60052, as far as the reference data hold it.

    Parameters
    ----------
    value : mapping
        Constants of ``sphere-gap-practice`` in SI.
    surroundings : Table
        Table 1: height above earth and clearance around the spheres.
    diameters : tuple of float
        Standard diameters [m].
    highest_frequency : float
        Frequency up to which the table was found to hold unchanged [Hz].
    """

    value: Mapping[str, float]
    surroundings: Table
    diameters: tuple[float, ...]
    highest_frequency: float

    @classmethod
    def of(cls, reference: Reference) -> Practice:
        """Return the practice with the tables in use."""
        table = reference.table("sphere-gap-practice")
        value = MappingProxyType(dict(zip(table.text("name"), table["value"].tolist(), strict=True)))
        diameters = np.unique(reference.table("iec-60052-table-2")["sphere_diameter"])
        unchanged_to = reference.table("correction-constants").constant("low-falls-from")
        return cls(value, reference.table("iec-60052-table-1"), tuple(diameters.tolist()), unchanged_to)

    def largest_share(self, waveform: str) -> float:
        """Return the spacing over diameter at which the stated uncertainty ends."""
        kind = "-direct" if waveform == "dc" else ""
        return self.value[f"largest-spacing-over-diameter{kind}"]

    @property
    def dark(self) -> str:
        """Where a gap needs irradiation, in words."""
        below, diameter = self.value["irradiation-below-voltage"], self.value["irradiation-to-diameter"]
        return f"Below {spoken.said(below, 'voltage')}, or with spheres up to {spoken.said(diameter, 'length')}"

    def irradiation_needed(self, voltage: float, diameter: float) -> bool:
        """Return whether a gap must be irradiated, for a peak voltage [V] and a sphere diameter [m]."""
        low = voltage < self.value["irradiation-below-voltage"]
        return low or diameter <= self.value["irradiation-to-diameter"] * (1 + ROUNDING)

    def earth_height(self, diameter: float) -> Quantity | None:
        """Return least and largest height of the sparking point above earth; ``None`` where no row holds."""
        row = self._row(diameter)
        if row is None:
            return None
        low, high = row.heights
        return Quantity(None, "length", low=round(low * diameter, FINEST), high=round(high * diameter, FINEST))

    def side_clearance(self, diameter: float, spacing: float) -> Quantity | None:
        """Return the least clearance around the spheres; ``None`` where no row holds."""
        row = self._row(diameter)
        if row is None:
            return None
        return Quantity(round(row.clearance * spacing, FINEST), "length")

    def series_resistor(self, waveform: str) -> Quantity:
        """Return the range of the resistor in series with the gap; for impulse only its upper end."""
        if waveform in IMPULSES:
            return Quantity(None, "resistance", high=self.value["series-resistor-largest-impulse"])
        low, high = (self.value[f"series-resistor-{end}"] for end in ("lowest", "largest"))
        return Quantity(None, "resistance", low=low, high=high)

    @property
    def sparkovers(self) -> int:
        """Fewest sparkovers at a setting."""
        return int(self.value["fewest-sparkovers"])

    @property
    def interval(self) -> Quantity:
        """Least time between sparkovers."""
        return Quantity(self.value["interval"], "time")

    def instructions(self, diameter: float, spacing: float, waveform: str) -> dict[str, object]:
        """Return what a setting asks of its surroundings; what no row of the table covers is absent.

        Parameters
        ----------
        diameter, spacing : float
            [m].
        """
        fields = {
            "earth_height": self.earth_height(diameter),
            "side_clearance": self.side_clearance(diameter, spacing),
            "series_resistor": self.series_resistor(waveform),
            "sparkovers": self.sparkovers,
            "interval": self.interval,
        }
        return {name: value for name, value in fields.items() if value is not None}

    def _row(self, diameter: float) -> SurroundingsRow | None:
        largest = diameter * (1 + ROUNDING)
        holding = (row for row in self._rows if row.smallest <= largest and diameter <= row.largest * (1 + ROUNDING))
        return next(holding, None)

    @cached_property
    def _rows(self) -> list[SurroundingsRow]:
        names = ("sphere_diameter_from", "sphere_diameter_to", *HEIGHTS, "min_clearance_over_spacing")
        columns = (self.surroundings[name].tolist() for name in names)
        return [SurroundingsRow(low, high, heights, least) for low, high, *heights, least in zip(*columns, strict=True)]


EARTHED = Echo.taken({"earthing": "one-earthed"})
"""What is taken of the earthing of spheres: one is earthed."""
VOLTAGE = Parameter(
    "voltage",
    "voltage",
    "The voltage to measure or to set.",
    measured=True,
    example="40kV",
    high=1e8,
    excludes=("voltage_from", "voltage_to"),
)
RANGE = (
    Parameter("voltage_from", "voltage", "First voltage of a spacing card.", measured=True, example="10kV", high=1e8),
    Parameter("voltage_to", "voltage", "Last voltage of a spacing card.", measured=True, example="60kV", high=1e8),
)
MOST_STEPS, FEWEST_STEPS = 12, 2
"""Most and fewest steps of a spacing card."""
MOST_SETTINGS = 400
"""Most settings of a spacing card: with many spheres, each voltage read in several ways, its steps are wider."""
STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
"""Steps of a card within a decade."""


@dataclass(frozen=True)
class Target:
    """A peak voltage to be set.

    Parameters
    ----------
    measure : str
        How the given voltage was read.
    given : float
        As given [V].
    peak : float
        [V].
    """

    measure: str
    given: float
    peak: float


def targets(question: Question, waveform: str, spheres: int) -> list[Target]:
    """Return the peak voltages of a question; a measure with two ends gives both.

    Parameters
    ----------
    waveform : str
    spheres : int
        How many are set to each.

    Raises
    ------
    BadQuestion
        When neither a voltage nor a whole range is given, or both.
    """
    measure = question.key("measure")
    if "voltage" in question:
        for name in ("voltage_from", "voltage_to"):
            if name in question:
                detail = f"voltage and {name} contradict each other; give one voltage or a range."
                raise BadQuestion.about(("voltage", name), detail)
        given = [question.number("voltage")]
    elif "voltage_from" in question or "voltage_to" in question:
        each = spheres * sum(len({one.low, one.high}) for one in readings(1.0, measure, waveform))
        most = max(FEWEST_STEPS, min(MOST_STEPS, MOST_SETTINGS // each - 2))  # both ends stand beside the steps
        given = voltages_between(*ascending(question), most)
    else:
        raise BadQuestion.about("voltage", "voltage is needed, or voltage_from and voltage_to for a spacing card.")
    read = [(volts, reading) for volts in given for reading in readings(volts, measure, waveform)]
    return [Target(r.measure, volts, peak) for volts, r in read for peak in sorted({r.low, r.high})]


def ascending(question: Question) -> tuple[float, float]:
    """Return the range of voltages that a question gives [V].

    Raises
    ------
    BadQuestion
        When an end is missing, or the first is not below the last.
    """
    low, high = question.number("voltage_from"), question.number("voltage_to")
    if not low < high:
        raise BadQuestion.about(("voltage_from", "voltage_to"), "voltage_from must be below voltage_to.")
    return low, high


def voltages_between(low: float, high: float, most: int = MOST_STEPS) -> list[float]:
    """Return round voltages between two, both ends included.

    Parameters
    ----------
    low, high : float
        [V].
    most : int
        Most steps between them.

    Examples
    --------
    >>> voltages_between(9e3, 30e3, 6)
    [9000.0, 10000.0, 15000.0, 20000.0, 25000.0, 30000.0]
    """
    decade = 10.0 ** np.floor(np.log10((high - low) / most))
    step = next(size * decade for size in STEPS if (high - low) / (size * decade) <= most * (1 + ROUNDING))
    inner = np.arange(np.floor(low / step) + 1, np.ceil(high / step)) * step
    return [low, *(float(volts) for volts in inner if low * (1 + ROUNDING) < volts < high * (1 - ROUNDING)), high]


SHARES = np.geomspace(5e-4, 2.0, 64)
"""Spacings over diameter that are searched; beyond the end corona comes first."""

SAME = 1e-6
"""Relative difference up to which two voltages are one."""


def why_not(practice: Practice, spacing: float, diameter: float, waveform: str, frequency: float) -> list[str]:
    """Return why the standard states no accuracy for a setting, whatever method gives its voltage.

    Parameters
    ----------
    spacing, diameter : float
        [m].
    frequency : float
        [Hz].
    """
    reasons = []
    largest = practice.largest_share(waveform)
    if spacing > largest * diameter * (1 + ROUNDING):
        share = spacing / diameter
        reasons.append(f"The spacing is {share:.3g} of the diameter; the stated uncertainty ends at {largest:g}.")
    if frequency > practice.highest_frequency * (1 + ROUNDING):
        words = said(practice.highest_frequency, "frequency", unit="kHz")
        reasons.append(f"Above {words} spheres were measured to spark lower than the table.")
    return reasons


@dataclass(frozen=True, eq=False)
class Setting:
    """Spheres set to a spacing.

    Parameters
    ----------
    spheres : Spheres
    spacing : float
        Shortest distance of the spheres [m].
    value, low, high : float
        Peak voltage at which it sparks over, and its band [V].
    method : Method
        The method that answers.
    """

    spheres: Spheres
    spacing: float
    value: float
    low: float
    high: float
    method: Method

    @cached_property
    def case(self) -> Case:
        """Of one element."""
        return replace(self.spheres.case, gap=one(self.spacing))

    @cached_property
    def evaluation(self) -> Evaluation:
        """The evaluation of this one setting."""
        return evaluate(self.spheres.arrangement, self.case)

    @property
    def practice(self) -> Practice:
        """What a setting asks of its surroundings."""
        return self.spheres.practice

    @property
    def diameter(self) -> float:
        """Of the spheres [m]."""
        return self.spheres.diameter

    @property
    def band(self) -> float:
        """Relative half width of the band."""
        return max(self.high - self.value, self.value - self.low) / self.value

    @cached_property
    def read_at(self) -> Estimate | None:
        """What a table says here, with the rows that were used; ``None`` where no table answers."""
        return self.evaluation.preferred().estimate if self.method.kind == "table" else None

    @property
    def row(self) -> str | None:
        """Rows of the table that were used."""
        return None if self.read_at is None else self.read_at.row

    @property
    def provenance(self) -> str:
        """Of the rows that were used, else of the method."""
        rows = None if self.read_at is None else self.read_at.provenance
        return rows or self.method.provenance

    @property
    def irradiation_needed(self) -> bool:
        """Whether the gap must be irradiated."""
        return self.practice.irradiation_needed(self.value, self.diameter)

    @cached_property
    def why_not(self) -> tuple[str, ...]:
        """Why the standard does not cover this setting; empty where it does."""
        reasons = []
        if self.method.kind != "table":
            reasons.append(f"No published table covers this setting; the voltage is that of '{self.method.title}'.")
        return (*reasons, *self._limits())

    @property
    def within_limits(self) -> bool:
        """Whether the standard covers this setting."""
        return not self.why_not

    @property
    def usable(self) -> bool:
        """Whether a check may use this setting: by a table or by a model, within the limits of the arrangement."""
        return not self._limits()

    def _limits(self) -> list[str]:
        here = self.spheres.case
        return why_not(self.practice, self.spacing, self.diameter, here.waveform, float(here.frequency[0]))

    def reference_voltage(self) -> Quantity:
        """Return the voltage with its band."""
        return voltage(self.value, self.low, self.high)

    def block(self) -> Mapping[str, object]:
        """Return the setting as answers show it; the mapping is shared, and not to be changed."""
        return self._shown

    @cached_property
    def _shown(self) -> Mapping[str, object]:
        fields: dict[str, object] = {
            "sphere_diameter": self.spheres.size,
            "spacing": Quantity(self.spacing, "length"),
            "spacing_over_diameter": self.spacing / self.diameter,
            "within_limits": self.within_limits,
        }
        if self.why_not:
            fields["why_not"] = list(self.why_not)
        fields |= {
            "uncertainty_percent": round(100 * self.band, 2),
            "irradiation_needed": self.irradiation_needed,
            **self.spheres.instructions(self.spacing),
            "method": self.method.key,
        }
        if self.row:
            fields["row"] = self.row
        return fields | {"provenance": self.provenance}


@dataclass(frozen=True, eq=False)
class Spheres:
    """Equal spheres of one diameter in a situation.

    Parameters
    ----------
    case : Case
        Of one element, with the sphere diameter.
    """

    arrangement: Arrangement
    case: Case
    practice: Practice

    @classmethod
    def of(cls, registry: Registry, case: Case, diameter: float, earthing: str = "one-earthed") -> Spheres:
        """Return the spheres of a diameter [m] in the surroundings of a case.

        Parameters
        ----------
        case : Case
            Atmosphere and waveform.
        """

        def make() -> Spheres:
            sized = replace(case, dimensions={"sphere_diameter": one(diameter)}, options={"earthing": earthing})
            return cls(registry.arrangement("sphere-gap"), sized, Practice.of(registry.reference))

        kept: Spheres = registry.kept_curves((case, ("spheres", diameter, earthing)), make)
        return kept

    @cached_property
    def diameter(self) -> float:
        """[m]."""
        return float(self.case.dimensions["sphere_diameter"][0])

    @cached_property
    def size(self) -> Quantity:
        """The diameter as answers show it."""
        return Quantity(self.diameter, "length")

    def instructions(self, spacing: float) -> Mapping[str, object]:
        """Return what a setting to a spacing [m] asks of its surroundings; all but the clearance is one for all."""
        clearance = self.practice.side_clearance(self.diameter, spacing)
        return self._instructions if clearance is None else {**self._instructions, "side_clearance": clearance}

    @cached_property
    def _instructions(self) -> Mapping[str, object]:
        return self.practice.instructions(self.diameter, self.diameter, self.case.waveform)

    @cached_property
    def spacings(self) -> FloatArray:
        """Spacings that are searched [m], the ends of the tables' ranges included."""
        ends = [self.practice.largest_share(self.case.waveform) * self.diameter, *self._table_ends()]
        return np.unique([*(SHARES * self.diameter), *ends])

    def _table_ends(self) -> Iterator[float]:
        for method in self.methods:
            if method.kind == "table":
                limits = [limit for limit in method.validity.limits if limit.quantity is GAP]
                yield from (float(end[0]) for limit in limits for end in limit.bounds(self.case))

    @cached_property
    def _on_grid(self) -> dict[str, SphereCurve]:
        """What single methods say over the spacings, by their keys."""
        return {}

    @cached_property
    def curve(self) -> SphereCurve:
        """What the preferred methods say over the spacings."""
        return curves_of([self])[0]

    def at(self, spacing: float, *, every: bool = False) -> Setting | None:
        """Return the setting at a spacing [m]; ``None`` where no method gives a voltage.

        Parameters
        ----------
        spacing : float
        every : bool
            Evaluate all valid methods, not only the preferred one.
        """
        found = evaluate(self.arrangement, replace(self.case, gap=one(spacing)), every=every)
        if not np.isfinite(found.value[0]):
            return None
        setting = self._setting(found, 0)
        setting.__dict__["evaluation"] = found
        return setting

    def _setting(self, found: Evaluation, place: int) -> Setting:
        spacing, value, low, high = (
            float(array[place]) for array in (found.case.gap, found.value, found.low, found.high)
        )
        return Setting(self, spacing, value, low, high, found.preferred(place).method)

    def settings_for(self, voltages: Sequence[float], *, tables_only: bool = False) -> list[Setting | None]:
        """Return the settings that spark over at peak voltages [V], as `settings_for` does for several spheres."""
        return settings_for([self], voltages, tables_only=tables_only)[0]

    @cached_property
    def methods(self) -> tuple[Method, ...]:
        """Methods that give a voltage here, in order of trust."""
        applying = (method for method in self.arrangement.methods if method.validity.applies(self.case))
        return tuple(method for method in applying if method.kind != "bracket")

    @cached_property
    def covered(self) -> tuple[float, float] | None:
        """Lowest and highest peak voltage that the standard covers [V]; ``None`` where it covers none."""
        return self._reach("table")

    @cached_property
    def reach(self) -> tuple[float, float] | None:
        """Lowest and highest peak voltage that a table or a model gives [V] within the limits of the arrangement."""
        return self._reach("table", "model", "formula")

    def _reach(self, *kinds: str) -> tuple[float, float] | None:
        largest = self.practice.largest_share(self.case.waveform) * self.diameter * (1 + ROUNDING)
        if float(self.case.frequency[0]) > self.practice.highest_frequency * (1 + ROUNDING):
            return None
        known = (self.spacings <= largest) & np.isin(self.curve.kinds, kinds)
        volts = self.curve.value[known]
        return (float(volts.min()), float(volts.max())) if volts.size else None


@dataclass(frozen=True, eq=False)
class SphereCurve:
    """Voltages of spheres over their spacings.

    Parameters
    ----------
    value, low, high : ndarray
        Peak voltage and its band [V]; NaN where there is none.
    kinds : ndarray of str
        Kind of the method that answers; empty where none does.
    """

    value: FloatArray
    low: FloatArray
    high: FloatArray
    kinds: np.ndarray

    @classmethod
    def nowhere(cls, count: int) -> SphereCurve:
        """Return the curve at so many spacings that no method answers."""
        nothing = np.full(count, np.nan)
        return cls(nothing, nothing, nothing, np.full(count, ""))

    def completed(self, rest: SphereCurve) -> SphereCurve:
        """Return this curve with another where no method answers: at all its spacings, or at these alone."""
        missing = self.kinds == ""
        pairs = ((getattr(self, name), getattr(rest, name)) for name in ("value", "low", "high", "kinds"))
        return SphereCurve(*(_filled(own, missing, other) for own, other in pairs))


def _filled(own: np.ndarray, missing: np.ndarray, other: np.ndarray) -> np.ndarray:
    filled = own.astype(np.promote_types(own.dtype, other.dtype))
    filled[missing] = other[missing] if other.size == own.size else other
    return filled


def settings_for(
    spheres: Sequence[Spheres], voltages: Sequence[float], *, tables_only: bool = False
) -> list[list[Setting | None]]:
    """Return per spheres the settings that spark over at peak voltages [V], all searched together.

    Parameters
    ----------
    spheres : sequence of Spheres
        In one situation.
    voltages : sequence of float
    tables_only : bool
        Leave out what only a model answers.

    Returns
    -------
    list of list of Setting or None
        ``None`` where no method gives a spacing.
    """
    wanted = np.asarray(voltages, dtype=np.float64)
    gaps = np.full((len(spheres), wanted.size), np.nan)
    for method in spheres[0].methods:
        left = np.isnan(gaps)
        some = np.flatnonzero(left.any(axis=1)).tolist()
        if some and (method.kind == "table" or not tables_only):
            found = _inverses([spheres[row] for row in some], method, [wanted[left[row]] for row in some])
            gaps[left] = np.concatenate(found)
    return _sparking_at(spheres, gaps, wanted)


def _sparking_at(spheres: Sequence[Spheres], gaps: FloatArray, wanted: FloatArray) -> list[list[Setting | None]]:
    """Return the settings at spacings at which it is the wanted voltage that the preferred method gives."""
    settings: list[list[Setting | None]] = [[None] * wanted.size for _ in spheres]
    rows, columns = np.nonzero(np.isfinite(gaps))
    if not rows.size:
        return settings
    case = _laid(spheres, rows, gaps[rows, columns])
    found = evaluate(spheres[0].arrangement, case)
    volts = wanted[columns]
    same = np.abs(found.value - volts) <= SAME * np.abs(volts) + 1e-8
    for place in np.flatnonzero(same).tolist():
        row = int(rows[place])
        settings[row][columns[place]] = spheres[row]._setting(found, place)
    return settings


def _laid(spheres: Sequence[Spheres], which: np.ndarray, gaps: FloatArray) -> Case:
    """Return the case of spheres at spacings [m], each of the spheres at a position."""
    here = spheres[0].case
    if len(spheres) == 1:
        return here.with_gap(gaps)
    diameters = np.array([one.diameter for one in spheres])
    return replace(here.with_gap(gaps), dimensions={"sphere_diameter": diameters[which]})


def _over(spheres: Sequence[Spheres], where: Sequence[FloatArray], only: str | None = None) -> list[SphereCurve]:
    """Return per spheres what the preferred methods, or a single one, say at spacings [m], all evaluated together."""
    sizes = [one.size for one in where]
    if not sum(sizes):
        return [SphereCurve.nowhere(0) for _ in spheres]
    case = _laid(spheres, np.repeat(np.arange(len(spheres)), sizes), np.concatenate(where))
    found = evaluate(spheres[0].arrangement, case, only=only)
    kinds = np.array([*(used.method.kind for used in found.methods), ""])[found.choice]
    arrays = (np.split(array, np.cumsum(sizes)[:-1]) for array in (found.value, found.low, found.high, kinds))
    return list(map(SphereCurve, *arrays))


def curves_of(spheres: Sequence[Spheres]) -> list[SphereCurve]:
    """Return what the preferred methods say over the spacings of spheres in one situation; it is kept with each."""
    missing = [one for one in spheres if "curve" not in one.__dict__]
    if missing:
        asked = [_as_asked(one) for one in missing]
        where = [one.spacings[curve.kinds == ""] for one, curve in zip(missing, asked, strict=True)]
        for each, known, rest in zip(missing, asked, _over(missing, where), strict=True):
            each.__dict__["curve"] = known.completed(rest)
    return [each.curve for each in spheres]


def _as_asked(one: Spheres) -> SphereCurve:
    """Return what is known already: that of the most trusted methods, as far as each of them was asked."""
    asked = takewhile(one._on_grid.__contains__, (method.key for method in one.arrangement.applying(one.case)))
    return reduce(SphereCurve.completed, (one._on_grid[key] for key in asked), SphereCurve.nowhere(one.spacings.size))


def _inverses(spheres: Sequence[Spheres], method: Method, voltages: Sequence[FloatArray]) -> list[FloatArray]:
    """Return per spheres the spacings [m] at which a method gives voltages [V]; NaN where it does not."""
    key, arrangement = method.key, spheres[0].arrangement
    missing = [each for each in spheres if key not in each._on_grid]
    if missing:
        for each, curve in zip(missing, _over(missing, [each.spacings for each in missing], key), strict=True):
            each._on_grid[key] = curve
    grids = [(each.spacings, each._on_grid[key].value) for each in spheres]

    def value(gaps: FloatArray, which: np.ndarray) -> FloatArray:
        return evaluate(arrangement, _laid(spheres, which, gaps), only=key).value

    rows = [(*grid, volts) for grid, volts in zip(grids, voltages, strict=True)]
    return [_with_ends(*row, found) for row, found in zip(rows, rising_inverses(value, rows), strict=True)]


def _with_ends(spacings: FloatArray, on_grid: FloatArray, voltages: FloatArray, found: FloatArray) -> FloatArray:
    """Return spacings with those at the ends of a table, which are places of the grid: no voltage lies beyond them."""
    close = np.abs(voltages[:, None] - on_grid) <= SAME * np.abs(on_grid) + 1e-8
    last = close.shape[1] - 1 - np.argmax(close[:, ::-1], axis=1)
    return np.where(np.isnan(found) & close.any(axis=1), spacings[last], found)


ROOM = 2.0
"""How far the chart reaches beyond the voltages asked, as a factor."""


def chart(spheres: Sequence[Spheres], peaks: Sequence[float], settings: Sequence[Setting]) -> Figure:
    """Return the chart of some spheres with the settings that were asked.

    Parameters
    ----------
    peaks : sequence of float
        Peak voltages asked [V].
    settings : sequence of Setting
        Answered.
    """
    if len(peaks) == 1 and len(spheres) > 1:
        return _bars(spheres, peaks[0], settings)
    low, high = min(peaks) / ROOM, max(peaks) * ROOM
    drawn = spheres[:MOST_CURVES]
    curves_of(drawn)
    curves = [curve for one in drawn for curve in (_curve(one, low, high),) if curve is not None]
    spacings = plotted([setting.spacing for setting in settings], "length")
    volts = plotted([setting.value for setting in settings], "voltage")
    conditions = settings[0].case
    density = float(conditions.relative_density[0])
    return Figure(
        "Sphere gaps: sparkover voltage and spacing",
        "Curves of peak sparkover voltage in kV against spacing in mm, one per sphere diameter, with bands, and the "
        "settings for the voltage asked.",
        PlotAxis("spacing", "mm"),
        PlotAxis("sparkover voltage, peak", "kV"),
        curves=tuple(curves),
        marks=(Mark("asked", spacings, volts),),
        sentences=(
            f"One sphere earthed; relative air density {density:.3f}; {conditions.waveform}.",
            f"Method of the smallest spheres: {settings[0].method.title} ({settings[0].method.provenance}).",
            SENTENCES["discharge-first"],
        ),
    )


def _bars(spheres: Sequence[Spheres], peak: float, settings: Sequence[Setting]) -> Figure:
    """Return the spacing of every sphere for one voltage, beside the largest that has a stated uncertainty."""
    conditions, practice = settings[0].case, settings[0].practice
    density = float(conditions.relative_density[0])
    share = practice.largest_share(conditions.waveform)
    found = {setting.diameter: setting for setting in settings}
    drawn = [pair for pair in spheres if pair.diameter in found]
    curves_of(drawn)
    bars = []
    for pair in drawn:
        setting = found[pair.diameter]
        near, far = (_spacing_at(pair, volts, peak) for volts in (pair.curve.high, pair.curve.low))
        ends = (units.shown(end, "length") for end in (near, far, setting.spacing, share * pair.diameter))
        name = f"{said(pair.diameter, 'length')} spheres"
        bars.append(Bar(name if setting.within_limits else f"{name}, no stated uncertainty", *ends))
    volts = said(peak, "voltage")
    return Figure(
        f"Spacing of spheres for {volts} peak",
        f"A bar per sphere diameter: the spacing at which {volts} peak sparks over, over its band, and the largest "
        f"spacing with a stated uncertainty.",
        PlotAxis("spacing", "mm"),
        PlotAxis("", ""),
        bars=tuple(bars),
        sentences=(
            f"Bars: the spacing over the band of the voltage. Dashed: {share:g} D, up to which a band is stated.",
            f"One sphere earthed; relative air density {density:.3f}; {conditions.waveform}.",
            SENTENCES["discharge-first"],
        ),
    )


def _spacing_at(one: Spheres, volts: FloatArray, peak: float) -> float:
    """Return the spacing [m] at which an end of the band reaches a voltage; NaN where it does not."""
    known = np.isfinite(volts)
    rising = np.maximum.accumulate(volts[known])
    return float(np.interp(peak, rising, one.spacings[known], left=np.nan, right=np.nan))


def _curve(one: Spheres, low: float, high: float) -> Curve | None:
    found = one.curve
    shown = (found.value >= low) & (found.value <= high)
    if shown.sum() < 2:
        return None
    volts, floor, top = (plotted(values, "voltage") for values in (found.value, found.low, found.high))
    largest = one.practice.largest_share(one.case.waveform) * one.diameter * (1 + ROUNDING)
    spacings = plotted(one.spacings, "length")
    label = said(one.diameter, "length", unit="cm")
    kept = shown & (one.spacings <= largest)
    if kept.sum() < 2:
        return Curve(label, spacings[shown], volts[shown], dashed=True)
    return Curve(label, spacings[kept], volts[kept], floor[kept], top[kept])

"""/v1/switch-on-sheet: one page to read before the switch, cautions first."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from service import units
from service.answers.document import Echo
from service.answers.gap_curves import VOLTAGE, GapCurves, holding_known, kept_curves
from service.answers.lookup import Answer, Lead, Lookup, voltage
from service.answers.registry import Registry
from service.answers.results import FAST_FREQUENCY, reached
from service.answers.situation import (
    ATMOSPHERE,
    FRACTION,
    MEASURE,
    SINE,
    WAVEFORM,
    Reading,
    Situation,
    gas_parameter,
    measure_of,
    measure_taken,
    peaks_of,
    situation,
)
from service.errors import OutsideValidity
from service.judgement import Allowances, in_all_weather, unsaid
from service.parameters import Parameter, Question
from service.physics import capacitor
from service.spoken import said, speak
from service.standards import boards
from service.standards.boards import PLACES, BoardTables
from service.standards.circuit import LEFT
from service.standards.ladder import origin_word
from service.standards.requirement import Requirement, distance, governing
from service.units import Quantity

CAPACITANCE = Parameter(
    "capacitance", "capacitance", "Capacitance that the voltage charges.", example="10nF", low=1e-15, high=1e3
)
BLEEDER = Parameter(
    "bleed_resistance", "resistance", "Resistance that stays across it.", example="100Mohm", low=1.0, high=1e15
)
STEADY: Mapping[str, float] = {"ac": SINE, "dc": 1.0}
"""Peak over the long-term value that tracking follows; of other waveforms the peak is taken."""
RESULTS: Mapping[str, str] = {
    "keeps_apart_above": "Only a gap of air above this one keeps apart whatever the shape of the electrodes: what it "
    "holds is estimated to be at least the voltage, in all weather that was not said.",
    "jumps_at": "A gap up to this one is jumped whatever the shape of the electrodes; between sharp points it jumps "
    "anywhere up to keeps_apart_above.",
    "which_distance": "Which of the distances is for what.",
    "smallest_breakdown_voltage": "Where nothing breaks down: the lowest voltage that would.",
    "board_distances": "Spacing of conductors by place on a board, IPC-2221 Table 6-1.",
    "surface_distances": "Creepage for functional or basic insulation by pollution degree, IEC 60664-1 Table F.4.",
    "stored_energy": "Of the capacitance at the highest voltage.",
    "charge": "Of the capacitance at the highest voltage.",
    "discharge_time": "Through bleed_resistance to 60 V.",
    "bleed_power": "What the bleeder turns into heat while the voltage is on, at the highest voltage.",
    "probe_must_bear": "Highest peak voltage and the frequency that a probe must be made for.",
}


def lookup(registry: Registry) -> Lookup:
    """Return the lookup."""
    tables = BoardTables.of(registry.reference)
    return Lookup(
        "switch-on-sheet",
        "Switch-on sheet",
        "One page before the switch: cautions, how far it jumps, what keeps it apart, what stays stored.",
        (
            VOLTAGE,
            replace(MEASURE, default="unknown"),
            CAPACITANCE,
            BLEEDER,
            gas_parameter(registry),
            FRACTION,
            *ATMOSPHERE,
            *WAVEFORM,
        ),
        lambda question: answer(question, registry, tables),
        example="voltage=12kV&waveform=dc&capacitance=10nF&bleed_resistance=100Mohm",
        results=RESULTS,
    )


def answer(question: Question, registry: Registry, tables: BoardTables) -> Answer:
    """Return the sheet.

    Raises
    ------
    OutsideValidity
        When the voltage lies beyond every method.
    """
    here = situation(question, registry, registry.shapeless.key)
    peak = peaks_of(question, here.case.waveform)
    curves = kept_curves(here, None, registry)
    far = _gaps(curves, _weather(question, here, curves, registry), peak)
    results: dict[str, object] = dict(far.block())
    distances, more = _tables(question, here, peak, tables)
    if distances:
        results["which_distance"] = WHICH
    results |= distances | _stored(question, here, peak) | {"probe_must_bear": _probe(here, peak)}
    shown = far.keeps_apart_above or far.jumps_at or float(curves.grid[curves.lowest])
    # a distance cut to its digits may lie just outside of what the methods cover
    evaluation = curves.at(curves.nearest_answered(np.array([shown]), np.zeros(1, dtype=np.intp)))
    weather = [ANYWHERE] * (not (question.given("pressure") or question.given("altitude")))
    return Answer.at(
        "switch-on-sheet",
        here,
        _asked(question, here),
        results,
        [evaluation],
        registry,
        notes=[*weather, *far.notes, *more],
        cautions=_cautions(question, here),
        title=f"Switch-on sheet for {said(peak.high, 'voltage')} peak",
        first=("cautions",),
        lead=_lead(far, _taken(question, here, peak)),
    )


def _steady(question: Question, here: Situation, peak: Reading) -> float:
    """Return the long-term value that tracking follows [V]; where the waveform was not said, of what asks most."""
    steady = peak.high / STEADY.get(here.case.waveform, 1.0)
    if "waveform" not in question.assumed or question.key("measure") == "rms":
        return steady
    return max(steady, peaks_of(question, "dc").high)


def _asked(question: Question, here: Situation) -> Echo:
    measure = measure_of(question, here.case.waveform)
    own = Echo.of(question, ("voltage", "measure", "capacitance", "bleed_resistance"), {"voltage": measure})
    return own | measure_taken(question, here.case.waveform) | here.asked


def _taken(question: Question, here: Situation, peak: Reading) -> str:
    """Return what was taken where nobody said how the voltage was read, to follow a sentence."""
    if "measure" not in question.assumed or here.case.waveform != "ac":
        return ""
    given = said(question.number("voltage"), "voltage")
    return f" Taken as an rms value, since that was not said: {given} rms are {speak(peak.high, 'voltage')} peak."


def _weather(question: Question, here: Situation, curves: GapCurves, registry: Registry) -> GapCurves:
    """Return the curves in all weather that was not said, one situation a combination."""
    allowances = Allowances.of(registry.reference)
    case = in_all_weather(here.case, unsaid(question, here, allowances))
    return curves if case.size == 1 else GapCurves(here.arrangement, case, None, registry.reference)


@dataclass(frozen=True)
class BoardDistances:
    """The distances through air [m], digits cut towards caution: from where it keeps apart, and up to where it jumps.

    Where nothing breaks down, the lowest voltage that would stands in their place.
    """

    keeps_apart_above: float | None = None
    jumps_at: float | None = None
    smallest_breakdown_voltage: Quantity | None = None

    def block(self) -> dict[str, Quantity]:
        """Return them as answers show them."""
        ends = {"keeps_apart_above": self.keeps_apart_above, "jumps_at": self.jumps_at}
        found = {name: Quantity(end, "length") for name, end in ends.items() if end is not None}
        least = self.smallest_breakdown_voltage
        return found if least is None else {"smallest_breakdown_voltage": least}

    @property
    def notes(self) -> list[str]:
        """What is to be said where nothing keeps apart for sure."""
        if self.keeps_apart_above is not None:
            return []
        return [NOTHING if self.nothing_breaks_down else UNKNOWN]

    @property
    def nothing_breaks_down(self) -> bool:
        """Whether nothing is known to break down at so little: the low end of what does is known, and lies above."""
        return self.smallest_breakdown_voltage is not None and self.smallest_breakdown_voltage.low is not None


def _gaps(curves: GapCurves, weather: GapCurves, peak: Reading) -> BoardDistances:
    try:
        found = reached(curves, peak)
    except OutsideValidity:
        if peak.sharp:
            raise
        # the methods begin above the lowest of what it may be: what keeps apart is that of the highest, and no more
        highest = _gaps(curves, weather, Reading(peak.measure, peak.high, peak.high))
        return replace(highest, jumps_at=None)
    if "right" not in found:
        return BoardDistances(smallest_breakdown_voltage=None if found else voltage(*curves.smallest))
    rows = np.arange(weather.case.size)
    low, high = (np.full(rows.size, volts) for volts in (peak.low, peak.high))
    right = weather.branches(("right",), high, None if peak.sharp else low, rows)["right"]
    holds = right.holds if holding_known(weather) else np.full(rows.size, np.nan)
    far, near = (
        units.cut_si(float(end), "length", towards, DIGITS) if np.isfinite(end) else None
        for end, towards in ((holds.max(), math.ceil), (right.low.min(), math.floor))
    )
    return BoardDistances(far, near)


DIGITS = 2
"""Digits of a distance on the sheet: it is an estimate between points and plates."""
NOTHING = "At this pressure no gap is known to break down at so low a voltage; a switch that opens still draws a spark."
UNKNOWN = "What keeps apart here is not known: sharp edges may break down early."
ANYWHERE = (
    "Neither pressure nor altitude was given: what keeps apart is for any place up to 2000 m in its weather. Thinner "
    "air needs more."
)
WHICH = (
    "Through air: the distance that keeps apart, to everything that is not on the voltage. Between conductors on one "
    "board: the board distance of their place. Along any other surface, an insulator or a support: the surface "
    "distance, pollution degree 2 for a clean room, 3 where dust or damp settles. Where two apply, the largest of them."
)


def _lead(found: BoardDistances, taken: str) -> Lead:
    """Return what is read first: the distance that keeps apart, never the one that jumps.

    Parameters
    ----------
    taken : str
        What the voltage was taken for, where nobody said.
    """
    if found.keeps_apart_above is not None:
        far = str(speak(found.keeps_apart_above, "length", digits=DIGITS, toward="up"))
        sentence = f"It may jump anywhere up to {far} between points: only more than {far} of air keeps apart.{taken}"
        return Lead(sentence, "Keeps apart above", far, "not-a-barrier")
    if not found.nothing_breaks_down:  # in every gas but air: of no other one is a low end known
        return Lead(UNKNOWN + taken, "Keeps apart above", "not known", "not-a-barrier")
    sentence = f"A touch needs no spark: this says nothing of shock or burns. {NOTHING}{taken}"
    return Lead(sentence, "Through air", "no spark is known, a touch needs none", "not-a-barrier")


def _tables(
    question: Question, here: Situation, peak: Reading, tables: BoardTables
) -> tuple[dict[str, object], list[str]]:
    if not here.case.in_air:
        return {}, ["The tables for boards and surfaces are for air: left out."]
    thin = boards.in_thin_air(float(here.case.pressure[0]))
    steady = _steady(question, here, peak)
    surfaces = boards.along_surfaces(steady, tables.surface)
    spacings = {place: governing(boards.spacings(peak.high, place, thin, tables.spacing)) for place in PLACES}
    results: dict[str, object] = {
        "board_distances": [{"place": place} | _row(one, "spacing") for place, one in spacings.items()],
        "surface_distances": [
            {"pollution_degree": degree, "material_group": group} | _row(one, "creepage")
            for degree, group, one in surfaces
        ],
    }
    of = "whatever the waveform" if "waveform" in question.assumed else OF[here.case.waveform]
    taken = f"{said(steady, 'voltage', unit='kV')} long-term, {of}"
    notes = [
        BOARDS,
        *[THIN] * thin,
        f"Surfaces: IEC 60664-1 Table F.4, next row up, at {taken}; and never less than the clearance.",
    ]
    missing = sorted(set(boards.DEGREES) - {degree for degree, _, _ in surfaces})
    if missing:
        which = ", ".join(map(str, missing))
        notes.append(f"The creepage table ends below this voltage for pollution degree {which}.")
    return results, notes


def _row(one: Requirement, name: str) -> dict[str, object]:
    where = {"table": one.table.key, "row": one.row, "provenance": origin_word(one.provenance)}
    return {name: distance(one.distance), **where}


BOARDS = "Boards: IPC-2221 Table 6-1, at the highest peak, between conductors of one circuit."
THIN = (
    "The pressure is that of more than 3050 m: bare tracks and leads have the column for it; the other distances on "
    "boards and surfaces are as printed, without a correction for thin air."
)
OF: Mapping[str, str] = {
    "ac": "the rms value of a sine",
    "dc": "the direct voltage",
    "lightning-impulse": "as if the peak stayed",
    "switching-impulse": "as if the peak stayed",
    "pulse-train": "as if the peak stayed",
}


def _stored(question: Question, here: Situation, peak: Reading) -> dict[str, Quantity]:
    capacitance, bleeder = question.optional("capacitance"), question.optional("bleed_resistance")
    fields: dict[str, Quantity] = {}
    if capacitance is not None:
        fields["stored_energy"] = Quantity(float(capacitor.stored_energy(capacitance, peak.high)), "energy")
        fields["charge"] = Quantity(float(capacitor.charge(capacitance, peak.high)), "charge")
    if capacitance is not None and bleeder is not None:
        time = float(capacitor.discharge_time(bleeder, capacitance, peak.high, LEFT))
        fields["discharge_time"] = Quantity(time, "time")
    if bleeder is not None and here.case.waveform in STEADY:
        fields["bleed_power"] = Quantity(_steady(question, here, peak) ** 2 / bleeder, "power")
    return fields


def _probe(here: Situation, peak: Reading) -> dict[str, object]:
    fields: dict[str, object] = {"voltage": voltage(peak.high)}
    frequency = float(here.case.frequency[0])
    if frequency:
        fields["frequency"] = Quantity(frequency, "frequency")
    return fields | {"remark": REMARK}


REMARK = "What a probe bears falls with frequency and altitude: read its curve, and leave room for overshoot."


def _cautions(question: Question, here: Situation) -> tuple[str, ...]:
    keys = ["not-a-barrier", "which-end"]
    keys.append("self-charge" if "capacitance" in question else "charge-unknown")
    if "bleed_resistance" in question:
        keys.append("bleeder")
    if float(here.case.frequency[0]) > FAST_FREQUENCY:
        keys.append("fast-current")
    return (*keys, "divider-earth", "estimate", "ozone", "fire", "local-codes")

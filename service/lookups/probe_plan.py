"""/v1/probe-plan: which settings check a probe over a range of voltages, and the sheet to write the readings on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from service import units
from service.answers.cautions import cautions
from service.answers.document import Echo
from service.answers.lookup import Answer, Lead, Lookup
from service.answers.registry import Registry
from service.answers.situation import ATMOSPHERE, FRACTION, WAVEFORM, Situation, gas_parameter, situation
from service.bench import probe_sheet
from service.bench.spheres import EARTHED, IMPULSES, RANGE, Practice, Setting, Spheres, ascending, settings_for
from service.lookups.sphere_gaps import DIAMETERS, beyond, unsaid_waveform
from service.parameters import Question
from service.spoken import said, speak
from service.units import Quantity

SPHERES = replace(DIAMETERS, name="spheres")
LEAST_SHARE = 0.0249
"""Least spacing over diameter of a plan, that of the printed columns; below it the gauge decides."""
TARGETS = 6
"""Voltages that a plan spreads over its range; common practice, no source."""
GAUGES = ((10e-3, 0.1e-3), (100e-3, 0.5e-3), (np.inf, 5e-3))
"""To what a spacing is rounded [m]: below the first number, the second; what a gauge sets."""
CAUTIONS = ("discharge-first", "divider-earth", "ratio-only", "ozone", "ultraviolet")
RESULTS: Mapping[str, str] = {
    "settings": "In order: spheres, spacing rounded to what a gauge sets, the expected voltage there, surroundings.",
    "not_covered": "Voltages of the range that no sphere at hand measures.",
    "precautions": "What to do before, between and after the sparkovers.",
}


def lookup(registry: Registry) -> Lookup:
    """Return the lookup."""
    ends = (replace(end, required=True, measured=False) for end in RANGE)
    return Lookup(
        "probe-plan",
        "Probe plan",
        "Settings of a sphere gap that check a probe over a range of peak voltages, and the sheet for the readings.",
        (*ends, SPHERES, gas_parameter(registry), FRACTION, *ATMOSPHERE, *WAVEFORM),
        lambda question: answer(question, registry),
        example="voltage_from=8kV&voltage_to=20kV&spheres=2cm,5cm&waveform=dc",
        results=RESULTS,
    )


def answer(question: Question, registry: Registry) -> Answer:
    """Return the plan.

    Raises
    ------
    BadQuestion
        When the range does not rise.
    OutsideValidity
        When no sphere measures any of its voltages, neither by a table nor by a model.
    """
    low, high = ascending(question)
    here = situation(question, registry, registry.plates.key)
    practice = Practice.of(registry.reference)
    sizes = sorted(float(size) for size in question.listed("spheres")) or practice.diameters
    spheres = [Spheres.of(registry, here.case, size) for size in sizes]
    wanted = [float(volts) for volts in np.linspace(low, high, TARGETS)]
    covered = covering(spheres, wanted)
    plan = planned(covered)
    if not plan:
        raise beyond(spheres, high, question)
    left = [volts for volts, found in zip(wanted, covered, strict=True) if found is None]
    return _answer(question, here, plan, left, registry)


def planned(covered: Sequence[tuple[Spheres, Setting] | None]) -> list[Setting]:
    """Return the settings in order: the smallest spheres first, each as far as the standard covers it.

    Where the spheres change, the last voltage is set again with the next ones, so that the two can be compared.

    Parameters
    ----------
    covered : sequence
        Of `covering`, for rising voltages.
    """
    taken: dict[Spheres, list[Setting]] = {}
    for spheres, setting in (found for found in covered if found is not None):
        taken.setdefault(spheres, []).append(setting)
    for first, second in pairwise(list(taken)):
        (again,) = covering([second], [taken[first][-1].value])
        if again is not None:
            taken[second].insert(0, again[1])
    settings = [setting for one in taken.values() for setting in one]
    unique = {(setting.diameter, setting.spacing): setting for setting in settings}
    return [unique[key] for key in sorted(unique)]


def covering(spheres: Sequence[Spheres], wanted: Sequence[float]) -> list[tuple[Spheres, Setting] | None]:
    """Return per peak voltage [V] the smallest spheres that a table covers, else that a model does, and their setting.

    Parameters
    ----------
    spheres : sequence of Spheres
        By rising diameter.
    wanted : sequence of float
    """
    found: list[tuple[Spheres, Setting] | None] = [None] * len(wanted)
    for tables_only in (True, False):
        left = [place for place, one in enumerate(found) if one is None]
        each = settings_for(spheres, [wanted[place] for place in left], tables_only=tables_only)
        for number, place in enumerate(left):
            pairs = ((one, settings[number]) for one, settings in zip(spheres, each, strict=True))
            fitting = ((one, exact) for one, exact in pairs if exact is not None and _fits(exact, tables_only))
            one, exact = next(fitting, (None, None))
            if one is not None and exact is not None:
                found[place] = one, rounded(one, exact)
    return found


def _fits(exact: Setting, tables_only: bool) -> bool:
    covers = exact.within_limits if tables_only else exact.usable
    return covers and exact.spacing >= LEAST_SHARE * exact.diameter


def rounded(spheres: Spheres, exact: Setting) -> Setting:
    """Return the setting at a spacing that a gauge sets, or the exact one where rounding leaves the limits."""
    step = next(step for below, step in GAUGES if exact.spacing < below)
    places = exact.spacing / step
    for place in (round(places), np.floor(places), np.ceil(places)):
        near = spheres.at(round(float(place * step), 9)) if place > 0 else None
        if near is not None and near.usable and (near.within_limits or not exact.within_limits):
            return near
    return exact


def _answer(
    question: Question, here: Situation, plan: Sequence[Setting], left: Sequence[float], registry: Registry
) -> Answer:
    first = plan[0]
    results: dict[str, object] = {"settings": [block(number, one) for number, one in enumerate(plan, start=1)]}
    if left:
        results["not_covered"] = [Quantity(volts, "voltage") for volts in left]
    before = results["precautions"] = precautions(here.case.waveform, plan, Practice.of(registry.reference))
    asked = _asked(question, here, plan)
    title = f"Probe plan, {len(plan)} settings"
    return Answer.at(
        "probe-plan",
        here,
        asked,
        results,
        [first.evaluation],
        registry,
        notes=[*modelled(plan), DAY],
        cautions=CAUTIONS,
        title=title,
        written={"csv": probe_sheet.sheet(sheet_rows(plan)), "md": markdown(title, before, plan)},
        lead=_lead(plan, left, unsaid_waveform(question)),
    )


def _lead(plan: Sequence[Setting], left: Sequence[float], taken: str) -> Lead:
    """Return what is read first: how many settings of which spheres, and over which voltages."""
    volts = [one.value for one in plan]
    low, high = (str(speak(end, "voltage", zeros=False)) for end in (min(volts), max(volts)))
    reach = f"{low} peak" if low == high else f"{low} to {high} peak"
    spheres = []
    for diameter in sorted({one.diameter for one in plan}):
        gaps = [one.spacing for one in plan if one.diameter == diameter]
        ends = dict.fromkeys(said(end, "length") for end in (min(gaps), max(gaps)))
        spheres.append(f"spheres of {said(diameter, 'length')} set to {' to '.join(ends)}")
    band = f"known to {100 * max(one.band for one in plan):.2g} %"
    missing = f" No spheres here measure {', '.join(said(one, 'voltage') for one in left)}." if left else ""
    at = "at" if low == high else "from"
    sentence = f"{' and '.join(spheres).capitalize()} check a probe {at} {reach}, {band}.{missing}"
    sentence += taken * any(one.method.kind == "table" for one in plan)
    count = f"{len(plan)} {'setting' if len(plan) == 1 else 'settings'}"
    return Lead(sentence, "Plan", f"{count}, {reach}", "discharge-first")


def modelled(plan: Sequence[Setting]) -> list[str]:
    """Return what is said of settings that no published table covers."""
    bands = [100 * one.band for one in plan if one.method.kind != "table"]
    if not bands:
        return []
    which = "every setting" if len(bands) == len(plan) else f"{len(bands)} of {len(plan)} settings"
    known = f"a model gives the voltage, known to {max(bands):.2g} %, and a check with these spheres is known no better"
    return [f"No published table covers {which}: {known}."]


DAY = (
    "The expected voltages hold for the conditions asked; read barometer, thermometer and hygrometer on the day and "
    "give them to the check."
)


def block(number: int, setting: Setting) -> dict[str, object]:
    """Return a setting of the plan as answers show it."""
    shown = setting.block()
    head = {"order": number, "expected_voltage": setting.reference_voltage()}
    return head | {name: value for name, value in shown.items() if name != "within_limits"}


def precautions(waveform: str, plan: Sequence[Setting], practice: Practice) -> list[str]:
    """Return what to do before, between and after the sparkovers."""
    resistor = "at most 500 ohm" if waveform in IMPULSES else "0.1 to 1 Mohm"
    largest = 100 * practice.value["largest-standard-deviation"]
    counted = f"{practice.sparkovers} sparkovers a setting or more, at least {practice.value['interval']:g} s apart"
    said = [
        "Switch off, discharge and short before every setting; set and measure the spacing with the circuit shorted.",
        "Polish, degrease and dry the spheres; keep height above earth and clearance to the side of each setting.",
        f"Put a resistor in series with the gap: {resistor}.",
        "Let a few sparks jump first and do not count them: they condition the spheres.",
        f"Raise the voltage slowly; {counted}, their standard deviation below {largest:g} %.",
        "Write down the reading at the moment of sparkover, and pressure, temperature and humidity with each setting.",
    ]
    if any(setting.irradiation_needed for setting in plan):
        said.append(
            "Irradiate the gap with ultraviolet light or corona, shielded from eyes and skin; say so in the check."
        )
    if waveform == "dc":
        said.append("Direct voltage draws dust and fibres into the gap: inspect low readings, clean, and repeat them.")
    return said


def sheet_rows(plan: Sequence[Setting]) -> list[dict[str, str]]:
    """Return the cells of the sheet, one row per sparkover; what is read at the bench is left empty."""
    rows = []
    for number, setting in enumerate(plan, start=1):
        case = setting.case
        height = setting.practice.earth_height(setting.diameter) or Quantity(None, "length")
        side = setting.practice.side_clearance(setting.diameter, setting.spacing) or Quantity(None, "length")
        cells = {
            "setting": str(number),
            "sphere_diameter_mm": f"{units.shown(setting.diameter, 'length'):.10g}",
            "spacing_mm": f"{units.shown(setting.spacing, 'length'):.10g}",
            "expected_kV": f"{units.shown(setting.value, 'voltage'):.4g}",
            "waveform": case.waveform,
            "polarity": case.polarity or "",
            "earthing": case.options["earthing"],
            "earth_height_from_mm": _millimetres(height.low),
            "earth_height_to_mm": _millimetres(height.high),
            "side_clearance_mm": _millimetres(side.value),
        }
        rows += [{**cells, "sparkover": str(count)} for count in range(1, setting.practice.sparkovers + 1)]
    return rows


def _surroundings(number: int, setting: Setting) -> str:
    """Return height and clearance of a setting as a line of the printed page; nothing where no table has them."""
    height = setting.practice.earth_height(setting.diameter)
    side = setting.practice.side_clearance(setting.diameter, setting.spacing)
    if height is None or side is None:
        return f"- Setting {number}: no table has heights and clearances for these balls; keep everything far off.\n"
    above = f"{_millimetres(height.low)} to {_millimetres(height.high)} mm above earth"
    return f"- Setting {number}: sparking point {above}, nothing within {_millimetres(side.value)} mm.\n"


def _millimetres(value: float | None) -> str:
    return "" if value is None else f"{units.shown(value, 'length'):.10g}"


def markdown(title: str, before: Sequence[str], plan: Sequence[Setting]) -> str:
    """Return the plan as a page to be printed and filled in, whose table the check reads.

    Parameters
    ----------
    before : sequence of str
        Precautions.
    """
    case = plan[0].case
    pressure, kelvin = float(case.pressure[0]), float(case.temperature[0])
    conditions = f"{said(pressure, 'pressure', unit='kPa', digits=5)}, {said(kelvin, 'temperature')}"
    warnings = "".join(f"**{one['text']}**\n\n" for one in cautions(CAUTIONS))
    steps = "".join(f"- {one}\n" for one in before)
    return (
        f"# {title}\n\n{warnings}{steps}\n"
        f"Expected voltages are peak values at {conditions}, {case.waveform}, one sphere earthed.\n\n"
        f"{''.join(_surroundings(number, setting) for number, setting in enumerate(plan, start=1))}\n"
        f"{probe_sheet.table(sheet_rows(plan))}"
    )


def _asked(question: Question, here: Situation, plan: Sequence[Setting]) -> Echo:
    given = "spheres" in question
    sizes = question.listed("spheres") if given else sorted({setting.diameter for setting in plan})
    shown = {"spheres": [Quantity(float(size), "length") for size in sizes]}
    spheres = Echo(shown) if given else Echo.taken(shown)
    return Echo.of(question, ("voltage_from", "voltage_to")) | spheres | EARTHED | here.asked

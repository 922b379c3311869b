"""/v1/sphere-gaps: which spheres to set, and to what spacing, for a voltage."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from service import units
from service.answers.document import Echo
from service.answers.lookup import Answer, Lead, Lookup, also_block, chosen_method, corrections_block, voltage
from service.answers.registry import Registry
from service.answers.situation import (
    ATMOSPHERE,
    FRACTION,
    MEASURE,
    WAVEFORM,
    Situation,
    gas_parameter,
    situation,
    taken_as_peak,
)
from service.bench.spheres import (
    EARTHED,
    MOST_SETTINGS,
    RANGE,
    VOLTAGE,
    Practice,
    Setting,
    Spheres,
    Target,
    chart,
    curves_of,
    settings_for,
    targets,
)
from service.errors import Fault, OutsideValidity
from service.parameters import Parameter, Question
from service.spoken import between, said, speak
from service.units import ROUNDING, Quantity

DIAMETERS = Parameter(
    "sphere_diameter",
    "length",
    "Diameters of the spheres at hand; the standard ones where none is given.",
    low=1e-4,
    high=10.0,
    many=True,
    example="2cm,5cm",
)
RESULTS: Mapping[str, str] = {
    "settings": "One per sphere and voltage: spacing, whether the standard covers it, uncertainty (half width of the "
    "band), irradiation, height above earth, least clearance to the side, series resistor, number of sparkovers and "
    f"time between them. The voltages of a card stand further apart where it would have more than {MOST_SETTINGS} "
    "settings.",
}


def lookup(registry: Registry) -> Lookup:
    """Return the lookup."""
    return Lookup(
        "sphere-gaps",
        "Sphere gaps for a voltage",
        "Which spheres measure a voltage, at what spacing, how well, and how the gap is set up.",
        (VOLTAGE, *RANGE, MEASURE, DIAMETERS, gas_parameter(registry), FRACTION, *ATMOSPHERE, *WAVEFORM),
        lambda question: answer(question, registry),
        example="voltage=40kV",
        one_of=(("voltage",), ("voltage_from", "voltage_to")),
        results=RESULTS,
    )


def answer(question: Question, registry: Registry) -> Answer:
    """Return the settings for a voltage, or a spacing card for a range of voltages.

    Raises
    ------
    BadQuestion
        When neither a voltage nor a range is given, or both.
    OutsideValidity
        When no sphere can be set to the voltage.
    """
    here = situation(question, registry, registry.plates.key)
    diameters = [float(size) for size in question.listed("sphere_diameter")]
    spheres = spheres_of(diameters or Practice.of(registry.reference).diameters, here, registry)
    wanted = targets(question, here.case.waveform, len(spheres))
    found = settings(spheres, wanted, tables_only=not diameters)
    if not any(map(any, found.values())):
        found = settings(spheres, wanted, tables_only=False)
    notes = [*here.notes, *not_listed(found)] if not diameters else list(here.notes)
    if not diameters:
        found = {one: rows for one, rows in found.items() if any(rows)}
    best = chosen([setting for rows in found.values() for setting in rows if setting is not None])
    if best is None:
        raise beyond(spheres, max(one.peak for one in wanted), question)
    return _answer(question, here, Plan(wanted, found, best), notes, registry.gas_cautions(here.case.gas))


def spheres_of(diameters: Iterable[float], here: Situation, registry: Registry) -> list[Spheres]:
    """Return spheres by rising diameter [m] in a situation, one of them earthed."""
    return [Spheres.of(registry, here.case, size) for size in sorted(diameters)]


FoundSetting = dict[Spheres, list[Setting | None]]


def settings(spheres: Sequence[Spheres], wanted: Sequence[Target], *, tables_only: bool) -> FoundSetting:
    """Return the setting of every sphere for every peak voltage; a voltage that comes again has the same ones."""
    peaks = list(dict.fromkeys(target.peak for target in wanted))
    places = [peaks.index(target.peak) for target in wanted]
    each = settings_for(spheres, peaks, tables_only=tables_only)
    return {one: [rows[place] for place in places] for one, rows in zip(spheres, each, strict=True)}


def not_listed(found: FoundSetting) -> list[str]:
    """Return the note on spheres that have no setting at all."""
    missing = ", ".join(said(one.diameter, "length", unit="cm") for one, rows in found.items() if not any(rows))
    return [f"Not listed, since no table has this voltage for them: spheres of {missing}."] if missing else []


def chosen(found: Sequence[Setting]) -> Setting | None:
    """Return the setting whose method the answer shows: the smallest spheres that the standard covers."""
    within = [setting for setting in found if setting.within_limits]
    return next(iter([*within, *found]), None)


def beyond(spheres: Sequence[Spheres], highest: float, question: Question) -> OutsideValidity:
    """Return the error that no sphere can be set to the voltages: why, and the range that they reach.

    A smaller voltage is proposed where the wanted ones are too high, never a larger one.

    Parameters
    ----------
    highest : float
        Highest peak voltage that was wanted [V].
    """
    curves_of(spheres)
    ranges = [one.reach for one in spheres if one.reach]
    if not ranges:
        name, why = _nothing(spheres[0], question)
        return OutsideValidity(why, [Fault(name, why)])
    low, high = min(one[0] for one in ranges), max(one[1] for one in ranges)
    valid = {"low": Quantity(low, "voltage"), "high": Quantity(high, "voltage")}
    words = between(low, high, "voltage", unit="kV")
    detail = f"No such spheres can be set to this voltage; in these conditions they measure {words} peak."
    names = [name for name in ("voltage", "voltage_from", "voltage_to") if name in question]
    error = OutsideValidity(detail, [Fault(name, detail, (), valid) for name in names])
    if highest < high * (1 + ROUNDING):
        return error
    ends = [f"{units.shown(end, 'voltage'):.4g}kV" for end in (low, high)]
    near = {"voltage": ends[1]} if len(names) == 1 else dict(zip(names, ends, strict=True))
    error.suggestion = near | ({"measure": "peak"} if "measure" in question else {})
    return error


def _nothing(one: Spheres, question: Question) -> tuple[str, str]:
    """Return the parameter at fault and why no voltage is known for spheres within the limits of the arrangement."""
    frequency, highest = float(one.case.frequency[0]), one.practice.highest_frequency
    if frequency > highest * (1 + ROUNDING):
        words = said(highest, "frequency", unit="kHz")
        return "frequency", f"Above {words} spheres were measured to spark lower than the table: they measure nothing."
    if not one.case.in_air:
        return "gas", f"Spheres measure in air; in {one.case.gas} no method gives their voltage within the limits."
    sizes = next(name for name in ("sphere_diameter", "spheres") if name in question.parameters)
    share = one.practice.largest_share(one.case.waveform)
    return sizes, (
        f"For spheres of {said(one.diameter, 'length', unit='mm')} at a relative air density of "
        f"{float(one.case.relative_density[0]):.3g} neither a table nor a model gives a voltage up to a spacing of "
        f"{share:g} of the diameter."
    )


@dataclass(frozen=True, eq=False)
class Plan:
    """The settings found for what was wanted, and the one whose method the answer shows."""

    wanted: Sequence[Target]
    found: FoundSetting
    best: Setting

    @property
    def given(self) -> list[Setting]:
        """Every setting that was found."""
        return [setting for rows in self.found.values() for setting in rows if setting is not None]

    def rows(self) -> list[dict[str, object]]:
        """Return the settings as answers show them, voltage by voltage."""
        several = len({target.measure for target in self.wanted}) > 1
        heads = [{"voltage": voltage(one.peak), **({"measure": one.measure} if several else {})} for one in self.wanted]
        return [
            {**head, **(_without(one) if setting is None else setting.block())}
            for i, head in enumerate(heads)
            for one, setting in ((one, settings[i]) for one, settings in self.found.items())
        ]


def _answer(question: Question, here: Situation, plan: Plan, notes: list[str], gases: tuple[str, ...]) -> Answer:
    best, given = plan.best, plan.given
    cautions = ["discharge-first", "estimate", *["ozone"] * (here.case.in_air)]
    if any(setting.irradiation_needed for setting in given):
        cautions.insert(1, "ultraviolet")
    estimate = best.evaluation.preferred().estimate
    every = Spheres(best.evaluation.arrangement, best.case, best.practice).at(best.spacing, every=True) or best
    return Answer(
        "sphere-gaps",
        Echo.of(question, OWN) | EARTHED | here.asked,
        {"settings": plan.rows()},
        chosen_method(best.evaluation),
        also_block(every.evaluation),
        corrections_block(best.evaluation),
        [*notes, *estimate.notes, "One sphere is earthed; the height is that of the sparking point above earth."],
        tuple(cautions),
        gases,
        figure=lambda: chart(list(plan.found), [target.peak for target in plan.wanted], list(dict.fromkeys(given))),
        lead=_lead(plan, unsaid_waveform(question) + _unsaid_measure(question)),
    )


def unsaid_waveform(question: Question) -> str:
    """Return what was taken where nobody said the waveform, to follow a sentence."""
    if question.given("waveform"):
        return ""
    return " Taken as alternating voltage: direct voltage is known less well, so say the waveform."


def _unsaid_measure(question: Question) -> str:
    return taken_as_peak(question, question.key("waveform")) if "voltage" in question else ""


def _lead(plan: Plan, taken: str) -> Lead:
    """Return what is read first: the smallest spheres that the standard covers, with spacing and how well known."""
    best, caution = plan.best, "discharge-first"
    size = said(best.diameter, "length")
    known = f"known to {100 * best.band:.2g} %"
    if len(plan.wanted) == 1:
        apart = str(speak(best.spacing, "length"))
        sentence = f"{said(best.value, 'voltage')} peak sparks over {apart} between spheres of {size}, {known}."
        others = len({one.diameter for one in plan.given}) - 1
        more = f" {others} other sizes can be set to it too." if others > 1 else ""
        why = "".join(f" {one}" for one in best.why_not)
        return Lead(
            sentence + why + more + taken * (best.method.kind == "table"),
            f"Spheres of {size}, set to",
            f"{apart}, voltage {known}",
            caution,
        )
    peaks = [one.peak for one in plan.wanted]
    low, high = said(min(peaks), "voltage"), said(max(peaks), "voltage")
    sizes = ", ".join(said(one, "length") for one in sorted({one.diameter for one in plan.given}))
    sentence = f"Spacings for {low} to {high} peak, for spheres of {sizes}."
    without = sum(setting is None for rows in plan.found.values() for setting in rows)
    more = f" {without} of the settings have none." if without else ""
    return Lead(sentence + more + taken, "Settings", f"{len(plan.given)}, for {low} to {high} peak", caution)


def _without(one: Spheres) -> dict[str, object]:
    """Return what answers show in place of a setting."""
    why = ["No method gives a spacing of these spheres for this voltage."]
    return {"sphere_diameter": Quantity(one.diameter, "length"), "within_limits": False, "why_not": why}


OWN = ("voltage", "voltage_from", "voltage_to", "measure", "sphere_diameter")
"""What a question about spheres asks beside its surroundings."""

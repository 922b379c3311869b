"""/v1/protective-gap: a spacing that holds one voltage and surely fires below another, or the window that it needs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from service import units
from service.answers.blocks import also_block, chosen_method, corrections_block, voltage
from service.answers.gap_curves import Curves
from service.answers.lookup import Answer, Lookup
from service.answers.outside import refusal
from service.answers.point import gas_cautions, point_cautions
from service.answers.registry import Registry
from service.answers.situation import ATMOSPHERE, MIXED, Situation, electrode_parameters, gas_parameter, situation
from service.answers.waveform import WAVEFORM
from service.errors import BadQuestion, Fault, OutsideValidity
from service.methods import FloatArray
from service.methods.scatter import DEVIATIONS
from service.parameters import Parameter, Question
from service.reference import Reference

HOLD = Parameter(
    "hold", "voltage", "Peak voltage that the gap must hold.", required=True, high=1e8, example="12kV", low=1.0
)
FIRE = Parameter(
    "fire_below",
    "voltage",
    "Peak voltage below which the gap must fire.",
    required=True,
    high=1e8,
    example="22kV",
    low=1.0,
)
IRRADIATED = Parameter(
    "irradiated",
    "choice",
    "Whether ultraviolet light or corona supplies the first electrons; without it the first spark comes late.",
    default="no",
    choices=("yes", "no"),
)
LATE = 1.2
"""How much higher a gap of a few centimetres may fire that waits for its first electron; common practice, no source."""
HOT = "After the first spark the gas is hot: the gap fires again at a lower voltage, and a source may keep it burning."
WORN = "Sparks wear the electrodes and dust settles on them: inspect the spacing, and test it again after it has fired."
RESULTS: Mapping[str, str] = {
    "spacing": "Every spacing from low to high holds the one voltage and fires below the other, time lag included.",
    "window_needed": "Where no spacing does: where one that holds fires, and what one that fires early enough holds.",
    "allowed_for": "Scatter below and above the band, and the time lag, as factors on the voltage.",
}


def lookup(registry: Registry) -> Lookup:
    """Return the lookup.

    Parameters
    ----------
    registry : Registry
    """
    return Lookup(
        "protective-gap",
        "Protective gap",
        "The spacing that holds one voltage and surely fires below another, time lag included.",
        (
            HOLD,
            FIRE,
            IRRADIATED,
            *electrode_parameters(registry),
            gas_parameter(registry),
            *MIXED,
            *ATMOSPHERE,
            *WAVEFORM,
        ),
        lambda question: answer(question, registry),
        example="hold=12kV&fire_below=22kV&electrodes=sphere-gap&sphere_diameter=2cm&waveform=dc",
        results=RESULTS,
    )


@dataclass(frozen=True)
class Allowance:
    """Factors between the band of a breakdown voltage and what surely holds or fires.

    Parameters
    ----------
    below : float
        On the low end: three deviations of scatter.
    above : float
        On the high end: three deviations of scatter.
    lag : float
        On the high end: the time lag of a gap without irradiation.
    """

    below: float
    above: float
    lag: float

    @classmethod
    def of(cls, reference: Reference, waveform: str, irradiated: str) -> Allowance:
        """Return the allowance for a waveform.

        Parameters
        ----------
        reference : Reference
        waveform : str
        irradiated : str
            ``yes`` or ``no``.
        """
        table = reference.table("correction-constants")
        deviation = table.constant(DEVIATIONS.get(waveform, "deviation-alternating-and-lightning"))
        spread = table.constant("scatter-multiple") * deviation
        return cls(1 - spread, 1 + spread, {"yes": 1.0, "no": LATE}[irradiated])

    @property
    def fires(self) -> float:
        """Factor on the high end of the band."""
        return self.above * self.lag

    def block(self) -> dict[str, float]:
        """Return the factors as the answer shows them."""
        parts = {"scatter_below": self.below, "scatter_above": self.above, "time_lag": self.lag}
        return {name: round(factor, 6) for name, factor in parts.items()}


@dataclass(frozen=True, eq=False)
class Window:
    """Which gaps hold and which fire.

    Parameters
    ----------
    curves : Curves
    allowance : Allowance
    """

    curves: Curves
    allowance: Allowance

    def holds_from(self, hold: float) -> float | None:
        """Return the gap [m] from which a peak voltage [V] is held; ``None`` where no gap does."""
        found = self.curves.branch("right", hold / self.allowance.below)
        return None if found is None else found.high

    def fires_to(self, below: float) -> float | None:
        """Return the gap [m] up to which it fires below a peak voltage [V]; ``None`` where no gap does."""
        found = self.curves.branch("right", below / self.allowance.fires)
        return None if found is None else found.low

    def holding(self, gap: float) -> float:
        """Return the peak voltage [V] that a gap [m] holds."""
        return self._at("low", gap) * self.allowance.below

    def firing(self, gap: float) -> float:
        """Return the peak voltage [V] below which a gap [m] surely fires."""
        return self._at("high", gap) * self.allowance.fires

    def _at(self, name: str, gap: float) -> float:
        values: FloatArray = getattr(self.curves.at(np.array([gap])), name)
        return float(values[0])


def answer(question: Question, registry: Registry) -> Answer:
    """Return the spacing of a protective gap.

    Parameters
    ----------
    question : Question
    registry : Registry

    Raises
    ------
    BadQuestion
        When the gap must fire below what it must hold, or dimensions fix the gap.
    OutsideValidity
        When no method reaches the voltages.
    """
    hold, below = question.number("hold"), question.number("fire_below")
    if not hold < below:
        detail = "hold must be below fire_below: no gap fires below what it holds."
        raise BadQuestion(detail, [Fault("hold", detail), Fault("fire_below", detail)])
    here = situation(question, registry)
    _check_sizes(question, here)
    curves = registry.kept_curves((here, None), lambda: Curves(here.arrangement, here.case, None, registry.reference))
    if not curves.on_grid.answered.any():
        raise refusal(here.arrangement, curves.at(np.array([1e-2])).case)
    allowance = Allowance.of(registry.reference, here.case.waveform, question.key("irradiated"))
    window = Window(curves, allowance)
    results, at = _results(window, hold, below)
    return _answer(question, here, window, results, at, registry)


def _check_sizes(question: Question, here: Situation) -> None:
    if here.arrangement.completes is None:
        return
    if "outer_diameter" in question:
        detail = "The outer diameter follows from the spacing; give inner_diameter alone."
        raise BadQuestion.about("outer_diameter", detail)
    question.number("inner_diameter")


def _results(window: Window, hold: float, below: float) -> tuple[dict[str, Any], float]:
    low, high = window.holds_from(hold), window.fires_to(below)
    if low is None:
        known = window.curves.on_grid.low
        highest = float(np.nanmax(known)) if np.isfinite(known).any() else np.nan
        raise beyond(window, "hold", highest * window.allowance.below)
    if high is not None and low <= high:
        return {"spacing": units.quantity(None, "length", low=low, high=high)}, float(np.sqrt(low * high))
    needed: dict[str, Any] = {"holding": _needed(window, low)}
    if high is not None:
        needed["firing"] = _needed(window, high)
    return {"window_needed": needed}, low


def _needed(window: Window, gap: float) -> dict[str, Any]:
    block: dict[str, Any] = {"spacing": units.quantity(gap, "length"), "hold": voltage(window.holding(gap))}
    return block | {"fire_below": voltage(window.firing(gap))}


def beyond(window: Window, name: str, highest: float) -> OutsideValidity:
    """Return the error that no gap of this arrangement is known to hold a voltage.

    Parameters
    ----------
    window : Window
    name : str
        Parameter at fault.
    highest : float
        Highest peak voltage that some gap holds [V]; NaN where no low end is known.
    """
    key = window.curves.arrangement.key
    if np.isnan(highest):
        detail = f"What electrodes={key} hold in this gas is not known: no method gives a low end. Name the electrodes."
        return OutsideValidity(detail, [Fault("electrodes", detail)])
    limit = units.quantity(highest, "voltage")
    detail = f"No gap of electrodes={key} is known to hold this; the highest is {limit['value']:.4g} kV."
    error = OutsideValidity(detail, [Fault(name, detail, (), {"high": limit})])
    error.suggestion = {"hold": f"{highest / 4e3:.3g}kV", "fire_below": f"{highest / 1e3:.3g}kV"}
    return error


def _answer(
    question: Question, here: Situation, window: Window, results: dict[str, Any], at: float, registry: Registry
) -> Answer:
    evaluation = window.curves.at(np.array([at]), every=True)
    chosen = evaluation.preferred()
    first = {name: units.quantity(question.number(name), "voltage") for name in ("hold", "fire_below")}
    asked = here.echo({**first, "irradiated": question.key("irradiated")})
    if "irradiated" in question.assumed:
        asked["assumed"] = ["irradiated", *asked["assumed"]]
    keys = ("discharge-first", "estimate", "ozone", "fire", *point_cautions(evaluation))
    return Answer(
        "protective-gap",
        asked,
        results | {"allowed_for": window.allowance.block()},
        chosen_method(evaluation),
        also_block(evaluation),
        corrections_block(evaluation),
        [*here.notes, *here.arrangement.notes, *chosen.estimate.notes, *notes(question, "spacing" in results)],
        keys,
        gas_cautions(evaluation.case, registry),
        title=f"Protective gap, {here.arrangement.title.lower()}",
    )


def notes(question: Question, found: bool) -> list[str]:
    """Return the sentences on time lag, wear and what follows the spark."""
    said = [HOT, WORN]
    if question.key("irradiated") == "no":
        said.insert(0, "Without irradiation the first spark may come up to a fifth above the band: allowed for.")
    if not found:
        said.insert(0, "No spacing does both: move the two voltages apart, or name electrodes that are known better.")
    return said

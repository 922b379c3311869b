"""What each electrode shape needs for a first spark of one length."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from service import units
from service.answers.blocks import voltage
from service.answers.evaluate import Evaluation, evaluate
from service.answers.gap_curves import case_at
from service.answers.registry import Registry
from service.answers.situation import Situation, one
from service.bench.spark_claim import Band, Zones
from service.methods import Arrangement, Case

WIRE_ENDS = 1.5e6
"""Most that bare wire ends a few millimetres apart need, times relative density [V/m]; common practice, no source."""
WIRE_ENDS_TO = 25e-3
"""Gap up to which that is used [m]: as far as the needle gap keeps its 1.2 kV per mm."""

INCEPTION = 0.10
"""Half width of the band of an inception voltage that is the low end of a bracket."""


@dataclass(frozen=True, eq=False)
class Shape:
    """An arrangement at the length of the spark.

    Parameters
    ----------
    evaluation : Evaluation
        Of one element that is answered.
    """

    evaluation: Evaluation

    @property
    def key(self) -> str:
        """Of the arrangement."""
        return self.evaluation.arrangement.key

    @property
    def value(self) -> float:
        """Peak voltage [V]; NaN for a bracket."""
        return float(self.evaluation.value[0])

    @property
    def band(self) -> Band:
        """Its ends."""
        ends = (float(self.evaluation.low[0]), float(self.evaluation.high[0]))
        return Band(*ends, sharp=bool(np.isfinite(self.value)))

    def widened(self, uniform: float) -> Band:
        """Return the band that judges a claim: a bracket gets the bands of its ends.

        Parameters
        ----------
        uniform : float
            Upper end of the uniform field's band at this length [V]; NaN where it has no answer.
        """
        band = self.band
        if band.sharp:
            return band
        return Band(band.low * (1 - INCEPTION), float(np.fmax(band.high, uniform)), sharp=False)

    @property
    def sizes(self) -> dict[str, Any]:
        """Sizes and options as answers show them."""
        case = self.evaluation.case
        shown = {name: units.quantity(float(size[0]), "length") for name, size in case.dimensions.items()}
        return shown | dict(case.options)

    @property
    def label(self) -> str:
        """Title and sizes in words."""
        sizes = self.evaluation.case.dimensions.items()
        words = [f"{name.replace('_', ' ')} {units.shown(float(size[0]), 'length'):g} mm" for name, size in sizes]
        return ", ".join([self.evaluation.arrangement.title, *words])

    def block(self) -> dict[str, Any]:
        """Return the shape as answers show it."""
        chosen = self.evaluation.preferred()
        band = self.band
        fields = {"electrodes": self.key, **self.sizes, "voltage": voltage(self.value, band.low, band.high)}
        fields["method"] = chosen.method.key
        if chosen.estimate.row:
            fields["row"] = chosen.estimate.row
        return fields | {"provenance": chosen.estimate.provenance or chosen.method.provenance}


def shapes(here: Situation, length: float, registry: Registry) -> list[Shape]:
    """Return every arrangement that answers at a length, with the sizes of its example, by rising voltage.

    Parameters
    ----------
    here : Situation
        Surroundings and waveform.
    length : float
        Of the spark [m].
    registry : Registry
    """
    found = [Shape(evaluation) for evaluation in _evaluations(here, length, registry) if evaluation.answered[0]]
    return sorted(found, key=lambda shape: (np.nanmin([shape.value, shape.band.high]), shape.key))


def _evaluations(here: Situation, length: float, registry: Registry) -> Iterator[Evaluation]:
    for arrangement in registry.arrangements.values():
        if arrangement.gap_from is None and arrangement.key != "unknown":
            yield evaluate(arrangement, example_case(arrangement, here.case, length))


def example_case(arrangement: Arrangement, case: Case, length: float) -> Case:
    """Return a case at a gap [m] with the example sizes and default options of an arrangement."""
    lengths = (p for p in arrangement.parameters if p.dimension == "length")
    sizes = {p.name: one(units.read(p.name, str(p.example), p.dimension)) for p in lengths}
    options = {p.name: str(p.default) for p in arrangement.parameters if p.dimension == "choice"}
    return replace(case, gap=one(length), dimensions=sizes, options=options)


def named(here: Situation, length: float, *, every: bool = False) -> Evaluation:
    """Return the evaluation of the asked arrangement at a length [m]; dimensions that the length fixes follow."""
    case = case_at(here.arrangement, here.case, one(length))
    return evaluate(here.arrangement, case, every=every)


def zones(found: list[Shape], bracket: Evaluation) -> Zones:
    """Return what divides claims by the shape that they need.

    Parameters
    ----------
    found : list of Shape
    bracket : Evaluation
        Of unknown electrodes, answered.
    """
    by_key = {shape.key: shape.band for shape in found}
    uniform = by_key["uniform-field"]
    floor = float(bracket.low[0])
    if "needle-gap" in by_key:
        points = by_key["needle-gap"]
        least = min(floor, points.low)
        return Zones(least, points.high, uniform.low, uniform.high, "needle-gap table", sharp=True)
    case = bracket.case
    wires = WIRE_ENDS * float(case.relative_density[0]) * float(case.gap[0])
    known = case.gas == "air" and np.isfinite(floor) and case.gap[0] <= WIRE_ENDS_TO and floor < wires < uniform.low
    most = wires if known else float("nan")
    return Zones(floor, most, uniform.low, uniform.high, "bare wire ends, common practice, no source")

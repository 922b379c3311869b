"""The sphere-gap chart: sparkover voltage against spacing, one curve per diameter."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from service import units
from service.answers.figure import Axis, Curve, Figure, Mark
from service.bench.sphere_practice import SLACK
from service.bench.sphere_setting import Setting, Spheres
from service.methods import FloatArray

ROOM = 2.0
"""How far the chart reaches beyond the voltages asked, as a factor."""
MOST_CURVES = 8
"""Most curves of one chart."""


def figure(spheres: Sequence[Spheres], peaks: Sequence[float], settings: Sequence[Setting]) -> Figure:
    """Return the chart of some spheres with the settings that were asked.

    Parameters
    ----------
    spheres : sequence of Spheres
    peaks : sequence of float
        Peak voltages asked [V].
    settings : sequence of Setting
        Answered.
    """
    low, high = min(peaks) / ROOM, max(peaks) * ROOM
    curves = [curve for one in spheres[:MOST_CURVES] for curve in (_curve(one, low, high),) if curve is not None]
    conditions = settings[0].case
    density = float(conditions.relative_density[0])
    return Figure(
        "Sphere gaps: sparkover voltage and spacing",
        "Curves of peak sparkover voltage in kV against spacing in mm, one per sphere diameter, with bands, and the "
        "settings for the voltage asked.",
        Axis("spacing", "mm"),
        Axis("sparkover voltage, peak", "kV"),
        curves=tuple(curves),
        marks=_marks(settings),
        sentences=(
            f"One sphere earthed; relative air density {density:.3f}; {conditions.waveform}.",
            f"Method of the smallest spheres: {settings[0].method.title} ({settings[0].method.provenance}).",
            "Switch off, discharge and short before a hand goes near the spheres, every time.",
        ),
    )


def _curve(one: Spheres, low: float, high: float) -> Curve | None:
    found = one.curve
    shown = (found.value >= low) & (found.value <= high)
    if shown.sum() < 2:
        return None
    volts, floor, top = (_plotted(values, "voltage") for values in (found.value, found.low, found.high))
    largest = one.practice.largest_share(one.case.waveform) * one.diameter * SLACK
    spacings = _plotted(one.spacings, "length")
    label = f"{units.shown(one.diameter, 'length', 'cm'):g} cm"
    kept = shown & (one.spacings <= largest)
    if kept.sum() < 2:
        return Curve(label, spacings[shown], volts[shown], dashed=True)
    return Curve(label, spacings[kept], volts[kept], floor[kept], top[kept])


def _marks(settings: Sequence[Setting]) -> tuple[Mark, ...]:
    covered = [setting for setting in settings if setting.within_limits]
    if not covered:
        return ()
    spacings = _plotted([setting.spacing for setting in covered], "length")
    volts = _plotted([setting.value for setting in covered], "voltage")
    return (Mark("asked", spacings, volts),)


def _plotted(values: Iterable[float], dimension: str) -> FloatArray:
    return np.array([units.shown(value, dimension) for value in values])

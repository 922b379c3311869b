"""The picture of a probe check: each setting's ratio with its band beside 1.00."""

from __future__ import annotations

import numpy as np

from service import units
from service.answers.figure import Axis, Bar, Curve, Figure
from service.bench.comparison import COVERAGE
from service.bench.probe import Check
from service.bench.probe_verdict import Overall

MOST_BARS = 24
"""Most settings that are drawn as bars; more make a curve."""


def figure(check: Check, overall: Overall) -> Figure:
    """Return the picture of a check with at least one accepted setting."""
    found = overall.comparison
    ratio = found.indicated / found.reference
    spread = COVERAGE * found.setting_uncertainty * ratio
    said = (overall.explanation, "Every band is that of a setting by itself (k = 2), for what was said and assumed.")
    description = "Indicated over reference voltage of every accepted setting, with its band, beside 1.00."
    axis = Axis("indicated over reference voltage", "1", logarithmic=False)
    low, high = overall.ends
    if ratio.size > MOST_BARS:
        order = np.argsort(found.reference)
        volts = np.array([units.shown(one, "voltage") for one in found.reference[order]])
        curve = Curve("ratio", volts, ratio[order], (ratio - spread)[order], (ratio + spread)[order])
        right = Curve("1.00", volts[[0, -1]], np.ones(2), dashed=True)
        across = Axis("reference voltage, peak", "kV", logarithmic=False)
        return Figure("Probe check", description, across, axis, curves=(curve, right), sentences=said)
    bars = [
        Bar(_label(check, int(place)), float(ratio[i] - spread[i]), float(ratio[i] + spread[i]), float(ratio[i]))
        for i, place in enumerate(check.accepted)
    ]
    bars.append(Bar("all together", low, high if high < np.inf else float("nan"), overall.ratio))
    return Figure("Probe check", description, axis, axis, bars=tuple(bars), lines=(("1.00", 1.0),), sentences=said)


def _label(check: Check, place: int) -> str:
    reading = check.readings[place]
    spacing, diameter = (units.shown(size, "length") for size in (reading.spacing, reading.diameter))
    return f"{spacing:.4g} mm, balls {diameter:.4g} mm"

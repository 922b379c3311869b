"""The picture of Paschen curves: bands, minimum, hand-overs between methods, measured points."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from service.answers.evaluate import Evaluation
from service.answers.figure import Curve, Figure, Mark, PlotAxis
from service.answers.registry import Registry
from service.lookups.gases import measured, minima
from service.lookups.paschen_sweep import Sweep
from service.methods import FloatArray
from service.spoken import between, said

DESCRIPTION = (
    "Peak breakdown voltage between plates over pressure times gap, both logarithmic, with bands, for {}; minima, "
    "hand-overs between methods and measured points are marked."
)
SENTENCES = (
    "Between plates at 20 degC; bands are stated uncertainties. Left of the minimum longer paths break first.",
    "Estimates for clean electrodes; never the only protection of a person.",
)


def draw(registry: Registry, sweeps: list[Sweep], found: list[Evaluation | None], pds: FloatArray) -> Figure:
    """Return the picture of the curves of one gas or of several.

    Parameters
    ----------
    registry : Registry
    sweeps : list of Sweep
    found : list of Evaluation or None
        One per gas; ``None`` where there is no curve.
    pds : ndarray
        Places of the points [Pa m].
    """
    pairs = list(zip(sweeps, found, strict=True))
    names = [_name(sweep) for sweep in sweeps]
    curves = [Curve(_name(s), pds, one.value, one.low, one.high) for s, one in pairs if one is not None]
    marks = [mark for sweep, one in pairs for mark in _marks(registry, sweep, one, pds, len(sweeps) == 1)]
    return Figure(
        "Paschen curve" if len(sweeps) == 1 else "Paschen curves",
        DESCRIPTION.format(", ".join(names).lower()),
        PlotAxis("Pressure times gap at 20 degC", "Pa m"),
        PlotAxis("Breakdown voltage, peak", "V"),
        tuple(curves),
        tuple(marks),
        sentences=(*_covered(pairs), *SENTENCES),
    )


def _name(sweep: Sweep) -> str:
    name = sweep.gas.replace("-", " ").capitalize()
    case = sweep.curves.case
    share = "" if case.fraction is None else f", {said(float(case.fraction[0]), 'fraction')}"
    return name + share + ("" if case.secondary is None else f", gamma {case.secondary:g}")


def _marks(registry: Registry, sweep: Sweep, found: Evaluation | None, pds: FloatArray, alone: bool) -> Iterator[Mark]:
    least = sweep.minimum
    if least is not None and found is not None:
        volts = float(least.evaluation.value[0])
        label = "minimum" if alone else f"{_name(sweep)} minimum"
        if pds[0] <= least.pd <= pds[-1]:
            yield Mark(f"{label} {volts:.0f} V", np.array([least.pd]), np.array([volts]))
    elif alone and found is not None and sweep.curves.case.secondary is None:
        for row in minima(registry, sweep.gas):
            at, there = (np.array([one.value], dtype=np.float64) for one in (row.pd, row.voltage))
            yield Mark(f"published minimum {there[0]:.0f} V", at, there, "measured")
    if alone and found is not None:
        change = np.flatnonzero((np.diff(found.choice) != 0) & (found.choice[1:] >= 0) & (found.choice[:-1] >= 0)) + 1
        if change.size:
            yield Mark("methods hand over", pds[change], found.value[change], "hand-over")
    points = measured(registry, sweep.gas)
    if len(points):
        x, y = points["gap"] * points["pressure"], points["voltage"]
        inside = (x >= pds[0]) & (x <= pds[-1]) if pds.size else np.ones(x.size, dtype=np.bool_)
        if inside.any():
            yield Mark("measured" if alone else f"{_name(sweep)}, measured", x[inside], y[inside], "measured")


def _covered(pairs: list[tuple[Sweep, Evaluation | None]]) -> Iterator[str]:
    for sweep, found in pairs:
        if found is None:
            yield f"{_name(sweep)}: measured points only, no curve."
        else:
            low, high = sweep.covered
            yield f"{_name(sweep)}: methods answer from {between(low, high, 'pd', digits=3)}."

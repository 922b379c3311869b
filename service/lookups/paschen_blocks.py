"""Blocks of a Paschen answer: curve, minimum, and the methods where the minimum lies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from service.answers.blocks import also_block, chosen_method, voltage
from service.answers.document import Shown
from service.answers.evaluate import Evaluation
from service.answers.registry import Registry
from service.lookups.gases import PublishedMinimum, measured_points, minima
from service.lookups.paschen_sweep import Sweep
from service.methods import FloatArray
from service.spoken import said
from service.units import Quantity, Series

UNIT = "V"
"""Unit of voltage of this lookup."""
METHOD_NOTE = "method and also are those at {}."


def _curve(found: Evaluation, pds: FloatArray) -> dict[str, object]:
    return {
        "pd": Series(pds, "pd"),
        "voltage": Series(found.value, "voltage", found.low, found.high, UNIT),
        "method": [found.methods[i].method.key if i >= 0 else None for i in found.choice],
    }


def single(registry: Registry, sweep: Sweep, found: Evaluation | None, pds: FloatArray) -> dict[str, object]:
    """Return the result fields of one gas.

    Parameters
    ----------
    registry : Registry
    sweep : Sweep
    found : Evaluation or None
        ``None`` where there is no curve.
    pds : ndarray
        Places of the points [Pa m].
    """
    results: dict[str, object] = {} if found is None else {"curve": _curve(found, pds)}
    least = known_minimum(registry, sweep)
    if least is not None:
        results["minimum"] = least
    results["minima"] = minima(registry, sweep.gas)
    points = measured_points(registry, sweep.gas)
    return results | ({"measured_points": points} if points else {})


def several(
    registry: Registry, sweeps: list[Sweep], found: list[Evaluation | None], pds: FloatArray
) -> dict[str, object]:
    """Return the result fields of several gases.

    Parameters
    ----------
    registry : Registry
    sweeps : list of Sweep
    found : list of Evaluation or None
        One per gas.
    pds : ndarray
        Places of the points [Pa m].
    """
    pairs = [(sweep, one) for sweep, one in zip(sweeps, found, strict=True) if one is not None]
    return {
        "curves": [{"gas": sweep.gas, **_curve(one, pds)} for sweep, one in pairs],
        "minima": [{"gas": sweep.gas, **row.block()} for sweep in sweeps for row in minima(registry, sweep.gas)],
    }


@dataclass(frozen=True)
class KnownMinimum(Shown):
    """The minimum of a curve that a method reaches."""

    pd: Quantity
    voltage: Quantity
    method: str


def known_minimum(registry: Registry, sweep: Sweep) -> KnownMinimum | PublishedMinimum | None:
    """Return the minimum of a curve, else the published point; nothing where neither is known."""
    published = minima(registry, sweep.gas)
    if not published:
        return None
    least = sweep.minimum
    if least is None:
        return published[0] if sweep.answered and sweep.curves.case.secondary is None else None
    at = least.evaluation
    return KnownMinimum(
        Quantity(least.pd, "pd"),
        voltage(float(at.value[0]), float(at.low[0]), float(at.high[0]), UNIT),
        at.preferred().method.key,
    )


def method_at(
    sweeps: list[Sweep], found: list[Evaluation | None]
) -> tuple[dict[str, object] | None, list[dict[str, object]], tuple[str, ...]]:
    """Return method, other methods, and where they are those of: the minimum of the first curve, else its middle.

    Parameters
    ----------
    sweeps : list of Sweep
    found : list of Evaluation or None
        One per gas.
    """
    pairs = [(sweep, one) for sweep, one in zip(sweeps, found, strict=True) if one is not None and one.answered.any()]
    if not pairs:
        return None, [], ()
    sweep, one = pairs[0]
    gas = sweep.gas.replace("-", " ")
    if sweep.minimum is not None:
        at, where = sweep.minimum.evaluation, f"the minimum of {gas}"
    else:
        pds = one.case.pd[one.answered]
        middle = float(pds[pds.size // 2])
        at, where = sweep.curves.at(np.array([middle]), every=True), f"{said(middle, 'pd')} in {gas}"
    also = also_block(at, unit=UNIT)
    return chosen_method(at), also, (METHOD_NOTE.format(where),)

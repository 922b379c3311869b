"""/v1/agreement: every model against every published table and point set that it can be held against."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from service.answers.document import Shown
from service.answers.echo import Echo
from service.answers.lookup import Answer, Lead, Lookup
from service.answers.registry import Registry
from service.lookups.comparisons import PointSet, point_sets
from service.methods import FloatArray
from service.parameters import Question

WANTED = 95.0
"""Share of cells inside the stated band from which a band is called honest [%]."""
NOTES = (
    "inside_band_percent is the share of cells that lie inside the band which the method states there.",
    "Percentages are of the absolute deviation of the method from the published voltage; bias is the signed median.",
    "Rows outside a method's validity are left out. No method is compared with a table of its own source.",
    "calibration_cells counts the rows that the method was fitted to; the comparison without them stands beside it.",
    "The sphere tables compare a built gap, with shanks, lead and walls, with a pair alone in space.",
    "Lead and walls left open move spheres by 3 % at 0.5 of the diameter, 6 % at 0.8: no single row is the agreement.",
)
BELOW = (
    "Less than {wanted:g} % of the cells lie inside the band of {methods}: argon below 1 mm lies near the minimum, "
    "which the cathode moves from 137 to 265 V, and similarity fails across such gaps; these methods only stand beside "
    "the one that is preferred there."
)
"""Why the band of some methods is not widened to hold their cells."""


@dataclass(frozen=True, eq=False)
class Agreement:
    """One method against one point set.

    Parameters
    ----------
    method, table, part : str
        Keys, and which rows in words.
    deviations : ndarray
        Relative, of the rows that the method answers.
    inside : ndarray of bool
        Whether the published voltage lies in the band that the method states.
    places : tuple of str
        Each row in words.
    calibration_cells : int
        How many of them it was fitted to.
    """

    method: str
    table: str
    part: str
    deviations: FloatArray
    inside: np.ndarray
    places: tuple[str, ...]
    calibration_cells: int

    @property
    def worst(self) -> int:
        """Position of the largest deviation."""
        return int(np.argmax(np.abs(self.deviations)))

    @property
    def inside_band_percent(self) -> float:
        """Share of the cells inside the stated band."""
        return _rounded(100 * np.mean(self.inside))

    def figures(self) -> Figures:
        """Return the comparison in figures."""
        size = np.abs(self.deviations) * 100
        return Figures(
            self.method,
            self.table,
            self.part or None,
            int(size.size),
            self.calibration_cells,
            _rounded(np.median(size)),
            _rounded(np.percentile(size, 95)),
            _rounded(size.max()),
            self.places[self.worst],
            _rounded(np.median(self.deviations) * 100),
            self.inside_band_percent,
            _rounded(100 * np.mean(size <= 3)),
            _rounded(100 * np.mean(size <= 5)),
        )


@dataclass(frozen=True)
class Figures(Shown):
    """A comparison as answers show it."""

    method: str
    table: str
    part: str | None
    cells: int
    calibration_cells: int
    median_percent: float
    p95_percent: float
    worst_percent: float
    worst_at: str
    bias_percent: float
    inside_band_percent: float
    within_3_percent: float
    within_5_percent: float


def _rounded(number: float | np.floating[Any]) -> float:
    return round(float(number), 2)


def comparisons(registry: Registry) -> list[Agreement]:
    """Return every comparison."""
    return [found for points in point_sets(registry) for found in _of(points, registry)]


def _of(points: PointSet, registry: Registry) -> Iterator[Agreement]:
    for key in dict.fromkeys(method.key for method in points.methods(registry)):
        deviations, inside = points.compared(registry, key)
        answered = np.isfinite(deviations)
        fitted = points.calibrated.get(key, np.zeros(answered.size, dtype=np.bool_)) & answered
        if answered.any():
            yield _comparison(points, key, (deviations, inside), answered, fitted, points.part)
        if fitted.any() and (answered & ~fitted).any():
            part = f"{points.part}, calibration cells left out"
            yield _comparison(points, key, (deviations, inside), answered & ~fitted, fitted & False, part)


def _comparison(
    points: PointSet,
    key: str,
    compared: tuple[FloatArray, np.ndarray],
    rows: np.ndarray,
    fitted: np.ndarray,
    part: str,
) -> Agreement:
    deviations, inside = compared
    places = tuple(place for place, keep in zip(points.places, rows, strict=True) if keep)
    return Agreement(key, points.table.key, part, deviations[rows], inside[rows], places, int(np.count_nonzero(fitted)))


def lookup(registry: Registry) -> Lookup:
    """Return the lookup; its figures are computed when they are first asked for, and kept."""

    @cache
    def figures() -> tuple[Figures, ...]:
        return tuple(comparison.figures() for comparison in comparisons(registry))

    def answer(question: Question) -> Answer:
        del question  # nothing can be asked with
        results = {"comparisons": figures()}
        below = dict.fromkeys(one.method for one in figures() if one.inside_band_percent < WANTED)
        why = [BELOW.format(wanted=WANTED, methods=", ".join(below))] if below else []
        return Answer(
            "agreement",
            Echo(),
            results,
            notes=[*NOTES, *why],
            cautions=("estimate",),
            title="Agreement with published tables",
            lead=_lead(figures()),
        )

    return Lookup(
        "agreement",
        "Agreement of the models with published tables",
        "How far every model is from every published table and point set that it can be held against.",
        (),
        answer,
        example="",
        results={
            "comparisons": "One per method and table: number of cells, how many of them the method was fitted to, "
            "median, 95th percentile and worst deviation in percent, where, and the share inside the stated band "
            "and within 3 and 5 percent."
        },
    )


def _lead(figures: Sequence[Figures]) -> Lead:
    """Return what is read first: how many comparisons bear out the stated bands, and how many do not."""
    inside = sum(one.inside_band_percent >= WANTED for one in figures)
    cells = sum(one.cells for one in figures)
    sentence = (
        f"{len(figures)} comparisons of methods with published voltages, {cells} cells: in {inside} of them at least "
        f"{WANTED:g} % of the cells lie inside the stated band, in {len(figures) - inside} fewer."
    )
    return Lead(sentence, "Bands that hold", f"{inside} of {len(figures)} comparisons", "estimate")

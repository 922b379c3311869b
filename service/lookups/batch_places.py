"""Gaps or pressures for many voltages: points of one situation share its curves."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from operator import attrgetter

import numpy as np

from service.answers.evaluate import Evaluation, evaluate
from service.answers.inverse import FROM, Branch, Curves, Placed
from service.answers.registry import Registry
from service.answers.situation import Situation, readings
from service.errors import BadQuestion
from service.lookups.batch import FINE, NOTHING, OUTSIDE, STATUSES, Budget, different, shown
from service.lookups.batch_input import Batch
from service.lookups.batch_points import AtCases, Cases, Found, Said, chosen, kinds
from service.methods import Case, FloatArray
from service.methods.bands import withstand
from service.methods.method import BoolArray
from service.parameters import Question

SITUATIONS_AT_ONCE = 256
"""Situations whose curves are laid over the grid together; bounds the memory."""
VOLTAGES_AT_ONCE = 1 << 15
"""Voltages that are sought at once on the curves of one situation."""
MOST_DENSE = 4
"""Dense curves that are kept for the next batch, up to 2 MiB each."""
POINTS_AT_ONCE = 1 << 17
"""Points of several situations that are taken at once: those of one situation stand anywhere among them."""


@dataclass(frozen=True)
class Sought:
    """What an inverse seeks.

    Parameters
    ----------
    dimension : str
        ``length`` or ``pressure``.
    understood : callable
        Question and registry to its situation.
    placed : callable
        Lays a case over places.
    ends : tuple of float
        Range that is searched.
    check : callable, optional
        Refuses a question of a situation that cannot be asked.
    """

    dimension: str
    understood: Callable[[Question, Registry], Situation]
    placed: Placed
    ends: tuple[float, float]
    check: Callable[[Question, Situation], None] | None = None


class PlacesOfVoltages(AtCases):
    """Answers gaps or pressures."""

    def __init__(self, registry: Registry, sought: Sought, batch: Batch) -> None:
        super().__init__(registry, sought.understood, batch)
        self.sought, self.key = sought, batch.lookup.key
        self.gaps = sought.dimension != "length"
        self.right = batch.branch == "right"
        self.at_once = VOLTAGES_AT_ONCE if batch.columns.keys() <= {"voltage"} else POINTS_AT_ONCE
        self.columns = {self.key: (sought.dimension, ("values", "low", "high"))}
        if self.right and not self.gaps:
            self.columns |= {"sparks_below": ("length", ("values",)), "holds_above": ("length", ("values",))}
        self._kept: Curves | None = None

    def found(self, cases: Cases, budget: Budget) -> Found:
        """Return the places of voltages, and what is said of them."""
        if self.sought.check is not None:
            self.sought.check(cases.points.question, cases.here)
        volts = _peak_voltages(cases)
        found = Places.over(cases, volts, partial(self.curves, cases), budget)
        branch, placed, arrangement = found.branch, self.sought.placed, cases.here.arrangement
        there, beside = (np.flatnonzero(np.isfinite(one)) for one in (found.place, found.beside))
        at, other = (
            evaluate(arrangement, placed(arrangement, cases.case.take(some), place[some]), only=cases.only)
            for some, place in ((there, found.place), (beside, found.beside))
        )
        code = np.where(found.nothing, *map(np.int32, (STATUSES.index(NOTHING), STATUSES.index(OUTSIDE))))
        code[there] = STATUSES.index(FINE)
        said = [Said.of(one) for one in (at, other) if one.case.size]
        whole = Said([n for one in said for n in one.notes], [c for one in said for c in one.cautions])
        method = np.full(cases.case.size, -1)
        method[there] = chosen(at)
        kind = (code * 2 + found.turning) * 8 + found.missing
        for some, evaluation in ((there, at), (beside, other)):
            kind = kind * (len(arrangement.methods) + 1) * 4 + _kinds_of(evaluation, some, kind.size)
        # as a single question does, no distance is told where no gap breaks down
        holds = np.where(code == STATUSES.index(NOTHING), np.nan, branch.holds)
        return Found(self._columns(replace(branch, holds=holds)), method, code, kind, whole)

    def _columns(self, branch: Branch) -> dict[tuple[str, str], FloatArray]:
        ends = {"values": branch.value, "low": branch.low, "high": branch.high}
        columns = {(self.key, end): shown(places, self.sought.dimension) for end, places in ends.items()}
        if "holds_above" in self.columns:
            columns["sparks_below", "values"] = cut(columns[self.key, "low"], np.floor)
            columns["holds_above", "values"] = cut(shown(branch.holds, "length"), np.ceil)
        return columns

    def curves(self, cases: Cases, case: Case, *, many: bool) -> Curves:
        """Return the curves of situations; those of a single one serve the next pieces too."""
        if case.size > 1:
            return self._made(cases, case)
        if self._kept is not None and _are_alike(case, self._kept.case):
            return self._kept
        # here is kept for the next question that describes it
        asked, kept = ("places", self.key, cases.only), _are_alike(case, cases.here.case)
        make = partial(self._made, cases, case)
        curves = self.registry.kept_curves((cases.here, asked), make) if kept else make()
        if many:
            volts = self._range(cases)
            dense = partial(replace, curves, coarse=curves, volts=volts)
            key = (cases.here, (*asked, volts))
            curves = self.registry.kept_curves(key, dense, "dense curves", MOST_DENSE) if kept else dense()
        self._kept = curves
        return curves

    def _made(self, cases: Cases, case: Case) -> Curves:
        holding = partial(withstand, reference=self.registry.reference) if self.sought.dimension == "length" else None
        return Curves(cases.here.arrangement, case, cases.only, self.sought.placed, self.sought.ends, holding)

    def _range(self, cases: Cases) -> tuple[float, float]:
        """Return the peak voltages [V] of the whole batch, to whole decades: batches of about the same share curves."""
        column = self.batch.columns["voltage"]
        starts = range(0, column.numbers.size, POINTS_AT_ONCE)
        pieces = (column.read(start, min(start + POINTS_AT_ONCE, column.numbers.size)) for start in starts)
        ends = np.array([(np.fmin.reduce(piece), np.fmax.reduce(piece)) for piece in pieces]) * _peak_factor(cases)
        low, high = (math.log10(end) for end in (np.fmin.reduce(ends[:, 0]), np.fmax.reduce(ends[:, 1])))
        return 10.0 ** math.floor(low), 10.0 ** math.ceil(high)


def _kinds_of(found: Evaluation, some: np.ndarray, size: int) -> np.ndarray:
    own = np.zeros(size, dtype=np.int32)
    own[some] = kinds(found, chosen(found))
    return own


@dataclass(frozen=True)
class Places:
    """Where the curves of points reach their voltages.

    Parameters
    ----------
    branch : Branch
        The one that is wanted; ``holds`` as an answer says it.
    place : ndarray
        The place that stands for it, where some method answers.
    beside : ndarray
        The place of the other branch; where nothing breaks down, that of the lowest voltage.
    nothing : ndarray of bool
        Whether the voltage lies below the minimum, so that nothing breaks down.
    turning : ndarray of bool
        Whether both sides of the minimum are answered.
    missing : ndarray of int
        Which ends of the rising branch are not reached, and which its curve lacks: each has its own sentences.
    """

    branch: Branch
    place: FloatArray
    beside: FloatArray
    nothing: BoolArray
    turning: BoolArray
    missing: np.ndarray

    @classmethod
    def over(cls, cases: Cases, volts: FloatArray, curves: Callable[..., Curves], budget: Budget) -> Places:
        """Return the places of all points; points of one situation share its curves."""
        case, (first, which) = cases.case, different(_of_situation(cases.case))
        if not first.size:
            return cls._none()
        budget.spent(cases.points.size - case.size)
        order = np.argsort(which, kind="stable") if first.size > 1 else np.arange(which.size)
        parts: list[Places] = []
        done = 0
        for start in range(0, first.size, SITUATIONS_AT_ONCE):
            some = first[start : start + SITUATIONS_AT_ONCE]
            end = int(np.searchsorted(which[order], start + some.size))
            own = order[done:end]
            many = first.size == 1 and own.size >= FROM
            parts.append(cls._at(cases, curves(case.take(some), many=many), volts[own], which[own] - start))
            budget.spent(end - done)
            done = end
        return cls._joined(parts, order) if len(parts) > 1 or first.size > 1 else parts[0]

    @classmethod
    def _none(cls) -> Places:
        nothing, no = np.empty(0), np.empty(0, dtype=np.bool_)
        return cls(Branch(*(nothing,) * 4), nothing, nothing, no, no, np.empty(0, dtype=np.int8))

    @classmethod
    def _at(cls, cases: Cases, curves: Curves, volts: FloatArray, rows: np.ndarray) -> Places:
        every = curves.branches(("left", "right"), volts, rows=rows)
        rising = every["right"]
        found, other = every.pop(cases.points.branch), next(iter(every.values()))
        known = np.asarray(np.isfinite(curves.on_grid.withstand).any(axis=1))
        nowhere = known[rows] | cases.here.case.in_vacuum
        holds = np.where(nowhere, found.holds, found.high)
        unheld = np.isnan(rising.high) | (known[rows] & np.isnan(rising.holds))
        nothing = curves.nothing_breaks_down(volts, rows)
        beside = np.where(nothing & np.isnan(found.place), curves.valleys[rows], other.place)
        place, beside = (curves.nearest_answered(one, rows) for one in (found.place, beside))
        grid, answered = curves.on_grid, np.atleast_2d(curves.on_grid.answered)
        last = answered.shape[1] - 1 - np.argmax(answered[:, ::-1], axis=1)
        # what no end reaches is explained by what is known at the last place that is answered
        open_end = np.isnan(np.atleast_2d(grid.high)[np.arange(last.size), last])
        missing = unheld + np.int8(2) * np.isnan(rising.low) + np.int8(4) * open_end[rows]
        return cls(replace(found, holds=holds), place, beside, nothing, curves.turning[rows], missing)

    @classmethod
    def _joined(cls, parts: Sequence[Places], order: np.ndarray) -> Places:
        def joined(get: Callable[[Places], np.ndarray]) -> np.ndarray:
            whole = np.concatenate([get(one) for one in parts])
            back = np.empty_like(whole)
            back[order] = whole
            return back

        branch = [joined(attrgetter(f"branch.{name}")) for name in BRANCH]
        rest = [joined(attrgetter(name)) for name in REST]
        return cls(Branch(*branch), *rest)


BRANCH = ("value", "low", "high", "holds")
REST = ("place", "beside", "nothing", "turning", "missing")


def _are_alike(case: Case, other: Case) -> bool:
    """Return whether two cases of one arrangement are of the same situation."""
    pairs = zip(_of_situation(case), _of_situation(other), strict=True)
    return all(np.array_equal(one, two, equal_nan=True) for one, two in pairs)


def _of_situation(case: Case) -> list[FloatArray]:
    """Return the numbers that make a situation."""
    arrays = [case.pressure, case.temperature, case.humidity, case.frequency, case.gap, *case.dimensions.values()]
    return arrays if case.fraction is None else [*arrays, case.fraction]


def _peak_factor(cases: Cases) -> float:
    """Return the peak over what is given of a voltage.

    Raises
    ------
    BadQuestion
        When the measure is not one voltage.
    """
    question = cases.points.question
    [reading, *more] = readings(1.0, question.key("measure"), cases.here.case.waveform)
    if more or not reading.sharp:
        detail = "A batch needs a measure that is one voltage: peak, rms or peak-to-peak-symmetrical."
        raise BadQuestion.about("measure", detail)
    return float(reading.high)


def _peak_voltages(cases: Cases) -> FloatArray:
    """Return the peak voltages [V] of the points."""
    voltages = cases.points.values("voltage")
    return np.asarray((voltages if cases.rows.all() else voltages[cases.rows]) * _peak_factor(cases))


MOST_DIGITS = 300
UP = 10.0 ** np.maximum(np.arange(-MOST_DIGITS, MOST_DIGITS + 1), 0)
DOWN = UP[::-1].copy()
"""Powers of ten, looked up: raising ten to many numbers takes the longest of all."""


def cut(values: FloatArray, towards: np.ufunc) -> FloatArray:
    """Return numbers with their digits cut to one side, as `units.cut` cuts those of one number."""
    with np.errstate(divide="ignore", invalid="ignore"):
        digits = np.fmax(np.fmin(3 - np.floor(np.log10(values)), MOST_DIGITS), -MOST_DIGITS)
        place = digits.astype(np.intp) + MOST_DIGITS
        up, down = UP.take(place), DOWN.take(place)
        return np.asarray(towards(np.round(values * up / down, 9)) * down / up)

"""Gaps or pressures for many voltages: points of one situation share its curves."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise
from operator import attrgetter

import numpy as np

from service.answers.evaluate import Evaluation, evaluate
from service.answers.inverse import FROM, Branch, Curves, Placed
from service.answers.registry import Registry
from service.answers.situation import Situation, readings
from service.errors import BadQuestion
from service.lookups.batch import FINE, NOTHING, OUTSIDE, STATUSES, Batch, Budget, different, shown
from service.lookups.batch_points import AtCases, Cases, Found, Said, chosen, kinds
from service.methods import Case, FloatArray
from service.methods.bands import withstand
from service.methods.method import BoolArray
from service.parameters import Question

SITUATIONS_AT_ONCE = 256
"""Situations whose curves are laid over the grid together; bounds the memory."""
MOST_DENSE = 4
"""Dense curves that are kept for the next batch, up to 2 MiB each."""
VOLTAGES_AT_ONCE = 1 << 16
"""Voltages that are sought at once on the curves of one situation: as few arrays as the memory near by still holds."""
POINTS_AT_ONCE = 1 << 17
"""Points of several situations that are taken at once: those of one situation stand anywhere among them."""

MOST_FALLS = 4
"""Most places that are smaller than the one before among those that rise, as where a curve ends and another stands for
it."""


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
        branch, size, methods = found.branch, cases.case.size, len(cases.here.arrangement.methods)
        at, other = (self._told(cases, place, found.grid) for place in (found.place, found.beside))
        code = np.where(found.nothing, *map(np.int32, (STATUSES.index(NOTHING), STATUSES.index(OUTSIDE))))
        code = at.laid(np.full(at.kind.size, STATUSES.index(FINE), dtype=np.int32), code)
        whole = Said([*at.notes, *other.notes], [*at.cautions, *other.cautions])
        kind = (code * np.int32(2) + found.turning) * np.int32(8) + found.missing
        for told in (at, other):
            kind = kind * np.int32((methods + 1) * 4) + told.laid(told.kind, np.zeros(size, dtype=np.int32))
        # as a single question does, no distance is told where no gap breaks down
        nowhere = code == STATUSES.index(NOTHING)
        holds = np.where(nowhere, np.nan, branch.holds) if nowhere.any() else branch.holds
        method = at.laid(at.method, np.full(size, -1, dtype=np.int16))
        return Found(self._columns(replace(branch, holds=holds)), method, code, kind, whole)

    def _told(self, cases: Cases, places: FloatArray, grid: FloatArray | None) -> ToldAtPlaces:
        """Return what methods say at places, where there are any.

        Of the places on one step of the grid, on which hand-overs are sought too, the first and the last are asked:
        where both are told the same, so is every place between them.

        Parameters
        ----------
        grid : ndarray, optional
            As in `Places`.
        """
        there = np.flatnonzero(np.isfinite(places))
        some = places if there.size == places.size else places.take(there)

        def asked(wanted: np.ndarray) -> ToldAtPlaces:
            case = self.sought.placed(cases.here.arrangement, cases.case.take(there[wanted]), some[wanted])
            return ToldAtPlaces.of(there, evaluate(cases.here.arrangement, case, only=cases.only))

        begins = None if grid is None else _runs(some, grid)
        if begins is None:
            return asked(np.arange(some.size)) if some.size else ToldAtPlaces.nothing()
        count = np.diff(begins)
        ends = asked(np.stack([begins[:-1], begins[1:] - 1], axis=1).ravel())
        one = ends.kind[::2] == ends.kind[1::2]
        ends = replace(ends, method=np.repeat(ends.method[::2], count), kind=np.repeat(ends.kind[::2], count))
        if one.all():
            return ends
        rest = np.flatnonzero(np.repeat(~one, count))
        own = asked(rest)
        ends.method[rest], ends.kind[rest] = own.method, own.kind
        return replace(ends, notes=[*ends.notes, *own.notes], cautions=[*ends.cautions, *own.cautions])

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


@dataclass(frozen=True)
class ToldAtPlaces:
    """What methods say at places.

    Parameters
    ----------
    there : ndarray of int
        Which points have a place.
    method, kind : ndarray of int
        Of each of these, as `chosen` and `kinds` tell them.
    notes, cautions : sequence of str
        Of any of them.
    """

    there: np.ndarray
    method: np.ndarray
    kind: np.ndarray
    notes: Sequence[str] = ()
    cautions: Sequence[str] = ()

    @classmethod
    def of(cls, there: np.ndarray, found: Evaluation) -> ToldAtPlaces:
        """Return what an evaluation tells."""
        method, said = chosen(found), Said.of(found)
        return cls(there, method, kinds(found, method), tuple(said.notes), tuple(said.cautions))

    @classmethod
    def nothing(cls) -> ToldAtPlaces:
        """Return that of no places."""
        return cls(np.empty(0, dtype=np.intp), np.empty(0, dtype=np.int16), np.empty(0, dtype=np.int16))

    def laid(self, own: np.ndarray, over: np.ndarray) -> np.ndarray:
        """Return the numbers of all points, with others for those that have a place."""
        if self.there.size == over.size:
            return own
        over[self.there] = own
        return over


def _runs(places: FloatArray, grid: FloatArray) -> np.ndarray | None:
    """Return where runs of rising places on one step of a grid begin, and where the last one ends.

    ``None`` where places do not rise for long, or most runs are short.
    """
    falls = np.flatnonzero(places[1:] < places[:-1]) + 1
    if places.size < FROM or falls.size > MOST_FALLS:
        return None
    ends = [0, *falls.tolist(), places.size]
    begins = [start + np.searchsorted(places[start:stop], grid) for start, stop in pairwise(ends)]
    every = np.unique(np.concatenate([ends, *begins]))
    return every if every.size * 4 < places.size else None


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
    grid : ndarray, optional
        Places between two of which no method takes over from another, where all points are of one situation that has
        many.
    """

    branch: Branch
    place: FloatArray
    beside: FloatArray
    nothing: BoolArray
    turning: BoolArray
    missing: np.ndarray
    grid: FloatArray | None = None

    @classmethod
    def over(cls, cases: Cases, volts: FloatArray, curves: Callable[..., Curves], budget: Budget) -> Places:
        """Return the places of all points; points of one situation share its curves."""
        case, (first, which) = cases.case, different(_of_situation(cases.case))
        if not first.size:
            return cls._none()
        budget.spent(cases.points.size - case.size)
        if first.size == 1:
            alone = cls._at(cases, curves(case.take(first), many=which.size >= FROM), volts, which)
            budget.spent(which.size)
            return alone
        order = np.argsort(which, kind="stable")
        parts: list[Places] = []
        done = 0
        for start in range(0, first.size, SITUATIONS_AT_ONCE):
            some = first[start : start + SITUATIONS_AT_ONCE]
            end = int(np.searchsorted(which[order], start + some.size))
            own = order[done:end]
            parts.append(cls._at(cases, curves(case.take(some), many=False), volts[own], which[own] - start))
            budget.spent(end - done)
            done = end
        return cls._joined(parts, order)

    @classmethod
    def _none(cls) -> Places:
        nothing, no = np.empty(0), np.empty(0, dtype=np.bool_)
        return cls(Branch(*(nothing,) * 4), nothing, nothing, no, no, np.empty(0, dtype=np.int8))

    @classmethod
    def _at(cls, cases: Cases, curves: Curves, volts: FloatArray, rows: np.ndarray) -> Places:
        every = curves.branches(("left", "right"), volts, rows=rows)
        rising = every["right"]
        found, other = every.pop(cases.points.branch), next(iter(every.values()))
        own = slice(None) if curves.case.size == 1 else rows  # what is known of the one situation is that of all points
        known = np.asarray(np.isfinite(curves.on_grid.withstand).any(axis=1))[own]
        holds = np.where(known | cases.here.case.in_vacuum, found.holds, found.high)
        unheld = np.isnan(rising.high) | (known & np.isnan(rising.holds))
        nothing = curves.nothing_breaks_down(volts, own)
        place, beside = found.place, other.place
        unplaced = nothing & np.isnan(place)
        if unplaced.any():
            beside = np.where(unplaced, curves.valleys[own], beside)
        place, beside = (curves.nearest_answered(one, rows) for one in (place, beside))
        grid, answered = curves.on_grid, np.atleast_2d(curves.on_grid.answered)
        last = answered.shape[1] - 1 - np.argmax(answered[:, ::-1], axis=1)
        # what no end reaches is explained by what is known at the last place that is answered
        open_end = np.isnan(np.atleast_2d(grid.high)[np.arange(last.size), last])
        missing = unheld + np.int8(2) * np.isnan(rising.low) + np.int8(4) * open_end[own]
        steps = None if curves.coarse is None else curves.coarse.grid
        turning = np.broadcast_to(curves.turning[own], volts.shape)
        return cls(replace(found, holds=holds), place, beside, nothing, turning, missing, steps)

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
        digits = np.log10(values)
        np.floor(digits, out=digits)
        np.subtract(3, digits, out=digits)
        if not (digits.size and digits.min() >= -MOST_DIGITS and digits.max() <= MOST_DIGITS):  # NaN too
            digits = np.fmax(np.fmin(digits, MOST_DIGITS), -MOST_DIGITS)
        place = digits.astype(np.intp) + MOST_DIGITS
        up = UP.take(place)
        found = values * up
        if place.size and place.min() >= MOST_DIGITS:  # four digits reach behind the point everywhere
            np.round(found, 9, out=found)
            towards(found, out=found)
            found /= up
            return found
        down = DOWN.take(place)
        return np.asarray(towards(np.round(found / down, 9)) * down / up)

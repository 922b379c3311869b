"""The one inverse: where the curves of a situation over gap or pressure reach a voltage, for one question or many.

A grid over the whole range, with every place at which another method takes over, tells on which step a curve crosses
the voltage; all crossings are then refined together by a bracketing root finder. Curves are the value and both ends of
the band, each of which may be absent. A single question is a batch of one.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from service.answers.crossings import (
    FEW,
    Crossings,
    Cubics,
    Polynomials,
    Runs,
    divided,
    grid_over,
    guessed,
    has_minimum,
    refined,
    sorting,
)
from service.answers.evaluate import Evaluation, evaluate, preferred
from service.methods import Arrangement, Case, FloatArray, Method
from service.methods.method import BoolArray, Limit
from service.physics.numbers import Numbers

PARTS, ROUNDS = 32, 5
"""Parts into which the step of a hand-over is divided, and how often: to about a billionth."""
DENSER, FROM = 17, 4000
"""Parts into which a step is divided for that many voltages on one curve: a cubic through four places is the curve."""
TRUE = 1e-11
"""Relative difference of place to which a cubic is checked in the middle of its step."""
JUMP = 1e-8
"""Relative width of a step that is a hand-over: a curve that crosses a voltage there jumps over it."""
MOST_IN_A_STEP = 4
"""Most hand-overs that are looked for within one step of the grid."""
TOGETHER = 16
"""Steps of the grid of one situation that are asked together for polynomials."""
MANY = 64
"""Voltages on one curve from which it is faster to sort them than to compare each with every step."""
NAMES = ("value", "low", "high", "withstand")
"""What is searched over the places: breakdown voltage, its band, and what is held."""
HELD = ("low", "withstand")
"""Of these a voltage is held from the last crossing on; the others reach it at the first."""

Placed = Callable[[Arrangement, Case, Numbers], Case]
"""An arrangement and a case of one element, or of as many as there are places, laid over gaps [m] or pressures [Pa]; a
case in plain numbers at one plain number."""
Holding = Callable[[Case, FloatArray], FloatArray]
"""A case and the low end of its band to the peak voltage that is held [V]."""
Indices = np.ndarray


@dataclass(frozen=True)
class Samples:
    """Value and band of situations at many places each: arrays of one row per situation, places rising.

    Parameters
    ----------
    places : ndarray
        Gaps [m] or pressures [Pa].
    value, low, high, withstand : ndarray
        Peak voltages [V]; NaN where there is none.
    answered : ndarray of bool
        Whether some method answers.
    """

    places: FloatArray
    value: FloatArray
    low: FloatArray
    high: FloatArray
    withstand: FloatArray
    answered: BoolArray


@dataclass(frozen=True)
class Branch:
    """One branch of many questions: places, the ends of their bands, and from where on it holds; NaN where none is."""

    value: FloatArray
    low: FloatArray
    high: FloatArray
    holds: FloatArray

    @property
    def place(self) -> FloatArray:
        """The place that stands for the branch: the value, else the end that keeps apart, else the other."""
        absent = np.isnan(self.value)
        if not absent.any():
            return self.value
        return np.where(absent, np.where(np.isnan(self.high), self.low, self.high), self.value)


@dataclass(frozen=True)
class Ends:
    """One branch of one question, as in `Branch`; ``None`` where there is none."""

    value: float | None
    low: float | None
    high: float | None
    holds: float | None = None

    @classmethod
    def of(cls, branch: Branch) -> Ends | None:
        """Return those of the first question of many."""
        found = (float(one[0]) for one in (branch.value, branch.low, branch.high, branch.holds))
        value, low, high, holds = (None if np.isnan(one) else one for one in found)
        return None if value is None and low is None and high is None else cls(value, low, high, holds)

    @property
    def place(self) -> float:
        """The place that stands for the branch, as in `Branch`."""
        return next(one for one in (self.value, self.high, self.low) if one is not None)


@dataclass(frozen=True)
class Ranked:
    """Peak voltages [V] in rising order, their logarithms, and how they stood before: ``None`` where just so."""

    volts: FloatArray
    logarithm: FloatArray
    order: Indices | None

    @classmethod
    def of(cls, volts: FloatArray) -> Ranked:
        """Return voltages, sorted."""
        order = sorting(volts)
        ranked = volts if order is None else volts.take(order)
        return cls(ranked, np.log(ranked), order)

    def unsorted(self, found: FloatArray) -> FloatArray:
        """Return what was found of the sorted voltages in the order in which these stood."""
        if self.order is None:
            return found
        answer = np.empty_like(found)
        answer[self.order] = found
        return answer


@dataclass(frozen=True)
class Curves:
    """Value and band of situations over gap or pressure, evaluated once on a grid.

    Parameters
    ----------
    arrangement : Arrangement
    case : Case
        One element per situation; most questions have one.
    only : str, optional
        Key of the one method wanted.
    placed : callable
        Lays the case over places.
    ends : tuple of float
        Range that is searched.
    holding : callable, optional
        Case and low end of the band to the peak voltage that is held [V], NaN where that is not known.
    coarse : Curves, optional
        Those of the one situation on the usual grid, which is divided where voltages will be sought.
    volts : tuple of float
        The lowest and the highest peak voltage of these [V].
    """

    arrangement: Arrangement
    case: Case
    only: str | None
    placed: Placed
    ends: tuple[float, float]
    holding: Holding | None = None
    coarse: Curves | None = None
    volts: tuple[float, float] = (0.0, np.inf)

    def at(
        self, places: FloatArray, rows: Indices | None = None, *, every: bool = False, choice: Indices | None = None
    ) -> Evaluation:
        """Return the evaluation at many places, of the one situation or of the one of each place.

        Parameters
        ----------
        choice : ndarray of int, optional
            As `_choice` returns it.
        """
        case = self.case if rows is None or self.case.size == 1 else self.case.take(rows)
        here = self.placed(self.arrangement, case, places)
        return evaluate(self.arrangement, here, every=every, only=self.only, choice=choice)

    def _of(self, found: Evaluation) -> tuple[FloatArray, ...]:
        """Return the curves named in `NAMES` of an evaluation [V]."""
        nothing = np.full(found.case.size, np.nan)
        held = nothing if self.holding is None else self.holding(found.case, found.low)
        return found.value, found.low, found.high, held

    def _at_one(self, curve: int, place: float, row: int) -> float:
        """Return one curve named in `NAMES` at one place [V], by plain numbers."""
        here = self.placed(self.arrangement, self._bare(row), place)
        found = preferred(self.arrangement, here, self.only)
        if found is None:
            return np.nan
        if NAMES[curve] != "withstand":
            return float(getattr(found, NAMES[curve]))
        return np.nan if self.holding is None else float(self.holding(here, found.low))

    def _bare(self, row: int) -> Case:
        """Return one situation in plain numbers, of which nothing but voltages is asked."""
        kept: dict[int, Case] = self.__dict__.setdefault("_bare_cases", {})
        if row not in kept:
            case = self.case if self.case.size == 1 else self.case.take(np.array([row]))
            kept[row] = case.plain.but({"bare": True})
        return kept[row]

    def at_place(self, place: float, *, every: bool = False) -> Evaluation:
        """Return what the preferred method says at a place, or all; the same place is not evaluated again."""
        kept: dict[float, tuple[bool, Evaluation]] = self.__dict__.setdefault("_kept", {})
        if place not in kept or (every and not kept[place][0]):
            if len(kept) > 64:
                kept.clear()
            kept[place] = every, self.at(np.array([place]), every=every)
        return kept[place][1]

    @cached_property
    def on_grid(self) -> Samples:
        """Value and band on a logarithmic grid, and on both sides of every hand-over between methods."""
        if self.coarse is not None:
            return self._divided(self.coarse)
        base, count = grid_over(*self.ends), self.case.size
        rows, repeated = np.repeat(np.arange(count), base.size), np.tile(base, count)
        choice = self._choice(rows, repeated)
        beside, places = self._hand_overs(base, choice.reshape(count, -1))
        every = np.concatenate([repeated, places])
        choice = np.concatenate([choice, self._choice(beside, places)])
        found = self.at(every, np.concatenate([rows, beside]), choice=choice)
        curves: list[np.ndarray] = [every, *self._of(found), found.answered]
        grid = [one[: rows.size].reshape(count, -1) for one in curves]
        if not places.size:
            return Samples(*grid)
        added = [one[rows.size :] for one in curves]
        # rows have different numbers of hand-overs: what is missing stands at the end, unanswered
        widest = int(np.bincount(beside, minlength=count).max())
        column = np.arange(beside.size) - np.searchsorted(beside, beside)
        wider = []
        for own, new, nothing in zip(grid, added, (self.ends[1], np.nan, np.nan, np.nan, np.nan, False), strict=True):
            more = np.full((count, widest), nothing, dtype=own.dtype)
            more[beside, column] = new
            wider.append(np.concatenate([own, more], axis=1))
        order = np.argsort(wider[0], axis=1, kind="stable")
        return Samples(*(np.take_along_axis(one, order, axis=1) for one in wider))

    def _divided(self, coarse: Curves) -> Samples:
        """Return the samples of the one situation with the steps divided on which a voltage may lie."""
        curves, places = coarse._stacked[:, 0], coarse.grid
        low, high = np.fmin.reduce(curves), np.fmax.reduce(curves)
        with np.errstate(invalid="ignore"):
            steps = (np.fmin(low[:-1], low[1:]) <= self.volts[1]) & (np.fmax(high[:-1], high[1:]) >= self.volts[0])
        # a cubic takes the places beside its step too; a hand-over stays as it is
        padded = np.pad(steps, 1)
        steps = (padded[:-2] | steps | padded[2:]) & (places[1:] > places[:-1] * (1 + JUMP))
        places = divided(places, steps, DENSER)
        found = self.at(places)
        values: list[np.ndarray] = [places, *self._of(found), found.answered]
        return Samples(*(one[None] for one in values))

    def on_grid_of(self, name: str) -> FloatArray:
        """Return the curve of a name in `NAMES` on the grid."""
        curve: FloatArray = getattr(self.on_grid, name)
        return curve

    @cached_property
    def _stacked(self) -> FloatArray:
        return np.stack([self.on_grid_of(name) for name in NAMES])

    def _hand_overs(self, base: FloatArray, choice: Indices) -> tuple[Indices, FloatArray]:
        """Return rows and places on both sides of every change of the preferred method."""
        rows, steps = np.nonzero(choice[:, :-1] != choice[:, 1:])
        left, right, before, last = base[steps], base[steps + 1], choice[rows, steps], choice[rows, steps + 1]
        found: list[tuple[Indices, FloatArray]] = []
        for _ in range(MOST_IN_A_STEP):
            if not rows.size:
                break
            inside, outside = self._narrowed(rows, left, right, before)
            found += [(rows, inside), (rows, outside)]
            after = self._choice(rows, outside)
            more = (after != last) & (outside < right)
            rows, left, right, before, last = (one[more] for one in (rows, outside, right, after, last))
        if not found:
            return rows, left
        every, places = (np.concatenate(one) for one in zip(*found, strict=True))
        new = ~np.isin(places, base)
        order = np.argsort(every[new], kind="stable")
        return every[new][order], places[new][order]

    def _narrowed(
        self, rows: Indices, left: FloatArray, right: FloatArray, before: Indices
    ) -> tuple[FloatArray, FloatArray]:
        """Return the last place that is answered as the left one is, and the next, a billionth apart."""
        each, shares = np.arange(rows.size), np.arange(PARTS + 1) / PARTS
        for _ in range(ROUNDS):
            between = left[:, None] * (right / left)[:, None] ** shares
            between[:, 0], between[:, -1] = left, right
            inner = between[:, 1:-1]
            there = self._choice(np.repeat(rows, PARTS - 1), inner.ravel()).reshape(inner.shape)
            last = np.argmin(np.pad(there == before[:, None], ((0, 0), (0, 1))), axis=1)
            left, right = between[each, last], between[each, last + 1]
        return left, right

    def _choice(self, rows: Indices, places: FloatArray) -> Indices:
        """Return the position of the preferred method at places; -1 where none answers."""
        case = self.placed(self.arrangement, self.case if self.case.size == 1 else self.case.take(rows), places)
        found = np.full(places.size, -1)
        held: dict[int, BoolArray] = {}
        for position, limits in self._deciding:
            open_ = found < 0
            for limit in limits:
                if not open_.any():
                    break
                if id(limit) not in held:
                    held[id(limit)] = limit.holds(case)
                open_ &= held[id(limit)]
            found[open_] = position
        return found

    @cached_property
    def _deciding(self) -> list[tuple[int, list[Limit]]]:
        """Which methods may be the preferred one, by position, and their limits that depend on the place.

        What does not depend on it is asked once for the one situation; where there are several it may differ. Limits of
        several methods that are alike are one and the same.
        """
        alone = self.case.size == 1
        here = self.placed(self.arrangement, self.case, np.full(2, self.ends[1])) if alone else self.case
        alike: dict[Limit, Limit] = {}
        found = []
        for position, method in enumerate(self._applying):
            limits = [alike.setdefault(one, one) for one in method.validity.limits]
            settled = [one for one in limits if alone and one.plain is not None and one.quantity.is_same(here)]
            if all(one.holds(here).all() for one in settled):
                found.append((position, [one for one in limits if one not in settled]))
        return found

    @cached_property
    def _applying(self) -> tuple[Method, ...]:
        return tuple(one for one in self.arrangement.applying(self.case) if self.only in (None, one.key))

    @cached_property
    def _least(self) -> tuple[Indices, FloatArray, BoolArray]:
        """Per row the position of the smallest breakdown voltage, it [V], and whether it is a minimum.

        Of a row that knows low ends alone it is the smallest of these.
        """
        found = self.on_grid
        upper = np.fmin(found.value, found.high)
        filled = np.where(np.isnan(found.value), found.high, found.value)
        bare = np.asarray(np.isnan(filled).all(axis=1))
        filled = np.where(bare[:, None], found.low, filled)
        position = np.argmin(np.where(np.isnan(filled), np.inf, filled), axis=1)
        at = (np.arange(position.size), position)
        smallest = np.where(bare, found.low[at], upper[at])
        return position, smallest, has_minimum(found.places, upper)

    def branches(
        self,
        wanted: Sequence[str],
        highest: FloatArray,
        lowest: FloatArray | None = None,
        rows: Indices | None = None,
    ) -> dict[str, Branch]:
        """Return the wanted branches of many voltages.

        Parameters
        ----------
        wanted : sequence of str
            ``left``, ``right``.
        highest : ndarray
            Peak voltages [V].
        lowest : ndarray, optional
            Where a voltage is known between two ends only, the lower ones; there is no value then.
        rows : ndarray of int, optional
            Which situation each belongs to; by default the only one.
        """
        rows = np.zeros(highest.size, dtype=np.intp) if rows is None else rows
        asked = {"value": highest, "low": highest, "high": highest if lowest is None else lowest, "withstand": highest}
        # a voltage that is known between two ends has no place; what is held is asked of the right branch
        left_out = {("left", "withstand"), *((one, "value") for one in wanted if lowest is not None)}
        sought = [pair for pair in ((branch, name) for branch in wanted for name in NAMES) if pair not in left_out]
        if self.coarse is not None:
            return self._joined(wanted, highest, rows, self._all_read(sought, asked))
        steps = [self._steps(name, branch, rows, asked[name]) for branch, name in sought]
        kind = np.repeat(np.arange(len(sought)), [one.size for one in steps])
        step = np.concatenate(steps) if steps else np.empty(0, dtype=np.intp)
        point = np.tile(np.arange(highest.size), len(sought))
        there = step >= 0
        places = np.full(step.shape, np.nan)
        volts = np.concatenate([asked[name] for _, name in sought])
        curve = np.array([NAMES.index(name) for _, name in sought])[kind]
        places[there] = self._refined(curve[there], rows[point[there]], step[there], volts[there])
        return self._joined(wanted, highest, rows, {key: places[kind == i] for i, key in enumerate(sought)})

    def _all_read(
        self, sought: Sequence[tuple[str, str]], asked: Mapping[str, FloatArray]
    ) -> dict[tuple[str, str], FloatArray]:
        """Return the places of many voltages on the curves of one situation that reach any, by branch and name."""
        kept: dict[int, Ranked] = {}
        found = {}
        for branch, name in sought:
            volts = asked[name]
            if id(volts) not in kept:
                kept[id(volts)] = Ranked.of(volts)
            ranked, last = kept[id(volts)], branch == "left" or name in HELD
            runs = self._crossings[name, branch].runs(ranked.volts, last=last)
            if runs.steps.size:
                found[branch, name] = ranked.unsorted(self._read(NAMES.index(name), runs, ranked))
        return found

    def _joined(
        self,
        wanted: Sequence[str],
        highest: FloatArray,
        rows: Indices,
        places: Mapping[tuple[str, str], FloatArray],
    ) -> dict[str, Branch]:
        """Return branches from the places on their curves."""
        nothing = np.full(highest.shape, np.nan)
        found = {(branch, name): nothing for branch in wanted for name in NAMES} | dict(places)
        answer = {}
        for branch in wanted:
            value, low, high, held = (found[branch, name] for name in NAMES)
            # the curve of the upper end of the band is the first that reaches a voltage
            right = Branch(value, high, low, held)
            answer[branch] = right if branch == "right" else self._left(value, low, high, rows)
        return answer

    def _left(self, value: FloatArray, low: FloatArray, high: FloatArray, rows: Indices) -> Branch:
        """Return the left branch; it is steep, so the method's own uncertainty of place may be the wider one."""
        sharp = np.isfinite(value)
        if not (sharp.any() or np.isfinite(low).any() or np.isfinite(high).any()):
            return Branch(value, low, high, value)
        less, more = np.zeros(value.shape), np.zeros(value.shape)
        if sharp.any():
            found = self.at(value[sharp], rows[sharp])
            own = np.array([*(one.method.place_uncertainty for one in found.methods), (0.0, 0.0)])[found.choice]
            less[sharp], more[sharp] = own[:, 0], own[:, 1]
        both = np.isfinite(low) & np.isfinite(high)
        return Branch(
            value,
            np.where(sharp, np.fmin(low, value * (1 - less)), np.where(both, low, np.nan)),
            np.where(sharp, np.fmax(high, value * (1 + more)), np.where(both, high, np.nan)),
            np.full(value.shape, np.nan),
        )

    def _steps(self, name: str, branch: str, rows: Indices, volts: FloatArray) -> Indices:
        """Return per voltage the grid step on which a curve crosses it on a branch, or -1.

        On the right branch the first place reaches a voltage and the last one holds it; the left branch is told from
        the valley.
        """
        curves, valley, rising = self.on_grid_of(name), self._least[0], branch == "right"
        last = not rising or name in HELD
        if curves.shape[0] == 1:
            crossings = self._crossings[name, branch]
            if volts.size < MANY:
                return crossings.of_few(volts, last=last)
            return crossings.of_many(volts, last=last, order=sorting(volts))
        own, step = curves[rows], np.arange(curves.shape[1] - 1)
        with np.errstate(invalid="ignore"):
            below, above = own < volts[:, None], own >= volts[:, None]
        if rising:
            hit = below[:, :-1] & above[:, 1:] & (step >= valley[rows][:, None])
        else:
            hit = above[:, :-1] & below[:, 1:] & (step < valley[rows][:, None])
        place = step.size - 1 - np.argmax(hit[:, ::-1], axis=1) if last else np.argmax(hit, axis=1)
        return np.where(hit.any(axis=1), place, -1)

    @cached_property
    def _crossings(self) -> dict[tuple[str, str], Crossings]:
        """The steps of the one situation by curve and branch."""
        valley = int(self._least[0][0])
        return {
            (name, branch): Crossings.of(self.on_grid_of(name)[0], valley, rising=branch == "right")
            for name in NAMES
            for branch in ("left", "right")
        }

    def _refined(self, curve: Indices, rows: Indices, step: Indices, volts: FloatArray) -> FloatArray:
        """Return the places on grid steps at which curves reach voltages."""
        if not step.size:
            return np.empty(0)
        found = self.on_grid
        around = np.minimum(np.maximum(step[:, None] + np.arange(-1, 3), 0), found.places.shape[1] - 1)
        near = rows[:, None], around
        there = self._stacked[curve[:, None], *near]
        places = found.places[near]
        answer: FloatArray = places[:, 2].copy()
        wide = np.flatnonzero(places[:, 2] > places[:, 1] * (1 + JUMP))
        if self.case.size == 1 and wide.size <= FEW:
            wide = self._read_singly(answer, wide, curve, step, volts)
        if not wide.size:
            return answer

        def at(wanted: FloatArray, which: Indices) -> FloatArray:
            own = wide[which]
            if own.size <= FEW:
                each = zip(curve[own].tolist(), wanted.tolist(), rows[own].tolist(), strict=True)
                return np.array([self._at_one(*one) for one in each])
            return np.asarray(np.choose(curve[own], self._of(self.at(wanted, rows[own]))))

        places, there, volts = places[wide], there[wide], volts[wide]
        ends, guess = (there[:, 1], there[:, 2]), guessed(places, there, volts)
        answer[wide] = refined(at, places[:, 1], places[:, 2], volts, ends, guess)
        return answer

    def _read_singly(
        self, answer: FloatArray, wide: Indices, curve: Indices, step: Indices, volts: FloatArray
    ) -> Indices:
        """Fill in the places that polynomials tell; return those of ``wide`` that are still to be sought."""
        steps = step[wide].tolist()
        parts = self._polynomials(sorted({one // TOGETHER for one in steps}))
        rest = []
        for i, one in zip(wide.tolist(), steps, strict=True):
            part, own = divmod(one, TOGETHER)
            place = parts[part].at(int(curve[i]), own, float(volts[i]))
            if math.isnan(place):
                rest.append(i)
            else:
                answer[i] = place
        return np.array(rest, dtype=np.intp)

    def _polynomials(self, parts: Sequence[int]) -> Mapping[int, Polynomials]:
        """Return the curves of the one situation read backwards, by parts of the grid; new ones all at once."""
        kept: dict[int, Polynomials] = self.__dict__.setdefault("_parts", {})
        new = [part for part in parts if part not in kept]
        if new:
            steps = [np.arange(part * TOGETHER, min((part + 1) * TOGETHER, self.grid.size - 1)) for part in new]
            every = np.concatenate(steps)
            places = Polynomials.places(self.grid[every], self.grid[every + 1])
            found = self._of(self.at(places.ravel()))
            forms = Polynomials.through(places, [one.reshape(places.shape) for one in found]).forms
            begin = 0
            for part, own in zip(new, steps, strict=True):
                kept[part] = Polynomials([form[begin : begin + own.size] for form in forms])
                begin += own.size
        return kept

    def _read(self, curve: int, runs: Runs, ranked: Ranked) -> FloatArray:
        """Return places on steps of a dense grid: read on the cubics, and sought where these do not hold."""
        cubics, hold = self._cubics
        answer = cubics.at(curve, runs, ranked.logarithm[runs.where])
        np.exp(answer, out=answer)
        held = hold[curve].take(runs.steps)
        if not held.all():
            rest, step = np.flatnonzero(runs.each(~held)), runs.each(runs.steps)
            same = np.zeros(rest.size, dtype=np.intp)
            answer[rest] = self._refined(same + curve, same, step[rest], ranked.volts[runs.where][rest])
        if answer.size == ranked.volts.size:
            return answer
        places = np.full(ranked.volts.shape, np.nan)
        places[runs.where] = answer
        return places

    @cached_property
    def _cubics(self) -> tuple[Cubics, BoolArray]:
        """The curves of the one situation read backwards, and on which steps the curve in the middle confirms it."""
        places = self.on_grid.places[0]
        cubics = Cubics.through(places, self._stacked[:, 0])
        middle = np.sqrt(places[:-1] * places[1:])
        there = self._of(self.at(middle))
        every, way = Runs(np.arange(middle.size), None, slice(None)), np.log(middle)
        with np.errstate(all="ignore"):
            off = [cubics.at(curve, every, np.log(volts)) - way for curve, volts in enumerate(there)]
            return cubics, np.abs(off) <= TRUE

    @cached_property
    def turning(self) -> BoolArray:
        """Per situation whether places on both sides of the smallest breakdown voltage are answered."""
        position, answered = self._least[0], np.pad(self.on_grid.answered, [(0, 0), (1, 1)])
        rows = np.arange(position.size)
        return np.asarray(answered[rows, position] & answered[rows, position + 2])

    @cached_property
    def _runs(self) -> FloatArray:
        """First and last place of every run of answered places on the grid of the one situation, in turn."""
        changes = np.diff(np.pad(self.on_grid.answered[0], 1).astype(np.int8))
        first, last = np.flatnonzero(changes > 0), np.flatnonzero(changes < 0) - 1
        return np.asarray(self.grid[np.stack([first, last], axis=1).ravel()])

    def _in_a_run(self, places: FloatArray) -> bool:
        """Return whether all places stand within one run of answered places of the one situation."""
        ends = np.array([np.fmin.reduce(places, initial=np.inf), np.fmax.reduce(places, initial=-np.inf)])
        first, last = np.searchsorted(self._runs, ends).tolist()
        return bool(first == last and first % 2)

    @property
    def valleys(self) -> FloatArray:
        """The place of the smallest breakdown voltage of every situation."""
        position = self._least[0]
        return np.asarray(self.on_grid.places[np.arange(position.size), position])

    def nearest_answered(self, places: FloatArray, rows: Indices) -> FloatArray:
        """Return places, moved to the nearest answered one of the grid where rounding put one just outside."""
        if self.case.size == 1 and self._in_a_run(places):
            return places
        there = np.flatnonzero(np.isfinite(places))
        if self.case.size == 1:  # between two answered places of the grid every place is answered
            there = there[np.searchsorted(self._runs, places[there]) % 2 == 0]
        if not there.size:
            return places
        missed = there[self._choice(rows[there], places[there]) < 0]
        moved = places.copy()
        for i in missed:
            answered = self.on_grid.places[rows[i]][self.on_grid.answered[rows[i]]]
            moved[i] = answered[np.argmin(np.abs(np.log(answered / places[i])))]
        return moved

    def nothing_breaks_down(self, highest: FloatArray, rows: Indices | slice = slice(None)) -> BoolArray:
        """Return whether peak voltages [V] lie below the minimum of their curve, so that nothing breaks down.

        Parameters
        ----------
        rows : ndarray of int, optional
            Which situation each belongs to; by default the only one.
        """
        _, smallest, minimum = self._least
        return np.asarray((highest <= smallest[rows]) & minimum[rows])

    # --- of one situation -------------------------------------------------------------------------------------------

    @property
    def grid(self) -> FloatArray:
        """Places searched."""
        return np.asarray(self.on_grid.places[0])

    @property
    def lowest(self) -> int:
        """Grid index of the smallest breakdown voltage: of the value, or of the upper bound where there is none."""
        return int(self._least[0][0])

    @property
    def has_minimum(self) -> bool:
        """Whether the smallest breakdown voltage is a minimum, not merely where the methods end."""
        return bool(self._least[2][0])

    @property
    def turns(self) -> bool:
        """Whether places on both sides of the smallest breakdown voltage are answered: there are two branches."""
        return bool(self.turning[0])

    @property
    def least(self) -> float:
        """The smallest breakdown voltage [V], or the smallest low end where no more is known."""
        return float(self._least[1][0])

    @property
    def covered(self) -> tuple[float, float]:
        """First and last place at which some method answers."""
        places = self.grid[self.on_grid.answered[0]]
        return float(places[0]), float(places[-1])

    @property
    def smallest(self) -> tuple[float, float, float]:
        """Value, low and high of the smallest breakdown voltage [V]."""
        found, at = self.on_grid, (0, self.lowest)
        return float(found.value[at]), float(found.low[at]), float(found.high[at])

    def branch(self, name: str, highest: float, lowest: float | None = None) -> Ends | None:
        """Return one branch of one voltage, or ``None``."""
        found = self.branches((name,), np.array([highest]), None if lowest is None else np.array([lowest]))
        return Ends.of(found[name])

"""The critical line: of all lines of force that leave stressed surfaces, the one where a discharge starts first.

On a line the criterion asks for the largest integral over a part of it: an avalanche may begin and end anywhere, at
the surface of highest field, across the gap with attachment between two zones, or at the far end. That integral is the
largest of the running sum less the least of it before, so that nothing has to be known of which end is sharper.

Of the lines, the shortest straight path overstates inception at edges by up to 80 %, the line from the highest field
by up to 10 % where two electrodes compete. So: lines from every place that could win, narrowed about the best. A place
can not win where its surface field at the best voltage so far does not ionize, since a line whose field grows on its
way starts, read the other way, at the other conductor.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from service.physics.boundary import PotentialField
from service.physics.domain import Floats
from service.physics.field_lines import COARSE, FINE, Accuracy, FieldLine, joined, surface_samples, trace
from service.physics.ionization import IonizationFit
from service.physics.panels import Index
from service.physics.root import Indices, find_root
from service.units import ROUNDING


def largest_part(steps: Floats) -> Floats:
    """Return the largest sum of consecutive steps of each row; zero where none is positive.

    Parameters
    ----------
    steps : ndarray
        ``(lines, steps)``.

    Returns
    -------
    ndarray
        One a line.

    Examples
    --------
    >>> largest_part(np.array([[1.0, -3.0, 2.0, -1.0, 4.0]])).tolist()
    [5.0]
    """
    running = np.cumsum(steps, axis=1)
    before = np.minimum.accumulate(np.concatenate([np.zeros((steps.shape[0], 1)), running[:, :-1]], axis=1), axis=1)
    return np.asarray(np.maximum((running - before).max(axis=1), 0.0))


def line_inception(strength: Floats, length: Floats, reduced_pressure: ArrayLike, fit: IonizationFit) -> Floats:
    """Return the voltage at which the criterion holds on each line.

    Parameters
    ----------
    strength : ndarray
        Field per volt in small steps, ``(lines, steps)`` [1/m]; greater than zero.
    length : ndarray
        Length of the steps [m].
    reduced_pressure : array_like
        Pressure of the same density at 20 degC, one or one a line [Pa].
    fit : IonizationFit

    Returns
    -------
    ndarray
        Peak voltage [V], one a line.

    References
    ----------
    See `service.physics.criterion`.
    """
    p = np.broadcast_to(np.asarray(reduced_pressure, dtype=np.float64), strength.shape[:1])
    at_once = max(STEPS_AT_ONCE // strength.shape[1], 1)
    parts = (slice(start, start + at_once) for start in range(0, max(p.size, 1), at_once))
    return np.concatenate([_inception(strength[part], length[part], p[part], fit) for part in parts])


STEPS_AT_ONCE = 1 << 15
"""Steps of lines that are taken at once: the arrays of so many stay in the memory near by."""


def _inception(strength: Floats, length: Floats, p: Floats, fit: IonizationFit) -> Floats:
    weighed, reduced = p[:, None] * length / fit.critical_number, strength / p[:, None]
    voltage = _of_falling_field(weighed, reduced, fit)
    rest = np.flatnonzero(np.isnan(voltage))
    if rest.size:
        voltage[rest] = _searched(weighed[rest], reduced[rest], fit)
    return voltage


def _of_falling_field(weighed: Floats, reduced: Floats, fit: IonizationFit) -> Floats:
    """Return the voltage of lines that ionize from their start to one place; NaN where a line does not.

    Between two voltages at which one step more begins to ionize, the integral is a quadratic of the voltage.
    """
    sums = [np.cumsum(weighed * power, axis=1) for power in (np.ones_like(reduced), reduced, reduced * reduced)]
    begins = np.where(weighed > 0, fit.threshold / reduced, 0.0)
    square = begins * (begins * sums[2] - 2 * fit.centre * sums[1]) + fit.centre**2 * sums[0]
    enough = fit.curvature * square - fit.offset * sums[0] >= 1
    row, last = np.arange(len(reduced)), np.where(enough.any(axis=1), np.argmax(enough, axis=1), reduced.shape[1]) - 1
    voltage = fit.quadratic_voltage(*(one[row, last] for one in sums))
    ionizes = (voltage[:, None] * reduced > fit.threshold) & (weighed > 0)
    first = np.arange(reduced.shape[1]) <= last[:, None]
    holds = (ionizes == (first & (weighed > 0))).all(axis=1) & (voltage * reduced.max(axis=1) <= fit.branch)
    return np.where(holds, voltage, np.nan)


def _searched(weighed: Floats, reduced: Floats, fit: IonizationFit) -> Floats:
    """Return the voltage of lines on which any part may be the one that brings most."""

    def excess(volts: Floats, which: Indices) -> Floats:
        coefficient = fit.coefficient(volts[:, None] * reduced[which])
        return np.asarray(np.cbrt(largest_part(weighed[which] * coefficient)) - 1)

    low = np.asarray(fit.threshold / np.where(weighed > 0, reduced, 0.0).max(axis=1))
    high, every = 2 * low, np.arange(low.size)
    for _ in range(200):
        short = excess(high, every) < 0
        if not short.any():
            break
        low, high = np.where(short, high, low), np.where(short, 2 * high, high)
    return find_root(excess, low, high)[0]


EVENLY, ABOUT, ROUNDS = 10, 6, 2
"""Lines spread over the surfaces that could win, lines about the best, and how often."""
MOST_MAXIMA = 10
END, INSIDE = 0.4999, 0.9999
"""Samples from the last one to the end of a contour, and the outermost parameter of a panel where a line starts."""
LOST = 1.2
"""Field on a line, over the highest at any node of a surface, beyond which the line got lost."""
CLOSE_BY = 0.01
"""Relative difference of coarsely traced voltages within which either may be the lower one."""
EQUAL = 1e-7
"""Relative difference of voltages that are told by rounding alone."""
A_SHARE = 0.05
"""Least field of a maximum, over the highest, from which a line is traced in any case."""


@dataclass(frozen=True, eq=False)
class Start:
    """A place from which a line was traced.

    Parameters
    ----------
    place : float
        Position along all drawn surfaces, in samples.
    voltage : float
        At which the criterion holds on its line [V].
    line : FieldLine
    """

    place: float
    voltage: float
    line: FieldLine


@dataclass(eq=False)
class LineSearch:
    """A search for the critical line.

    Parameters
    ----------
    coarse, fine : PotentialField
        The same conductors with fewer and with more nodes, at one volt between the extremes.
    solid : ndarray of bool
        Conductors that bound metal.
    pressure : float
        Reduced pressure [Pa].
    fit : IonizationFit
    """

    coarse: PotentialField
    fine: PotentialField
    solid: np.ndarray
    pressure: float
    fit: IonizationFit
    starts: list[Start] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.panel, self.t, density = surface_samples(self.fine, self.solid)
        self.strength = np.abs(density)
        self.top = LOST * max(float(np.abs(one.density).max()) for one in (self.coarse, self.fine))
        self.conductor = self.fine.boundary.panels.owner[self.panel]

    @property
    def best(self) -> Start:
        """The lowest line so far; of equal ones, as between equal electrodes, that of the first place."""
        lowest = min(start.voltage for start in self.starts) * (1 + EQUAL)
        return min((start for start in self.starts if start.voltage <= lowest), key=lambda start: start.place)

    def run(self) -> None:
        """Trace lines until the lowest is found."""
        maxima = self._maxima()
        self._trace(maxima)
        if not self.starts:
            return
        self._trace(self._spread())
        for _ in range(ROUNDS):
            self._trace(self._about(self.best))

    def _maxima(self) -> Floats:
        """Return the local maxima of the surface field, strongest first, and that of each conductor."""
        found: list[float] = []
        for here in self._each():
            value = self.strength[here]
            inner = 1 + np.flatnonzero((value[1:-1] >= value[:-2]) & (value[1:-1] > value[2:]))
            found += here[inner[value[inner] >= A_SHARE * self.strength.max()]].tolist()
            # a maximum at an end lies at the very end, on the axis most often
            found += [here[0] - END] * bool(value[0] > value[1]) + [here[-1] + END] * bool(value[-1] > value[-2])
        found.sort(key=lambda place: -self.strength[self._sample(place)])
        strongest = [float(here[np.argmax(self.strength[here])]) for here in self._each()]
        return np.array(list(dict.fromkeys([*found[:MOST_MAXIMA], *strongest])), dtype=float)

    def _sample(self, place: float) -> int:
        return int(np.clip(np.rint(place), 0, self.panel.size - 1))

    def _each(self) -> list[Index]:
        return [np.flatnonzero(self.conductor == conductor) for conductor in np.unique(self.conductor)]

    def _spread(self) -> Floats:
        """Return places evenly by charge over the surfaces that ionize at the best voltage so far."""
        could = self.strength * self.best.voltage > float(self.fit.threshold) * self.pressure
        speed = self.fine.boundary.panels.speed[self.panel]
        weight = np.cumsum(np.where(could, self.strength * speed, 0.0))
        if weight[-1] <= 0:
            return np.array([])
        wanted = (np.arange(EVENLY) + 0.5) / EVENLY * weight[-1]
        return np.asarray(np.searchsorted(weight, wanted), dtype=np.float64)

    def _about(self, best: Start) -> Floats:
        """Return places between the neighbours of the best start."""
        here = np.flatnonzero(self.conductor == self._conductor(best))
        places = np.array(sorted({start.place for start in self.starts}))
        below, above = places[places < best.place], places[places > best.place]
        low = max(here[0] - END, below[-1] if below.size else -np.inf)
        high = min(here[-1] + END, above[0] if above.size else np.inf)
        inner = np.linspace(low, high, ABOUT + 2)[1:-1]
        return np.asarray(inner[np.abs(inner - best.place) > 1e-3 * (high - low)])

    def _place(self, places: Floats) -> tuple[Index, Floats]:
        """Return panels and parameters of positions along the samples."""
        whole = np.clip(np.rint(places).astype(int), 0, self.panel.size - 1)
        step = 2 / np.count_nonzero(self.panel == self.panel[0])
        return self.panel[whole], np.clip(self.t[whole] + (places - whole) * step, -INSIDE, INSIDE)

    def _trace(self, places: Floats) -> None:
        known = {start.place for start in self.starts}
        new = np.array([place for place in places if place not in known])
        if not new.size:
            return
        self.starts += self._traced(self.coarse, new, COARSE)

    def _traced(self, field: PotentialField, places: Floats, accuracy: Accuracy) -> list[Start]:
        """Return the starts at places whose lines did not get lost."""
        lines = trace(field, *self._place(places), accuracy)
        # the field is nowhere higher than at a surface: a line that says otherwise got lost in metal
        good = [k for k, line in enumerate(lines) if len(line.drop) > 3 and max(line.strength) <= self.top]
        if not good:
            return []
        voltages = line_inception(*joined([lines[k] for k in good]), self.pressure, self.fit)
        return [Start(float(places[k]), float(v), lines[k]) for k, v in zip(good, voltages, strict=True)]

    def beside(self, best: Start) -> list[Start]:
        """Return the best start and two on either side of it, half and a quarter of the way to its neighbours."""
        around = np.array(sorted({start.place for start in self.starts}))
        k = int(np.searchsorted(around, best.place))
        below, above = around[max(k - 1, 0)], around[min(k + 1, around.size - 1)]
        places = [best.place + share * (end - best.place) for end in (below, above) for share in (0.25, 0.5)]
        kept = [place for place in places if self._conductor_at(place) == self._conductor_at(best.place)]
        return [best, *(Start(place, best.voltage, best.line) for place in kept)]

    def finely(self, starts: Sequence[Start]) -> list[Start]:
        """Return starts with their lines traced again, finely and with all nodes; none that gets lost there."""
        return self._traced(self.fine, np.array([start.place for start in starts]), FINE)

    def competing(self, best: Start, most: int = 3) -> list[Start]:
        """Return the lowest line of every other conductor and about every other local maximum, lowest first."""
        kept: dict[tuple[int, int], Start] = {self._about_which(best): best}
        for start in sorted(self.starts, key=lambda one: one.voltage):
            kept.setdefault(self._about_which(start), start)
        return list(kept.values())[1 : most + 1]

    def lowest(self, rough: Start) -> Start | None:
        """Return the lowest line of those about the best coarse one and of all that come close to it, finely traced."""
        close = [one for one in self.competing(rough) if one.voltage <= rough.voltage * (1 + CLOSE_BY)]
        found = self.finely([*self.beside(rough), *close])
        best = min(found, key=lambda start: start.voltage, default=None)
        if best is not None and best.place in [one.place for one in close]:
            found += self.finely(self.beside(best)[1:])
        return min(found, key=lambda start: start.voltage, default=None)

    def _about_which(self, start: Start) -> tuple[int, int]:
        return self._conductor(start), self._hill(start)

    def _conductor(self, start: Start) -> int:
        return self._conductor_at(start.place)

    def _conductor_at(self, place: float) -> int:
        return int(self.conductor[self._sample(place)])

    def _hill(self, start: Start) -> int:
        """Return the sample to which the surface field rises from a start without falling."""
        k = self._sample(start.place)
        here = self.conductor == self.conductor[k]
        while True:
            around = [j for j in (k - 1, k + 1) if 0 <= j < here.size and here[j]]
            up = max(around, key=lambda j: self.strength[j])
            if self.strength[up] <= self.strength[k] * (1 + ROUNDING):
                return k
            k = up


@dataclass(frozen=True)
class CriticalLine:
    """The critical line and how well it is known.

    Parameters
    ----------
    best : Start
        Finely traced.
    others : list of Start
        Competing lines, coarsely traced, lowest first.
    field_error, voltage_error, line_error : float
        Relative: largest difference of the field on the line by fewer nodes, what it does to the voltage, and the
        difference between the coarsely and the finely traced line.
    """

    best: Start
    others: list[Start]
    field_error: float
    voltage_error: float
    line_error: float


def critical_line(
    coarse: PotentialField, fine: PotentialField, solid: np.ndarray, pressure: float, fit: IonizationFit
) -> CriticalLine | None:
    """Return the critical line of solved conductors; ``None`` where no line leaves any of them.

    Parameters
    ----------
    coarse, fine : PotentialField
        With fewer and with more nodes, at one volt between the extremes.
    solid : ndarray of bool
        Conductors that bound metal.
    pressure : float
        Reduced pressure [Pa].
    fit : IonizationFit

    Returns
    -------
    Found or None
        Voltages in V, places in m.
    """
    search = LineSearch(coarse, fine, solid, pressure, fit)
    if not search.panel.size:
        return None
    search.run()
    if not search.starts:
        return None
    rough = search.best
    best = search.lowest(rough)
    if best is None:
        return None
    field_error, voltage_error = against(coarse, best, pressure, fit)
    line_error = abs(rough.voltage / best.voltage - 1)
    return CriticalLine(best, search.competing(best), field_error, voltage_error, line_error)


def against(other: PotentialField, start: Start, pressure: float, fit: IonizationFit) -> tuple[float, float]:
    """Return how much another field differs on a line, at most, and what it does to the voltage of it; relative.

    Parameters
    ----------
    other : PotentialField
    start : Start
    pressure : float
    fit : IonizationFit

    Returns
    -------
    tuple of float
        Of the field and of the voltage; not negative.
    """
    line = start.line
    inner = slice(1, -1) if line.end >= -1 and len(line.places) > 3 else slice(1, None)
    places = np.array(line.places[inner])
    strength = np.array(line.strength)
    ratio = np.ones(strength.size)
    ratio[inner] = np.abs(other.at(places)[1]) / strength[inner]
    panels = other.boundary.panels
    _, panel, t = panels.nearest(np.array(line.places[:1]), panels.owner == line.owner)
    ratio[0] = abs(float(other.surface(panel, t)[0])) / strength[0]
    zone = strength >= 0.02 * strength[0]
    field_error = float(np.abs(ratio - 1)[zone].max())
    changed = FieldLine(line.panel, line.t, line.owner, line.places, line.drop, list(strength * ratio), line.end)
    length = line.sampled()[1]
    field_there = changed.sampled()[0]
    voltage = line_inception(field_there[None], length[None], pressure, fit)[0]
    return field_error, abs(float(voltage) / start.voltage - 1)

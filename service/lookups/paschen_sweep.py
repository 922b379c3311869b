"""Breakdown between plates over pressure times gap: what the methods that know similarity say, and their minimum."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from math import isclose

import numpy as np

from service.answers import inverse
from service.answers.evaluate import Evaluation
from service.answers.registry import Registry
from service.methods import Arrangement, Case, FloatArray, Method
from service.methods.method import PRODUCT
from service.parameters import Question
from service.physics.atmosphere import REFERENCE_TEMPERATURE

ENDS = (1e-2, 1e7)
"""Range of pd that is searched [Pa m]; methods end well within it."""
PARTS, ROUNDS = 65, 4
"""Places at which a minimum is looked for at a time, and how often: to a ten-millionth."""
SAME = 1e-6
"""Relative difference up to which the last place that is answered is the limit that a method states."""
PRESSURE_PER_ROOT = 800.0
"""Pressure over the root of pd at which a curve is computed [sqrt(Pa/m)].

Only the product counts; this keeps pressure and gap inside every method's own limits over its whole range of pd.
"""


def case_over(arrangement: Arrangement, case: Case, pds: FloatArray) -> Case:
    """Return a case of one element at many pd [Pa m].

    Parameters
    ----------
    arrangement : Arrangement
        Of similarity methods, so that pressure and gap may be chosen.
    """
    limits = [limit for method in arrangement.methods for limit in method.validity.limits]
    tops = [float(limit.bounds(case)[1][0]) for limit in limits if limit.quantity.key == "pressure"]
    # a vapour condenses above its own pressure: there the gap is widened in its place
    pressure = np.minimum(PRESSURE_PER_ROOT * np.sqrt(pds), min(tops, default=np.inf))
    return replace(case.repeated(pds.size), pressure=pressure, gap=pds / pressure)


@dataclass(frozen=True)
class Minimum:
    """The lowest point of a curve.

    Parameters
    ----------
    pd : float
        [Pa m]
    evaluation : Evaluation
        There, by every method.
    """

    pd: float
    evaluation: Evaluation


@dataclass(frozen=True)
class Sweep:
    """The Paschen curve of one gas.

    Parameters
    ----------
    curves : inverse.Curves
        Over pd [Pa m].
    """

    gas: str
    curves: inverse.Curves

    @classmethod
    def of(cls, registry: Registry, gas: str, fraction: float | None, secondary: float | None) -> Sweep:
        """Return the curve of a gas, which no atmosphere changes: it is kept for the next question.

        Parameters
        ----------
        fraction : float or None
            Mole fraction of a mixture.
        secondary : float or None
            A given secondary coefficient: closed forms only.
        """
        plates = registry.plates
        key = (plates, ("paschen", gas, fraction, secondary))
        return registry.kept_curves(key, lambda: cls._made(registry, gas, fraction, secondary))

    @classmethod
    def _made(cls, registry: Registry, gas: str, fraction: float | None, secondary: float | None) -> Sweep:
        plates = registry.plates
        chosen = [method for method in plates.methods if _wanted(registry, method, gas, secondary)]
        case = Case(
            gap=np.ones(1),
            pressure=np.ones(1),
            temperature=np.full(1, REFERENCE_TEMPERATURE),
            humidity=np.full(1, np.nan),
            frequency=np.zeros(1),
            gas=gas,
            fraction=None if fraction is None else np.full(1, fraction),
            waveform="dc",
            secondary=secondary,
        )
        arrangement = replace(plates, methods=tuple(chosen))
        return cls(gas, inverse.Curves(arrangement, case, None, case_over, ENDS))

    @property
    def answered(self) -> bool:
        """Whether some method answers at some pd."""
        return bool(self.curves.arrangement.methods) and bool(self.curves.on_grid.answered.any())

    @cached_property
    def covered(self) -> tuple[float, float]:
        """First and last pd at which some method answers [Pa m]: the limit that a method states, where that ends it."""
        limits = [limit for m in self.curves.arrangement.methods for limit in m.validity.limits]
        stated = [bound for limit in limits if limit.quantity is PRODUCT for bound in limit.bounds(self.curves.case)]
        ends = [float(bound[0]) for bound in stated]
        first, last = (
            next((end for end in ends if isclose(end, found, rel_tol=SAME)), found) for found in self.curves.covered
        )
        return first, last

    @cached_property
    def minimum(self) -> Minimum | None:
        """The minimum of the curve, or ``None`` where the methods end before it."""
        if not (self.answered and self.curves.turns):
            return None
        grid, i = self.curves.grid, self.curves.lowest

        low, high = np.log(grid[[i - 1, i + 1]])
        for _ in range(ROUNDS):
            places = np.linspace(low, high, PARTS)
            least = int(np.nanargmin(self.curves.at(np.exp(places)).value))
            low, high = places[max(least - 1, 0)], places[min(least + 1, PARTS - 1)]
        pd = float(np.exp((low + high) / 2))
        return Minimum(pd, self.curves.at(np.array([pd]), every=True))


def _wanted(registry: Registry, method: Method, gas: str, secondary: float | None) -> bool:
    closed = secondary is None or method.key in closed_forms(registry)
    return gas in method.validity.gases and method.similarity and closed


def closed_forms(registry: Registry) -> frozenset[str]:
    """Return the keys of the methods that take a given secondary coefficient."""
    table = registry.reference.table("gas-methods")
    pairs = zip(table.text("key"), table.text("form"), strict=True)
    return frozenset(key for key, form in pairs if form == "closed-form")


def places(question: Question, sweeps: list[Sweep]) -> FloatArray:
    """Return the pd [Pa m] of the points of a curve: the asked range, or all that the gases' methods cover.

    Parameters
    ----------
    question : Question
        With ``points``, and maybe ``pd_from`` and ``pd_to``.
    sweeps : list of Sweep
        Of which some are answered.
    """
    covered = [sweep.covered for sweep in sweeps if sweep.answered]
    first = question.optional("pd_from") or min(one[0] for one in covered)
    last = question.optional("pd_to") or max(one[1] for one in covered)
    inside = np.geomspace(first, last, int(question.number("points")))
    inside[[0, -1]] = first, last  # as given, not a rounding beside it
    return inside

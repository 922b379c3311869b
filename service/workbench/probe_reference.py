"""The reference voltage of a setting, and how every systematic influence moves it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from service.answers.evaluate import evaluate
from service.electrodes import Case, FloatArray
from service.workbench.sphere_setting import Setting, Spheres
from service.workbench.uncertainty import COVERAGE, Influence, rectangular

MODEL = "streamer-quadratic"
"""Method that says how the voltage moves with the diameter, between the columns of the table."""


@dataclass(frozen=True)
class Tolerances:
    """How far each input may be off, to either side; half widths of rectangular distributions.

    Parameters
    ----------
    spacing : float
        [m].
    diameter : float or None
        [m]; ``None`` for 0.1 % of the diameter.
    density : float
        Relative.
    humidity : float
        [kg/m3].
    """

    spacing: float
    diameter: float | None
    density: float
    humidity: float

    def of_diameter(self, diameter: float) -> float:
        """Return how far a sphere diameter [m] may be off [m]."""
        return diameter * DIAMETER_SHARE if self.diameter is None else self.diameter


DIAMETER_SHARE = 1e-3
"""Tolerance of a sphere diameter over the diameter, where none is given."""


@dataclass(frozen=True, eq=False)
class Reference:
    """The reference voltage of a setting with its systematic influences.

    Parameters
    ----------
    spheres : Spheres
    setting : Setting
    tolerances : Tolerances
    """

    spheres: Spheres
    setting: Setting
    tolerances: Tolerances

    @cached_property
    def influences(self) -> dict[str, float]:
        """Relative standard contribution of each influence, with the sign of its sensitivity."""
        spread = self._spread()
        return {"gap": self.setting.band / COVERAGE} | {name: rectangular(half) for name, half in spread.items()}

    def _spread(self) -> dict[str, float]:
        """Return half of the change of the voltage between the two ends of every input, relatively."""
        case, key = self.setting.case, self.setting.method.key
        off = self.tolerances
        size = off.of_diameter(self.setting.diameter)
        return {
            "spacing": self._half(case, key, "gap", off.spacing),
            "diameter": self._half(case, MODEL, "sphere_diameter", size),
            "density": self._half(case, key, "pressure", off.density * float(case.pressure[0])),
            "humidity": self._half(case, key, "humidity", off.humidity),
        }

    def _half(self, case: Case, key: str, name: str, off: float) -> float:
        steps = off * np.array([-1.0, 0.0, 1.0])
        found = evaluate(self.spheres.arrangement, _varied(case, name, steps), only=key).value
        below, middle, above = np.log(found)
        ends = [one for one in (above - middle, middle - below) if np.isfinite(one)]
        return float(np.mean(ends)) if ends else 0.0


def _varied(case: Case, name: str, steps: FloatArray) -> Case:
    many = case.repeated(steps.size)
    if name in many.dimensions:
        return replace(many, dimensions={**many.dimensions, name: many.dimensions[name] + steps})
    changed = np.maximum(getattr(many, name) + steps, 0.0)
    return {
        "gap": lambda: replace(many, gap=changed),
        "pressure": lambda: replace(many, pressure=changed),
        "humidity": lambda: replace(many, humidity=changed),
    }[name]()


def influences(references: Sequence[Reference]) -> list[Influence]:
    """Return the influences of several settings, each correlated over all of them.

    Parameters
    ----------
    references : sequence of Reference
        At least one.
    """
    keys = references[0].influences
    return [Influence(key, np.array([one.influences[key] for one in references])) for key in keys]

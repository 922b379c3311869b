"""The reference voltage of a setting, and how every systematic influence moves it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from service.answers.evaluate import evaluate
from service.bench.sphere_setting import Setting, Spheres
from service.bench.uncertainty import COVERAGE, Influence, rectangular
from service.errors import BadQuestion
from service.methods import Case, FloatArray

MODEL = "streamer-quadratic"
"""Method that says how the voltage moves with the diameter, between the columns of the table."""
NEAR, NEAR_HUMIDITY = 0.02, 2e-3
"""Steps over which a change is taken: relative, and of the humidity [kg/m3]; beyond them it goes on in proportion."""


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
        spread = {name: rectangular(half) for name, half in self._spread.items()}
        return {"gap": self.setting.band / COVERAGE} | spread

    @property
    def wide(self) -> tuple[str, ...]:
        """Inputs whose tolerance is wider than the step over which the change of the voltage is taken."""
        return tuple(name for name, (off, step) in self._steps.items() if off > step)

    @cached_property
    def _steps(self) -> dict[str, tuple[float, float]]:
        """Tolerance of every input, and the step over which its effect is taken [SI]."""
        off, pressure = self.tolerances, float(self.setting.case.pressure[0])
        spacing, diameter = self.setting.spacing, self.setting.diameter
        inputs = {
            "spacing": (off.spacing, NEAR * spacing),
            "diameter": (off.of_diameter(diameter), NEAR * diameter),
            "density": (off.density * pressure, NEAR * pressure),
            "humidity": (off.humidity, NEAR_HUMIDITY),
        }
        return {name: (whole, min(whole, near)) for name, (whole, near) in inputs.items()}

    @cached_property
    def _spread(self) -> dict[str, float]:
        """Half of the change of the voltage between the ends of every input, relatively; JCGM 100, 5.1.3, first order.

        Raises
        ------
        BadQuestion
            When the voltage has no neighbours to tell a change from.
        """
        return {
            name: self._half(name, step) * (off / step) if off else 0.0 for name, (off, step) in self._steps.items()
        }

    def _half(self, name: str, step: float) -> float:
        key = MODEL if name == "diameter" else self.setting.method.key
        case = _varied(self.setting.case, VARIED[name], step * np.array([-1.0, 0.0, 1.0]))
        below, middle, above = np.log(evaluate(self.spheres.arrangement, case, only=key).value)
        # at an end of the table only one side is tabulated
        ends = [one for one in (above - middle, middle - below) if np.isfinite(one)]
        if not ends:
            raise BadQuestion.about(f"{name}_uncertainty", f"How the voltage moves with the {name} is not known here.")
        return float(np.mean(ends))


VARIED = {"spacing": "gap", "diameter": "sphere_diameter", "density": "pressure", "humidity": "humidity"}
"""Input to what of a case moves with it; density by the pressure."""


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

"""What floor, lead and walls do to a sphere gap: told beside the voltage, never applied to it.

The standard leaves the length of the lead and the distance of walls open beyond a least clearance, and a table made in
halls unknown cannot be carried to another one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.interpolate import RegularGridInterpolator

from service.errors import BadReferenceData
from service.methods.computed import grid_axes
from service.methods.method import Case, Estimate, FloatArray, Method
from service.parameters import Parameter
from service.reference import Reference

HEIGHT = Parameter(
    "height", "length", "Height of the upper sphere's lowest point over the floor of your hall.", low=1e-3, high=100.0
)
LEAD = Parameter("lead", "length", "Length of the vertical lead over the upper shank in your hall.", low=1e-3, high=1e3)
WALL = Parameter("wall", "length", "Distance of the nearest walls of your hall.", low=1e-3, high=1e3)
SIZES = (HEIGHT, LEAD, WALL)
USUAL: Mapping[str, float] = {"height": 5.0, "lead": 10.0}
"""Over the diameter, where the others are given; a wall that is not given is far away; common practice, no source."""

FREE_NOTE = (
    "Tables were made on built gaps, with floor, shanks, lead and walls; the model compares a free pair. What the "
    "standard leaves open moves the voltage by about 3 % at half a diameter and 6 % at 0.8: give height, lead and wall "
    "to see it for a hall."
)
CHANGE_NOTE = (
    "Floor, lead and walls ({}) move the voltage of a free pair by {:+.1f} % by computation; this is told, not "
    "applied: the halls in which the table was made are not known."
)
OUTSIDE_NOTE = "What floor, lead and walls do is computed for {} only; nothing is said of these."


@dataclass(frozen=True, eq=False)
class Hall:
    """The computed change of a sphere gap's voltage.

    Parameters
    ----------
    reference : Reference
    """

    reference: Reference

    def __post_init__(self) -> None:
        _ = self._table  # a table that is no grid is missed at load

    @cached_property
    def _table(self) -> tuple[list[FloatArray], RegularGridInterpolator]:
        table = self.reference.table("sphere-hall")
        names = ("spacing_over_diameter", "height_over_diameter", "lead_over_diameter", "diameter_over_wall")
        axes = grid_axes([table[name] for name in names], least=2)
        if axes is None:
            raise BadReferenceData(f"{table.package}/{table.stated['path']}", None, "the rows are no complete grid")
        grid = np.full([axis.size for axis in axes], np.nan)
        pairs = zip(axes, names, strict=True)
        grid[tuple(np.searchsorted(axis, table[name]) for axis, name in pairs)] = table["change"]
        return axes, RegularGridInterpolator(axes, grid)

    def notes(self, case: Case) -> tuple[str, ...]:
        """Return what is to be said of a case of one element."""
        sizes = case.dimensions
        given = [one.name for one in SIZES if one.name in sizes]
        if not given or case.size != 1:
            return ()
        diameter = float(sizes["sphere_diameter"][0])
        over = {name: float(sizes[name][0]) / diameter for name in given}
        wall = 1 / over["wall"] if "wall" in over else 0.0
        height, lead = (over.get(name, USUAL[name]) for name in ("height", "lead"))
        place = np.array([float(case.gap[0]) / diameter, height, lead, wall])
        axes, table = self._table
        least = np.array([0.0, *(axis[0] for axis in axes[1:])])
        most = np.array([axis[-1] for axis in axes])
        if (place < least * (1 - 1e-9)).any() or (place > most * (1 + 1e-9)).any():
            ranges = (
                f"spacings to {axes[0][-1]:g}, heights {axes[1][0]:g} to {axes[1][-1]:g}, leads {axes[2][0]:g} to "
                f"{axes[2][-1]:g}, walls from {1 / axes[3][-1]:.3g} diameters"
            )
            return (OUTSIDE_NOTE.format(ranges),)
        change = float(table(np.clip(place, [axis[0] for axis in axes], most))[0])
        assumed = [f"{name} taken as {USUAL[name]:g} diameters" for name in USUAL if name not in over]
        words = ", ".join([*given, *assumed, *([] if "wall" in over else ["no walls"])])
        return (CHANGE_NOTE.format(words, 100 * change),)

    def told(self, method: Method) -> Method:
        """Return a method that says what a hall does."""

        def function(case: Case) -> Estimate:
            found = method.function(case)
            return replace(found, notes=(*found.notes, *self.notes(case)))

        return replace(method, function=function)

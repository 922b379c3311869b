"""Fields on the axis of gaps, with elementary integrals; of one gap in plain numbers, of many in arrays.

Two families of fields cover five shapes:
``e = k / (r + z)^n`` (coaxial cylinders, concentric spheres) and ``e = k / (a^2 - (h - z)^2)`` (two parallel
cylinders, a cylinder or a hyperboloid and a plane).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any, Protocol

import numpy as np

NUMBERS = SimpleNamespace(sqrt=math.sqrt, log1p=math.log1p, atanh=math.atanh, asinh=math.asinh, maximum=max)
ARRAYS = SimpleNamespace(sqrt=np.sqrt, log1p=np.log1p, atanh=np.arctanh, asinh=np.arcsinh, maximum=np.maximum)


def maths(value: Any) -> Any:
    """Return the functions for a plain number or an array."""
    return NUMBERS if isinstance(value, float) else ARRAYS


class Axis(Protocol):
    """Field per volt on the axis of one gap, with its integrals from the electrode of highest field."""

    length: float
    """Distance to the lowest field [m]."""
    sides: int
    """Number of equal sides that meet there."""

    def field(self, z: float) -> float:
        """Return the field per volt [1/m]."""

    def place(self, field: float) -> float:
        """Return the distance at which the field per volt has fallen to a value [m]."""

    def potential(self, z: float) -> float:
        """Return the integral of the field per volt to a distance."""

    def square(self, z: float) -> float:
        """Return the integral of its square [1/m]."""


@dataclass(frozen=True)
class Radial:
    """``e = k / (r + z)^n`` with n 1 for cylinders and 2 for spheres."""

    radius: float
    length: float
    scale: float
    power: int
    sides: int = 1

    def field(self, z: float) -> float:
        """Return the field per volt [1/m]."""
        return self.scale / (self.radius + z) ** self.power

    def place(self, field: float) -> float:
        """Return the distance of a field [m]."""
        ratio = self.scale / field
        return (ratio if self.power == 1 else maths(ratio).sqrt(ratio)) - self.radius

    def potential(self, z: float) -> float:
        """Return the integral of the field."""
        if self.power == 1:
            return self.scale * maths(z).log1p(z / self.radius)
        return self.scale * z / (self.radius * (self.radius + z))

    def square(self, z: float) -> float:
        """Return the integral of its square [1/m]."""
        r, end = self.radius, self.radius + z
        if self.power == 1:
            return self.scale**2 * z / (r * end)
        return self.scale**2 * z * (r * r + r * end + end * end) / (3 * (r * end) ** 3)


@dataclass(frozen=True)
class Bipolar:
    """``e = k / (a^2 - (h - z)^2)``, lowest at the distance h; ``b = a^2 - h^2`` is given since it may be small."""

    length: float
    b: float
    scale: float
    sides: int = 1

    def field(self, z: float) -> float:
        """Return the field per volt [1/m]."""
        return self.scale / (self.b + z * (2 * self.length - z))

    def place(self, field: float) -> float:
        """Return the distance of a field [m]."""
        more = self.scale / field - self.b  # = z (2 h - z)
        return more / (self.length + maths(more).sqrt(maths(more).maximum(self.length**2 - more, 0.0)))

    def _angle(self, z: float) -> tuple[float, float]:
        a = maths(self.length).sqrt(self.b + self.length**2)
        return a, maths(z).atanh(a * z / (self.b + self.length * z))

    def potential(self, z: float) -> float:
        """Return the integral of the field."""
        a, angle = self._angle(z)
        return self.scale * angle / a

    def square(self, z: float) -> float:
        """Return the integral of its square [1/m]."""
        a, angle = self._angle(z)
        h, u = self.length, self.length - z
        ends = h / self.b - u / (self.b + z * (2 * h - z))
        return self.scale**2 * (ends + angle / a) / (2 * a * a)


def coaxial_cylinders(gap: float, radius: float) -> Axis:
    """Return the axis between coaxial cylinders."""
    return Radial(radius, gap, 1 / maths(gap).log1p(gap / radius), 1)


def concentric_spheres(gap: float, radius: float) -> Axis:
    """Return the axis between concentric spheres."""
    return Radial(radius, gap, radius * (radius + gap) / gap, 2)


def parallel_cylinders(gap: float, radius: float) -> Axis:
    """Return the axis between equal parallel cylinders."""
    a, m = maths(gap).sqrt(gap * (radius + gap / 4)), 2 * maths(gap).asinh(maths(gap).sqrt(gap / radius) / 2)
    return Bipolar(gap / 2, radius * gap, a / m, 2)


def cylinder_plane(gap: float, radius: float) -> Axis:
    """Return the axis between a cylinder and a plane."""
    double = 2 * gap
    a, m = maths(gap).sqrt(double * (radius + double / 4)), 2 * maths(gap).asinh(maths(gap).sqrt(double / radius) / 2)
    return Bipolar(gap, radius * double, 2 * a / m)


def hyperboloid_plane(gap: float, radius: float) -> Axis:
    """Return the axis between a hyperboloid and the plane of its family."""
    return Bipolar(
        gap, radius * gap, maths(gap).sqrt(gap * (gap + radius)) / maths(gap).asinh(maths(gap).sqrt(gap / radius))
    )

"""Fields on the axis of gaps whose integrals are elementary: for one gap in plain numbers, for many in arrays.

Two families of fields cover five shapes:
``e = k / (r + z)^n`` (coaxial cylinders, concentric spheres) and ``e = k / (a^2 - (h - z)^2)`` (two parallel
cylinders, a cylinder or a hyperboloid and a plane).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from service.physics.numbers import Numbers, functions_for


class Axis(Protocol):
    """Field per volt on the axis of a gap, with its integrals from the electrode of highest field."""

    @property
    def length(self) -> Numbers:
        """Distance to the lowest field [m]."""

    @property
    def sides(self) -> int:
        """Number of equal sides that meet there."""

    def field(self, z: Numbers) -> Numbers:
        """Return the field per volt at a distance [1/m]."""

    def place(self, field: Numbers) -> Numbers:
        """Return the distance at which the field per volt has fallen to a value [m]."""

    def potential(self, z: Numbers) -> Numbers:
        """Return the integral of the field per volt to a distance."""

    def square(self, z: Numbers) -> Numbers:
        """Return the integral of its square [1/m]."""


@dataclass(frozen=True)
class Radial:
    """``e = k / (r + z)^n`` with n 1 for cylinders and 2 for spheres."""

    radius: Numbers
    length: Numbers
    scale: Numbers
    power: int
    sides: int = 1

    def field(self, z: Numbers) -> Numbers:
        """Return the field per volt at a distance [1/m]."""
        return self.scale / (self.radius + z) ** self.power

    def place(self, field: Numbers) -> Numbers:
        """Return the distance of a field [m]."""
        ratio = self.scale / field
        return (ratio if self.power == 1 else functions_for(ratio).sqrt(ratio)) - self.radius

    def potential(self, z: Numbers) -> Numbers:
        """Return the integral of the field."""
        if self.power == 1:
            return self.scale * functions_for(z).log1p(z / self.radius)
        return self.scale * z / (self.radius * (self.radius + z))

    def square(self, z: Numbers) -> Numbers:
        """Return the integral of its square [1/m]."""
        r, end = self.radius, self.radius + z
        if self.power == 1:
            return self.scale**2 * z / (r * end)
        return self.scale**2 * z * (r * r + r * end + end * end) / (3 * (r * end) ** 3)


@dataclass(frozen=True)
class Bipolar:
    """``e = k / (a^2 - (h - z)^2)``, lowest at the distance h; ``b = a^2 - h^2`` is given since it may be small."""

    length: Numbers
    b: Numbers
    scale: Numbers
    sides: int = 1

    def field(self, z: Numbers) -> Numbers:
        """Return the field per volt at a distance [1/m]."""
        return self.scale / (self.b + z * (2 * self.length - z))

    def place(self, field: Numbers) -> Numbers:
        """Return the distance of a field [m]; where the field is nowhere so low, that of the lowest."""
        more = self.scale / field - self.b  # = z (2 h - z)
        of = functions_for(more)
        return more / (self.length + of.sqrt(of.maximum(self.length**2 - more, 0.0)))

    def _angle(self, z: Numbers) -> tuple[Numbers, Numbers]:
        a = functions_for(self.length).sqrt(self.b + self.length**2)
        return a, functions_for(z).atanh(a * z / (self.b + self.length * z))

    def potential(self, z: Numbers) -> Numbers:
        """Return the integral of the field."""
        a, angle = self._angle(z)
        return self.scale * angle / a

    def square(self, z: Numbers) -> Numbers:
        """Return the integral of its square [1/m]."""
        a, angle = self._angle(z)
        h, u = self.length, self.length - z
        ends = h / self.b - u / (self.b + z * (2 * h - z))
        return self.scale**2 * (ends + angle / a) / (2 * a * a)


def coaxial_cylinders(gap: Numbers, radius: Numbers) -> Axis:
    """Return the axis between coaxial cylinders."""
    return Radial(radius, gap, 1 / functions_for(gap).log1p(gap / radius), 1)


def concentric_spheres(gap: Numbers, radius: Numbers) -> Axis:
    """Return the axis between concentric spheres."""
    return Radial(radius, gap, radius * (radius + gap) / gap, 2)


def parallel_cylinders(gap: Numbers, radius: Numbers) -> Axis:
    """Return the axis between equal parallel cylinders."""
    of = functions_for(gap)
    a, m = of.sqrt(gap * (radius + gap / 4)), 2 * of.asinh(of.sqrt(gap / radius) / 2)
    return Bipolar(gap / 2, radius * gap, a / m, 2)


def cylinder_plane(gap: Numbers, radius: Numbers) -> Axis:
    """Return the axis between a cylinder and a plane."""
    of, double = functions_for(gap), 2 * gap
    a, m = of.sqrt(double * (radius + double / 4)), 2 * of.asinh(of.sqrt(double / radius) / 2)
    return Bipolar(gap, radius * double, 2 * a / m)


def hyperboloid_plane(gap: Numbers, radius: Numbers) -> Axis:
    """Return the axis between a hyperboloid and the plane of its family."""
    of = functions_for(gap)
    return Bipolar(gap, radius * gap, of.sqrt(gap * (gap + radius)) / of.asinh(of.sqrt(gap / radius)))

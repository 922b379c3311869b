"""Axis fields of spheres against an independent solution: finite elements (scikit-fem) in the meridian plane."""

import numpy as np
import pytest
from skfem import BilinearForm, ElementQuad2, FacetBasis, InteriorBasis, MeshQuad, asm, condense, solve
from skfem.helpers import dot, grad

from service.physics.fields import SPHERE_PLANE, SPHERES_ONE_EARTHED, SPHERES_SYMMETRICAL

FAR = 40.0  # radius of the outer boundary in sphere radii
AROUND, OUTWARD = 64, 48
ON_PLANE = 44  # rays that end on the plane; the others end on the outer sphere


@BilinearForm
def axisymmetric_laplace(u, v, w):
    return w.x[0] * dot(grad(u), grad(v))


@BilinearForm
def open_boundary(u, v, w):
    # far away the potential falls as one over the distance
    return w.x[0] * u * v / np.hypot(w.x[0], w.x[1])


def meshed(height):
    """Straight rays from a unit sphere, its lowest point at a height over the plane, to the plane and far away."""
    turn = np.linspace(0, 1, AROUND + 1)
    angle = np.pi * turn**1.6
    start = np.array([np.sin(angle), height + 1 - np.cos(angle)])
    share = np.linspace(0, 1, ON_PLANE + 1)
    plane = np.array([FAR * np.expm1(7 * share) / np.expm1(7), 0 * share])
    up = np.linspace(0, np.pi / 2, AROUND - ON_PLANE + 1)[1:]
    end = np.concatenate([plane, FAR * np.array([np.cos(up), np.sin(up)])], axis=1)
    end[:, -1] = (0.0, FAR)
    start[0, -1] = 0.0
    length = np.hypot(*(end - start))
    outward = np.linspace(0, 1, OUTWARD + 1)[:, None]
    # steps start near the sphere with about the same size on every ray
    growth = np.log1p(np.maximum(length / min(1.0, height), 1.0))
    along = np.expm1(growth * outward) / np.expm1(growth)
    points = start[:, None, :] + along[None] * (end - start)[:, None, :]
    node = np.arange((OUTWARD + 1) * (AROUND + 1)).reshape(OUTWARD + 1, AROUND + 1)
    corners = [node[:-1, :-1], node[:-1, 1:], node[1:, 1:], node[1:, :-1]]
    return MeshQuad(points.reshape(2, -1), np.array([corner.ravel() for corner in corners]))


def axis_potential(height, *, plane_at_zero):
    """Return heights on the axis below the sphere, and the potential there: one on the sphere, zero far away."""
    mesh = meshed(height)
    on_sphere = mesh.facets_satisfying(lambda x: np.hypot(x[0], x[1] - height - 1) < 1 + 1e-6, boundaries_only=True)
    on_plane = mesh.facets_satisfying(lambda x: x[1] < 1e-9, boundaries_only=True)
    outside = mesh.facets_satisfying(lambda x: np.hypot(x[0], x[1]) > 0.98 * FAR, boundaries_only=True)
    outside = np.setdiff1d(outside, on_plane)
    basis = InteriorBasis(mesh, ElementQuad2())
    matrix = asm(axisymmetric_laplace, basis) + asm(open_boundary, FacetBasis(mesh, ElementQuad2(), facets=outside))
    potential = basis.zeros()
    fixed = basis.get_dofs(on_sphere).all()
    potential[fixed] = 1.0
    if plane_at_zero:
        fixed = np.concatenate([fixed, basis.get_dofs(on_plane).all()])
    potential = solve(*condense(matrix, x=potential, D=np.unique(fixed)))
    x, y = basis.doflocs
    axis = np.flatnonzero((np.abs(x) < 1e-9) & (y < height + 1e-9))
    order = np.argsort(y[axis])
    return y[axis][order], potential[axis][order]


def mean_fields(shape, gap, ends):
    """Return the exact mean field between neighbouring distances from the first electrode."""
    nodes, weights = np.polynomial.legendre.leggauss(12)
    low, high = ends[:-1, None], ends[1:, None]
    return shape.axis_field(low + (high - low) * (nodes + 1) / 2, gap, 1.0) @ weights / 2


@pytest.mark.parametrize("gap", [0.3, 1.0, 3.0])
def test_sphere_and_plane(gap):
    height, potential = axis_potential(gap, plane_at_zero=True)
    distance = np.clip((gap - height)[::-1], 0, gap)
    field = -np.diff(potential[::-1]) / np.diff(distance)
    np.testing.assert_allclose(field, mean_fields(SPHERE_PLANE, gap, distance), rtol=5e-3)


@pytest.mark.parametrize("gap", [0.3, 1.0, 3.0])
def test_two_spheres_symmetrical_and_one_earthed(gap):
    # one at a volt and one earthed is half of opposite voltages (the middle plane at zero) and half of equal ones
    # (the middle plane free); below the plane the field of the first counts twice and that of the second is turned
    height, opposite = axis_potential(gap / 2, plane_at_zero=True)
    _, equal = axis_potential(gap / 2, plane_at_zero=False)
    distance = np.clip((gap / 2 - height)[::-1], 0, gap / 2)
    opposite_field, equal_field = (-np.diff(each[::-1]) / np.diff(distance) for each in (opposite, equal))
    exact = mean_fields(SPHERES_SYMMETRICAL, gap, distance)
    np.testing.assert_allclose(opposite_field / 2, exact, rtol=5e-3)
    exact = mean_fields(SPHERES_ONE_EARTHED, gap, distance)
    np.testing.assert_allclose((opposite_field + equal_field) / 2, exact, rtol=5e-3)
    beyond = mean_fields(SPHERES_ONE_EARTHED, gap, gap - distance[::-1])[::-1]
    np.testing.assert_allclose((opposite_field - equal_field) / 2, beyond, rtol=5e-3)

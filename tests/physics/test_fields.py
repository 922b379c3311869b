"""Axis fields against exact limits, textbook utilization factors, printed sphere tables and Russell's factors."""

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from service.errors import OutsideValidity
from service.physics.fields import (
    COAXIAL_CYLINDERS,
    CONCENTRIC_SPHERES,
    CYLINDER_PLANE,
    HYPERBOLOID_PLANE,
    PARALLEL_CYLINDERS,
    SPHERE_PLANE,
    SPHERES_ONE_EARTHED,
    SPHERES_SYMMETRICAL,
)

SPHERE_PAIRS = (SPHERES_SYMMETRICAL, SPHERES_ONE_EARTHED, SPHERE_PLANE)
SHAPES = (
    COAXIAL_CYLINDERS,
    CONCENTRIC_SPHERES,
    PARALLEL_CYLINDERS,
    CYLINDER_PLANE,
    HYPERBOLOID_PLANE,
    *SPHERE_PAIRS,
)
WIDE_RANGE = np.logspace(-4, 2, 25)


@pytest.mark.parametrize(
    ("shape", "ratio", "factor"),
    [
        (SPHERES_SYMMETRICAL, 1.0, 0.7358),  # Schwaiger factor, textbooks on high voltage (worked example sphere_eta)
        (SPHERE_PLANE, 1.0, 0.5649),  # the same, sphere and plane
        (COAXIAL_CYLINDERS, np.e - 1, 0.581977),  # 1 / (e - 1), the most favourable ratio of radii
    ],
)
def test_utilization_factors_of_the_textbooks(shape, ratio, factor):
    assert shape.utilization_factor(ratio, 1.0) == pytest.approx(factor, rel=1e-3)


@pytest.mark.parametrize(
    ("shape", "column"),
    [
        (SPHERES_SYMMETRICAL, "utilization_symmetrical"),
        (SPHERES_ONE_EARTHED, "utilization_one_earthed"),
        (SPHERE_PLANE, "utilization_sphere_plane"),
    ],
)
def test_every_row_of_the_table_of_sphere_field_factors(reference, shape, column):
    # computed with a long image series by others; six digits are printed
    table = reference.table("sphere-field-factors")
    np.testing.assert_allclose(shape.utilization_factor(table["gap_over_radius"], 1.0), table[column], rtol=6e-6)


@pytest.mark.parametrize(
    ("shape", "column", "russell"),
    [
        (SPHERES_SYMMETRICAL, "factor_symmetrical", "russell_symmetrical"),
        (SPHERES_ONE_EARTHED, "factor_one_earthed", "russell_one_earthed"),
    ],
)
def test_factors_of_two_spheres_agree_with_the_table_and_with_russell(reference, shape, column, russell):
    table = reference.table("sphere-field-factor-f")
    factor = 1 / shape.utilization_factor(table["spacing_over_radius"], 1.0)
    np.testing.assert_allclose(factor, table[column], atol=0.6e-4)
    # Russell's table has three decimals and is quoted from memory: one unit of the last is allowed
    np.testing.assert_allclose(factor, table[russell], atol=1.1e-3)


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.title)
def test_the_field_along_the_axis_adds_up_to_one_volt(shape):
    nodes, weights = np.polynomial.legendre.leggauss(300)
    gap = WIDE_RANGE[:, None]
    # the electrode of highest field has a scale of its own: even steps of the logarithm from both ends
    half = np.log1p(gap / 2)
    reach = half * (nodes + 1) / 2
    z, step = np.expm1(reach), half * np.exp(reach) * weights / 2
    both = shape.axis_field(z, gap, 1.0) + shape.axis_field(gap - z, gap, 1.0)
    np.testing.assert_allclose(np.sum(both * step, axis=1), 1.0, rtol=1e-6)


@pytest.mark.parametrize("shape", SPHERE_PAIRS, ids=lambda shape: shape.title)
def test_image_sums_are_converged_from_touching_to_distant_spheres(shape, monkeypatch):
    z = np.linspace(0, 1, 9) * WIDE_RANGE[:, None]
    short = shape.axis_field(z, WIDE_RANGE[:, None], 1.0)
    monkeypatch.setattr("service.physics.fields.EXPLICIT_TERMS", 600)
    np.testing.assert_allclose(short, shape.axis_field(z, WIDE_RANGE[:, None], 1.0), rtol=1e-6)


@pytest.mark.parametrize("ratio", [0.05, 0.5, 1.0, 3.0])
def test_image_sums_agree_with_plain_image_charges(ratio):
    # the definition, charge by charge: the image of q at distance b from a centre is -q R/b at R^2/b from it
    gap, centre = ratio, 2 + ratio
    charges, places, expected = [1.0], [0.0], 0.0
    for _ in range(400):
        charges.append(-charges[-1] / (centre - places[-1]))
        places.append(1 / (centre - places[-1]))
    # even ones lie in the first sphere, odd ones in the second, mirrored; the field at the first sphere's surface
    for order, (charge, place) in enumerate(zip(charges, places, strict=True)):
        at = place if order % 2 == 0 else centre - place
        expected += charge / (1 - at) ** 2 * np.sign(1 - at)
    assert SPHERES_ONE_EARTHED.maximum_field(gap, 1.0) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.title)
def test_a_huge_electrode_makes_a_uniform_field(shape):
    np.testing.assert_allclose(shape.axis_field([0, 0.3e-3, 1e-3], 1e-3, 1e4), 1e3, rtol=1e-6)


def test_distant_spheres_keep_the_field_of_one_sphere_alone():
    # one volt on a lonely sphere of 1 m: 1 V/m; two of opposite sign share the volt
    assert SPHERES_ONE_EARTHED.maximum_field(1e6, 1.0) == pytest.approx(1.0, rel=1e-5)
    assert SPHERES_SYMMETRICAL.maximum_field(1e6, 1.0) == pytest.approx(0.5, rel=1e-5)
    assert SPHERE_PLANE.maximum_field(1e6, 1.0) == pytest.approx(1.0, rel=1e-5)


def test_closed_forms_at_the_surface_as_they_are_printed():
    r, d = 0.3, 1.7
    axis, height, h = d + 2 * r, d + r, np.sqrt(d / (d + r))
    printed = {  # table field-factor-formulas: parallel cylinders, cylinder and plane, hyperboloid and plane
        PARALLEL_CYLINDERS: np.sqrt((axis + 2 * r) / (axis - 2 * r)) / (2 * r * np.arccosh(axis / (2 * r))),
        CYLINDER_PLANE: np.sqrt((height + r) / (height - r)) / (r * np.arccosh(height / r)),
        HYPERBOLOID_PLANE: 2 / (r * h * np.log((1 + h) / (1 - h))),
        COAXIAL_CYLINDERS: 1 / (r * np.log((r + d) / r)),
        CONCENTRIC_SPHERES: (r + d) / (r * d),
    }
    for shape, value in printed.items():
        assert shape.maximum_field(d, r) == pytest.approx(value, rel=1e-12)


def test_a_fine_point_tends_to_the_approximation_of_the_textbooks():
    # 2 V / (r ln(4 d / r)) for d much greater than r
    assert HYPERBOLOID_PLANE.maximum_field(0.1, 1e-6) == pytest.approx(2 / (1e-6 * np.log(4e5)), rel=1e-4)


def test_parallel_wires_have_the_lowest_surface_field_at_an_axis_distance_of_5_85_radii(reference):
    # thicker wires at the same axis distance would raise the field below this ratio: corona no longer comes first
    def surface_field(ratio):
        return float(PARALLEL_CYLINDERS.maximum_field(1 - 2 / ratio, 1 / ratio))

    best = minimize_scalar(surface_field, bounds=(2.5, 20), method="bounded").x
    constants = reference.table("peek-constants").where(name="parallel-wires-corona-first")
    assert best == pytest.approx(constants["value"][0], abs=0.01)


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.title)
def test_the_lowest_field_is_where_the_shape_says(shape):
    gap, radius = np.array([0.01, 0.3, 1.0, 5.0]), np.ones(4)
    stated = shape.law(shape.lowest(gap, radius), gap, radius)
    profile = shape.axis_field(np.linspace(0, 1, 4001)[:, None] * gap, gap, radius)
    np.testing.assert_allclose(stated, profile.min(axis=0), rtol=2e-6)


@pytest.mark.parametrize(("distance", "gap", "radius"), [(2e-3, 1e-3, 1.0), (-1e-6, 1e-3, 1.0), (0, 0, 1), (0, 1, -1)])
def test_points_outside_the_gap_and_lengths_that_are_none_are_refused(distance, gap, radius):
    with pytest.raises(OutsideValidity):
        SPHERE_PLANE.axis_field(distance, gap, radius)

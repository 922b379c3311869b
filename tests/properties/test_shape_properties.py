"""What theory asks of fields and of the criterion, on random sizes, pressures and shapes."""

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.methods.laws import exponent_law, humidity_laws, ionization_fits
from service.physics.corrections import Air, carried_to
from service.physics.criterion import inception
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
from service.reference import load

SHAPES = {
    shape.title: shape
    for shape in (
        COAXIAL_CYLINDERS,
        CONCENTRIC_SPHERES,
        PARALLEL_CYLINDERS,
        CYLINDER_PLANE,
        HYPERBOLOID_PLANE,
        SPHERES_SYMMETRICAL,
        SPHERES_ONE_EARTHED,
        SPHERE_PLANE,
    )
}
quick = settings(max_examples=40, deadline=None)
shapes = st.sampled_from(list(SHAPES.values()))
gaps = st.floats(-4.0, 0.5).map(lambda exponent: 10.0**exponent)
radii = st.floats(-4.5, 1.0).map(lambda exponent: 10.0**exponent)
pressures = st.floats(1e4, 1e6)
names = st.sampled_from(["quadratic", "linear-branch", "calibrated"])


@cache
def reference():
    return load()


@cache
def fits():
    return ionization_fits(reference())


def volts(shape, gap, radius, pressure, name):
    return inception(shape, gap, radius, pressure, fits()[name]).voltage


@quick
@given(shapes, gaps, radii)
def test_the_highest_field_is_at_the_first_electrode_and_none_is_below_the_stated_lowest(shape, gap, radius):
    # 1e-6 is the stated accuracy of the image sums
    profile = shape.axis_field(np.linspace(0, 1, 101) * gap, gap, radius)
    assert profile.max() <= profile[0] * (1 + 1e-6)
    lowest = shape.law(shape.lowest(np.array([gap]), np.array([radius])), np.array([gap]), np.array([radius]))
    assert profile.min() >= lowest[0] * (1 - 1e-5)
    assert 0 < shape.utilization_factor(gap, radius) <= 1 + 1e-6


@quick
@given(shapes, gaps, radii, st.floats(0.01, 100.0))
def test_fields_scale_with_size(shape, gap, radius, scale):
    scaled = shape.maximum_field(gap * scale, radius * scale)
    assert scaled == pytest.approx(shape.maximum_field(gap, radius) / scale, rel=1e-9)


@quick
@given(shapes, gaps, radii, st.floats(1.01, 10.0))
def test_a_wider_gap_is_less_uniform_and_a_larger_radius_more(shape, gap, radius, more):
    # 1e-6 is the stated accuracy of the image sums
    factor = shape.utilization_factor(gap, radius)
    assert shape.utilization_factor(gap * more, radius) <= factor * (1 + 1e-6)
    assert shape.utilization_factor(gap, radius * more) >= factor * (1 - 1e-6)


@quick
@given(shapes, gaps, radii, pressures, st.floats(0.1, 10.0), names)
def test_inception_depends_on_size_times_pressure_only(shape, gap, radius, pressure, scale, name):
    same = volts(shape, gap * scale, radius * scale, pressure / scale, name)
    assert same == pytest.approx(volts(shape, gap, radius, pressure, name), rel=1e-8)


@quick
@given(shapes, gaps, radii, pressures, st.floats(1.02, 5.0), names)
def test_denser_gas_and_wider_gaps_take_more_voltage(shape, gap, radius, pressure, more, name):
    start = volts(shape, gap, radius, pressure, name)
    assert volts(shape, gap, radius, pressure * more, name) > start
    # distant spheres end at the voltage of one alone: equal there within the accuracy of the integral
    assert volts(shape, gap * more, radius, pressure, name) >= start * (1 - 1e-5)


@quick
@given(shapes, gaps, radii, pressures)
def test_no_gap_takes_more_than_a_uniform_one(shape, gap, radius, pressure):
    uniform = fits()["quadratic"].uniform_field_voltage(gap, pressure)
    assert volts(shape, gap, radius, pressure, "quadratic") <= uniform * (1 + 1e-6)


@quick
@given(shapes, gaps, pressures, names)
def test_huge_electrodes_give_the_uniform_field(shape, gap, pressure, name):
    uniform = fits()[name].uniform_field_voltage(gap, pressure)
    assert volts(shape, gap, gap * 1e5, pressure, name) == pytest.approx(uniform, rel=1e-3)


@quick
@given(
    st.floats(0.005, 5.0),
    st.floats(0.1, 2.5),
    st.floats(0.6, 1.2),
    st.floats(0.0, 30e-3),
    st.sampled_from(["direct", "alternating", "impulse", "rod-rod-direct"]),
)
def test_the_atmospheric_correction_can_be_undone(length, relative_gradient, density, humidity, kind):
    law, exponents = humidity_laws(reference())[kind], exponent_law(reference())
    standard, here = Air(1.0, 11e-3), Air(density, humidity)
    voltage = relative_gradient * 500e3 * length
    there = carried_to(voltage, length, standard, here, law, exponents)
    back = carried_to(there.voltage, length, here, standard, law, exponents)
    assert back.voltage == pytest.approx(voltage, rel=1e-8)
    k = law.factor(humidity / density)[0]
    assert min(1, density) * min(1, k) * (1 - 1e-9) <= there.factor <= max(1, density) * max(1, k) * (1 + 1e-9)

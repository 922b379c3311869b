"""Guidance above 30 kHz grows with voltage, frequency and altitude; a round layer of great radius is a plane one."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import OutsideValidity
from service.physics.layers import coaxial_layers, plane_layers
from service.standards.clearance import ClearanceTables, requirements
from service.standards.creepage import CreepageTables, Path
from service.standards.creepage import requirements as creepages
from service.standards.requirement import ClearanceQuestion, governing
from tests.asking import SHIPPED

REFERENCE = SHIPPED.registry.reference
AIR, SURFACE = ClearanceTables.of(REFERENCE), CreepageTables(REFERENCE)
QUICK = settings(max_examples=60, deadline=None)
SLACK = 1 + 1e-9
DEGREES = st.integers(1, 3)
GROWTH = st.floats(1.0, 3.0)
LADDERS = [*AIR.impulse.values(), *AIR.peak.values(), AIR.fast, *SURFACE.columns.values(), *SURFACE.fast.values()]


def clearance_of(degree, **rest):
    return governing(requirements(ClearanceQuestion(degree, "basic", **rest), AIR)).distance


def creepage_of(degree, frequency, peak):
    path = Path(50.0, degree, "basic", "IIIa", frequency=frequency, peak_voltage=peak)
    return governing(creepages(path, SURFACE)).distance


@QUICK
@given(st.floats(100.0, 2000.0), GROWTH, DEGREES, st.floats(31e3, 10e6))
def test_more_voltage_at_high_frequency_never_needs_less_air(peak, factor, degree, frequency):
    first, second = (
        clearance_of(degree, recurring_peak_voltage=volts, frequency=frequency)
        for volts in (peak, min(peak * factor, 2000.0))
    )
    assert first <= second * SLACK
    assert clearance_of(degree, recurring_peak_voltage=peak) <= first * SLACK


@QUICK
@given(st.floats(100.0, 50e3), DEGREES, st.floats(31e3, 5e6), GROWTH)
def test_higher_frequency_in_a_homogeneous_field_never_needs_less_air(peak, degree, frequency, factor):
    slow = clearance_of(degree, recurring_peak_voltage=peak, homogeneous=True)
    first, second = (
        clearance_of(degree, recurring_peak_voltage=peak, frequency=one, homogeneous=True)
        for one in (frequency, min(frequency * factor, 10e6))
    )
    assert slow <= first * SLACK
    assert first <= second * SLACK
    assert second <= 1.25 * slow * SLACK + 1e-6  # rounding up to a micrometre


@QUICK
@given(st.floats(100.0, 600.0), GROWTH, DEGREES, st.floats(31e3, 1e6))
def test_high_frequency_creepage_grows_with_voltage_and_pollution(peak, factor, degree, frequency):
    higher = min(peak * factor, 700.0)
    here = creepage_of(degree, frequency, peak)
    assert here <= creepage_of(degree, frequency, higher) * SLACK
    assert here <= creepage_of(min(degree + 1, 3), frequency, peak) * SLACK


@QUICK
@given(st.floats(1801.0, 20e3), DEGREES, st.floats(31e3, 3e6))
def test_beyond_the_high_frequency_table_nothing_is_answered(peak, degree, frequency):
    with pytest.raises(OutsideValidity):
        creepage_of(degree, frequency, peak)


@pytest.mark.parametrize("ladder", LADDERS)
def test_a_column_rises_with_its_voltage_and_is_read_exactly_at_its_rows(ladder):
    assert (np.diff(ladder.arguments) > 0).all()
    assert (np.diff(ladder.values) >= 0).all()
    assert [ladder.interpolated(float(x)).value for x in ladder.arguments] == list(ladder.values)


@QUICK
@given(st.floats(1.0, 10.0), st.floats(1e-5, 1e-3), st.floats(1e-6, 1e-3))
def test_a_round_layer_of_great_radius_is_a_plane_one(permittivity, thickness, film):
    plane = plane_layers(1e3, thickness, permittivity, film)
    wire = coaxial_layers(1e3, 1e3, thickness, permittivity, film)
    assert float(wire.film) == pytest.approx(float(plane.film), rel=1e-4)
    assert float(wire.film_voltage) == pytest.approx(float(plane.film_voltage), rel=1e-4)

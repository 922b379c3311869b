"""What theory asks of breakdown in gases, on random atmospheres, gaps and coefficients."""

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.physics.atmosphere import (
    absolute_humidity,
    absolute_humidity_at_dew_point,
    dew_point,
    relative_humidity,
    standard_pressure,
)
from service.physics.formulas import microgap_range, vacuum_voltage
from service.physics.ionization import IonizationTable
from service.physics.townsend import (
    breakdown_voltage,
    bridged_exponent,
    left_branch_pd,
    left_branch_voltage,
    minimum,
    pd_limits,
    townsend_exponent,
)
from service.reference import load

quick = settings(max_examples=40, deadline=None)
temperatures = st.floats(200.0, 400.0)
gammas = st.floats(1e-6, 0.3)
shares = st.floats(0.0, 1.0)
GASES = {"air": "SIGLO N2 + Morgan O2 (LXCat)", "helium": "SIGLO (LXCat, 4 Jun 2013)", "hydrogen": "Morgan (LXCat)"}


@cache
def table_of(gas):
    rows = load().table("ionization-alpha-over-n").where(gas_key=gas, cross_sections=GASES[gas])
    return IonizationTable.from_columns(*(rows[name] for name in ("reduced_field", "ionization", "attachment")))


def between(low, high, share):
    return float(np.exp((1 - share) * np.log(low) + share * np.log(high)))


def ends(table, exponent):
    low, high = pd_limits(table, exponent)
    return low, min(high, 1e4)


@quick
@given(st.sampled_from(sorted(GASES)), gammas)
def test_the_voltage_falls_to_the_minimum_and_rises_after_it(gas, gamma):
    table, exponent = table_of(gas), float(townsend_exponent(gamma))
    low, high = ends(table, exponent)
    pd, volts = minimum(table, exponent)
    left, right = np.geomspace(low, pd, 60), np.geomspace(pd, high, 60)
    assert np.all(np.diff(breakdown_voltage(left, table, exponent)) < 0)
    assert np.all(np.diff(breakdown_voltage(right, table, exponent)) > 0)
    assert breakdown_voltage(pd, table, exponent) == pytest.approx(volts, rel=1e-9)


@quick
@given(gammas, gammas)
def test_more_secondaries_lower_the_minimum(one, other):
    table = table_of("air")
    first, second = (minimum(table, float(townsend_exponent(gamma)))[1] for gamma in sorted((one, other)))
    assert first >= second


@quick
@given(gammas)
def test_the_electrons_of_an_avalanche_release_one_that_starts_the_next(gamma):
    assert gamma * np.expm1(townsend_exponent(gamma)) == pytest.approx(1.0, rel=1e-9)


@quick
@given(st.floats(0.1, 1e5), st.floats(0.1, 1e5))
def test_the_bridge_between_two_exponents_never_falls_and_never_leaves_them(one, other):
    near, far = (0.7, 4.16), (133.3, 6.91)
    first, second = (float(bridged_exponent(pd, near, far)) for pd in sorted((one, other)))
    assert near[1] <= first <= second <= far[1]


@quick
@given(st.floats(1e-3, 1e-2), st.floats(2e3, 2e5), temperatures, st.floats(0.5, 2.0))
def test_gaps_of_one_density_times_distance_break_down_alike(gap, pressure, temperature, factor):
    table, exponent = table_of("air"), 6.0
    volts = [
        float(breakdown_voltage(p * d * 293.15 / T, table, exponent))
        for d, p, T in ((gap, pressure, temperature), (gap * factor, pressure / factor, temperature))
    ]
    assert volts[0] == pytest.approx(volts[1], rel=1e-12)
    warmer = float(breakdown_voltage(pressure * gap * 293.15 / (temperature * factor), table, exponent))
    thinner = float(breakdown_voltage(pressure / factor * gap * 293.15 / temperature, table, exponent))
    assert warmer == pytest.approx(thinner, rel=1e-12)


@quick
@given(st.floats(1.0, 50.0), st.floats(0.1, 10.0), st.floats(100.0, 600.0))
def test_the_left_branch_is_inverse_and_starts_at_the_minimum(ratio, scale, least):
    pd = left_branch_pd(least * ratio, least, scale)
    assert pd <= scale * (1 + 1e-12)
    assert left_branch_voltage(pd, least, scale) == pytest.approx(least * ratio, rel=1e-6)


@quick
@given(st.floats(1e-8, 1e-5), st.floats(1e-8, 1e-5))
def test_a_wider_micro_gap_never_breaks_down_earlier(one, other):
    first, second = (microgap_range(gap, 65e6, 350e6, 304.0, 360.0) for gap in sorted((one, other)))
    assert all(a <= b for a, b in zip(first, second, strict=True))
    assert first.low <= first.value <= first.high


@quick
@given(st.floats(1e-5, 6.0), st.floats(1e-5, 6.0))
def test_a_wider_vacuum_gap_never_breaks_down_earlier_and_never_more_than_in_proportion(one, other):
    small, large = sorted((one, other))
    ratio = vacuum_voltage(large, 4e12, 0.76e-3) / vacuum_voltage(small, 4e12, 0.76e-3)
    assert 1.0 - 1e-12 <= ratio <= large / small * (1 + 1e-12)


@quick
@given(st.floats(-4990.0, 20000.0), st.floats(-4990.0, 20000.0))
def test_pressure_never_rises_with_altitude(one, other):
    low, high = sorted((one, other))
    assert standard_pressure(low) >= standard_pressure(high)


@quick
@given(st.floats(1e-3, 1.0), temperatures)
def test_humidity_comes_back_from_relative_humidity_and_from_dew_point(share, temperature):
    held = absolute_humidity(share, temperature)
    assert relative_humidity(held, temperature) == pytest.approx(share, rel=1e-12)
    dew = np.minimum(dew_point(held, temperature), temperature)
    assert absolute_humidity_at_dew_point(dew, temperature) == pytest.approx(held, rel=1e-6)

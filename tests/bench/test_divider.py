"""The divider network, against the general mesh equations and limiting cases."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.bench.divider import Divider, loading

EXAMPLE = Divider(100e6, 100e3, 3e-12, 3e-9)


def test_the_direct_ratio_is_that_of_the_resistors():
    assert EXAMPLE.direct_ratio == pytest.approx(1001.0, rel=1e-12)


def test_the_fast_ratio_is_that_of_the_capacitors():
    assert EXAMPLE.fast_ratio == pytest.approx(1001.0, rel=1e-12)


def test_equal_time_constants_are_compensated_and_the_ratio_does_not_move():
    assert EXAMPLE.compensated
    assert EXAMPLE.time_constants == pytest.approx(1.0)
    for frequency in (0.0, 50.0, 1e3, 1e6):
        assert EXAMPLE.ratio(frequency) == pytest.approx(1001.0, rel=1e-9)


def test_a_stray_capacitance_across_the_lower_arm_alone_is_not_compensated():
    divider = Divider(100e6, 100e3, 3e-12, 6e-9)
    assert not divider.compensated
    assert divider.ratio(1e6) == pytest.approx(2001.0, rel=1e-3)


@settings(max_examples=50)
@given(
    r1=st.floats(1e6, 1e10),
    r2=st.floats(1e3, 1e6),
    c1=st.floats(1e-13, 1e-11),
    c2=st.floats(1e-12, 1e-8),
    frequency=st.floats(1.0, 1e6),
)
def test_the_ratio_solves_the_node_equation_of_the_network(r1, r2, c1, c2, frequency):
    jw = 2j * math.pi * frequency
    upper, lower = 1 / r1 + jw * c1, 1 / r2 + jw * c2
    # node voltage by nodal analysis: (upper + lower) v = upper * 1
    node = np.linalg.solve(np.array([[upper + lower]]), np.array([upper]))[0]
    assert Divider(r1, r2, c1, c2).ratio(frequency) == pytest.approx(1 / abs(node), rel=1e-9)


@settings(max_examples=30)
@given(frequency=st.floats(1.0, 1e7))
def test_the_ratio_lies_between_its_two_ends(frequency):
    divider = Divider(1e9, 1e6, 1e-12, 4e-10)
    ends = sorted([divider.direct_ratio, divider.fast_ratio])
    assert ends[0] * (1 - 1e-9) <= divider.ratio(frequency) <= ends[1] * (1 + 1e-9)


def test_ten_elements_share_the_voltage_of_the_upper_arm():
    divider = Divider(100e6, 100e3, elements=10)
    assert 12e3 * divider.element_voltages(0.0).sum() == pytest.approx(12e3 * 100e6 / 100.1e6)


def test_without_capacitances_nothing_is_said_of_fast_voltages():
    divider = Divider(100e6, 100e3)
    assert divider.fast_ratio is None
    assert divider.compensated is None
    assert divider.time_constants is None


def test_a_divider_takes_the_power_of_the_rms_voltage():
    # 10 kV rms across 100.1 Mohm, of resistors alone, as 10 kV direct: U squared over R
    bare = Divider(100e6, 100e3, None, None)
    sine, direct = loading(bare, 50.0, 10e3 * math.sqrt(2), "ac"), loading(bare, 0.0, 10e3, "dc")
    assert sine["power"].value == pytest.approx(1e8 / 100.1e6)
    assert direct["power"].value == pytest.approx(1e8 / 100.1e6)

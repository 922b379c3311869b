"""The divider network, against the general mesh equations and limiting cases."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.bench.divider import Divider, carried, loading

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


def test_a_single_element_bears_the_whole_upper_arm_and_no_more():
    # 1 Mohm over 0.25 Mohm: four fifths of the input at direct voltage, and without strays every part of it alike
    bare = Divider(1e6, 0.25e6)
    assert bare.element_voltages(0.0) == pytest.approx([0.8])
    assert bare.unevenness(50.0) == pytest.approx(1.0)


def test_the_load_is_that_of_the_arms_in_series():
    # 3 pF and 3 nF in series: 9 / 3.003 = 2.997 pF; at 1 MHz they carry 10 kV x 2 pi x 1 MHz x 2.997 pF = 188.3 mA
    found = loading(EXAMPLE, 1e6, 10e3, "lightning-impulse")
    assert found["capacitance"].value == pytest.approx(2.997e-12, rel=1e-4)
    assert found["current"].value == pytest.approx(0.1883, rel=1e-3)
    assert "power" not in found  # a mean power of an impulse is none
    assert found["resistance"].value == pytest.approx(100.1e6)


def test_a_result_carries_only_where_every_stray_that_may_be_there_says_so():
    # own chain of ten elements: the error at 1 kHz grows with the strays; where one end alone keeps within 1 %, it
    # cannot be told
    plain = Divider(100e6, 100e3, 3e-12, 3e-9, 10)
    off = {stray: abs(Divider(100e6, 100e3, 3e-12, 3e-9, 10, stray).difference(1e3, 0.0)) for stray in (0.1e-12, 5e-12)}
    assert off[0.1e-12] < 0.01 < off[5e-12]
    small, large = (Divider(100e6, 100e3, 3e-12, 3e-9, 10, stray) for stray in off)
    assert carried(plain, [small], 1e3, 0.0)[0] == "yes"
    assert carried(plain, [large], 1e3, 0.0)[0] == "no"
    assert "does not carry" not in carried(plain, [small], 1e3, 0.0)[1]
    assert "does not carry" in carried(plain, [large], 1e3, 0.0)[1]
    assert carried(plain, [small, large], 1e3, 0.0)[0] == "cannot-tell"
    assert carried(plain, [], 1e3, 0.0)[0] == "cannot-tell"
    # with no frequency named all up to 10 MHz count, where capacitors alone divide: sinh g / g - 1, g^2 = Ce / C, is
    # 0.6 % with 0.1 pF and 1.7 % with 0.3 pF
    assert carried(plain, [small], None, 0.0)[0] == "yes"
    assert carried(plain, [Divider(100e6, 100e3, 3e-12, 3e-9, 10, 0.3e-12)], None, 0.0)[0] == "no"

"""The power balance of a claimed rating; energy conservation is its only source."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.bench.power import JUDGES, Balance, Typed
from service.bench.spark import Claim


def balance_of(volts, amperes, high, current, repetition=None):
    """Numbers known to every digit, of a direct voltage."""
    return Balance(Typed(volts), Typed(amperes), Claim(high, 0.0, "peak"), Typed(current), repetition)


CLAIM = balance_of(24.0, 2.0, 12e3, 30e-3, 1e3)


def test_forty_eight_watts_go_in_and_three_hundred_and_sixty_are_claimed():
    assert CLAIM.input_power == pytest.approx(48.0)
    assert CLAIM.claimed_output_power == pytest.approx(360.0)
    assert CLAIM.largest_output_current == pytest.approx(4e-3)


def test_the_claim_is_impossible_as_an_average_and_open_as_a_pulse():
    verdicts = {name: judge(CLAIM)[0] for name, judge in JUDGES.items()}
    assert verdicts == {"average-at-voltage": "impossible", "short-circuit": "cannot-tell", "pulse": "cannot-tell"}
    assert "at most 4 mA" in JUDGES["average-at-voltage"](CLAIM)[1]


def test_the_energy_of_a_pulse_is_what_goes_in_between_two_pulses():
    assert CLAIM.largest_pulse_energy == pytest.approx(0.048)
    assert CLAIM.largest_share_of_time == pytest.approx(48 / 360)
    assert balance_of(24.0, 2.0, 12e3, 30e-3).largest_pulse_energy is None


@settings(max_examples=50)
@given(
    volts=st.floats(1.0, 1e3), amperes=st.floats(1e-3, 100.0), high=st.floats(100.0, 1e6), share=st.floats(0.01, 0.999)
)
def test_no_claim_within_the_input_power_is_called_impossible(volts, amperes, high, share):
    balance = balance_of(volts, amperes, high, share * volts * amperes / high)
    assert {judge(balance)[0] for judge in JUDGES.values()} == {"possible"}


@settings(max_examples=50)
@given(
    volts=st.floats(1.0, 1e3), amperes=st.floats(1e-3, 100.0), high=st.floats(100.0, 1e6), excess=st.floats(1.01, 1e3)
)
def test_every_average_beyond_the_input_power_is_impossible(volts, amperes, high, excess):
    balance = balance_of(volts, amperes, high, excess * volts * amperes / high)
    assert JUDGES["average-at-voltage"](balance)[0] == "impossible"
    assert balance.largest_output_current < balance.output_current.value

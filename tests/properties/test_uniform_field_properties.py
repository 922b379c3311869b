"""What theory asks of plates in every gas, through the evaluator: similarity, branches, hand-overs, bands."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.answers.evaluate import evaluate
from service.methods import Case
from tests.asking import SHIPPED

quick = settings(max_examples=60, deadline=None)
PURE = [
    "air",
    "nitrogen",
    "oxygen",
    "hydrogen",
    "helium",
    "neon",
    "argon",
    "krypton",
    "xenon",
    "carbon-dioxide",
    "methane",
    "sulfur-hexafluoride",
]
MIXED = ["sulfur-hexafluoride-nitrogen", "sulfur-hexafluoride-carbon-dioxide"]
pds = st.floats(-0.5, 5.0).map(lambda exponent: 10.0**exponent)
pressures = st.floats(2.0, 5.9).map(lambda exponent: 10.0**exponent)
MINIMUM_OF_AIR = 338.09


def answer(gas, gap, pressure, temperature=293.15, *, fraction=None, **more):
    gap, pressure, temperature = np.broadcast_arrays(
        *(np.atleast_1d(np.asarray(one, float)) for one in (gap, pressure, temperature))
    )
    case = Case(
        gap,
        pressure,
        temperature,
        np.full(gap.shape, 8.5e-3 if gas == "air" else np.nan),
        np.zeros(gap.shape),
        gas=gas,
        fraction=None if fraction is None else np.full(gap.shape, fraction),
        waveform="dc",
    )
    return evaluate(SHIPPED.registry.arrangement("uniform-field"), case, **more)


@quick
@given(st.sampled_from(PURE), pds, pressures, pressures, st.floats(250.0, 450.0))
def test_where_similarity_holds_only_the_product_counts(gas, pd, one, other, temperature):
    here = answer(gas, pd / one, one)
    there = answer(gas, pd / other, other)
    warm = answer(gas, pd / one, one * temperature / 293.15, temperature)
    for found in (there, warm):
        if here.answered[0] and found.answered[0]:
            methods = (here.preferred().method, found.preferred().method)
            if all(method.similarity for method in methods):
                ends = ("high",) if methods[0].kind == "bracket" else ("value", "high")
                for end in ends:
                    # the low end is left out: at high pressure and field the surface counts beside the gas
                    assert getattr(found, end)[0] == pytest.approx(getattr(here, end)[0], rel=1e-9)


@quick
@given(st.sampled_from([*PURE, *MIXED, "tetrafluoromethane", "vacuum"]), pds, pressures, st.floats(0.06, 0.49))
def test_a_value_lies_inside_its_band_and_every_method_answers_with_numbers(gas, pd, pressure, fraction):
    pressure = 1e-3 if gas == "vacuum" else pressure
    gap = pd * 1e-3 if gas == "vacuum" else pd / pressure
    found = answer(gas, gap, pressure, fraction=fraction if gas in MIXED else None, every=True)
    for one in found.methods:
        value, low, high = one.estimate.value, one.estimate.low, one.estimate.high
        assert np.all((low > 0) & (low < high))
        assert one.method.kind == "bracket" or np.all((low < value) & (value < high))
        assert one.estimate.notes == tuple(dict.fromkeys(one.estimate.notes))


@quick
@given(st.floats(1e-5, 1.0), pressures)
def test_no_preferred_method_of_air_answers_below_the_paschen_minimum(gap, pressure):
    found = answer("air", gap, pressure)
    if found.answered[0]:
        assert found.value[0] >= MINIMUM_OF_AIR * (1 - 1e-6)


@pytest.mark.parametrize("gas", PURE)
def test_the_voltage_falls_to_one_minimum_and_rises_after_it(gas):
    pd = np.geomspace(0.1, 4e5, 4000)
    pressure = 800 * np.sqrt(pd)
    found = answer(gas, pd / pressure, pressure)
    curve = found.answered & np.isfinite(found.value)  # methane ends in a bracket
    volts = found.value[curve]
    least = int(np.argmin(volts))
    assert np.all(np.diff(volts[: least + 1]) < 0)
    assert np.all(np.diff(volts[least:]) > 0)
    assert np.flatnonzero(curve).size == np.ptp(np.flatnonzero(curve)) + 1  # no hole


@pytest.mark.parametrize("gas", [*PURE, *MIXED])
def test_at_a_hand_over_the_methods_agree_within_their_bands(gas):
    pd = np.geomspace(0.1, 4e5, 20000)
    pressure = 800 * np.sqrt(pd)
    for fraction in (0.06, 0.2, 0.4) if gas in MIXED else (None,):
        found = answer(gas, pd / pressure, pressure, fraction=fraction)
        seams = [i for i in np.flatnonzero(np.diff(found.choice)) if found.answered[[i, i + 1]].all()]
        for i in seams:
            assert found.low[i] <= found.high[i + 1]
            assert found.low[i + 1] <= found.high[i]


def test_air_has_no_jump_over_one_percent_at_either_hand_over():
    # 20 000 points: a step of the grid alone changes the voltage by less than 1e-3, but for the steep left end
    pd = np.geomspace(0.5, 10.0, 20000)
    pressure = 800 * np.sqrt(pd)
    found = answer("air", pd / pressure, pressure)
    assert len(set(found.choice)) == 3
    assert np.max(np.abs(np.diff(np.log(found.value)))) < 2e-3


@pytest.mark.parametrize("pressure", [80e3, 101.3e3, 110e3])
def test_micro_gaps_meet_paschen_s_curve_at_10_micrometres_within_a_few_percent(pressure):
    below, above = answer("air", [9.999999e-6, 10e-6], pressure).value
    assert below == pytest.approx(above, rel=0.05)


def test_micro_gaps_grow_with_the_gap_up_to_their_plateau():
    found = answer("air", np.geomspace(1e-7, 9.9e-6, 200), 101.3e3)
    for one in (found.low, found.value, found.high):
        assert np.all(np.diff(one) >= -1e-9 * one[0])
    assert found.low[-1] == pytest.approx(0.9 * MINIMUM_OF_AIR, rel=1e-3)
    assert found.high[-1] == pytest.approx(360.0)


@quick
@given(st.floats(0.05, 1.0), st.floats(0.05, 1.0), st.floats(500.0, 1e4))
def test_more_sulfur_hexafluoride_never_holds_less(one, other, pd):
    low, high = (answer(MIXED[0], pd / 1e5, 1e5, fraction=share).value[0] for share in sorted((one, other)))
    assert low <= high * (1 + 1e-9)


@quick
@given(st.floats(0.0, 30e-3), st.floats(1e-3, 0.5))
def test_humidity_never_moves_the_value_and_never_narrows_the_band(humidity, gap):
    plain = answer("air", gap, 101.3e3)
    case = Case(
        np.array([gap]),
        np.array([101.3e3]),
        np.array([303.15]),
        np.array([humidity]),
        np.zeros(1),
        waveform="dc",
    )
    wet = evaluate(SHIPPED.registry.arrangement("uniform-field"), case)
    assert 1 - wet.low[0] / wet.value[0] >= 1 - plain.low[0] / plain.value[0] - 1e-12
    assert wet.high[0] / wet.value[0] >= plain.high[0] / plain.value[0] - 1e-12

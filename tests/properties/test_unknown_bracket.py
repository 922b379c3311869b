"""The bracket of unknown electrodes: its low end never falls as the gap grows, and stays below its high end."""

from dataclasses import replace
from functools import cache
from itertools import pairwise, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.answers.evaluate import evaluate
from service.errors import OutsideValidity
from service.methods import Case
from service.methods.forms import air_townsend
from service.physics import townsend
from tests.asking import SHIPPED

SLOW = [
    ("ac", 50.0),
    ("ac", 20e3),
    ("ac", 25e3),
    ("dc", 0.0),
    ("lightning-impulse", 0.0),
    ("switching-impulse", 0.0),
    ("pulse-train", 0.0),
]
FAST = [("ac", 40e3), ("ac", 1e6), ("pulse-train", 40e3)]
AIRS = [(293.15, 8.5e-3), (263.15, 1.5e-3), (313.15, 40e-3), (243.15, np.nan)]
quick = settings(max_examples=60, deadline=None)


@cache
def minimum():
    return townsend.minimum(*air_townsend(SHIPPED.registry.reference))[0]


def answer(gaps, pressure, temperature=293.15, humidity=8.5e-3, waveform="ac", frequency=50.0):
    full = [np.broadcast_to(value, gaps.shape).astype(float) for value in (pressure, temperature, humidity, frequency)]
    return evaluate(SHIPPED.registry.arrangement("unknown"), Case(gaps, *full, waveform=waveform))


def fine_grid(pressure, temperature):
    """Gaps from 10 um to 1 m right of the Paschen minimum, with the places where tables begin, end and meet."""
    first = max(1e-5, 1.0001 * minimum() / (pressure * 293.15 / temperature))
    seams = np.array([4.2e-3, 11e-3, 0.1, 0.547])
    gaps = np.concatenate([np.geomspace(first, 1.0, 1500), seams * (1 - 1e-7), seams, seams * (1 + 1e-7)])
    return np.unique(gaps[gaps >= first])


@pytest.mark.parametrize(("waveform", "frequency"), SLOW)
@pytest.mark.parametrize(("temperature", "humidity"), AIRS)
def test_on_a_fine_grid_the_low_end_never_falls_and_stays_below_the_high_end(
    waveform, frequency, temperature, humidity
):
    for pressure in np.linspace(12e3, 105e3, 16):
        gaps = fine_grid(pressure, temperature)
        found = answer(gaps, pressure, temperature, humidity, waveform, frequency)
        assert found.answered.all()
        assert np.isnan(found.value).all()
        assert np.isfinite(found.low).all()
        assert np.all(np.diff(found.low) >= -1e-12 * found.low[1:])
        assert np.all(found.low <= 0.9 * found.high * (1 + 1e-12))
        assert np.all(np.diff(found.high) > 0)


@pytest.mark.parametrize(("waveform", "frequency"), FAST)
def test_above_30_kilohertz_the_low_end_is_no_higher_than_its_table_and_absent_beyond_it(waveform, frequency):
    # IEC 60664-4 Table 1: 0.6 kV at 0.065 mm to 2 kV at 11 mm; below it plates hold too little for it to matter
    gaps = fine_grid(101.3e3, 293.15)
    found = answer(gaps, 101.3e3, waveform=waveform, frequency=frequency)
    inside = gaps <= 11e-3 * (1 + 1e-9)
    assert np.array_equal(np.isfinite(found.low), inside)
    low = found.low[inside]
    assert np.all(np.diff(low) >= -1e-12 * low[1:])
    assert np.all(low <= 0.9 * found.high[inside] * (1 + 1e-12))
    assert low.max() == pytest.approx(2e3, rel=1e-3)


@quick
@given(
    st.floats(-5.0, -0.01),
    st.floats(1.0001, 3.0),
    st.floats(12e3, 105e3),
    st.floats(233.15, 333.15),
    st.sampled_from(SLOW),
)
def test_a_wider_gap_never_has_a_lower_low_end(exponent, more, pressure, temperature, wave):
    gaps = np.array([10**exponent, min(1.0, more * 10**exponent)])
    found = answer(gaps, pressure, temperature, np.nan, *wave)
    if found.answered.all():
        assert found.low[0] <= found.low[1] * (1 + 1e-12)
        assert found.low[1] < found.high[1]


@quick
@given(st.floats(0.5, 150.0), st.floats(1.01, 2.9), st.sampled_from(["ac", "dc", "lightning-impulse"]))
def test_more_voltage_never_needs_less_air(kilovolts, more, waveform):
    voltages = (kilovolts, kilovolts * more)
    apart = [SHIPPED.ask("gap", voltage=f"{volts}kV", waveform=waveform)["gaps"][-1] for volts in voltages]
    assert apart[0]["holds_above"] <= apart[1]["holds_above"] * (1 + 1e-9)
    assert apart[0]["sparks_below"] <= apart[1]["sparks_below"] * (1 + 1e-9)
    assert all(one["sparks_below"] < one["holds_above"] for one in apart)


def test_eight_millimetres_hold_between_6_and_27_kilovolts():
    # a point over a plane holds about 7 kV (Table A.1: 7.1 kV); needles, 9.5 kV, over 1.3 and less 10 %: 6.6 kV
    found = answer(np.array([8e-3]), 101.3e3)
    assert 6.3e3 < found.low[0] < 7.1e3
    # the uniform field, 25.8 kV, and its 3 %
    assert found.high[0] == pytest.approx(1.03 * 25.8e3, rel=2e-3)


def test_the_low_end_reaches_twelve_kilovolts_at_14_8_millimetres():
    # Table A.1: 12 kV at 18.75 mm and 80 kPa, that is 14.8 mm at 101.3 kPa; what holds it lies beyond by the scatter
    found = SHIPPED.ask("gap", "voltage=12kV")["gaps"][0]
    assert found["high"] == pytest.approx(14.8, abs=0.1)
    assert found["holds_above"] >= found["high"]


def test_the_low_end_is_table_a1_in_the_column_of_the_waveform():
    # IEC 60664-1 Table A.1, case A: 10 mm at 80 kPa and 20 degC, 7.0 kV peak, 9.1 kV impulse
    gap = np.array([10e-3])
    for waveform, volts in [("dc", 7.0e3), ("switching-impulse", 7.0e3), ("pulse-train", 7.0e3)]:
        assert answer(gap, 80e3, waveform=waveform, frequency=0.0).low[0] == pytest.approx(volts)
    assert answer(gap, 80e3, waveform="lightning-impulse", frequency=0.0).low[0] == pytest.approx(9.1e3)


def test_near_the_paschen_minimum_it_is_capped_at_nine_tenths_of_the_uniform_field():
    # Table A.1 has 0.33 to 0.44 kV from 10 to 25 um at 80 kPa; its first row lies left of the minimum
    assert minimum() > 10e-6 * 80e3
    gaps = np.array([12.5e-6, 16e-6])
    found = answer(gaps, 80e3, waveform="dc", frequency=0.0)
    plates = evaluate(SHIPPED.registry.arrangement("uniform-field"), replace(found.case))
    assert found.low == pytest.approx(0.9 * plates.low, rel=1e-12)


def test_alternating_voltage_is_held_to_the_needle_table_over_the_gap_factor_of_rods():
    # needles face needles; a needle over a plane is weaker by 1.3 (IEC 60071-2), and the table has 10 %
    gaps = np.array([4.2e-3, 8.5e-3])
    found = answer(gaps, 101.3e3)
    needles = evaluate(SHIPPED.registry.arrangement("needle-gap"), found.case)
    assert found.low == pytest.approx(0.9 * needles.value / 1.3, rel=1e-9)
    # Table A.1 reaches that of 4.2 mm at 2.8 mm already: held flat between, not falling
    short = answer(np.array([2.9e-3, 4.2e-3]), 101.3e3).low
    assert short[0] == pytest.approx(short[1], rel=1e-12)


def test_a_table_printed_for_50_hertz_bounds_50_hertz():
    # Table A.1 case A is printed for 50/60 Hz peak and for direct voltage alike; and slow crests never hold more
    gaps = np.geomspace(1e-4, 1.0, 400)
    low = {
        wave: answer(gaps, 101.3e3, waveform=wave, frequency=hertz).low for wave, hertz in SLOW if hertz in (0.0, 50.0)
    }
    assert np.all(low["ac"] <= low["dc"] * (1 + 1e-12)) or np.all(low["ac"][gaps < 0.25] <= low["dc"][gaps < 0.25])
    assert np.all(low["ac"] <= low["lightning-impulse"] * (1 + 1e-12))
    assert np.all(low["dc"] <= low["lightning-impulse"] * (1 + 1e-12))


def test_the_needle_table_is_for_alternating_voltage_only():
    gap = np.array([8e-3])
    alternating = answer(gap, 101.3e3).low[0]
    for waveform in ("dc", "pulse-train", "switching-impulse"):
        assert answer(gap, 101.3e3, waveform=waveform, frequency=0.0).low[0] > 1.05 * alternating


def test_beyond_the_end_of_its_table_it_is_the_larger_of_last_value_and_gradient_and_below_the_long_gap_laws():
    # direct voltage, 101.3 kPa: 50 kV to where 0.45 kV/mm is more; from 0.25 m on 0.9 of 0.45 kV/mm (dry: k = 0.965)
    gaps = np.array([0.1, 0.2, 1.0])
    found = answer(gaps, 101.3e3, waveform="dc", frequency=0.0).low
    assert found[:2] == pytest.approx([50e3, 90e3], rel=1e-3)
    assert 0.9 * 0.965 * 450e3 <= found[2] <= 0.9 * 450e3


@pytest.mark.parametrize(
    ("waveform", "law"),
    [
        # IEC 60071-2, memory: positive switching impulse and power frequency of a rod over a plane
        ("switching-impulse", lambda d: 3400e3 / (1 + 8 / d)),
        ("ac", lambda d: 750e3 * 2**0.5 * np.log(1 + 0.55 * d**1.2)),
        ("lightning-impulse", lambda d: 530e3 * d),
        ("dc", lambda d: 0.45e6 * d),
    ],
)
def test_no_long_gap_holds_more_than_nine_tenths_of_its_law(waveform, law):
    gaps = np.geomspace(0.25, 10.0, 60)
    # in the air of the laws, 11 g/m3
    low = answer(gaps, 101.3e3, humidity=11e-3, waveform=waveform, frequency=50.0 if waveform == "ac" else 0.0).low
    assert np.isfinite(low).all()
    assert np.all(low <= 0.9 * law(gaps) * (1 + 1e-9))
    assert np.all(low >= 0.6 * law(gaps))


def test_beyond_a_metre_the_low_end_answers_alone():
    found = answer(np.array([0.999, 1.001, 9.99, 10.01]), 101.3e3)
    assert np.isfinite(found.low).tolist() == [True, True, True, False]
    assert np.isfinite(found.high).tolist() == [True, False, False, False]
    assert found.low[1] == pytest.approx(found.low[0], rel=3e-3)


# --- dense grids over every hand-over -------------------------------------------------------------------------------


@pytest.mark.parametrize(("waveform", "frequency"), SLOW)
def test_it_is_continuous_and_monotone_in_gap_to_ten_metres_at_every_density(waveform, frequency):
    for density in (0.1, 0.3, 0.69, 0.7, 0.71, 1.0, 1.29, 1.31, 2.0, 2.1, 10.0):
        least = 1.01 * minimum() / (density * 101.3e3)
        gaps = np.geomspace(max(1e-5, least), 10.0, 3000)
        low = answer(gaps, density * 101.3e3, humidity=np.nan, waveform=waveform, frequency=frequency).low
        answered = np.isfinite(low)
        assert answered.mean() > 0.6  # plates end at 1 m, and beyond 10 bar nothing answers
        step = np.diff(low[answered]) / low[answered][1:]
        assert step.min() >= -1e-12
        assert step.max() <= 0.02


@pytest.mark.parametrize(("waveform", "frequency"), SLOW)
def test_it_is_continuous_and_monotone_in_density(waveform, frequency):
    density = np.geomspace(0.1, 9.8, 1500)
    for gap in (1e-4, 1e-3, 3.5e-3, 5e-3, 1e-2, 5e-2, 0.12, 0.3, 0.9, 3.0, 9.9):
        for humidity in (np.nan, 1e-3, 8.5e-3, 30e-3):
            low = answer(np.full(density.size, gap), density * 101.3e3, 293.15, humidity, waveform, frequency).low
            answered = np.isfinite(low)
            assert answered.mean() > 0.5
            step = np.diff(low[answered]) / low[answered][1:]
            assert step.min() >= -1e-12
            assert step.max() <= 0.02


@pytest.mark.parametrize("waveform", ["ac", "pulse-train"])
def test_it_never_rises_with_frequency_and_falls_without_a_cliff_to_30_kilohertz(waveform):
    hertz = np.geomspace(15.0, 9e6, 2000)
    for gap in (3e-5, 6e-5, 1e-4, 1e-3, 5e-3, 1.09e-2, 5e-2, 0.3, 2.0):
        low = answer(np.full(hertz.size, gap), 101.3e3, waveform=waveform, frequency=hertz).low
        there = np.isfinite(low)
        assert np.all(np.diff(low[there]) <= 1e-12 * low[there][1:])
        slow = hertz <= 30e3
        assert there[slow].all()
        # falling in proportion to log frequency: 2000 steps over 5.8 decades, 170 of them from 10 to 30 kHz
        assert np.all(-np.diff(low[slow]) <= 0.0075 * low[slow][0])
        assert np.array_equal(there[~slow], np.full((~slow).sum(), gap <= 11e-3))


def test_left_of_the_paschen_minimum_it_is_refused_with_advice():
    # plates are not advised: they hold more there than the longer path that breaks down first
    with pytest.raises(OutsideValidity, match="a longer path breaks down first"):
        SHIPPED.ask("breakdown", "gap=1mm&pressure=100Pa")


@pytest.mark.parametrize("gas", ["nitrogen", "argon", "sulfur-hexafluoride", "carbon-dioxide", "tetrafluoromethane"])
def test_in_other_gases_the_low_end_is_absent_and_the_high_end_is_the_uniform_field(gas):
    bracket, plates = (
        SHIPPED.ask("breakdown", "gap=1mm", gas=gas, electrodes=shape) for shape in (None, "uniform-field")
    )
    assert set(bracket["breakdown_voltage"]) == {"value", "high", "unit", "measure"}
    assert bracket["breakdown_voltage"]["high"] == plates["breakdown_voltage"]["high"]
    assert any("No low end" in note for note in bracket["notes"])


@pytest.mark.parametrize(("near", "far"), list(pairwise([1e-5, 1e-4, 1e-3, 1e-2, 0.1, 1.0])))
def test_the_high_end_is_the_high_end_of_the_uniform_field_in_air(near, far):
    for pressure, gap in product((101.3e3, 60e3), (near * 1.01, far)):
        if gap * pressure < 1.01 * minimum():
            continue
        case = Case(np.array([gap]), *[np.full(1, value) for value in (pressure, 293.15, 8.5e-3, 50.0)])
        plates = evaluate(SHIPPED.registry.arrangement("uniform-field"), case)
        assert evaluate(SHIPPED.registry.arrangement("unknown"), case).high[0] == plates.high[0]


# --- what is said beside the numbers --------------------------------------------------------------------------------


@pytest.mark.parametrize(("gap", "absent"), [("11mm", False), ("20mm", True)])
def test_where_no_low_end_is_known_that_is_said(gap, absent):
    # IEC 60664-4 Table 1 ends at 11 mm; of points of a batch, one is enough for the sentence
    found = SHIPPED.ask("breakdown", f"gap={gap}&frequency=40kHz")
    assert ("low" not in found["breakdown_voltage"]) is absent
    assert any("No low end" in note for note in found["notes"]) is absent
    assert found["method"]["row"].startswith("low end: none") is absent
    both = answer(np.array([10e-3, 20e-3]), 101.3e3, frequency=40e3)
    assert any("No low end" in note for one in both.methods for note in one.estimate.notes)


def test_in_thin_air_it_is_said_from_which_gap_on_the_bracket_holds():
    # the Paschen minimum of air lies at 0.55 to 0.75 Torr cm in textbooks, 0.73 to 1.0 Pa m: the larger one is told
    found = SHIPPED.ask("breakdown", "gap=2mm&pressure=5kPa")
    [said] = [note for note in found["notes"] if "left of the Paschen minimum" in note]
    assert 0.73 <= 5.0 * float(said.split("about ")[1].split(" mm")[0]) <= 1.0
    assert not any("Paschen minimum" in note for note in SHIPPED.ask("breakdown", "gap=2mm&pressure=21kPa")["notes"])


def test_beyond_the_needle_table_the_low_end_rises_by_the_gradient_of_streamers():
    # positive streamers need 0.45 to 0.5 kV/mm: common practice, no source; the table ends at 547 mm
    low = answer(np.array([0.6, 0.8, 1.0]), 101.3e3, humidity=np.nan).low
    assert np.diff(low) == pytest.approx(0.45e6 * 0.2, rel=1e-3)


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("gap=1cm", ()),
        ("gap=1cm&frequency=10kHz", ()),
        ("gap=1cm&frequency=20kHz", ("falls steeply",)),
        ("gap=1cm&frequency=40kHz", ()),
        ("gap=1cm&pressure=45kPa", ("scaled by density",)),
        ("gap=1cm&pressure=1.9bar", ()),
        ("gap=1cm&pressure=2.2bar", ("may break down at inception",)),
    ],
)
def test_what_the_low_end_does_not_know_is_said_where_it_matters(query, words):
    notes = SHIPPED.ask("breakdown", query)["notes"]
    every = ("falls steeply", "scaled by density", "may break down at inception")
    assert tuple(one for one in every if any(one in note for note in notes)) == words


def test_of_many_points_one_in_thin_air_is_enough_to_say_so():
    found = answer(np.array([0.01, 0.01]), np.array([101.3e3, 45e3]))
    assert any("scaled by density" in note for one in found.methods for note in one.estimate.notes)


@pytest.mark.parametrize(
    ("waveform", "law"),
    # a rod over a plane at 4 m: handbooks, and IEC 60071-2 (memory); the curve takes 0.9 of them
    [("dc", 450e3 * 4), ("lightning-impulse", 530e3 * 4), ("switching-impulse", 3400e3 / (1 + 8 / 4))],
)
def test_in_thin_air_a_long_gap_holds_what_one_of_as_many_molecules_does(waveform, law):
    # Paschen's similarity, below the relative density of 0.7 to which IEC 60060-1 carries the laws; and in air denser
    # than that of the laws nothing is added
    gaps, densities = np.array([8.0, 4.0, 4.0]), np.array([0.35, 0.7, 1.5])
    low = answer(gaps, 101.3e3 * densities, humidity=np.nan, waveform=waveform, frequency=0.0).low
    assert low[0] == pytest.approx(low[1], rel=1e-9)
    assert low[1] < 0.9 * low[2]
    assert low[2] == pytest.approx(0.9 * law, rel=1e-6)


@pytest.mark.parametrize(
    ("query", "row"),
    [
        ("gap=8mm&waveform=dc", "IEC 60664-1 Table A.1, case A"),
        ("gap=8mm", "0.9 of the needle-gap table over 1.3"),
        ("gap=20um", "0.9 of the low end of the uniform field"),
        ("gap=3m&waveform=switching-impulse", "0.9 of the long-gap law of a rod over a plane"),
        ("gap=8mm&frequency=20kHz", "falling in log frequency to IEC 60664-4 Table 1"),
        ("gap=8mm&frequency=40kHz", "IEC 60664-4 Table 1"),
    ],
)
def test_it_is_said_what_the_low_end_rests_on(query, row):
    assert SHIPPED.ask("breakdown", query)["method"]["row"].split("; ")[0] == f"low end: {row}"


def test_left_of_the_minimum_it_is_said_from_which_voltage_on_a_longer_path_breaks_down():
    # Paschen minimum of air: 327 V in textbooks, never less than 300; a voltage below what is said must not surprise
    with pytest.raises(OutsideValidity, match="a longer path breaks down first") as caught:
        SHIPPED.ask("breakdown", "gap=1mm&pressure=100Pa")
    assert 300 <= float(caught.value.detail.split("from about ")[1].split(" V")[0]) <= 327


def test_beyond_ten_times_the_density_of_air_no_low_end_is_told():
    assert SHIPPED.ask("breakdown", "gap=2m&pressure=9.9bar")["breakdown_voltage"]["low"]
    with pytest.raises(OutsideValidity, match="relative density must be at most 10"):
        SHIPPED.ask("breakdown", "gap=2m&pressure=11bar")


@pytest.mark.parametrize(
    "query",
    [
        "coaxial-cylinders&inner_diameter=10mm&outer_diameter=60mm&method=corona-onset-coaxial-cylinders",
        "parallel-wires&wire_diameter=2mm&gap=5cm&method=corona-onset-parallel-wires",
        "coaxial-cylinders&inner_diameter=10mm&outer_diameter=60mm",
        "sphere-plane&sphere_diameter=30mm&gap=6cm",
    ],
)
def test_a_bracket_begins_at_nine_tenths_of_inception(query):
    # corona comes before breakdown, and a model of it is off by as much: common practice, no source
    found = SHIPPED.ask("breakdown", f"electrodes={query}")
    assert found["breakdown_voltage"]["value"] is None
    assert found["breakdown_voltage"]["low"] == pytest.approx(0.9 * found["inception_voltage"]["value"], rel=1e-6)

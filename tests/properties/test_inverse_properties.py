"""Gaps and pressures for a voltage: inverse of the forward answer on each branch, and honest at the ends."""

from dataclasses import replace
from functools import partial

import numpy as np
import orjson
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from service.answers.crossings import Polynomials, grid_over, has_minimum
from service.answers.gap_curves import case_at, kept_curves
from service.answers.inverse import Curves
from service.answers.results import reached
from service.answers.situation import Reading, situation
from service.errors import BadQuestion, OutsideValidity
from service.lookups import batch
from service.methods.bands import withstand
from service.render.json_text import pieces
from tests.asking import SHIPPED, Asking

quick = settings(max_examples=25, deadline=None)
GASES = ["air", "nitrogen", "hydrogen", "helium", "argon", "carbon-dioxide"]


def plates(key, **given):
    return SHIPPED.ask(key, electrodes="uniform-field", **given)


def voltage_at(gas, gap, pressure):
    return plates("breakdown", gas=gas, gap=f"{gap!r}mm", pressure=f"{pressure!r}kPa")["breakdown_voltage"]


@quick
@given(st.sampled_from(GASES), st.floats(-2.0, 0.0), st.floats(0.02, 0.9))
def test_each_gap_of_a_voltage_breaks_down_at_it(gas, exponent, height):
    pressure = 10.0**exponent
    asked = 0.5 * 10**height
    try:
        found = plates("gap", gas=gas, voltage=f"{asked!r}kV", pressure=f"{pressure!r}kPa")
    except OutsideValidity:
        return
    for gap in found["gaps"]:
        if gap["value"] is None:
            continue
        volts = voltage_at(gas, gap["value"], pressure)
        assert volts["value"] == pytest.approx(asked, rel=1e-6)
        assert gap["low"] < gap["value"] if "low" in gap else True
        assert gap["value"] < gap["high"] if "high" in gap else True
    branches = [gap["branch"] for gap in found["gaps"]]
    assert branches in ([], ["left"], ["right"], ["left", "right"])


@quick
@given(st.sampled_from(GASES), st.floats(-0.3, 1.5), st.floats(0.02, 0.9))
def test_each_pressure_of_a_voltage_breaks_down_at_it(gas, exponent, height):
    gap = 10.0**exponent
    asked = 0.5 * 10**height
    try:
        found = plates("pressure", gas=gas, voltage=f"{asked!r}kV", gap=f"{gap!r}mm")
    except OutsideValidity:
        return
    for one in found["pressures"]:
        if one["value"] is not None:
            assert voltage_at(gas, gap, one["value"])["value"] == pytest.approx(asked, rel=1e-6)


@quick
@given(st.floats(-0.4, 2.0), st.floats(1.01, 1.5))
def test_on_the_right_branch_more_voltage_needs_more_gap(exponent, more):
    kilovolts = 10.0**exponent
    apart = [plates("gap", voltage=f"{volts}kV")["gaps"][-1] for volts in (kilovolts, kilovolts * more)]
    for name in ("sparks_below", "holds_above"):
        assert apart[0][name] <= apart[1][name] * (1 + 1e-9)


def test_one_kilovolt_at_100_pascal_has_two_gaps_and_the_left_one_is_rough():
    found = plates("gap", voltage="1kV", pressure="100Pa")
    left, right = found["gaps"]
    assert left["value"] == pytest.approx(4.1, rel=0.01)
    assert (left["low"], left["high"]) == pytest.approx((0.6 * left["value"], 1.4 * left["value"]))
    assert left["method"] == "left-branch-air"
    assert "holds_above" not in left
    assert right["value"] == pytest.approx(114.9, rel=1e-3)
    assert right["sparks_below"] < right["value"] < right["holds_above"]
    assert any("does not protect" in note for note in found["notes"])


def test_two_hundred_volts_at_100_pascal_jump_no_gap():
    found = plates("gap", voltage="200V", pressure="100Pa")
    assert found["gaps"] == []
    assert found["smallest_breakdown_voltage"]["value"] == pytest.approx(0.338, abs=5e-4)
    assert any("beyond these ends no method answers" in note for note in found["notes"])


def test_both_pressures_of_a_centimetre():
    found = plates("pressure", voltage="1kV", gap="1cm")
    assert [one["branch"] for one in found["pressures"]] == ["left", "right"]
    assert found["pressures"][0]["value"] == pytest.approx(0.041, rel=0.01)
    assert "pressure" not in found["asked"]
    assert found["asked"]["gap"] == {"value": 10.0, "unit": "mm"}
    assert plates("pressure", voltage="200V", gap="1cm")["pressures"] == []


@pytest.mark.parametrize(
    ("query", "floor"),
    [
        ({"electrodes": "uniform-field", "gas": "sulfur-hexafluoride"}, 1.19),
        ({"electrodes": "uniform-field", "gas": "vacuum"}, 5.26),
    ],
)
def test_where_the_methods_end_it_is_not_said_that_nothing_breaks_down(query, floor):
    with pytest.raises(OutsideValidity) as caught:
        SHIPPED.ask("gap", voltage="1kV", **query)
    assert "does not mean that nothing breaks down" in caught.value.detail
    assert caught.value.faults[0].valid["low"].block()["value"] == pytest.approx(floor, rel=0.04)
    # a larger voltage is not proposed: it is another question, and the larger gap that answers it proves nothing here
    assert not caught.value.suggestion
    assert SHIPPED.ask("gap", **query, voltage=f"{floor * 1.05}kV")["gaps"]


def test_a_left_branch_that_no_method_reaches_is_said():
    # argon at 10 kPa: the left branch of the square-root form ends at 0.19 kV
    found = plates("gap", gas="argon", voltage="1kV", pressure="10kPa")
    assert [gap["branch"] for gap in found["gaps"]] == ["right"]
    assert any("there may be a smaller gap" in note for note in found["notes"])


def test_measured_points_have_no_gap_for_a_voltage_but_a_pressure():
    with pytest.raises(OutsideValidity, match="single places") as caught:
        plates("gap", gas="tetrafluoromethane", voltage="10kV")
    assert [fault.parameter for fault in caught.value.faults] == ["gas"]
    found = plates("pressure", gas="tetrafluoromethane", voltage="10kV", gap="1mm")
    assert found["pressures"][0]["method"] == "measured-tetrafluoromethane"


def test_the_steep_end_of_the_left_branch_is_found():
    found = plates("gap", voltage="4.9kV", pressure="100Pa")
    assert [gap["branch"] for gap in found["gaps"]] == ["left"]
    assert any("there is a larger gap" in note for note in found["notes"])
    assert "x-rays" in [caution["key"] for caution in found["cautions"]]


def test_a_voltage_beyond_every_method_is_refused_with_the_highest():
    with pytest.raises(OutsideValidity) as caught:
        plates("gap", voltage="90MV")
    assert "high" in caught.value.faults[0].valid


@pytest.mark.parametrize("key", ["gap", "pressure"])
def test_a_method_of_another_arrangement_is_refused(key):
    more = {"gap": "5mm"} if key == "pressure" else {}
    with pytest.raises(BadQuestion):
        plates(key, voltage="12kV", method="needle-gap-table", **more)


def test_every_measure_is_answered_for_pressures_too():
    found = plates("pressure", voltage="10kV", gap="5mm", measure="unknown")
    readings = {one["measure"]: one for one in found["readings"]}
    assert set(readings) == {"peak", "rms", "peak-to-peak", "peak-to-peak-symmetrical"}
    assert readings["rms"]["pressures"][-1]["value"] > readings["peak"]["pressures"][-1]["value"]
    assert readings["peak-to-peak"]["pressures"][-1]["value"] is None


def test_a_reading_between_two_peaks_keeps_both_and_holds_at_the_higher_one():
    # 12 kV from peak to peak is a peak of 6 kV at least and of 12 kV at most
    readings = {one["measure"]: one for one in SHIPPED.ask("gap", "voltage=12kV&measure=unknown")["readings"]}
    peaks = {key: (one["peak_voltage"]["low"], one["peak_voltage"]["high"]) for key, one in readings.items()}
    assert peaks["peak-to-peak"] == (6.0, 12.0)
    assert peaks["peak"] == (12.0, 12.0)
    assert readings["peak-to-peak"]["peak_voltage"]["value"] is None
    [between], [least], [most] = (readings[key]["gaps"] for key in ("peak-to-peak", "peak-to-peak-symmetrical", "peak"))
    assert between["sparks_below"] == least["sparks_below"]
    assert between["holds_above"] == most["holds_above"]


@pytest.mark.parametrize(("volts", "unheld"), [("12kV", False), ("1.9MV", False), ("2.1MV", True), ("2.3MV", True)])
def test_a_voltage_that_no_gap_is_known_to_hold_is_said(volts, unheld):
    # at 10 m and 50 Hz the low end is 0.9 of 750 sqrt 2 ln(1 + 0.55 d^1.2), in drier air; of scatter it is 3 x 3 %
    found = SHIPPED.ask("gap", f"voltage={volts}")
    [gap] = found["gaps"]
    assert ("holds_above" not in gap) is unheld
    assert any("No gap is named that holds this voltage" in note for note in found["notes"]) is unheld


def test_of_several_readings_one_that_no_gap_is_known_to_hold_is_said():
    found = SHIPPED.ask("gap", "voltage=1.5MV&measure=unknown")
    held = {one["measure"]: "holds_above" in one["gaps"][0] for one in found["readings"]}
    assert held == {"peak": True, "rms": False, "peak-to-peak": True, "peak-to-peak-symmetrical": True}
    assert any("No gap is named that holds this voltage" in note for note in found["notes"])


@pytest.mark.parametrize(("volts", "unknown"), [("1.3MV", False), ("1.5MV", True)])
def test_where_no_upper_end_is_reached_no_gap_is_named_that_sparks_and_that_is_said(volts, unknown):
    # IEC 60052: rods at direct voltage to 2.5 m, 2 + 0.534 d, 1.34 MV and 3 %
    found = SHIPPED.ask("gap", f"voltage={volts}&electrodes=rod-gap&waveform=dc&absolute_humidity=11g/m3")
    [gap] = found["gaps"]
    assert ("sparks_below" not in gap) is unknown
    assert any("even between plates" in note for note in found["notes"]) is unknown


def test_a_reading_above_every_curve_is_refused_though_its_lower_peak_is_below_the_minimum():
    # beside the Paschen minimum: 0.34 kV, and no more than 0.45 at the ends of the range
    registry = SHIPPED.registry
    case = situation(SHIPPED.question("gap", "voltage=1kV&pressure=100Pa"), registry, registry.plates.key).case
    curves = Curves(registry.plates, case, None, case_at, (8e-3, 20e-3))
    with pytest.raises(OutsideValidity, match="reaches this voltage"):
        reached(curves, Reading("peak-to-peak", 300.0, 600.0))
    assert reached(curves, Reading("peak", 300.0, 300.0)) == {}


def test_a_reading_that_no_method_reaches_does_not_spoil_the_others():
    # plates reach 2.5 MV at 1 m; 2 MV rms would be 2.8 MV
    found = SHIPPED.ask("gap", electrodes="uniform-field", voltage="2MV", measure="unknown")
    readings = {one["measure"]: one for one in found["readings"]}
    assert "reaches this voltage" in readings["rms"]["why_not"]
    assert readings["peak"]["gaps"]


# --- batches say the same -------------------------------------------------------------------------------------------


def statuses(given, voltages, key="gap"):
    body = {"lookup": key, "given": given, "columns": {"voltage": {"unit": "kV", "values": voltages}}}
    document = batch.answer(body, SHIPPED.found).document(SHIPPED.registry)
    return orjson.loads(b"".join(pieces(document)))


def test_a_batch_tells_outside_validity_from_no_breakdown():
    assert statuses({"electrodes": "uniform-field"}, [3e3, 12.0])["status"] == ["outside-validity", "ok"]
    gas = {"electrodes": "uniform-field", "gas": "sulfur-hexafluoride"}
    assert statuses(gas, [1.0, 12.0])["status"] == ["outside-validity", "ok"]
    thin = {"electrodes": "uniform-field", "pressure": "100Pa"}
    assert statuses(thin, [0.2, 1.0])["status"] == ["no-breakdown", "ok"]


@pytest.mark.parametrize("branch", ["left", "right"])
def test_a_batch_gives_the_gaps_that_single_questions_give(branch):
    thin = {"electrodes": "uniform-field", "pressure": "100Pa", "branch": branch}
    volts = [0.4, 0.6, 1.0]
    columns = statuses(thin, volts)["columns"]["gap"]["values"]
    singles = [
        next(gap for gap in plates("gap", voltage=f"{one}kV", pressure="100Pa")["gaps"] if gap["branch"] == branch)
        for one in volts
    ]
    assert columns == pytest.approx([one["value"] for one in singles], rel=1e-6)


# --- minima and ends ------------------------------------------------------------------------------------------------


@quick
@given(st.floats(0.5, 3.0), st.integers(0, 40), st.integers(0, 40))
def test_a_minimum_is_told_from_an_end(steepness, before, after):
    assume(before + after > 2)
    grid = grid_over(1e-3, 1.0)
    place = np.log(grid / grid[60])
    valley = np.cosh(place) * 100.0
    slope = np.exp(steepness * place)
    inside = np.arange(grid.size)
    window = (inside >= 60 - before) & (inside <= 60 + after)
    assert has_minimum(grid, np.where(window, valley, np.nan))[0]
    assert not has_minimum(grid, np.where(window, slope, np.nan))[0]
    assert not has_minimum(grid, np.full(grid.size, np.nan))[0]
    both = has_minimum(grid, np.stack([np.where(window, valley, np.nan), np.where(window, slope, np.nan)]))
    assert both.tolist() == [True, False]


@given(st.floats(-3.0, 1.0), st.floats(0.0, 1.0), st.sampled_from([0.3, 0.7]))
def test_curves_are_read_backwards_as_scipy_finds_their_roots_and_nowhere_beside_a_kink(start, share, kink):
    left, right = np.array([10.0**start]), np.array([10.0**start * 10 ** (1 / 60)])
    bend = left[0] * (right[0] / left[0]) ** kink
    curves = [
        lambda x: 2400 * x + 670 * np.sqrt(x),
        lambda x: 365 * 0.9 * x / np.log(11 * x + 3),
        lambda x: np.where(x < bend, x, 1.02 * x - 0.02 * bend) * 1e3,
        lambda x: 1e3 / x,
    ]
    places = Polynomials.places(left, right)
    read = Polynomials.through(places, [curve(places) for curve in curves])
    for i, curve in enumerate(curves):
        volts = float(curve(left[0]) ** (1 - share) * curve(right[0]) ** share)
        found = read.at(i, 0, volts)
        if i == 2:
            assert np.isnan(found)
        else:
            expected = brentq(lambda x, f=curve, v=volts: f(x) - v, left[0] * 0.99, right[0] * 1.01, xtol=1e-300)
            assert found == pytest.approx(expected, rel=1e-10)


@pytest.mark.parametrize("count", [3, 100])
@pytest.mark.parametrize("divided", [False, True])
@pytest.mark.parametrize("share", [1e-4, 0.5, 1 - 1e-4])
@pytest.mark.parametrize(("pressure", "branch"), [(101.3e3, "right"), (100.0, "right"), (100.0, "left")])
def test_a_crossing_on_the_first_step_or_beside_the_valley_is_found(count, divided, share, pressure, branch):
    """A grid begins where a method does and turns at the minimum: the places just there are places as well."""
    registry = SHIPPED.registry
    question = SHIPPED.question("gap", voltage="1kV", pressure=f"{pressure}Pa")
    case = situation(question, registry, registry.plates.key).case
    holding = partial(withstand, reference=registry.reference)
    curves = Curves(registry.plates, case, None, case_at, (1e-3, 0.1), holding)
    curves = replace(curves, coarse=curves) if divided else curves
    # the grid's lowest place lies beside the minimum, on either side
    first = curves.lowest + (curves.lowest > 0) if branch == "right" else curves.lowest - 2
    place = curves.grid[first] * (curves.grid[first + 1] / curves.grid[first]) ** share
    asked = float(curves.at(np.array([place])).value[0])
    low, high = sorted(curves.on_grid.value[0][[first, first + 1]])
    assert low < asked < high
    # others, in no order, are sought together with it
    volts = np.linspace(1.001 * high, 0.999 * low, count)
    volts[1] = asked
    assert curves.branches((branch,), volts)[branch].value[1] == pytest.approx(place, rel=1e-6)


def test_a_voltage_is_told_the_same_whether_it_is_the_first_of_its_situation_or_not():
    one = {"electrodes": "sphere-gap", "sphere_diameter": "25cm", "pressure": "97.31kPa"}
    volts = [f"{v}kV" for v in (40, 61.7, 95, 140, 177)]
    rising, falling = Asking(), Asking()
    before = [rising.ask("gap", voltage=each, **one) for each in volts]
    assert [falling.ask("gap", voltage=each, **one) for each in reversed(volts)] == before[::-1]


SHAPES = {
    "unknown": {},
    "sphere-gap": {"sphere_diameter": "5cm"},
    "coaxial-cylinders": {"inner_diameter": "10mm"},
    "point-plane": {"tip_radius": "1mm"},
    "rod-plane": {},
    "uniform-field": {"gas": "sulfur-hexafluoride"},
}


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("air", [{}, {"pressure": "500Pa"}, {"pressure": "61kPa", "temperature": "-30degC"}])
def test_curves_know_of_every_place_what_is_told_of_it_alone(shape, air):
    """Methods that the air leaves out are left out once; which is preferred is asked before anything is computed."""
    registry = SHIPPED.registry
    question = SHIPPED.question("gap", voltage="12kV", electrodes=shape, **SHAPES[shape], **air)
    here = situation(question, registry, registry.arrangements[shape].key)
    curves = kept_curves(here, None, registry)
    some = np.concatenate(
        [[0], np.flatnonzero(np.diff(np.log(curves.grid)) < 1e-8), np.arange(7, curves.grid.size, 40)]
    )
    for i in some.tolist():
        alone = curves.at_place(float(curves.grid[i]))
        assert bool(alone.answered[0]) == curves.on_grid.answered[0, i]
        told = [curves.on_grid_of(name)[0, i] for name in ("value", "low", "high")]
        assert told == pytest.approx(list(alone.numbers()), rel=1e-10, nan_ok=True)

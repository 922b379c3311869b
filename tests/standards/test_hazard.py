"""Hazard: arithmetic of a capacitor, product limits as IEC 61010-1, 60335-1, 60950-1, 62368-1 print them (memory)."""

import math
import re

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.errors import BadQuestion
from service.lookups import hazard
from service.lookups.hazard import every_limit
from service.standards.circuit import Circuit
from service.standards.limits import strictest_first

QUICK = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
SUPPLY = "voltage=12kV&capacitance=4.4nF&bleed_resistance=200Mohm"


def limit(document, title):
    return next(one for one in document["limits"] if one["title"] == title)


def titles(document):
    return [one["title"] for one in document["limits"]]


def keys(document):
    return [caution["key"] for caution in document["cautions"]]


def test_the_precipitator_stores_a_third_of_a_joule(ask):
    answer = ask(hazard, SUPPLY)
    # C U^2 / 2 and C U, by hand
    assert answer["stored_energy"] == {"value": pytest.approx(0.3168), "unit": "J"}
    assert answer["charge"] == {"value": pytest.approx(52.8), "unit": "uC"}
    # 200 Mohm x 4.4 nF x ln(12 kV / 60 V)
    assert answer["discharge_time"]["value"] == pytest.approx(0.88 * math.log(200))
    assert round(answer["discharge_time"]["value"], 1) == 4.7


def test_a_charge_of_exactly_the_limit_does_not_exceed_it(ask):
    # worked example ins46, IEC 60335-1 and 60950-1: 45 uC at 10 kV are 4.5 nF
    answer = ask(hazard, "voltage=10kV&capacitance=4.5nF")
    found = limit(answer, "45 uC")
    assert found["exceeded"] is False
    assert found["asked"]["value"] == pytest.approx(45.0)
    assert found["in_its_voltage_range"] is True
    assert found["clauses"] == ["IEC 61010-1 6.3.1", "IEC 61010-1 6.10.3", "IEC 60335-1 8.1.4", "IEC 60950-1 2.4"]
    assert limit(ask(hazard, "voltage=10kV&capacitance=4.501nF"), "45 uC")["exceeded"] is True


def test_the_strictest_limit_at_ten_kilovolts_is_that_for_a_charged_capacitor(ask):
    # IEC 62368-1 Table 5 (memory): 0.4 nF at 10 kV, so 4 uC; ES2 at twice the voltage, so 0.8 nF and 8 uC
    answer = ask(hazard, "voltage=10kV&capacitance=4.5nF")
    stored = ["ES1, charged capacitor", "ES2, charged capacitor", "45 uC", "0.25 J", "350 mJ"]
    assert titles(answer)[:5] == stored
    assert limit(answer, stored[0])["limit"] == {"value": pytest.approx(4.0), "unit": "uC"}
    assert limit(answer, stored[1])["limit"] == {"value": pytest.approx(8.0), "unit": "uC"}


def test_the_reflex_step_comes_before_the_product_limit_on_energy(ask):
    answer = ask(hazard, SUPPLY)
    assert titles(answer).index("0.25 J") < titles(answer).index("350 mJ")
    assert [limit(answer, title)["exceeded"] for title in ("0.25 J", "45 uC", "350 mJ")] == [True, True, False]
    assert limit(answer, "350 mJ")["in_its_voltage_range"] is False


def test_an_unknown_charge_is_never_no_charge(ask):
    answer = ask(hazard, "voltage=12kV")
    assert keys(answer)[0] == "charge-unknown"
    assert "stored_energy" not in answer
    assert "charge" not in answer
    stored = [
        one for one in answer["limits"] if one["limit"]["unit"] in ("uC", "J", "nF") and "100 J" not in one["title"]
    ]
    assert len(stored) >= 8
    for one in stored:
        assert one["exceeded"] is None, one["title"]
        assert "asked" not in one
    assert {entry["reached"] for entry in answer["ignition"]} == {None}
    assert {band["reached"] for band in answer["current_bands"]} == {None}


def test_a_known_charge_brings_no_warning_of_an_unknown_one(ask):
    assert "charge-unknown" not in keys(ask(hazard, SUPPLY))
    assert "charge-unknown" not in keys(ask(hazard, "charge=45uC"))
    assert "charge-unknown" in keys(ask(hazard, "available_current=5mA"))
    assert "charge-unknown" in keys(ask(hazard, "capacitance=5nF"))


def test_a_charge_alone_is_compared_with_the_limits_on_charge(ask):
    answer = ask(hazard, "charge=50uC")
    assert limit(answer, "45 uC")["exceeded"] is True
    assert limit(answer, "350 mJ")["exceeded"] is None
    assert not any("charged capacitor" in title for title in titles(answer))


def test_two_of_voltage_capacitance_and_charge_give_the_third(ask):
    by_charge = ask(hazard, "voltage=12kV&charge=52.8uC")
    by_both = ask(hazard, "capacitance=4.4nF&charge=52.8uC")
    for answer in (by_charge, by_both):
        assert answer["stored_energy"]["value"] == pytest.approx(0.3168)
        assert titles(answer) == titles(ask(hazard, "voltage=12kV&capacitance=4.4nF"))


@pytest.mark.parametrize(
    ("query", "missing"),
    [
        ("", {"voltage", "capacitance", "charge", "available_current"}),
        ("bleed_resistance=1Mohm&frequency=50Hz", {"voltage", "capacitance", "charge", "available_current"}),
        ("voltage=12kV&capacitance=4.4nF&charge=45uC", {"voltage", "capacitance", "charge"}),
    ],
)
def test_nothing_to_compare_or_too_much_is_refused(ask, query, missing):
    with pytest.raises(BadQuestion) as caught:
        ask(hazard, query)
    assert {fault.parameter for fault in caught.value.faults} == missing


def test_the_time_to_each_limit_is_that_to_its_voltage(ask):
    answer = ask(hazard, SUPPLY)
    times = {one["title"]: one for one in answer["discharge_times"]}
    # 45 uC of 4.4 nF are 10.227 kV, so 0.88 s x ln(12 / 10.227)
    assert times["45 uC"]["voltage"]["value"] == pytest.approx(45 / 4.4)
    assert times["45 uC"]["time"]["value"] == pytest.approx(0.88 * math.log(12 * 4.4 / 45))
    # 0.25 J in 4.4 nF are sqrt(2 W / C) = 10.66 kV
    assert times["0.25 J"]["voltage"]["value"] == pytest.approx(10.660, abs=1e-3)
    # Table 5 between 8 nF, 500 V and 4 nF, 1 kV: 4.4 nF, 950 V
    assert times["ES1, charged capacitor"]["voltage"]["value"] == pytest.approx(0.95)
    assert times["350 mJ"]["time"]["value"] == 0
    assert times["60 V dc"]["time"]["value"] == pytest.approx(answer["discharge_time"]["value"])


def test_without_a_resistor_there_is_no_time_and_no_caution_about_it(ask):
    answer = ask(hazard, "voltage=12kV&capacitance=4.4nF")
    assert "discharge_time" not in answer
    assert "bleeder" not in keys(answer)
    assert "bleeder" in keys(ask(hazard, SUPPLY))
    assert any("needs the voltage" in note for note in ask(hazard, "voltage=12kV&bleed_resistance=1Mohm")["notes"])


def test_the_stick_takes_the_peak_current_and_the_whole_energy(ask):
    answer = ask(hazard, f"{SUPPLY}&stick_resistance=10kohm")
    assert answer["stick_peak_current"] == {"value": pytest.approx(1200.0), "unit": "mA"}
    assert answer["stick_energy"] == answer["stored_energy"]
    unknown = ask(hazard, "voltage=12kV&stick_resistance=10kohm")
    assert unknown["stick_peak_current"]["value"] == pytest.approx(1200.0)
    assert "stick_energy" not in unknown


def test_the_current_bands_are_those_of_the_frequency(ask):
    direct_or_not = ask(hazard, "available_current=5mA")["current_bands"]
    assert {band["current_type"].split()[0] for band in direct_or_not} == {"ac", "dc"}
    mains = ask(hazard, "available_current=5mA&frequency=50Hz")["current_bands"]
    assert {band["current_type"].split()[0] for band in mains} == {"ac"}
    # IEC 60479-1, lines a (0.5 mA), b (5 mA at 10 s and more), c1 (40 mA at 3 s and more)
    reached = {(band["line"], band["current"]["value"]): band["reached"] for band in mains}
    assert reached["a (AC-1/AC-2)", 0.5] is True
    assert reached["b", 5.0] is True
    assert reached["c1", 40.0] is False


def test_limits_of_direct_and_alternating_voltage_are_both_shown_without_a_frequency(ask):
    assert {"60 V dc", "42.4 V ac peak", "30 V ac rms"} <= set(titles(ask(hazard, "voltage=50V")))
    with_frequency = titles(ask(hazard, "voltage=50V&frequency=50Hz"))
    assert "60 V dc" not in with_frequency
    assert "42.4 V ac peak" in with_frequency


def test_the_voltage_limit_grows_with_frequency_as_the_formula_says(ask):
    # IEC 62368-1 Table 4 (memory): 30 + 0.4 f, f in kHz: 46 V rms at 40 kHz
    found = limit(ask(hazard, "voltage=60V&frequency=40kHz"), "ES1, 30+0.4*f = 46 V rms")
    assert found["limit"] == {"value": pytest.approx(0.046), "unit": "kV", "measure": "rms"}
    assert found["asked"]["value"] == pytest.approx(0.06 / math.sqrt(2))
    assert found["exceeded"] is False
    assert "fast-current" in keys(ask(hazard, "voltage=60V&frequency=40kHz"))


def test_below_the_first_row_the_capacitor_limit_is_its_voltage(ask):
    found = limit(ask(hazard, "voltage=48V&capacitance=1uF"), "ES1, charged capacitor")
    assert found["limit"]["value"] == pytest.approx(0.06)
    assert found["exceeded"] is False


def test_beyond_the_last_row_only_a_larger_capacitor_is_judged(ask):
    # Table 5 (memory) ends at 0.133 nF and 25 kV
    assert limit(ask(hazard, "voltage=30kV&capacitance=1nF"), "ES1, charged capacitor")["exceeded"] is True
    small = ask(hazard, "voltage=30kV&capacitance=0.1nF")
    assert "ES1, charged capacitor" not in titles(small)
    assert any("end at 25 kV" in note for note in small["notes"])


def test_a_limit_on_capacitance_is_shown_only_in_its_voltage_range(ask):
    # IEC 60335-1 and 60950-1: 0.1 uF up to 450 V
    assert limit(ask(hazard, "voltage=400V&capacitance=100nF"), "0.1 uF")["exceeded"] is False
    assert "0.1 uF" not in titles(ask(hazard, "voltage=12kV&capacitance=4.4nF"))


def test_a_threshold_printed_as_reached_counts_at_its_own_value(ask):
    # LBNL: at least 100 V and at least 10 J: 10 J are 20 uF at 1 kV
    answer = ask(hazard, "voltage=1kV&capacitance=20uF")
    reached = next(one for one in answer["limits"] if one["key"] == "lbnl-doe-shock-capacitors-10-j")
    exceeded = next(one for one in answer["limits"] if one["key"] == "lab-practice-capacitor-stored-energy-10-j")
    assert (reached["exceeded"], exceeded["exceeded"]) == (True, False)


def test_the_time_constant_is_judged_where_a_resistor_is_given(ask):
    # IEC 60950-1 2.1.1.7: 1 s for pluggable equipment of type A
    answer = ask(hazard, "voltage=400V&capacitance=1uF&bleed_resistance=2Mohm")
    assert limit(answer, "1 s")["exceeded"] is True
    assert limit(answer, "10 s")["exceeded"] is False
    assert "1 s" not in titles(ask(hazard, "voltage=400V&capacitance=1uF"))


def test_ignition_energies_stand_beside_the_stored_energy(ask):
    # minimum ignition energies of mine ventilation and NFPA tables: propane in air 0.25 mJ
    answer = ask(hazard, "voltage=1kV&capacitance=0.4nF")
    energies = [entry["minimum_energy"]["value"] for entry in answer["ignition"]]
    assert energies == sorted(energies)
    assert answer["stored_energy"]["value"] == pytest.approx(2e-4)
    by_fuel = {(entry["fuel"], entry["oxidiser"]): entry["reached"] for entry in answer["ignition"]}
    assert by_fuel["hydrogen", "air"] is True
    assert by_fuel["propane", "air"] is False
    assert "fire" in keys(answer)


def test_ozone_and_x_rays_are_named_by_regime(ask):
    low, middle, high = (ask(hazard, f"voltage={volts}") for volts in ("100V", "3kV", "12kV"))
    assert "exposure" not in low
    assert {entry["hazard"] for entry in middle["exposure"]} == {"ozone"}
    assert {entry["hazard"] for entry in high["exposure"]} == {"ozone", "x-ray"}
    assert "x-rays" in keys(high)
    assert not {"x-rays", "ozone"} & set(keys(low))


def test_every_limit_names_source_and_provenance(ask):
    for one in ask(hazard, f"{SUPPLY}&available_current=5mA")["limits"]:
        assert one["source"]["key"]
        assert one["source"]["citation"]
        assert re.search(r"memory|reproduction", one["provenance"])


def test_one_value_cannot_be_asked_for_alone(registry):
    assert hazard.lookup(registry).single_values is False


@QUICK
@given(
    volts=st.floats(61.0, 25e3),
    low=st.floats(1e-12, 1e-6),
    ratio=st.floats(1.0, 100.0),
    kind=st.sampled_from([None, 50.0]),
)
def test_a_larger_capacitor_exceeds_every_limit_that_a_smaller_one_does(reference, volts, low, ratio, kind):
    def exceeded(capacitance):
        circuit = Circuit(volts, capacitance, volts * capacitance, frequency=kind)
        return {one.key for one in every_limit(circuit, reference) if one.exceeded}

    assert exceeded(low) <= exceeded(low * ratio)


@QUICK
@given(volts=st.floats(500.0, 25e3), farads=st.floats(1e-11, 1e-3))
def test_stored_limits_are_exceeded_strictest_first(reference, volts, farads):
    circuit = Circuit(volts, farads, volts * farads)
    stored = [
        one
        for one in strictest_first(every_limit(circuit, reference), circuit)
        if one.dimension in ("charge", "energy") and "<" not in str(one.further)
    ]
    verdicts = [one.exceeded for one in stored]
    assert verdicts == sorted(verdicts, reverse=True)

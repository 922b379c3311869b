"""The probe check: simulated probes are found, poor readings are not accepted, the body is read strictly."""

import re

import numpy as np
import pytest

from service.bench import probe
from service.errors import BadQuestion
from service.lookups import probe_check
from service.lookups.probe_check import answer, body_from_csv
from service.web.bodies import read

TABLE = {3: 11.2, 4: 14.4, 5: 17.4, 6: 20.4, 7: 23.2, 8: 25.8}
"""IEC 60052 Table 2, 2 cm spheres: spacing in mm, peak voltage in kV; from 6 mm on from memory."""


WEATHER = {"pressure": "101.3kPa", "temperature": "20.0degC", "absolute_humidity": "8.5g/m3"}


def simulated(error, scatter, *, waveform="ac", spacings=(3, 4, 5), count=10, seed=7, attenuation=None):
    """A probe that is wrong by a factor, read at the sparkover voltages of the printed table."""
    random = np.random.default_rng(seed)
    readings = []
    for spacing in spacings:
        volts = TABLE[spacing] * (1 + error) * (1 + scatter * random.standard_normal(count))
        readings.append({"spacing": f"{spacing}mm", "indicated_voltages": [f"{one:.4f}kV" for one in volts]})
    body = {"sphere_diameter": "20mm", "waveform": waveform, "irradiated": "yes", "readings": readings, **WEATHER}
    return body | ({} if attenuation is None else {"attenuation": attenuation})


@pytest.fixture
def check(registry):
    return lambda body: answer(read(probe_check.BODY, body), registry).document(registry)


def test_a_probe_that_reads_high_is_found_within_its_scatter(check):
    document = check(simulated(0.043, 0.004, attenuation=1000))
    assert all(setting["accepted"] for setting in document["settings"])
    for setting in document["settings"]:
        assert setting["ratio_error_percent"] == pytest.approx(4.3, abs=0.4)
    overall = document["overall"]
    assert 1 / overall["scale_factor"] - 1 == pytest.approx(0.043, abs=0.004)
    assert overall["corrected_attenuation"] == pytest.approx(1000 * overall["scale_factor"])
    assert overall["verdict"] == "reads-high"


def test_the_expanded_uncertainty_is_about_three_percent_alternating_and_five_direct(check):
    # IEC 60052: 3 %, direct voltage 5 %; a little more with spacing, density, humidity and scatter
    alone = check(simulated(0.043, 0.004, spacings=(4,)))["overall"]
    assert alone["expanded_uncertainty"] == pytest.approx(0.031, abs=0.001)
    direct = check(simulated(0.043, 0.004, waveform="dc"))["overall"]
    assert direct["expanded_uncertainty"] == pytest.approx(0.05, abs=0.003)
    assert direct["verdict"] == "agrees-within-uncertainty"


def test_more_settings_do_not_average_the_gap_away(check):
    few = check(simulated(0.043, 0.004, spacings=(3, 4)))["overall"]["expanded_uncertainty"]
    many = check(simulated(0.043, 0.004, spacings=(3, 4, 5, 6, 7, 8)))["overall"]["expanded_uncertainty"]
    # of 3 % (k = 2) 2.24 % are common to all settings, sqrt(3^2 - 2^2); only what each has of its own averages
    assert 0.0224 < many < few


@pytest.mark.parametrize(
    ("name", "unit", "sizes"),
    [("density", "percent", (0.5, 2, 5, 9, 12, 15, 20)), ("spacing", "mm", (0.02, 0.2, 1, 2, 2.9))],
)
def test_a_wider_tolerance_never_makes_the_check_better_known(check, name, unit, sizes):
    # beyond the density range of the table, 0.9 to 1.1, no end of the tolerance is tabulated: it must still count
    found = []
    for size in sizes:
        document = check(simulated(0.0, 0.002, spacings=(3,)) | {f"{name}_uncertainty": f"{size}{unit}"})
        found.append(document["overall"]["expanded_uncertainty"])
    assert found == sorted(found)
    # JCGM 100: at least the slope of the voltage times the standard uncertainty; density scales it, spacing does to 3 %
    slope = {"density": 1 / 100, "spacing": 3.2 / 11.2}[name]
    assert found[-1] > 0.9 * 2 * slope * sizes[-1] / 3**0.5


def test_a_wide_tolerance_is_said_to_act_in_proportion(check):
    notes = {
        size: check(simulated(0.0, 0.002) | {"density_uncertainty": f"{size}percent"})["notes"] for size in (0.5, 15)
    }
    assert any("in proportion" in note and note.endswith("density.") for note in notes[15])
    assert not any("in proportion" in note for note in notes[0.5])


def test_a_probe_that_reads_true_is_told_so_in_words(check):
    document = check(simulated(0.0, 0.0))
    assert "just what the gap says" in document["overall"]["explanation"]


def test_readings_scattered_by_a_fifth_are_not_accepted(check):
    document = check(simulated(0.0, 0.2))
    assert not any(setting["accepted"] for setting in document["settings"])
    assert any("standard deviation" in why for why in document["settings"][0]["why_not"])
    assert document["overall"]["verdict"] == "cannot-tell"
    assert "scale_factor" not in document["overall"]


def test_three_readings_are_not_accepted(check):
    setting = check(simulated(0.0, 0.004, count=3))["settings"][0]
    assert not setting["accepted"]
    assert setting["why_not"] == ["3 sparkovers; at least 10 are needed."]


def test_a_single_reading_has_no_scatter_and_no_uncertainty(check):
    setting = check(simulated(0.0, 0.004, count=1))["settings"][0]
    assert "standard_deviation_percent" not in setting
    assert "ratio_error_uncertainty_percent" not in setting
    assert not setting["accepted"]


def test_at_direct_voltage_the_spacing_ends_at_four_tenths_of_the_diameter(check):
    document = check(simulated(0.0, 0.004, waveform="dc", spacings=(8,)))
    assert document["settings"][0]["accepted"]
    wide = {**simulated(0.0, 0.004, waveform="dc", spacings=(8,))}
    wide["readings"] = [{**wide["readings"][0], "spacing": "9mm"}]
    assert "0.45 of the diameter" in check(wide)["settings"][0]["why_not"][0]


def test_without_irradiation_a_small_gap_may_be_late_and_so_nothing_is_decided(check):
    body = simulated(0.0, 0.004)
    unknown = {name: value for name, value in body.items() if name != "irradiated"}
    for one in ({**body, "irradiated": "no"}, unknown):
        document = check(one)
        assert document["settings"][0]["accepted"]
        assert document["overall"]["verdict"] == "cannot-tell"
        assert "irradiated" in document["overall"]["explanation"]
        assert any("20 % late" in note for note in document["notes"])
        # the sparks may have come at 1.2 times the voltage
        assert document["overall"]["possible_error_percent"]["low"] == pytest.approx(-19, abs=1)


def test_dust_at_direct_voltage_is_flagged_and_remarked(check):
    body = simulated(0.0, 0.002, waveform="dc")
    body["readings"][0]["indicated_voltages"][4] = "9.6kV"
    document = check(body)
    assert [low["value"] for low in document["settings"][0]["low_outliers"]] == [9.6]
    assert any("dust" in note for note in document["notes"])
    assert any("not removed" in note for note in document["notes"])


def test_own_balls_are_accepted_with_the_wider_band_of_a_model(check):
    document = check({**simulated(0.0, 0.004, spacings=(3,)), "sphere_diameter": "30mm"})
    setting = document["settings"][0]
    assert setting["accepted"]
    assert setting["method"] == "streamer-quadratic"
    assert document["overall"]["expanded_uncertainty"] == pytest.approx(0.051, abs=0.002)
    assert any("model gives the voltage" in note for note in document["notes"])


def test_a_ratio_that_changes_with_the_voltage_is_not_one_scale_factor(check):
    body = simulated(0.0, 0.002, spacings=(3, 5, 8))
    crooked = [simulated(error, 0.002, spacings=(s,)) for error, s in ((0.0, 3), (0.04, 5), (0.09, 8))]
    body["readings"] = [one["readings"][0] for one in crooked]
    overall = check(body)["overall"]
    assert overall["verdict"] == "not-linear"
    assert overall["linearity_percent"] > 3
    # the errors that were put in, nought to nine per cent, as they are read
    least, most = (
        float(one) for one in re.search(r"off by ([-+.\d]+) to ([-+.\d]+) %", overall["explanation"]).groups()
    )
    assert least == pytest.approx(0.0, abs=0.2)
    assert most == pytest.approx(9.0, abs=0.2)
    assert not {"scale_factor", "corrected_attenuation", "valid_for"} & set(overall)


def test_instrument_voltages_are_multiplied_by_the_attenuation(check):
    body = simulated(0.02, 0.003, attenuation=1000)
    direct = check(body)["overall"]["scale_factor"]
    for reading in body["readings"]:
        reading["instrument_voltages"] = [text.replace("kV", "V") for text in reading.pop("indicated_voltages")]
    assert check(body)["overall"]["scale_factor"] == pytest.approx(direct, rel=1e-12)
    del body["attenuation"]
    with pytest.raises(BadQuestion, match="attenuation is needed"):
        check(body)


def test_rms_readings_are_turned_into_peak(check):
    body = simulated(0.0, 0.003)
    for reading in body["readings"]:
        volts = [float(text.removesuffix("kV")) / np.sqrt(2) for text in reading["indicated_voltages"]]
        reading["indicated_voltages"] = [f"{one:.6f}kV" for one in volts]
    assert check({**body, "measure": "rms"})["overall"]["scale_factor"] == pytest.approx(1.0, abs=0.004)


def test_the_result_is_valid_for_the_checked_voltages_and_waveform(check):
    valid = check(simulated(0.0, 0.004))["overall"]["valid_for"]
    assert (valid["voltage"]["low"], valid["voltage"]["high"]) == (pytest.approx(11.2), pytest.approx(17.4))
    assert valid["waveform"] == "ac"
    assert valid["frequency"] == {"value": 0.05, "unit": "kHz"}


def test_the_parts_of_the_uncertainty_add_up_in_squares(check):
    overall = check(simulated(0.043, 0.004))["overall"]
    parts = overall["expanded_uncertainty_parts_percent"]
    named = {"gap", "setting", "spacing", "diameter", "density", "humidity", "repeatability", "resolution"}
    assert set(parts) == named
    assert np.sqrt(sum(part**2 for part in parts.values())) == pytest.approx(100 * overall["expanded_uncertainty"])


def test_the_spacing_counts_by_the_slope_of_the_table(check):
    # 2 cm spheres, 3 mm: the table rises 3.2 kV per mm on either side; 0.02 mm rectangular, k = 2
    parts = check(simulated(0.0, 0.004, spacings=(3,)))["overall"]["expanded_uncertainty_parts_percent"]
    assert parts["spacing"] == pytest.approx(100 * 2 * 3.2 * 0.02 / np.sqrt(3) / 11.2, rel=0.02)


def test_the_network_is_judged_beside_the_check(check):
    network = {"upper_resistance": "100Mohm", "lower_resistance": "100kohm"}
    body = simulated(0.0, 0.004, waveform="dc")
    bare = check({**body, "network": network})["network"]
    assert bare["dc_ratio"] == pytest.approx(1001.0)
    assert bare["carries"] == "cannot-tell"
    assert "compensated" not in bare
    assert bare["load"]["current"]["value"] == pytest.approx(17.4e3 / 100.1e6 * 1e3)
    assert bare["load"]["power"]["value"] == pytest.approx(17.4e3**2 / 100.1e6)
    strays = {"upper_capacitance": "3pF", "lower_capacitance": "6nF", "frequency": "20Hz", "elements": 10}
    unsaid = check({**body, "network": {**network, **strays}})["network"]
    assert unsaid["carries"] == "cannot-tell"
    assert "stray_capacitance" in unsaid["explanation"]
    strays["stray_capacitance"] = "0.1pF"
    off = check({**body, "network": {**network, **strays}})["network"]
    assert not off["compensated"]
    assert off["carries"] == "yes"  # at 20 Hz the resistors still divide
    fast = check({**body, "network": {**network, **strays, "frequency": "40kHz"}})["network"]
    assert fast["carries"] == "no"
    assert fast["ratio_at_frequency"] == pytest.approx(2001.0, rel=0.02)
    assert off["element_voltage"]["value"] == pytest.approx(1.74, rel=0.01)


def test_a_network_that_contradicts_the_attenuation_is_remarked(check):
    network = {"upper_resistance": "100Mohm", "lower_resistance": "100kohm"}
    notes = check({**simulated(0.0, 0.004, attenuation=900), "network": network})["notes"]
    assert any("from the attenuation" in note for note in notes)


ONE = {"spacing": "3mm", "indicated_voltages": ["1kV"]}
ARMS = {"upper_resistance": "100Mohm", "lower_resistance": "100kohm"}


@pytest.mark.parametrize(
    ("change", "names"),
    [
        ({"reading": []}, ["reading"]),
        ({"sphere_diameter": 20}, ["sphere_diameter"]),
        ({"sphere_diameter": None}, ["sphere_diameter"]),
        ({"spacing_uncertainty": True}, ["spacing_uncertainty"]),
        ({"spacing_uncertainty": "1kg"}, ["spacing_uncertainty"]),
        ({"readings": []}, ["readings"]),
        ({"readings": "3mm"}, ["readings"]),
        ({"readings": [{"spacing": "3mm"}]}, ["readings[0].indicated_voltages"]),
        ({"readings": [{"spacing": "3mm", "indicated_voltages": [10.9]}]}, ["readings[0].indicated_voltages[0]"]),
        ({"readings": [{"spacing": "3", "indicated_voltages": ["1kV"]}]}, ["readings[0].spacing"]),
        ({"readings": [{**ONE, "instrument_voltages": ["1V"]}]}, ["readings[0].indicated_voltages"]),
        ({"readings": [3]}, ["readings[0]"]),
        ({"network": {"upper_resistance": "1Mohm"}}, ["network.lower_resistance"]),
        ({"network": {**ARMS, "upper_capacitance": "1pF"}}, ["network.upper_capacitance"]),
        ({"network": 5}, ["network"]),
        ({"waveform": "dc", "irradiated": "perhaps", "earthing": "none"}, ["irradiated", "earthing"]),
        ({"waveform": "lightning-impulse", "polarity": "negative", "measure": "rms"}, ["measure"]),
        ({"waveform": "lightning-impulse"}, ["polarity"]),
        ({"waveform": "pulse-train", "polarity": "weaker"}, ["polarity"]),
        ({"waveform": None}, ["waveform"]),
        ({"resolution": "-1kV"}, ["resolution"]),
        ({"spacing_uncertainty": "3mm"}, ["spacing_uncertainty"]),
    ],
)
def test_a_body_at_fault_is_refused_with_every_fault_named(check, change, names):
    with pytest.raises(BadQuestion) as refused:
        check({**simulated(0.0, 0.004), **change})
    assert {fault.parameter for fault in refused.value.faults} >= set(names)


def test_an_unknown_member_gets_a_suggestion(check):
    with pytest.raises(BadQuestion, match="did you mean 'readings'"):
        check({**simulated(0.0, 0.004), "reading": []})


def test_faults_in_several_places_are_named_at_once(check):
    body = {**simulated(0.0, 0.004), "irradiated": "perhaps", "colour": "red", "readings": [{"spacings": "3mm"}]}
    with pytest.raises(BadQuestion) as refused:
        check(body)
    named = {fault.parameter for fault in refused.value.faults}
    assert named == {"irradiated", "colour", "readings[0].spacing", "readings[0].spacings"}


def sheet(separator=",", mark="."):
    volts = ("10.9", "11.0", "10.8", "10.9", "11.1", "10.9", "10.8", "11.0", "10.9", "10.9")
    rows = [separator.join(("3", volt)) for volt in volts]
    return "\n".join([separator.join(("spacing_mm", "indicated_kV")), *rows]).replace(".", mark) + "\n"


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_a_sheet_is_read_as_the_same_check(check, separator):
    pairs = {"sphere_diameter": "20mm", "waveform": "dc", **WEATHER} | {
        f"network.{name}": text for name, text in ARMS.items()
    }
    body = body_from_csv(sheet(separator), pairs)
    assert body["readings"][0]["spacing"] == "3mm"
    assert len(body["readings"][0]["indicated_voltages"]) == 10
    document = check(body)
    assert document["settings"][0]["accepted"]
    assert document["network"]["dc_ratio"] == pytest.approx(1001.0)


def test_empty_rows_of_a_sheet_are_left_out_with_a_note(check):
    body = body_from_csv(sheet() + "4,\n4,\n", {"sphere_diameter": "20mm", "waveform": "dc"})
    assert body["unfilled_rows"] == 2
    assert any("2 rows of the sheet have no reading" in note for note in check(body)["notes"])


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("spacing_mm,indicated_kV\n3,10.9\n3,abc\n", "Row 3: indicated_kV"),
        ("spacing_mm,indicated_kV\n3,10.9\n,10.9\n", "Row 3 has an indicated_kV but no spacing_mm"),
        ("spacing_mm,indicated_kV\n3,10,9\n", "Row 2 has 3 cells under 2 columns"),
        ("spacing_mm,indicated_kV\n3,10:9\n", "A decimal mark is a point"),
        ("spacing_mm,indicated_kv,spacing_mm\n", "needs the column spacing_mm once"),
        ("spacing_cm,indicated_kV\n", "did you mean 'spacing_mm'"),
        ("spacing_mm,indicated_kV\n3,\n", "no row with an indicated_kV"),
        ("", "The sheet is empty"),
    ],
)
def test_a_sheet_at_fault_names_the_row(text, said):
    with pytest.raises(BadQuestion, match=said):
        body_from_csv(text, {"sphere_diameter": "20mm"})


def test_readings_do_not_go_into_the_query():
    with pytest.raises(BadQuestion, match="does not go into the query"):
        body_from_csv(sheet(), {"readings": "3mm"})


def test_the_lookup_declares_its_body(registry):
    lookup = probe_check.lookup(registry)
    assert lookup.post
    names = {one.name for one in (*lookup.body.parameters, *lookup.body.parts)}
    assert {"sphere_diameter", "readings", "network", "irradiated"} <= names


def test_a_setting_is_known_no_better_than_the_wider_half_of_its_band(check):
    # own balls at positive impulses: the band of the model reaches further up than down
    readings = [{"spacing": "15mm", "indicated_voltages": [f"{42 + 0.01 * (i % 5):.2f}kV" for i in range(10)]}]
    body = simulated(0.0, 0.0, waveform="lightning-impulse") | {"readings": readings}
    document = check({**body, "sphere_diameter": "30mm", "polarity": "positive"})
    volts = document["settings"][0]["reference_voltage"]
    up, down = volts["high"] / volts["value"] - 1, 1 - volts["low"] / volts["value"]
    assert up > down
    assert document["settings"][0]["ratio_error_uncertainty_percent"] >= 100 * up
    assert document["settings"][0]["ratio_error_uncertainty_percent"] < 150 * up


@pytest.mark.parametrize(("spacings", "told"), [((3, 4), False), ((3, 4, 16), True), ((16, 18), True)])
def test_that_a_model_stands_for_a_table_is_told_where_it_does_so_for_any_setting(check, spacings, told):
    # IEC 60052 Table 2 ends at 15 mm for spheres of 2 cm
    volts = {16: 43.0, 18: 45.0, **TABLE}
    readings = [{"spacing": f"{one}mm", "indicated_voltages": [f"{volts[one]}kV"] * 10} for one in spacings]
    body = {"sphere_diameter": "20mm", "waveform": "ac", "irradiated": "yes", "readings": readings, **WEATHER}
    assert (probe_check.NO_TABLE in check(body)["notes"]) is told


def test_settings_that_do_not_count_are_counted_where_others_do(check):
    body = simulated(0.0, 0.004)
    assert not any("do not count" in one for one in check(body)["notes"])
    body["readings"][1]["indicated_voltages"] = body["readings"][1]["indicated_voltages"][:4]
    some = check(body)
    assert [one["accepted"] for one in some["settings"]] == [True, False, True]
    assert "1 of 3 settings are not accepted and do not count." in some["notes"]
    for reading in body["readings"]:
        reading["indicated_voltages"] = reading["indicated_voltages"][:4]
    assert not any("do not count" in one for one in check(body)["notes"])  # none does: the verdict says so


@pytest.mark.parametrize(("name", "row"), [("spacing", 0), ("density", 2)])
def test_where_nobody_knows_how_the_voltage_moves_no_uncertainty_is_made_up(check, monkeypatch, name, row):
    """Left out, a part of the uncertainty would count as nought; a tolerance of nought is known to move nothing."""
    own = probe._by_own_methods

    def alone(found, many, times):
        volts = own(found, many, times).reshape(4, 3, -1)
        volts[row, [0, 2]] = np.nan
        return volts.ravel()

    body = simulated(0.0, 0.004)
    check({**body, f"{name}_uncertainty": "0mm" if name == "spacing" else "0percent"})
    monkeypatch.setattr(probe, "_by_own_methods", alone)
    with pytest.raises(BadQuestion, match=f"How the voltage moves with the {name} is not known here"):
        check(body)

"""The page before the switch, against the lookups and tables that it draws together."""

import json

import pytest

from service.lookups import breakdown, conductor_spacing, creepage, gap, hazard, switch_on_sheet

SCENARIO = "voltage=12kV&waveform=dc&capacitance=10nF&bleed_resistance=100Mohm"


def test_the_cautions_come_first(ask):
    document = ask(switch_on_sheet, SCENARIO)
    assert list(document)[:2] == ["lookup", "cautions"]
    keys = {caution["key"] for caution in document["cautions"]}
    assert {"not-a-barrier", "which-end", "bleeder", "self-charge", "local-codes"} <= keys


ALL_SAID = "pressure=101.3kPa&temperature=20degC&absolute_humidity=8.5g/m3"


def test_jumps_and_keeps_apart_are_those_of_the_gap_lookup(ask):
    """At stated air; digits are cut to two, away from the dangerous side."""
    document = ask(switch_on_sheet, f"{SCENARIO}&polarity=positive&{ALL_SAID}")
    right = ask(gap, f"voltage=12kV&waveform=dc&polarity=positive&{ALL_SAID}")["gaps"][-1]
    assert right["sparks_below"] * 0.97 < document["jumps_at"]["value"] <= right["sparks_below"]
    assert right["holds_above"] <= document["keeps_apart_above"]["value"] < right["holds_above"] * 1.07
    assert document["jumps_at"]["value"] < document["keeps_apart_above"]["value"]


@pytest.mark.parametrize(
    "query", ["voltage=10kV&measure=rms", "voltage=12kV&waveform=dc", "voltage=3kV", "voltage=90kV"]
)
@pytest.mark.parametrize("air", ["", "&altitude=1600m", f"&{ALL_SAID}"])
def test_what_keeps_apart_holds_by_the_withstand_estimate(ask, query, air):
    """10 kV rms once were kept apart by 13.41 mm, of which the service's own withstand estimate was 12.87 kV."""
    document = ask(switch_on_sheet, f"{query}{air}")
    peak = document["probe_must_bear"]["voltage"]["value"]
    around = "&waveform=dc" if "dc" in query else ""
    there = ask(breakdown, f"gap={document['keeps_apart_above']['value']!r}mm{around}{air}")
    assert there["withstand_estimate"]["value"] >= peak


def test_what_keeps_apart_does_so_at_any_place_that_was_not_said(ask):
    """Without pressure and altitude the sheet holds up to 2000 m, in a hot and thin hour."""
    document = ask(switch_on_sheet, "voltage=12kV&waveform=dc")
    # ISO 2533: 79.5 kPa at 2000 m; 97 kPa of 101.325 is a low pressure, common practice, no source
    thin = "pressure=76.2kPa&temperature=32degC&absolute_humidity=1g/m3&waveform=dc"
    there = ask(breakdown, f"gap={document['keeps_apart_above']['value']!r}mm&{thin}")
    assert there["withstand_estimate"]["value"] >= 12.0
    assert any("2000 m" in note for note in document["notes"])
    less = [ask(switch_on_sheet, f"voltage=12kV&waveform=dc&{air}") for air in (ALL_SAID, "altitude=500m")]
    assert all(one["keeps_apart_above"]["value"] <= document["keeps_apart_above"]["value"] for one in less)


def test_the_safe_distance_is_the_first_and_the_largest_thing(ask):
    """ "Jumps at 6.4 mm" was the bold figure; who reads it takes 10 mm for enough."""
    document = ask(switch_on_sheet, "voltage=15kV&measure=rms")
    fields = list(document)
    assert fields.index("keeps_apart_above") < fields.index("jumps_at")
    assert document["headline"]["label"] == "Keeps apart above"
    assert document["headline"]["text"] == f"{document['keeps_apart_above']['value']:g} mm"
    assert document["sentence"].startswith("It may jump anywhere up to")
    assert document["keeps_apart_above"]["value"] == float(f"{document['keeps_apart_above']['value']:.2g}")
    for word in ("board distance", "surface distance", "largest"):
        assert word in document["which_distance"]


def test_an_unknown_measure_takes_the_worse_end_of_each(ask):
    unknown, peak = (ask(switch_on_sheet, f"voltage=12kV&measure={key}") for key in ("unknown", "peak"))
    assert unknown["keeps_apart_above"]["value"] > peak["keeps_apart_above"]["value"]
    assert unknown["jumps_at"]["value"] < peak["jumps_at"]["value"]
    assert unknown["probe_must_bear"]["voltage"]["value"] == pytest.approx(12 * 2**0.5)


@pytest.mark.parametrize("voltage", ["60V", "230V", "600V", "12kV", "80kV"])
@pytest.mark.parametrize("altitude", ["0m", "3500m"])
def test_board_distances_are_those_of_the_guidance(ask, voltage, altitude):
    sheet = ask(switch_on_sheet, f"voltage={voltage}&waveform=dc&altitude={altitude}")
    for entry in sheet["board_distances"]:
        query = f"voltage={voltage}&place={entry['place']}&altitude={altitude}"
        assert entry["spacing"] == ask(conductor_spacing, query)["spacing"]


def test_thin_air_takes_the_high_column_however_it_was_given(ask):
    # ISO 2533: 61.66 kPa at 4000 m; IPC-2221 Table 6-1 has a column for bare outer conductors above 3050 m
    sheets = [ask(switch_on_sheet, f"voltage=12kV&waveform=dc&{air}") for air in ("altitude=4000m", "pressure=61.6kPa")]
    high, same = ({one["place"]: one["spacing"]["value"] for one in sheet["board_distances"]} for sheet in sheets)
    assert high == same
    ordinary = ask(switch_on_sheet, "voltage=12kV&waveform=dc")
    assert high["external-uncoated"] > ordinary["board_distances"][1]["spacing"]["value"]
    for sheet, thin in ((sheets[0], True), (sheets[1], True), (ordinary, False)):
        assert any("3050 m" in note for note in sheet["notes"]) is thin


def test_the_column_changes_above_the_altitude_of_its_heading(ask):
    found = [
        {one["place"]: one["spacing"]["value"] for one in sheet["board_distances"]}["external-uncoated"]
        for sheet in (ask(switch_on_sheet, f"voltage=12kV&waveform=dc&altitude={z}m") for z in (3049, 3050, 3051))
    ]
    assert found[0] == found[1] < found[2]


@pytest.mark.parametrize(("peak", "working"), [("60V", "60V"), ("1kV", "1kV"), ("12kV", "12kV")])
def test_surface_distances_are_those_of_the_creepage_table(ask, peak, working):
    sheet = ask(switch_on_sheet, f"voltage={peak}&waveform=dc")
    for entry in sheet["surface_distances"]:
        degree = entry["pollution_degree"]
        query = f"working_voltage={working}&pollution_degree={degree}&insulation=basic&material_group=IIIa"
        assert entry["creepage"] == ask(creepage, query)["creepage"]


def test_of_a_sine_tracking_follows_the_rms_value(ask):
    sine = ask(switch_on_sheet, "voltage=10kV&measure=rms")["surface_distances"]
    direct = ask(switch_on_sheet, "voltage=10kV&waveform=dc")["surface_distances"]
    assert sine == direct


def test_beyond_the_end_of_the_creepage_table_nothing_is_invented(ask):
    document = ask(switch_on_sheet, "voltage=80kV&waveform=dc")
    assert document["surface_distances"] == []
    assert any("ends below this voltage" in note for note in document["notes"])


def test_what_stays_stored_is_that_of_the_hazard_lookup(ask):
    sheet = ask(switch_on_sheet, SCENARIO)
    stored = ask(hazard, "voltage=12kV&measure=direct&capacitance=10nF&bleed_resistance=100Mohm")
    for name in ("stored_energy", "charge", "discharge_time"):
        assert sheet[name]["value"] == pytest.approx(stored[name]["value"], rel=1e-9)
    assert sheet["bleed_power"]["value"] == pytest.approx(12e3**2 / 100e6)


def test_without_a_capacitance_the_charge_is_called_unknown(ask):
    document = ask(switch_on_sheet, "voltage=12kV&waveform=dc")
    assert "stored_energy" not in document
    assert "charge-unknown" in {caution["key"] for caution in document["cautions"]}


def test_a_voltage_below_every_breakdown_has_no_gap_and_says_so(ask):
    document = ask(switch_on_sheet, "voltage=200V&waveform=dc")
    assert "jumps_at" not in document
    assert document["smallest_breakdown_voltage"]["high"] > 0.3


def test_in_another_gas_no_table_of_air_is_used(ask):
    document = ask(switch_on_sheet, "voltage=20kV&gas=argon")
    assert "board_distances" not in document
    assert "keeps_apart_above" not in document
    assert any("not known" in note for note in document["notes"])


def test_no_workbench_answer_uses_a_forbidden_word(ask):
    text = json.dumps(ask(switch_on_sheet, SCENARIO)).lower()
    for word in (" safe", "harmless", " ok ", " pass ", "may approach", "may touch", "withstands", "complies"):
        assert word not in text


def test_the_heat_of_a_bleeder_is_that_of_the_rms_voltage(ask):
    # a sine of 12 kV rms heats as 12 kV direct; a direct voltage by its own value
    given = "voltage=12kV&measure=rms&waveform=ac&bleed_resistance=100Mohm"
    assert ask(switch_on_sheet, given)["bleed_power"]["value"] == pytest.approx(12e3**2 / 100e6)

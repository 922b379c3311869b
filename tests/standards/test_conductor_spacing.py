"""Conductor spacing: IPC-2221 Table 6-1 (memory; two cells also in public secondary reproductions)."""

import pytest

from service.errors import BadQuestion
from service.lookups import conductor_spacing


def spacing(ask, voltage, place, further=""):
    return ask(conductor_spacing, f"voltage={voltage}V&place={place}{further}")["spacing"]["value"]


def test_six_hundred_volts_outside_and_bare_need_three_millimetres(ask):
    answer = ask(conductor_spacing, "voltage=600V&place=external-uncoated")
    assert answer["spacing"]["value"] == 3.0
    found = answer["requirements"][0]
    assert found["rule"] == "2.5 mm + 100 V x 0.005 mm per V"
    assert found["provenance"] == "memory"
    assert any("IPC-9592" in note for note in answer["notes"])


@pytest.mark.parametrize(
    ("voltage", "place", "printed"),
    [
        (15, "internal", 0.05), (15.5, "internal", 0.05), (31, "internal", 0.1), (500, "internal", 0.25),
        (300, "assembly-coated", 0.4), (300, "lead-coated", 0.8), (30, "lead-uncoated", 0.25),
        (100, "external-coated", 0.13), (1000, "external-coated", 0.8 + 500 * 0.00305),
    ],
)  # fmt: skip
def test_steps_up_to_five_hundred_volts_and_a_slope_above(ask, voltage, place, printed):
    assert spacing(ask, voltage, place) == pytest.approx(printed, abs=1e-3)


def test_bare_outer_conductors_need_more_in_thin_air(ask):
    assert spacing(ask, 600, "external-uncoated", "&altitude=3050m") == 3.0
    assert spacing(ask, 600, "external-uncoated", "&altitude=3051m") == pytest.approx(12.5 + 100 * 0.025)
    assert spacing(ask, 600, "internal", "&altitude=5000m") == spacing(ask, 600, "internal")
    leads = ask(conductor_spacing, "voltage=600V&place=lead-uncoated&altitude=5000m")
    assert any("no counterpart above" in note for note in leads["notes"])


@pytest.mark.parametrize(
    ("voltage", "low", "high"), [(500, 1.5, 12.5), (1000, 1.5 + 500 * 0.00305, 12.5 + 500 * 0.025)]
)
def test_bare_leads_above_their_column_take_the_larger_of_it_and_of_bare_tracks(ask, voltage, low, high):
    # Table 6-1 from memory: A6 ends at 3050 m, its neighbour B3 begins there
    assert spacing(ask, voltage, "lead-uncoated", "&altitude=3050m") == pytest.approx(low)
    answer = ask(conductor_spacing, f"voltage={voltage}V&place=lead-uncoated&altitude=3500m")
    assert answer["spacing"]["value"] == pytest.approx(high)
    assert [one["key"] for one in answer["requirements"]] == ["board", "bare-track-in-thin-air"]
    assert any("B3" in note for note in answer["notes"])


def test_the_clearance_tables_stand_beside_and_which_governs_where(ask):
    answer = ask(conductor_spacing, "voltage=12kV&place=external-uncoated")
    beside = {one["key"]: one["spacing"]["value"] for one in answer["beside"]}
    assert beside == {"clearance": 19.0, "creepage": 120.0}
    assert [one["standard"] for one in answer["governs_where"]] == ["ipc-2221", "iec-60664-1", "both"]


@pytest.mark.parametrize("place", sorted(set(conductor_spacing.PLACES) - set(conductor_spacing.BARE)))
@pytest.mark.parametrize(("voltage", "coated", "bare"), [("400V", 1.0, 2.0), ("1kV", 3.2, 5.0)])
def test_beside_a_coating_stand_the_distances_under_it_and_without_it(ask, place, voltage, coated, bare):
    # IEC 60664-3 (public abstract): a coating of type 1 improves the surroundings only, to pollution degree 1; F.4
    answer = ask(conductor_spacing, f"voltage={voltage}&place={place}")
    beside = {one["key"]: one["spacing"]["value"] for one in answer["beside"]}
    assert set(beside) == {"clearance-type-1", "creepage-type-1", "clearance", "creepage"}
    assert beside["creepage-type-1"] == coated
    # leads have no column of printed wiring: group IIIa of the general surface
    assert beside["creepage"] == (bare if place != "lead-coated" else {"400V": 4.0, "1kV": 10.0}[voltage])
    assert beside["clearance-type-1"] <= beside["clearance"]
    assert not any("do not apply" in note for note in answer["notes"])
    assert any("varnish that was not tested" in note for note in answer["notes"])


def test_beyond_the_clearance_tables_the_reason_is_given(ask):
    answer = ask(conductor_spacing, "voltage=120kV&place=lead-uncoated")
    assert any("No clearance beside it" in note for note in answer["notes"])


def test_where_a_table_beside_it_ends_its_last_row_stands_and_more_is_asked(ask):
    # F.4 ends at 63 kV with 600 mm (pollution degree 2, group III), where IPC-2221 asks for a quarter of it
    for voltage in ("63.1kV", "99kV", "200kV"):
        answer = ask(conductor_spacing, f"voltage={voltage}&place=internal")
        last = next(one for one in answer["beside"] if one["key"] == "creepage")
        assert last["spacing"]["value"] == 600.0
        assert "ends at 63 kV" in last["title"]
        assert answer["headline"]["text"] == "600 mm"
        assert "more than that" in answer["sentence"]
        assert any("No creepage beside it" in note for note in answer["notes"])
    beyond = ask(conductor_spacing, "voltage=400kV&place=internal")
    assert beyond["headline"]["text"] == "999 mm"
    assert beyond["sentence"].endswith("tables beside it end below this voltage.")


@pytest.mark.parametrize("query", ["voltage=600V", "place=internal", "voltage=600V&place=outside"])
def test_voltage_and_place_are_needed(ask, query):
    with pytest.raises(BadQuestion):
        ask(conductor_spacing, query)

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


def test_the_clearance_tables_stand_beside_and_which_governs_where(ask):
    answer = ask(conductor_spacing, "voltage=12kV&place=external-uncoated")
    beside = {one["key"]: one["spacing"]["value"] for one in answer["beside"]}
    assert beside == {"clearance": 19.0, "creepage": 120.0}
    assert [one["standard"] for one in answer["governs_where"]] == ["ipc-2221", "iec-60664-1", "both"]


def test_no_clearance_is_claimed_where_no_air_is(ask):
    answer = ask(conductor_spacing, "voltage=600V&place=internal")
    assert answer["beside"] == []
    assert any("do not apply here" in note for note in answer["notes"])


def test_beyond_the_clearance_tables_the_reason_is_given(ask):
    answer = ask(conductor_spacing, "voltage=120kV&place=lead-uncoated")
    assert any("No clearance beside it" in note for note in answer["notes"])


@pytest.mark.parametrize("query", ["voltage=600V", "place=internal", "voltage=600V&place=outside"])
def test_voltage_and_place_are_needed(ask, query):
    with pytest.raises(BadQuestion):
        ask(conductor_spacing, query)

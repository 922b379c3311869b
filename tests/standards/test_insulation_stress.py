"""Insulation stress: layers in series by hand; air inception by the methods of the service; strengths as published."""

import math

import pytest

from service.errors import BadQuestion
from service.lookups import insulation_stress

LAYER = "voltage=12kV&thickness=1mm&permittivity=3"


def test_a_layer_without_air_has_voltage_over_thickness(ask):
    answer = ask(insulation_stress, LAYER)
    assert answer["solid_field"] == {"value": pytest.approx(12.0), "unit": "kV/mm"}
    # a thin film beside it: permittivity times that
    assert answer["air_film_field"]["value"] == pytest.approx(36.0)
    assert "air_film_voltage" not in answer
    assert any("give air_film" in note for note in answer["notes"])


def test_an_air_film_takes_the_larger_field(ask):
    answer = ask(insulation_stress, f"{LAYER}&air_film=0.1mm")
    film = 12.0 / (0.1 + 1.0 / 3)
    assert answer["air_film_field"]["value"] == pytest.approx(film)
    assert answer["solid_field"]["value"] == pytest.approx(film / 3)
    assert answer["air_film_voltage"]["value"] == pytest.approx(0.1 * film)


def test_the_film_breaks_down_where_its_share_reaches_the_breakdown_of_its_gap(ask):
    answer = ask(insulation_stress, f"{LAYER}&air_film=0.1mm")
    inception, film = answer["air_film_inception"], answer["air_film_breakdown"]
    # 0.1 mm of air between plates at 101.3 kPa: 24.36 x + 6.72 sqrt x kV, x = 0.01013 bar cm (memory)
    assert film["value"] == pytest.approx(24.36 * 0.01013 + 6.72 * math.sqrt(0.01013), rel=1e-3)
    assert inception["value"] == pytest.approx(film["value"] * (0.1 + 1 / 3) / 0.1)
    assert inception["low"] < inception["value"] < inception["high"]
    assert answer["method"]["air_film"]["kind"] == "formula"


def test_a_wire_has_its_field_at_the_conductor(ask):
    answer = ask(insulation_stress, "voltage=10kV&thickness=1mm&permittivity=2.3&conductor_diameter=2mm")
    # U / (r ln(R/r)), r = 1 mm, R = 2 mm
    assert answer["solid_field"]["value"] == pytest.approx(10 / math.log(2))
    assert "insulated-wire" in [one["key"] for one in answer["cautions"]]


def test_a_wire_of_great_diameter_is_a_plane_layer(ask):
    plane = ask(insulation_stress, f"{LAYER}&air_film=0.1mm")
    wire = ask(insulation_stress, f"{LAYER}&air_film=0.1mm&conductor_diameter=5m")
    assert wire["solid_field"]["value"] == pytest.approx(plane["solid_field"]["value"], rel=1e-3)
    assert wire["air_film_field"]["value"] == pytest.approx(plane["air_film_field"]["value"], rel=1e-3)


def test_published_strengths_come_with_method_thickness_and_provenance(ask):
    answer = ask(insulation_stress, "voltage=5kV&thickness=0.05mm&material=polyimide-film")
    film = next(one for one in answer["strength"] if one.get("thickness", {}).get("value") == pytest.approx(0.0508))
    # DuPont Kapton HN electrical table: 197 kV/mm at 50.8 um
    assert film["value"] == 197.0
    assert film["method"] == "ASTM D149"
    assert film["provenance"] == "reproduction"
    assert not any("None of the published strengths" in note for note in answer["notes"])
    assert any("falls with thickness" in note for note in answer["notes"])


def test_a_published_range_of_permittivity_makes_a_bracket(ask):
    answer = ask(insulation_stress, "voltage=12kV&thickness=0.8mm&material=fr-4&air_film=0.05mm")
    assert answer["relative_permittivity"] == {"value": None, "low": 4.6, "high": 4.8}
    assert answer["air_film_field"]["value"] is None
    assert answer["air_film_field"]["low"] == pytest.approx(12 / (0.05 + 0.8 / 4.6))
    assert answer["air_film_field"]["high"] == pytest.approx(12 / (0.05 + 0.8 / 4.8))


def test_thin_air_breaks_down_earlier(ask):
    low, high = (
        ask(insulation_stress, f"{LAYER}&air_film=1mm&altitude={metres}m")["air_film_inception"]["value"]
        for metres in (0, 4000)
    )
    assert high < 0.75 * low


def test_no_answer_is_a_verdict(ask):
    answer = ask(insulation_stress, f"{LAYER}&air_film=0.1mm")
    assert not {"verdict", "exceeded", "margin"} & set(answer)


@pytest.mark.parametrize(
    "query",
    [
        "voltage=12kV&thickness=1mm",
        "voltage=12kV&thickness=1mm&permittivity=0.5",
        "voltage=12kV&thickness=1mm&material=abs&air_film=1mm",
        "voltage=12kV&thickness=1mm&material=fr4",
        "thickness=1mm&permittivity=3",
        f"{LAYER}&pressure=80kPa&altitude=2000m",
    ],
)
def test_what_cannot_be_answered_is_refused(ask, query):
    with pytest.raises(BadQuestion):
        ask(insulation_stress, query)


def test_a_material_without_permittivity_still_has_its_solid_field(ask):
    answer = ask(insulation_stress, "voltage=12kV&thickness=1mm&material=abs")
    assert answer["solid_field"]["value"] == pytest.approx(12.0)
    assert "air_film_field" not in answer

"""The air film that breaks down first where its thickness is not known: no known thickness breaks down below it."""

import pytest

from service.lookups import insulation_stress

LAYER = "voltage=12kV&thickness=1.6mm&permittivity=4.7"


@pytest.mark.parametrize("extra", ["", "&conductor_diameter=1mm"])
def test_no_film_of_known_thickness_breaks_down_before_the_weakest(ask, extra):
    answer = ask(insulation_stress, LAYER + extra)
    weakest = answer["air_film_inception"]
    known = [
        ask(insulation_stress, f"{LAYER}{extra}&air_film={film}mm")["air_film_inception"]["value"]
        for film in (0.01, 0.03, 0.1, 0.15, 0.2, 0.3, 0.5, 1.0, 3.0, 10.0)
    ]
    # the weakest is sought between plates; around a wire it lies within a few percent of it
    assert min(known) >= weakest["value"] * (1.0 if not extra else 0.97)
    assert weakest["low"] < weakest["value"] < weakest["high"]


def test_the_weakest_film_answers_as_a_film_of_that_thickness_does(ask):
    answer = ask(insulation_stress, LAYER)
    film = answer["air_film_weakest"]["value"]
    same = ask(insulation_stress, f"{LAYER}&air_film={film}mm")
    assert same["air_film_inception"]["value"] == pytest.approx(answer["air_film_inception"]["value"], rel=1e-3)


def test_plates_at_the_weakest_film_hold_what_their_formula_says(ask):
    answer = ask(insulation_stress, LAYER)
    x = answer["air_film_weakest"]["value"] / 10
    # Kuffel, Zaengl and Kuffel: 24.36 x + 6.72 sqrt(x) kV, x in cm
    assert answer["air_film_breakdown"]["value"] == pytest.approx(24.36 * x + 6.72 * x**0.5, rel=0.01)


def test_a_material_without_permittivity_has_no_film(ask):
    answer = ask(insulation_stress, "voltage=12kV&thickness=1mm&material=pps")
    assert "air_film_inception" not in answer
    assert "air_film_field" not in answer

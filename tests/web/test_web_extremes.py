"""No number, however extreme, makes the service fail; no list, no name and no fault is without end."""

from __future__ import annotations

from urllib.parse import parse_qsl, urlencode

import pytest

from service import units
from service.parameters import MOST_FAULTS, MOST_LISTED, Parameter, Question
from service.web import create_app

MAGNITUDES = ("1e-320", "1e-307", "1e-160", "1e-30", "1e-9", "1", "1e9", "1e30", "1e155", "1e307", "1.79e308")


@pytest.fixture(scope="module")
def app():
    return create_app()


@pytest.fixture(scope="module")
def client(app):
    return app.test_client()


@pytest.fixture(scope="module")
def lookups(app):
    return app.extensions["workshop"].lookups


KEYS = sorted(create_app().extensions["workshop"].lookups)


@pytest.mark.parametrize("key", KEYS)
def test_every_declaration_has_bounds(lookups, key):
    """A number without bounds overflows somewhere: 1e155 V squared is not a number any more."""
    plain = ("choice", "boolean", "text")
    bare = [p.name for p in lookups[key].parameters if p.dimension not in plain and None in (p.low, p.high)]
    assert bare == []


def written(parameter: Parameter, magnitude: str) -> str:
    unit = units.DIMENSIONS[parameter.dimension].shown if parameter.dimension in units.DIMENSIONS else ""
    return f"{magnitude}{unit}"


@pytest.mark.parametrize("key", KEYS)
def test_no_extreme_value_makes_the_service_fail(client, lookups, key):
    lookup = lookups[key]
    if lookup.post:
        return
    base = dict(parse_qsl(lookup.example))
    asked = [p for p in lookup.parameters if p.dimension in units.DIMENSIONS or p.dimension in ("number", "count")]
    for parameter in asked:
        for magnitude in MAGNITUDES:
            query = urlencode(base | {parameter.name: written(parameter, magnitude)})
            response = client.get(f"/v1/{key}?{query}")
            assert response.status_code in (200, 400, 422), query


NUMERALS = ("0e-99999999", "0e9999999", "1e-99999999", "1e-30", "8." + 50 * "0", f"1{35 * chr(48)}e-33", "5e-324", "-0")


@pytest.mark.parametrize("key", KEYS)
def test_no_last_place_makes_the_service_fail(client, lookups, key):
    """What is typed is carried to its last place, which may be finer or coarser than any number is."""
    lookup = lookups[key]
    if lookup.post:
        return
    base = dict(parse_qsl(lookup.example))
    for parameter in [one for one in lookup.parameters if one.digits and one.dimension in units.DIMENSIONS]:
        for unit in units.DIMENSIONS[parameter.dimension].spellings:
            for numeral in NUMERALS:
                query = urlencode(base | {parameter.name: f"{numeral}{unit}"})
                response = client.get(f"/v1/{key}?{query}")
                assert response.status_code in (200, 400, 422), query


def test_a_sheet_is_written_in_every_gas(client, lookups):
    """A distance cut to two digits may lie below the first gap that the methods cover: 1.03 mm of C2F6 is 0.95 mm."""
    gases = next(one for one in lookups["switch-on-sheet"].parameters if one.name == "gas").choices
    for gas in gases:
        for voltage in ("1kV", "12kV", "30kV"):
            response = client.get(f"/v1/switch-on-sheet?voltage={voltage}&waveform=dc&gas={gas}")
            assert response.status_code in (200, 400, 422), (gas, voltage)  # a mixture needs its fraction
            if response.status_code == 200:
                assert response.json["method"]["key"], (gas, voltage)


def test_a_film_wider_than_any_method_has_no_high_end(client):
    """Beside a film of a metre around a wire only the low end is known."""
    query = "air_film=1.13m&voltage=12kV&conductor_diameter=1mm&material=polyethylene&thickness=0.8mm"
    answer = client.get(f"/v1/insulation-stress?{query}").json
    assert "high" not in answer["air_film_inception"]
    assert "below the voltage from which the air beside the solid may discharge" in answer["sentence"]
    above = client.get(f"/v1/insulation-stress?{query.replace('12kV', '900kV')}").json
    assert "the air beside the solid may discharge" in above["sentence"]


def test_a_superscript_is_no_digit(client):
    assert client.get("/v1/gap?voltage=12kV&only=gaps.%C2%B2").status_code == 400
    assert client.get("/v1/gap?voltage=1%C2%B2kV").status_code == 400


def test_a_list_has_a_length(client):
    sizes = ",".join(f"{1 + i / 100}cm" for i in range(MOST_LISTED + 1))
    response = client.get(f"/v1/sphere-gaps?voltage=40kV&sphere_diameter={sizes}")
    assert response.status_code == 400
    assert f"at most {MOST_LISTED}" in response.json["detail"]


def test_a_refusal_stays_small(client):
    names = "&".join(f"unknown{i}=1" for i in range(5000))
    response = client.get(f"/v1/breakdown?gap=8mm&{names}")
    assert response.status_code == 400
    assert len(response.data) < 60_000
    few = "&".join(f"unknown{i}=1" for i in range(40))
    response = client.get(f"/v1/breakdown?gap=8mm&{few}")
    assert len(response.json["errors"]) == MOST_FAULTS
    assert "And 20 more." in response.json["detail"]


def test_a_bound_holds_at_its_own_value():
    for dimension in units.DIMENSIONS:
        parameter = Parameter("x", dimension, "A bound.")
        for bound in (parameter.low, parameter.high):
            lowest = units.DIMENSIONS[dimension].lowest
            if lowest is None or bound > lowest:
                shown = units.shown(bound, dimension)
                assert Question("", {"x": bound}).number("x") == bound
                assert parameter.read(f"{shown!r}{units.DIMENSIONS[dimension].shown}") == pytest.approx(bound)

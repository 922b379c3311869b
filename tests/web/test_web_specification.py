"""The specification: valid, in step with the routes, and true of every answer; fuzzed by its own schemas."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import parse_qsl

import jsonschema
import pytest
import yaml
from openapi_spec_validator import validate

import service
from tests.asking import SHIPPED

SPEC = yaml.safe_load((Path(service.__file__).parent.parent / "openapi.yaml").read_text(encoding="utf-8"))
LOOKUPS = [one for one in SHIPPED.found.values() if not one.post]


def test_the_specification_is_valid_openapi():
    validate(SPEC)


@pytest.mark.parametrize("lookup", LOOKUPS, ids=lambda one: one.key)
def test_an_answer_is_what_the_specification_says(client, lookup):
    document = client.get(f"/v1/{lookup.key}?{lookup.example}").get_json()
    schema = {"$ref": f"#/components/schemas/{lookup.key}-answer", "components": SPEC["components"]}
    jsonschema.Draft202012Validator(schema).validate(document)


def test_a_problem_is_what_the_specification_says(client):
    schema = {"$ref": "#/components/schemas/problem", "components": SPEC["components"]}
    for query in ("gap=8", "gap=2cm&electrodes=uniform-field&method=closed-form-air-raizer", "", "gap=8mm&gas=foo"):
        document = client.get(f"/v1/breakdown?{query}").get_json()
        jsonschema.Draft202012Validator(schema).validate(document)


def test_every_route_is_in_the_specification(client):
    known = set(SPEC["paths"])
    rules = {rule.rule for rule in client.application.url_map.iter_rules()}
    plain = {rule for rule in rules if "<" not in rule}
    assert plain <= known


def named(response) -> set[str]:
    return {error["parameter"] for error in response.get_json()["errors"]}


def text(parameter) -> str:
    plain = {"boolean": "true", "count": "3", "number": "1"}
    return parameter.example or parameter.default or (parameter.choices or (plain[parameter.dimension],))[0]


@pytest.mark.parametrize("lookup", LOOKUPS, ids=lambda one: one.key)
def test_what_is_required_is_refused_without(client, lookup):
    """Said by ``required``, so that a client that leaves it out is never told by a type that it may."""
    pairs = dict(parse_qsl(lookup.example))
    for parameter in lookup.parameters:
        without = {name: value for name, value in pairs.items() if name != parameter.name}
        response = client.get(f"/v1/{lookup.key}", query_string=without)
        if parameter.required:
            assert response.status_code == 400, parameter.name
            assert parameter.name in named(response)
        elif parameter.name in pairs and not any(
            parameter.name in way for way in (*lookup.one_of, SHIPPED.registry.size_names)
        ):
            assert response.status_code == 200 or parameter.name not in named(response), parameter.name


@pytest.mark.parametrize("lookup", [one for one in LOOKUPS if one.one_of], ids=lambda one: one.key)
def test_one_of_several_ways_is_needed_and_does(client, lookup):
    every = {parameter.name: parameter for parameter in lookup.parameters}
    pairs = dict(parse_qsl(lookup.example))
    among = {name for way in lookup.one_of for name in way}
    rest = {name: value for name, value in pairs.items() if name not in among}
    response = client.get(f"/v1/{lookup.key}", query_string=rest)
    assert response.status_code == 400
    assert named(response) <= among
    for way in lookup.one_of:
        sizes = way in SHIPPED.registry.sizes_of_gap
        shape = {"electrodes": "coaxial-cylinders"} if sizes else {}
        asked = rest | shape | {name: pairs.get(name) or text(every[name]) for name in way}
        assert client.get(f"/v1/{lookup.key}", query_string=asked).status_code == 200, way


@pytest.mark.parametrize("lookup", LOOKUPS, ids=lambda one: one.key)
def test_what_excludes_another_is_refused_beside_it(client, lookup):
    every = {parameter.name: parameter for parameter in lookup.parameters}
    for parameter in lookup.parameters:
        for other in set(parameter.excludes) & set(every):
            both = {one: text(every[one]) for one in (parameter.name, other)}
            asked = {name: value for name, value in parse_qsl(lookup.example) if name not in parameter.excludes} | both
            response = client.get(f"/v1/{lookup.key}", query_string=asked)
            assert response.status_code == 400, (parameter.name, other)
            assert {parameter.name, other} <= named(response)
        for other in parameter.needs:
            asked = dict(parse_qsl(lookup.example)) | {parameter.name: text(parameter)}
            assert named(client.get(f"/v1/{lookup.key}", query_string=asked)) == {other}


def test_the_rules_between_parameters_are_said():
    parameters = SPEC["components"]["parameters"]
    assert "Not beside pressure. Needs altitude." in parameters["sea_level_pressure"]["description"]
    assert "Not beside relative_humidity or absolute_humidity." in parameters["dew_point"]["description"]
    said = SPEC["paths"]["/v1/breakdown"]["get"]["description"]
    assert "Needs gap; or gap_from and gap_to; or inner_diameter and outer_diameter." in said
    required = [one for one in SPEC["components"]["parameters"].values() if one["name"] == "scale_factor"]
    assert all(one["required"] for one in required)

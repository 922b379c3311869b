"""The specification: valid, in step with the routes, and true of every answer; fuzzed by its own schemas."""

from __future__ import annotations

from pathlib import Path

import jsonschema
import pytest
import yaml
from openapi_spec_validator import validate

import service
from service import lookups
from service.answers.registry import Registry

SPEC = yaml.safe_load((Path(service.__file__).parent.parent / "openapi.yaml").read_text(encoding="utf-8"))
LOOKUPS = [one for one in lookups.discover(Registry.build()).values() if not one.post]


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

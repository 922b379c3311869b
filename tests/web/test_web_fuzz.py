"""Whatever is asked, it is answered or refused with a problem, and never fails."""

from __future__ import annotations

import random

import pytest

from tests.asking import SHIPPED

LOOKUPS = [one for one in SHIPPED.found.values() if not one.post]
TEXTS = [
    "8mm",
    "1e-3mm",
    "0.5m",
    "12kV",
    "1e9V",
    "20degC",
    "-40degC",
    "true",
    "x",
    "5%",
    "1e308kPa",
    "1Pa",
    "100kPa",
    "50kHz",
    "10MHz",
    "1e3",
    "3",
    "air",
    "vacuum",
    "argon",
    "dc",
    "positive",
    "sphere-gap",
    "unknown",
    "needle-gap",
    "coaxial-cylinders",
    "I",
    "IV",
    "basic",
    "2cm",
    "rms",
    "<b>",
    "1nF",
    "45uC",
    "30mA",
    "24V",
]


def choice(source, parameter):
    known = parameter.choices and source.random() < 0.8
    return source.choice(list(parameter.choices) if known else TEXTS)


@pytest.mark.parametrize("lookup", LOOKUPS, ids=lambda one: one.key)
def test_no_question_makes_the_service_fail(client, lookup):
    source = random.Random(lookup.key)
    for _ in range(40):
        pairs = dict(pair.split("=", 1) for pair in lookup.example.split("&") if pair)
        count = min(len(lookup.parameters), source.randint(0, 3))
        pairs |= {p.name: choice(source, p) for p in source.sample(lookup.parameters, count)}
        response = client.get(f"/v1/{lookup.key}", query_string=pairs)
        assert response.status_code in (200, 400, 422), pairs
        kind = "application/json" if response.status_code == 200 else "application/problem+json"
        assert response.content_type == kind

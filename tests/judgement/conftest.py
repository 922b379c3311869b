"""The registry and a way to put a question to the engine of judgement."""

from __future__ import annotations

from dataclasses import replace

import pytest

from service.answers.registry import Registry
from service.answers.situation import one, situation
from service.judgement import Allowances, needs, typed_digits, unsaid
from service.lookups import spark
from service.parameters import read_question


@pytest.fixture(scope="session")
def registry():
    return Registry.build()


@pytest.fixture(scope="session")
def allowances(registry):
    return Allowances.of(registry.reference)


@pytest.fixture(scope="session")
def needed(registry, allowances):
    """What a first spark of a length needs, from a question as it would be typed."""
    known = spark.lookup(registry).parameters

    def ask(query: str):
        question = read_question("spark", known, [tuple(pair.split("=")) for pair in query.split("&")])
        here = situation(question, registry)
        things = unsaid(question, here, allowances)
        case = replace(here.case, gap=one(question.number("length")))
        off = {"gap": question.half_digit("length"), **typed_digits(question, here, allowances)}
        return needs(here.arrangement, case, things, allowances=allowances, off=off)

    return ask

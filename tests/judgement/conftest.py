"""A way to put a question to the engine of judgement."""

from __future__ import annotations

from dataclasses import replace

import pytest

from service.answers.situation import one, situation
from service.judgement import Allowances, needs, typed_digits, unsaid
from tests.asking import SHIPPED


@pytest.fixture(scope="session")
def allowances(registry):
    return Allowances.of(registry.reference)


@pytest.fixture(scope="session")
def needed(registry, allowances):
    """What a first spark of a length needs, from a question as it would be typed."""

    def ask(query: str):
        question = SHIPPED.question("spark", query)
        here = situation(question, registry)
        things = unsaid(question, here, allowances)
        case = replace(here.case, gap=one(question.number("length")))
        off = {"gap": question.half_digit("length"), **typed_digits(question, here, allowances)}
        return needs(here.arrangement, case, things, allowances=allowances, off=off)

    return ask

"""Asking a lookup of the workbench as the service does."""

from urllib.parse import parse_qsl

import pytest

from service.answers.registry import Registry
from service.parameters import read_question


@pytest.fixture(scope="session")
def registry():
    return Registry.build()


@pytest.fixture(scope="session")
def ask(registry):
    """Return a function from a lookup module and a query to the answer document."""

    def asked(module, query):
        lookup = module.lookup(registry)
        question = read_question(lookup.key, lookup.parameters, parse_qsl(query, keep_blank_values=True))
        return lookup.answer(question).document(registry)

    return asked

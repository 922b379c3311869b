"""Asking the service as its users do."""

from urllib.parse import parse_qsl

import pytest

from service import lookups
from service.answers.registry import Registry
from service.parameters import read_question


@pytest.fixture(scope="session")
def registry():
    return Registry.build()


@pytest.fixture(scope="session")
def lookup_of(registry):
    """Return every lookup by key."""
    return lookups.discover(registry)


@pytest.fixture(scope="session")
def ask(registry, lookup_of):
    """Return a function from the key of a lookup and a query to the answer document."""

    def asked(key, query):
        lookup = lookup_of[key]
        return lookup.answer(read_question(key, lookup.parameters, parse_qsl(query))).document(registry)

    return asked

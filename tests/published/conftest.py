"""Asking the service as its users do, and the printed questions of the data packages."""

from urllib.parse import parse_qsl

import pytest

from service import lookups
from service.answers.registry import Registry
from service.parameters import read_question


@pytest.fixture(scope="session")
def registry():
    return Registry.build()


@pytest.fixture(scope="session")
def reference(registry):
    return registry.reference


@pytest.fixture(scope="session")
def ask(registry):
    """Return a function from the key of a lookup and a query to the answer document."""
    known = lookups.discover(registry)

    def asked(key, query):
        lookup = known[key]
        return lookup.answer(read_question(key, lookup.parameters, parse_qsl(query))).document(registry)

    return asked


@pytest.fixture(scope="session")
def printed(registry):
    """Return a function from a package and the name of a worked example to the example."""

    def found(package, name):
        return next(example for example in registry.reference.worked_examples(package) if example.id == name)

    return found

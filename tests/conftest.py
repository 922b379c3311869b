"""One set of examples for every run, since a property that fails here fails everywhere; one application for all."""

from __future__ import annotations

import os

# one thread of linear algebra per process: the arrays are small, and tests of processor time count every thread
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import pytest
from hypothesis import settings

from service.web import create_app
from tests.asking import SHIPPED

settings.register_profile("steady", derandomize=True, deadline=None, database=None)
settings.load_profile("steady")


@pytest.fixture(scope="session")
def client():
    return create_app().test_client()


@pytest.fixture(scope="session")
def registry():
    return SHIPPED.registry


@pytest.fixture(scope="session")
def reference(registry):
    return registry.reference


@pytest.fixture(scope="session")
def ask():
    """Return a function from a lookup, by its key or its module, and a query to the answer document."""
    return SHIPPED.ask

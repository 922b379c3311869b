"""One application for all tests of the interface."""

from __future__ import annotations

import pytest

from service.web import create_app


@pytest.fixture(scope="session")
def client():
    return create_app().test_client()

from __future__ import annotations

from .samples import SAMPLES


def pytest_generate_tests(metafunc):
    """Run a test that takes ``name`` once per sample answer."""
    if "name" in metafunc.fixturenames:
        metafunc.parametrize("name", SAMPLES)

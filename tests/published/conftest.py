"""The printed questions of the data packages."""

import pytest


@pytest.fixture(scope="session")
def printed(registry):
    """Return a function from a package and the name of a worked example to the example."""

    def found(package, name):
        return next(example for example in registry.reference.worked_examples(package) if example.id == name)

    return found

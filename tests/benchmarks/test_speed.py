"""Speed as ratios of one run: lookups beside a bare hello route, a batch beside its NumPy floor.

Skipped in the normal run; ``--benchmark-only`` runs it. No time is asserted.
"""

from __future__ import annotations

import numpy as np
import pytest

from service.web import create_app
from service.web.cache import BytesCache

ADDRESSES = {
    "hello": "/health/live",
    "uniform": "/v1/breakdown?gap=8mm&electrodes=uniform-field",
    "sphere": "/v1/breakdown?gap=5mm&electrodes=sphere-gap&sphere_diameter=2cm",
    "inverse": "/v1/gap?voltage=12kV",
}


@pytest.fixture(scope="module")
def client():
    app = create_app()
    app.extensions["workshop"].cache = BytesCache(limit=0)
    return app.test_client()


@pytest.mark.parametrize("name", ADDRESSES)
@pytest.mark.benchmark(group="one question")
def test_one_question(benchmark, client, name):
    assert benchmark(client.get, ADDRESSES[name]).status_code == 200


@pytest.mark.benchmark(group="batch of 100000")
def test_a_batch(benchmark, client):
    gaps = np.geomspace(0.1, 900, 100_000).tolist()
    given = {"electrodes": "uniform-field"}
    body = {"lookup": "breakdown", "given": given, "columns": {"gap": {"unit": "mm", "values": gaps}}}
    assert benchmark(client.post, "/v1/batch", json=body).status_code == 200


@pytest.mark.benchmark(group="batch of 100000")
def test_the_floor_of_a_batch(benchmark):
    x = np.geomspace(0.01, 90, 100_000)

    def floor():
        return (24.36 * x + 6.72 * np.sqrt(x)).tolist()

    benchmark(floor)

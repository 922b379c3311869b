"""Bars of profiles: a tenth of a second of processor time for usual drawings; a second and 350 MB at most unknowns."""

import resource
import time
from itertools import pairwise

import numpy as np
import pytest

from service.bench.profile_body import BODY, read
from service.bench.profile_field import solve
from service.methods.laws import ionization_fits
from service.physics.boundary import Boundary
from service.physics.contours import Piece
from service.physics.panels import MOST_UNKNOWNS, Panels
from service.web import bodies
from tests.asking import SHIPPED
from tests.bench.test_profile import BALL, BARS, BOLT, WIRE_AT_EDGE

BUSY = 3.0
"""How much slower a machine with other work may be."""
USUAL = {
    "bolt": BOLT,
    "ball": {"plane": "earthed", "electrodes": [{**BALL, "shank": "4mm", "tip": "10mm"}]},
    "bars": BARS,
    "wire at an edge": WIRE_AT_EDGE,
}


@pytest.mark.parametrize("name", USUAL)
def test_a_usual_drawing_is_solved_in_a_tenth_of_a_second(name):
    registry = SHIPPED.registry
    body = read(bodies.read(BODY, USUAL[name]), registry)
    fit = ionization_fits(registry.reference)["quadratic"]
    solve(body, 101300.0, fit)
    started = time.thread_time()
    solve(body, 101300.0, fit)
    assert time.thread_time() - started < 0.1 * BUSY


def test_the_most_unknowns_take_a_second_and_350_megabytes():
    count = MOST_UNKNOWNS // 8
    edges = np.exp(1j * np.linspace(-np.pi / 2, np.pi / 2, count + 1))
    edges[[0, -1]] = [-1j, 1j]
    pieces = tuple(Piece(complex(a), complex(b), np.pi / count) for a, b in pairwise(edges))
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    started = time.process_time()
    Boundary(Panels(pieces, np.zeros(count, dtype=int)), True, False, False).solve()
    assert time.process_time() - started < 1.0 * BUSY
    assert (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024 < 350

"""The bracketing root finder against the one of SciPy, on functions that are hard for a secant."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import elementwise

from service.physics.root import find_root, find_root_of_one

COUNT = 40
FUNCTIONS = {  # of the place and of a parameter that is the root, each at most some orders of magnitude steep
    "straight": lambda x, r: x - r,
    "cube": lambda x, r: (x - r) ** 3 + 1e-3 * (x - r),
    "cube root": lambda x, r: np.cbrt(x - r),
    "exponential": lambda x, r: np.exp(x) / np.exp(r) - 1,
    "falling exponential": lambda x, r: 1 - np.exp(5 * (x - r)),
    "kinked": lambda x, r: np.where(x < r, 1e-3 * (x - r), 1e3 * (x - r)),
    "flat, then steep": lambda x, r: np.maximum((x - r) * 30, -0.01) + np.where(x < r - 3e-4, 0.001 * (x - r), 0.0),
    "a step": lambda x, r: np.where(x < r, -1.0, 1.0),
    "hyperbola": lambda x, r: (x - r) / (1.0001 * 11 - x),
}


@pytest.mark.parametrize("name", FUNCTIONS)
@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 2**31), turned=st.booleans())
def test_it_finds_what_scipy_finds(name, seed, turned):
    random = np.random.default_rng(seed)
    function, root = FUNCTIONS[name], random.uniform(-9, 9, COUNT)
    low, high = np.full(COUNT, -10.0), np.full(COUNT, 11.0)
    ends = (high, low) if turned else (low, high)
    found, enclosed = find_root(lambda x, which: function(x, root[which]), *ends)
    expected = elementwise.find_root(function, (low, high), args=(root,), tolerances={"xrtol": 1e-14, "fatol": 0})
    assert enclosed.all()
    # by cube roots and steps SciPy itself stops some parts in 10^9 away
    assert found == pytest.approx(expected.x, rel=2e-9, abs=2e-9)
    assert found == pytest.approx(root, rel=2e-9, abs=2e-9)


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 2**31), off=st.floats(-30, 30))
def test_a_guess_changes_the_way_and_not_the_place(seed, off):
    root = np.random.default_rng(seed).uniform(-9, 9, COUNT)
    low, high = np.full(COUNT, -10.0), np.full(COUNT, 11.0)
    found, _ = find_root(lambda x, which: np.expm1(x - root[which]), low, high, start=root + off)
    assert found == pytest.approx(root, abs=1e-9)


def test_what_is_not_enclosed_is_told_apart():
    low, high = np.zeros(5), np.ones(5)
    shift = np.array([0.5, 2.0, -1.0, np.nan, 0.0])
    found, enclosed = find_root(lambda x, which: x - shift[which], low, high)
    assert enclosed.tolist() == [True, False, False, False, True]
    assert found[[0, 4]] == pytest.approx([0.5, 0.0])


def test_only_elements_that_have_not_converged_are_asked():
    asked = []

    def function(x, which):
        asked.append(which.size)
        return np.where(which == 0, np.cbrt(x - 0.3), x - 0.4)

    find_root(function, np.zeros(50), np.ones(50))
    assert asked[0] == 50
    assert asked[-1] == 1
    assert len(asked) < 120


def test_no_elements_are_no_fault():
    found, enclosed = find_root(lambda x, which: x, np.empty(0), np.empty(0))
    assert not found.size
    assert not enclosed.size


@pytest.mark.parametrize("name", ["smooth", "steep", "cube", "step", "level"])
def test_one_root_in_plain_numbers_is_that_of_arrays(name):
    functions = {
        "smooth": lambda x: np.expm1(x) - 0.3,
        "steep": lambda x: np.tanh(500 * (x - 0.3)),
        "cube": lambda x: (x - 0.3) ** 3,
        "step": lambda x: np.where(np.asarray(x) < 0.3, -1.0, 2.0),
        "level": lambda x: np.maximum(x - 0.3, 0.0) - 1e-3,
    }
    function, random = functions[name], np.random.default_rng(5)
    for _ in range(40):
        low, high, start = random.uniform(-2, 0.2), random.uniform(0.4, 3), random.uniform(-2, 3)
        at = float(function(low)), float(function(high))
        options = {"least": 1e-12, "enough": random.choice([0.0, 1e-11])}
        many, enclosed = find_root(
            lambda x, _: np.asarray(function(x), dtype=np.float64),
            np.array([low]),
            np.array([high]),
            at=(np.array([at[0]]), np.array([at[1]])),
            start=np.array([start]),
            **options,
        )
        one = find_root_of_one(lambda x: float(function(x)), (low, high), at, start, **options)
        assert enclosed[0]
        assert one == pytest.approx(many[0], rel=1e-13)
        assert find_root_of_one(lambda x: float(function(x)) - 9e9, (low, high), (-9e9, -9e9), start) is None

"""Interpolation reads inside a table or not at all."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import OutsideValidity
from service.methods import Case, Limit
from service.methods.method import GAP
from service.reference import Tabulated, interpolate
from service.units import ROUNDING

POSITIVE = st.floats(min_value=1e-6, max_value=1e6)
POINTS = st.lists(st.tuples(POSITIVE, POSITIVE), min_size=2, max_size=8, unique_by=lambda point: round(point[0], 6))


@settings(max_examples=50, deadline=None)
@given(points=POINTS, share=st.floats(min_value=0.0, max_value=1.0))
def test_a_reading_lies_between_its_neighbours(points, share):
    x, y = np.array(sorted(points)).T
    at = x[0] + share * (x[-1] - x[0])
    place = min(int(np.searchsorted(x, at, side="right")), len(x) - 1)
    low, high = sorted((y[place - 1], y[place]))
    value = float(interpolate(x, y, min(at, x[-1])))
    assert low * (1 - 1e-9) <= value <= high * (1 + 1e-9)


def test_a_tabulated_point_is_read_back(reference):
    table = reference.table("needle-gap")
    assert interpolate(table["voltage"], table["spacing"], table["voltage"]) == pytest.approx(
        table["spacing"], rel=1e-12
    )


@pytest.mark.parametrize("at", [0.999, 4.001, -1.0, np.nan, np.inf, [2.0, 5.0]])
def test_nothing_is_read_beyond_the_ends(at):
    with pytest.raises(OutsideValidity, match="from 1 to 4"):
        interpolate([1.0, 2.0, 4.0], [1.0, 2.0, 3.0], at)


@pytest.mark.parametrize(
    ("x", "y"),
    [
        ([], []),
        ([1.0, 1.0], [1.0, 2.0]),
        ([2.0, 1.0], [1.0, 2.0]),
        ([1.0, 2.0], [1.0]),
        ([1.0, 2.0], [1.0, np.nan]),
        ([[1.0, 2.0]], [[1.0, 2.0]]),
    ],
)
def test_points_that_do_not_make_a_table_are_refused(x, y):
    with pytest.raises(ValueError, match="tabulated"):
        interpolate(x, y, 1.0)


def test_a_table_is_checked_once_and_read_often(reference):
    table = reference.table("needle-gap")
    curve = Tabulated(table["spacing"], table["voltage"])
    assert curve(table["spacing"][3:5]) == pytest.approx(table["voltage"][3:5], rel=1e-12)
    with pytest.raises(OutsideValidity, match="nothing is read beyond"):
        curve(1.01 * table["spacing"][-1])


@pytest.mark.parametrize("end", [0.1, 0.473, 0.675, 0.941])
def test_what_a_limit_lets_through_at_an_end_is_read_as_the_end(end):
    # a limit takes its slack of the value, a table of its end: the last value that holds may lie past end + slack
    limit, curve = Limit("gap", GAP, 0.01, end), Tabulated(np.array([0.01, end]), np.array([1.0, 2.0]))
    beyond = end * (1 + ROUNDING + 2 * ROUNDING**2) * (1 + np.arange(8, -9, -1) * 2.0**-52)
    one = np.ones(beyond.size)
    let_through = beyond[limit.holds(Case(beyond, one, one, one, one))]
    assert let_through.size
    assert curve(let_through) == pytest.approx(2.0)
    assert curve(float(let_through.max())) == 2.0

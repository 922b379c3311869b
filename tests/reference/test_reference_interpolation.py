"""Interpolation reads inside a table or not at all."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import make_interp_spline

from service.errors import OutsideValidity
from service.methods import Case, Limit
from service.methods.method import GAP
from service.reference import GridReader, Tabulated, interpolate
from service.reference.table import cubic, straight
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


@pytest.mark.parametrize("count", [4, 5, 12])
def test_a_grid_is_read_by_the_splines_that_scipy_makes(count):
    dice = np.random.default_rng(count)
    axes = [np.cumsum(dice.uniform(0.1, 2.0, size)) for size in (count, 6)]
    values = dice.normal(size=(count, 6, 2))
    places = np.stack([dice.uniform(axis[0], axis[-1], 600) for axis in axes], axis=1)
    first, second = (make_interp_spline(axis, np.eye(axis.size)) for axis in axes)
    expected = np.einsum("na,nb,abk->nk", first(places[:, 0]), second(places[:, 1]), values)
    assert GridReader(tuple(map(cubic, axes)), values)(places) == pytest.approx(expected, abs=1e-12)


def test_a_grid_is_read_back_at_its_points_and_straight_between():
    axes = [np.array([1.0, 2.0, 4.0]), np.array([0.0, 3.0])]
    values = np.arange(6.0).reshape(3, 2) ** 2
    read = GridReader(tuple(map(straight, axes)), values)
    points = np.array([(x, y) for x in axes[0] for y in axes[1]])
    assert read(points).tolist() == values.ravel().tolist()
    assert read(np.array([[3.0, 1.5]])) == pytest.approx([(4 + 9 + 16 + 25) / 4])

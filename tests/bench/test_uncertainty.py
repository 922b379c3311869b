"""The uncertainty arithmetic, against the ``uncertainties`` library and against draws of random numbers."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from uncertainties import ufloat

from service.bench.sparkovers import Sparkovers, pooled_deviation, repeatability
from service.bench.uncertainty import Comparison, Influence, rectangular

X = np.array([10.94e3, 17.3e3, 21.9e3, 26.4e3])
Y = np.array([10.5e3, 16.62e3, 21.0e3, 25.35e3])
SCATTER = np.array([0.0013, 0.0012, 0.0015, 0.0013])
INFLUENCES = (
    Influence("gap", np.array([0.025, 0.025, 0.025, 0.025])),
    Influence("spacing", np.array([0.0035, 0.0021, 0.0016, 0.0013])),
    Influence("diameter", np.array([0.0001, 0.0003, 0.0004, 0.0006])),
    Influence("density", np.array([0.0028, 0.0027, 0.0027, 0.0027])),
    Influence("humidity", np.array([0.0012, -0.0012, 0.0012, 0.0012])),
)


def comparison(scatter=SCATTER, influences=INFLUENCES):
    return Comparison(X, Y, scatter, influences)


def by_library(check: Comparison):
    """The same fit with correlated variables of the library: every influence is one variable at all settings."""
    common = {one.key: ufloat(0.0, 1.0) for one in check.influences}
    x = [ufloat(mean, mean * share) for mean, share in zip(check.indicated, check.repeatability, strict=True)]
    y = [
        reference * (1 + sum(one.relative[i] * common[one.key] for one in check.influences))
        for i, reference in enumerate(check.reference)
    ]
    w = [float(weight) for weight in check.weights]
    above = sum(weight * one * two for weight, one, two in zip(w, x, y, strict=True))
    scale = above / sum(weight * one**2 for weight, one in zip(w, x, strict=True))
    return scale, [scale * one / two - 1 for one, two in zip(x, y, strict=True)], x, y


def test_the_scale_factor_agrees_with_the_library_to_a_millionth():
    check = comparison()
    scale, _, _, _ = by_library(check)
    assert check.scale_factor == pytest.approx(scale.n, rel=1e-12)
    assert check.standard_uncertainty == pytest.approx(scale.s / scale.n, rel=1e-6)


def test_deviations_and_their_uncertainty_agree_with_the_library_to_a_millionth():
    check = comparison()
    _, deviations, x, y = by_library(check)
    for i, deviation in enumerate(deviations):
        assert check.deviations[i] == pytest.approx(deviation.n, rel=1e-9)
        assert check.deviation_uncertainty[i] * (1 + deviation.n) == pytest.approx(deviation.s, rel=1e-6)
        assert check.setting_uncertainty[i] == pytest.approx((x[i] / y[i]).s / (x[i] / y[i]).n, rel=1e-6)


def test_a_hundred_thousand_draws_agree_within_two_percent():
    check, random, draws = comparison(), np.random.default_rng(20261125), 100_000
    shift = sum(random.standard_normal((draws, 1)) * one.relative for one in check.influences)
    y = check.reference * (1 + shift)
    x = check.indicated * (1 + random.standard_normal((draws, X.size)) * check.repeatability)
    scale = (check.weights * x * y).sum(axis=1) / (check.weights * x**2).sum(axis=1)
    assert scale.std() / scale.mean() == pytest.approx(check.standard_uncertainty, rel=0.02)
    deviations = scale[:, None] * x / y - 1
    np.testing.assert_allclose(deviations.std(axis=0), check.deviation_uncertainty, rtol=0.02)


def test_what_is_common_to_all_settings_is_not_averaged_away():
    check = comparison(influences=(Influence("gap", np.full(4, 0.025)),))
    assert check.parts["gap"] == pytest.approx(0.025, rel=1e-12)
    assert check.expanded_uncertainty > 0.05


def test_what_is_common_to_all_settings_says_nothing_of_linearity():
    check = comparison(influences=(Influence("gap", np.full(4, 0.025)),))
    assert check.deviation_uncertainty.max() < 0.003


def test_scatter_averages_over_settings():
    check = comparison(scatter=np.full(4, 0.004), influences=(Influence("gap", np.zeros(4)),))
    assert check.parts["repeatability"] == pytest.approx(0.004 / math.sqrt(4), rel=0.05)


def test_readings_without_scatter_weigh_every_ratio_alike():
    check = comparison(scatter=np.zeros(4))
    assert check.parts["repeatability"] == 0.0
    assert check.scale_factor == pytest.approx(np.mean(Y / X), rel=1e-3)


@settings(max_examples=40)
@given(
    scale=st.floats(0.5, 2.0),
    references=st.lists(st.floats(1e3, 1e6), min_size=1, max_size=8),
    scatter=st.floats(1e-5, 1e-2),
)
def test_a_probe_with_one_ratio_is_found_whatever_the_weights(scale, references, scatter):
    y = np.array(references)
    check = Comparison(y / scale, y, np.full(y.size, scatter), (Influence("gap", np.full(y.size, 0.015)),))
    assert check.scale_factor == pytest.approx(scale, rel=1e-9)
    assert np.abs(check.deviations).max() < 1e-9


def test_a_rectangular_half_width_is_the_root_of_three_times_its_standard_uncertainty():
    # JCGM 100:2008, 4.3.7
    draws = np.random.default_rng(7).uniform(-0.02, 0.02, 400_000)
    assert rectangular(0.02) == pytest.approx(draws.std(), rel=5e-3)


def test_the_standard_deviation_is_that_of_a_sample():
    # JCGM 100:2008, 4.2.2 and 4.2.3: one less than the number of readings
    readings = Sparkovers(np.array([10.9, 11.0, 10.8, 10.9, 11.1, 10.9, 10.8, 11.0, 10.9, 10.9]))
    assert readings.mean == pytest.approx(10.92)
    assert readings.deviation * readings.mean == pytest.approx(math.sqrt(0.076 / 9))
    assert repeatability([readings])[0] == pytest.approx(readings.deviation / math.sqrt(10))


def test_the_pooled_deviation_weighs_by_degrees_of_freedom():
    few, many = Sparkovers(np.array([99.0, 101.0])), Sparkovers(np.tile([99.5, 100.5], 10))
    expected = math.sqrt((few.deviation**2 + 19 * many.deviation**2) / 20)
    assert pooled_deviation([few, many]) == pytest.approx(expected)


def test_a_reading_far_below_the_others_is_a_low_outlier_and_one_above_is_not():
    steady = [10.9, 11.0, 10.8, 10.9, 11.1, 10.9, 10.8, 11.0, 10.9]
    assert Sparkovers(np.array([*steady, 9.6])).low_outliers.tolist() == [9.6]
    assert Sparkovers(np.array([*steady, 12.4])).low_outliers.size == 0


def test_steps_of_the_instrument_are_no_outliers():
    assert Sparkovers(np.array([10.9] * 9 + [10.85])).low_outliers.size == 0

"""The uncertainty arithmetic, against the ``uncertainties`` library and against draws of random numbers."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from uncertainties import ufloat

from service.bench.settings import Comparison, Sparkovers, pooled_deviation, rectangular

X = np.array([10.94e3, 17.3e3, 21.9e3, 26.4e3])
Y = np.array([10.5e3, 16.62e3, 21.0e3, 25.35e3])
SCATTER = np.array([0.0013, 0.0012, 0.0015, 0.0013])
DIGITS = np.array([0.0005, 0.0003, 0.0002, 0.0002])
OWN = np.array([0.01, 0.008, 0.01, 0.009])
COMMON = {
    "gap": np.array([0.025, 0.025, 0.025, 0.025]),
    "spacing": np.array([0.0035, 0.0021, 0.0016, 0.0013]),
    "diameter": np.array([0.0001, 0.0003, 0.0004, 0.0006]),
    "density": np.array([0.0028, 0.0027, 0.0027, 0.0027]),
    "humidity": np.array([0.0012, -0.0012, 0.0012, 0.0012]),
}
NONE = {}


def comparison(scatter=SCATTER, own=OWN, common=COMMON):
    read = {"repeatability": scatter, "resolution": DIGITS * np.any(scatter)}
    return Comparison(X, Y, read, {"setting": own}, common)


def by_library(check: Comparison):
    """The same fit with correlated variables of the library: every influence is one variable at all settings."""
    common = {name: ufloat(0.0, 1.0) for name in check.common}
    x = [
        mean * (1 + sum(ufloat(0.0, part[i]) for part in check.of_indicated.values()))
        for i, mean in enumerate(check.indicated)
    ]
    y = [
        reference
        * (
            1
            + sum(part[i] * common[name] for name, part in check.common.items())
            + sum(ufloat(0.0, part[i]) for part in check.of_reference.values())
        )
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
        assert check.deviation_uncertainty(NONE)[i] * (1 + deviation.n) == pytest.approx(deviation.s, rel=1e-6)
        assert check.setting_uncertainty[i] == pytest.approx((x[i] / y[i]).s / (x[i] / y[i]).n, rel=1e-6)


def test_a_hundred_thousand_draws_agree_within_two_percent():
    check, random, draws = comparison(), np.random.default_rng(20261125), 100_000
    shift = sum(random.standard_normal((draws, 1)) * part for part in check.common.values())
    shift = shift + random.standard_normal((draws, X.size)) * check.of_reference["setting"]
    y = check.reference * (1 + shift)
    scatter = np.hypot(check.of_indicated["repeatability"], check.of_indicated["resolution"])
    x = check.indicated * (1 + random.standard_normal((draws, X.size)) * scatter)
    scale = (check.weights * x * y).sum(axis=1) / (check.weights * x**2).sum(axis=1)
    assert scale.std() / scale.mean() == pytest.approx(check.standard_uncertainty, rel=0.02)
    deviations = scale[:, None] * x / y - 1
    np.testing.assert_allclose(deviations.std(axis=0), check.deviation_uncertainty(NONE), rtol=0.02)


def test_what_is_common_to_all_settings_is_not_averaged_away():
    check = comparison(common={"gap": np.full(4, 0.025)})
    assert check.parts["gap"] == pytest.approx(0.025, rel=1e-12)
    assert check.expanded_uncertainty > 0.05


def test_what_is_common_to_all_settings_says_nothing_of_linearity():
    check = comparison(own=np.zeros(4), common={"gap": np.full(4, 0.025)})
    assert check.deviation_uncertainty(NONE).max() < 0.003


def test_a_part_that_may_be_common_or_not_counts_as_the_larger():
    check = comparison(own=np.zeros(4), common={"spacing": np.full(4, 0.02)})
    assert check.deviation_uncertainty(NONE).max() < 0.003
    apart = check.deviation_uncertainty({"spacing": np.full(4, 0.02)})
    assert apart == pytest.approx(np.full(4, 0.02 * math.sqrt(3 / 4)), rel=0.4)


def test_what_each_setting_has_of_its_own_averages():
    check = comparison(scatter=np.zeros(4), own=np.full(4, 0.01), common={})
    assert check.standard_uncertainty == pytest.approx(0.005, rel=0.02)


def test_a_line_is_bent_where_a_setting_leaves_it_by_more_than_chance():
    own, read = {"setting": np.full(6, 0.01)}, {"repeatability": np.full(6, 0.001)}
    y = np.linspace(8e3, 20e3, 6)
    straight, bent = np.ones(6), np.linspace(0.94, 1.06, 6)
    assert not Comparison(y * straight, y, read, own).bent(NONE)
    assert Comparison(y * bent, y, read, own).bent(NONE)
    random, called = np.random.default_rng(3), 0
    for _ in range(2000):
        called += Comparison(y * (1 + 0.01 * random.standard_normal(6)), y, read, own).bent(NONE)
    assert called <= 12


def test_scatter_averages_over_settings():
    check = comparison(scatter=np.full(4, 0.004), own=np.zeros(4), common={})
    assert check.parts["repeatability"] == pytest.approx(0.004 / math.sqrt(4), rel=0.05)


def test_readings_without_scatter_weigh_every_ratio_alike():
    check = comparison(scatter=np.zeros(4), own=np.zeros(4))
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
    read, common = {"repeatability": np.full(y.size, scatter)}, {"gap": np.full(y.size, 0.015)}
    check = Comparison(y / scale, y, read, {}, common)
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


def test_the_pooled_deviation_weighs_by_degrees_of_freedom():
    few, many = Sparkovers(np.array([99.0, 101.0])), Sparkovers(np.tile([99.5, 100.5], 10))
    expected = math.sqrt((few.deviation**2 + 19 * many.deviation**2) / 20)
    assert pooled_deviation([few, many]) == pytest.approx(expected)


STEADY = [10.9, 11.0, 10.8, 10.9, 11.1, 10.9, 10.8, 11.0, 10.9]


def test_a_reading_far_below_or_above_the_others_is_an_outlier_to_its_side():
    low, high = Sparkovers(np.array([*STEADY, 9.6])), Sparkovers(np.array([*STEADY, 12.4]))
    assert (low.low_outliers.tolist(), low.high_outliers.tolist()) == ([9.6], [])
    assert (high.low_outliers.tolist(), high.high_outliers.tolist()) == ([], [12.4])


def courses(shape, count, seed=1):
    """What is said of 200 series of a shape with 0.4 % of scatter."""
    random = np.random.default_rng(seed)
    drawn = 10e3 * (1 + shape(np.arange(count) / count) + 0.004 * random.standard_normal((200, count)))
    found = [Sparkovers(row).course for row in drawn]
    return [None if one is None else one.kind for one in found]


def test_a_drift_a_step_and_a_steady_series_are_told_apart():
    steady = courses(lambda t: 0 * t, 20)
    drift, step = courses(lambda t: 0.03 * t, 20), courses(lambda t: np.where(t < 0.5, 0, 0.015), 20)
    assert steady.count(None) >= 194
    assert drift.count("trend") >= 190
    assert step.count("step") >= 180
    assert step.count(None) <= 4


def test_the_size_and_the_place_of_a_step_are_told():
    readings = np.array([10.0, 10.01, 9.99, 10.0, 10.01, 10.15, 10.16, 10.14, 10.15, 10.15])
    found = Sparkovers(readings).course
    assert (found.kind, found.after) == ("step", 5)
    assert found.change == pytest.approx(0.0147, rel=0.02)


def test_one_late_spark_is_no_drift_and_few_readings_have_no_course():
    assert Sparkovers(np.array([*STEADY, 12.4])).course is None
    assert Sparkovers(np.array([1.0, 2.0, 3.0, 4.0, 5.0])).course is None


def test_steps_of_the_instrument_are_no_outliers():
    assert Sparkovers(np.array([10.9] * 9 + [10.85])).low_outliers.size == 0


def test_two_early_sparks_do_not_hide_each_other():
    # the median of the absolute deviations is not moved by few readings; their mean is, and would hide both
    readings = Sparkovers(np.array([11.0, 11.01, 10.99, 11.0, 11.02, 10.98, 11.0, 11.0, 10.67, 10.67]))
    assert readings.low_outliers.tolist() == [10.67, 10.67]

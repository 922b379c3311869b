"""The avalanche criterion: textbook problems, published minima, Schumann's table, and Lambert's function as oracle."""

from functools import cache

import numpy as np
import pytest
from scipy.constants import Boltzmann
from scipy.special import lambertw

from service.errors import OutsideValidity
from service.physics.formulas import crossing, quadratic_root_voltage
from service.physics.ionization import ExponentialIonization, IonizationTable, SquareRootIonization
from service.physics.townsend import (
    breakdown_voltage,
    bridged_exponent,
    left_branch_pd,
    left_branch_scale,
    left_branch_voltage,
    minimum,
    pd_limits,
    townsend_exponent,
)
from service.reference import load
from service.units import to_si

TORR_CM = to_si(1.0, "Torr_cm", "pd")
PER_CM_TORR = 1 / TORR_CM

SIGLO = "SIGLO (LXCat, 4 Jun 2013)"
CROSS_SECTIONS = {
    "air": "SIGLO N2 + Morgan O2 (LXCat)",
    "hydrogen": "Morgan (LXCat)",
    "carbon-dioxide": "Hayashi (LXCat)",
}


@cache
def table_of(gas):
    rows = load().table("ionization-alpha-over-n")
    rows = rows.where(gas_key=gas, cross_sections=CROSS_SECTIONS.get(gas, SIGLO))
    return IonizationTable.from_columns(*(rows[name] for name in ("reduced_field", "ionization", "attachment")))


def kuffel(pd):
    return quadratic_root_voltage(pd / 1e5, 2436e3, 67.2e3)


def of_air(pd, gamma=2.5e-3):
    return breakdown_voltage(pd, table_of("air"), townsend_exponent(gamma))


# --- the closed forms against Lambert's function -----------------------------------------------------------------


@pytest.mark.parametrize("gamma", [0.1, 0.01, 1e-4])
@pytest.mark.parametrize("ratio", [1.001, 1.2, 3.0, 20.0])
def test_the_exponential_form_is_inverted_by_lambert_s_function(gamma, ratio):
    A, B, L = 11.25, 273.8, float(townsend_exponent(gamma))
    form = ExponentialIonization(A, B, 10.0, 1e5)
    V = np.e * B * L / A * ratio
    for branch in (0, -1):  # left and right of the minimum
        expected = -V / B * np.real(lambertw(-B * L / (A * V), branch))
        assert breakdown_voltage(expected, form, L) == pytest.approx(V, rel=1e-9)


@pytest.mark.parametrize("ratio", [1.001, 1.2, 3.0])
def test_the_square_root_form_is_inverted_by_lambert_s_function(ratio):
    C, D, L = 21.9, 23.07, float(townsend_exponent(0.055))
    form = SquareRootIonization(C, D, 1.0, 1e5)
    V = np.e**2 * L * D**2 / (4 * C) * ratio
    for branch in (0, -1):
        u = -2 * np.real(lambertw(-0.5 * np.sqrt(L * D**2 / (C * V)), branch))
        assert breakdown_voltage(L / C * np.exp(u), form, L) == pytest.approx(V, rel=1e-9)


def test_the_exponential_form_has_its_minimum_where_theory_says():
    A, B, L = 11.25, 273.8, 4.6
    form = ExponentialIonization(A, B, 75.0, 600.0)
    assert minimum(form, L) == pytest.approx((np.e * L / A, np.e * B * L / A))


@pytest.mark.parametrize("share", [0.37, 0.5, 0.9, 1.0])
def test_the_left_branch_has_the_shape_of_the_exponential_form(share):
    A, B, L = 11.25, 273.8, 4.6
    form = ExponentialIonization(A, B, 75.0, 1e6)
    pd, volts = minimum(form, L)
    assert left_branch_voltage(share * pd, volts, pd) == pytest.approx(breakdown_voltage(share * pd, form, L))
    assert left_branch_pd(left_branch_voltage(share * pd, volts, pd), volts, pd) == pytest.approx(share * pd, rel=1e-6)


# --- air ---------------------------------------------------------------------------------------------------------


def test_the_minimum_of_air_is_338_volts_at_gamma_0_0025():
    pd, volts = minimum(table_of("air"), float(townsend_exponent(2.5e-3)))
    assert volts == pytest.approx(338.0, rel=0.01)
    assert pd / TORR_CM == pytest.approx(0.75, rel=0.02)  # published 0.55 to 0.57: the position is not promised


@pytest.mark.parametrize("published", [327.0, 340.0, 352.0, 330.0])  # Naidu; Kuechler; Kuffel; Cobine, iron cathode
def test_the_minimum_of_air_is_within_five_percent_of_every_published_one(published):
    assert minimum(table_of("air"), float(townsend_exponent(2.5e-3)))[1] == pytest.approx(published, rel=0.05)


def test_the_criterion_of_air_crosses_the_published_formula_at_490_volts():
    pd = crossing(of_air, kuffel, 2.0, 8.0)
    assert pd / 1e3 == pytest.approx(3.588e-3, rel=1e-3)
    assert of_air(pd) == pytest.approx(490.0, rel=1e-3)
    assert of_air(pd * (1 - 1e-3)) == pytest.approx(kuffel(pd * (1 + 1e-3)), rel=0.01)


def test_the_left_branch_of_air_begins_at_the_end_of_the_table_without_a_step():
    exponent = float(townsend_exponent(2.5e-3))
    end = pd_limits(table_of("air"), exponent)[0]
    least = minimum(table_of("air"), exponent)[1]
    scale = left_branch_scale(end, float(of_air(end)), least)
    assert end / TORR_CM == pytest.approx(0.427, rel=2e-3)
    assert scale / TORR_CM == pytest.approx(0.72, rel=0.01)
    assert left_branch_voltage(end, least, scale) == pytest.approx(of_air(end), rel=1e-9)


def test_one_kilovolt_at_100_pascal_needs_about_4_millimetres_on_the_left_branch():
    least, scale = 338.0, 0.723 * TORR_CM
    assert left_branch_pd(1000.0, least, scale) / 100.0 == pytest.approx(4e-3, rel=0.05)


def test_the_criterion_agrees_with_the_computed_curve_of_air():
    # the sheet was computed from the same table with another interpolation: 1 %
    rows = load().table("air-townsend-curve")
    for column, gamma in (("voltage_gamma_1e_3", 1e-3), ("voltage_gamma_1e_2", 1e-2), ("voltage_gamma_1e_4", 1e-4)):
        filled = np.isfinite(rows[column])
        pd, expected = rows["pd"][filled], rows[column][filled]
        inside = pd >= pd_limits(table_of("air"), float(townsend_exponent(gamma)))[0]
        assert of_air(pd[inside], gamma) == pytest.approx(expected[inside], rel=0.01)


def test_the_published_formula_stays_within_three_percent_of_schumann_s_table():
    rows = load().table("schumann-table")
    volts = kuffel(rows["gap"] * 1.01325e5)
    assert len(rows) == 14
    assert np.max(np.abs(volts / rows["voltage"] - 1)) < 0.03


@pytest.mark.parametrize("pd_torr_cm", [0.5, 0.75, 1.5, 2.69])
def test_leaving_out_the_attachment_ratio_changes_air_by_half_a_percent(pd_torr_cm):
    rows = load().table("ionization-alpha-over-n").where(gas_key="air", cross_sections=CROSS_SECTIONS["air"])
    gamma, pd = 2.5e-3, pd_torr_cm * TORR_CM
    simple = float(of_air(pd))
    density = pd / (Boltzmann * 293.15)  # at a gap of 1 m
    alpha = np.exp(np.interp(np.log(simple / density), np.log(rows["reduced_field"]), np.log(rows["ionization"])))
    effective = float(table_of("air").effective(simple / pd)) / density * pd
    exact = float(breakdown_voltage(pd, table_of("air"), np.log1p(effective / (alpha * gamma))))
    assert abs(exact / simple - 1) < 0.005


# --- other gases -------------------------------------------------------------------------------------------------

FITTED = [
    ("nitrogen", 0.0158, 251.0, 0.02),
    ("oxygen", 3.204e-5, 450.0, 0.01),
    ("hydrogen", 0.01267, 273.0, 0.01),
    ("helium", 0.08122, 156.0, 0.01),
    ("neon", 0.01936, 245.0, 0.01),
    ("argon", 0.03484, 137.0, 0.01),
    ("carbon-dioxide", 9.244e-4, 420.0, 0.01),
]


@pytest.mark.parametrize(("gas", "gamma", "published", "relative"), FITTED)
def test_a_gamma_fitted_to_the_published_minimum_gives_it_back(gas, gamma, published, relative):
    # exponent = minimum / (field / effective) there: one number fits one voltage, its place is not fitted
    # minimum sparking potentials: Naidu and Kamaraju table 2.1 (neon: Kuffel et al. table 5.5)
    table = table_of(gas)
    exponent = published * float(table.effective(table.optimum)) / table.optimum
    assert 1 / np.expm1(exponent) == pytest.approx(gamma, rel=relative)
    assert minimum(table_of(gas), float(townsend_exponent(gamma)))[1] == pytest.approx(published, rel=0.005)


def test_nitrogen_at_1_cm_and_101_3_kilopascal_is_within_six_percent_of_30_4_kilovolts():
    # Raju, Gaseous Electronics (2005), chapter abstract; gamma 1e-3 above 100 Torr cm (DeBitetto and Fisher 1956)
    pd = 101.3e3 * 1e-2
    near = (minimum(table_of("nitrogen"), float(townsend_exponent(0.0158)))[0], float(townsend_exponent(0.0158)))
    exponent = bridged_exponent(pd, near, (100 * TORR_CM, float(townsend_exponent(1e-3))))
    assert breakdown_voltage(pd, table_of("nitrogen"), exponent) == pytest.approx(30.4e3, rel=0.06)


def measured(gas):
    rows = load().table("norman-2022-points").where(gas_key=gas)
    chosen = rows["gap"] >= 0.999e-3
    return (rows["gap"] * rows["pressure"])[chosen], rows["voltage"][chosen]


def deviations(gas, ionization, exponent):
    pd, volts = measured(gas)
    away = np.abs(breakdown_voltage(pd, ionization, exponent) / volts - 1)
    return len(volts), np.median(away), np.percentile(away, 95)


@pytest.mark.parametrize(
    ("gas", "C", "D", "gamma", "points", "median", "most"),
    [("argon", 29.22, 26.64, 0.055, 27, 0.055, 0.13), ("xenon", 65.3, 36.08, 0.05, 20, 0.17, 0.36)],
)
def test_the_square_root_form_stays_as_near_to_measured_points_as_is_stated(gas, C, D, gamma, points, median, most):
    # Norman et al. 2022; stated: argon 5 and 13 %, xenon 16 and 35 % (median, 95 % of points)
    form = SquareRootIonization(C * PER_CM_TORR, D * np.sqrt(PER_CM_TORR), 0.0, 1200 * PER_CM_TORR)
    found = deviations(gas, form, townsend_exponent(gamma))
    assert found[0] == points
    assert found[1] < median
    assert found[2] < most


def test_carbon_dioxide_with_k_18_4_stays_as_near_to_measured_points_as_is_stated():
    # Norman et al. 2022; stated: 6 and 20 %
    points, median, most = deviations("carbon-dioxide", table_of("carbon-dioxide"), 18.4)
    assert (points, median < 0.06, most < 0.20) == (14, True, True)


# --- domain ------------------------------------------------------------------------------------------------------


def test_the_closed_form_refuses_two_centimetres_of_air():
    form = ExponentialIonization(15 * PER_CM_TORR, 365 * PER_CM_TORR, 100 * PER_CM_TORR, 800 * PER_CM_TORR)
    with pytest.raises(OutsideValidity):
        breakdown_voltage(101.3e3 * 2e-2, form, townsend_exponent(0.01))
    low, high = pd_limits(form, float(townsend_exponent(0.01)))
    assert (low / TORR_CM, high / TORR_CM) == pytest.approx((0.486, 11.8), rel=5e-3)


@pytest.mark.parametrize("wrong", [0.0, -1.0, np.nan, np.inf])
def test_a_pd_or_gamma_that_is_no_positive_number_is_refused(wrong):
    with pytest.raises(OutsideValidity):
        of_air(wrong)
    with pytest.raises(OutsideValidity):
        townsend_exponent(wrong)

"""Ionization: tables against their own rows and a published table, closed forms against textbook problems."""

import numpy as np
import pytest
from scipy import constants

from service.errors import OutsideValidity
from service.physics.ionization import (
    CLOSED_FORMS,
    ExponentialIonization,
    IonizationTable,
    LinearIonization,
    SquareRootIonization,
)
from service.reference import load

KT = constants.k * 293.15
TOWNSEND = 1e-21
PER_CM_TORR = 760 / 101325.0 * 100  # 1/(cm Torr) in 1/(Pa m)


@pytest.fixture(scope="module")
def rows():
    return load().table("ionization-alpha-over-n")


def table_of(rows, gas, cross_sections):
    chosen = rows.where(gas=gas, cross_sections=cross_sections)
    return chosen, IonizationTable.from_columns(
        *(chosen[name] for name in ("reduced_field", "ionization", "attachment"))
    )


SETS = {
    "air": "SIGLO N2 + Morgan O2 (LXCat)",
    "nitrogen": "SIGLO (LXCat, 4 Jun 2013)",
    "carbon dioxide": "Hayashi (LXCat)",
    "hydrogen": "Morgan (LXCat)",
    "helium": "SIGLO (LXCat, 4 Jun 2013)",
    "SF6 20 % nitrogen 80 %": "SIGLO (LXCat, 4 Jun 2013)",
}


@pytest.mark.parametrize(("gas", "cross_sections"), SETS.items())
def test_a_table_goes_through_its_rows(rows, gas, cross_sections):
    chosen, table = table_of(rows, gas, cross_sections)
    fields = chosen["reduced_field"] / KT
    inside = (fields >= table.lowest) & (fields <= table.highest)
    assert np.count_nonzero(inside) > 10
    assert table.effective(fields[inside]) * KT == pytest.approx(chosen["effective_ionization"][inside], rel=1e-4)


def test_nitrogen_at_300_townsend_lies_between_the_published_solver_tables(rows):
    # published BOLSIG+ tables for nitrogen, SIGLO and Phelps sets: 1.28e-21 to 1.42e-21 m2
    _, table = table_of(rows, "nitrogen", SETS["nitrogen"])
    assert 1.28e-21 <= table.effective(300 * TOWNSEND / KT) * KT <= 1.42e-21


@pytest.mark.parametrize(
    ("gas", "townsend", "source"),
    [
        ("air", 116.3, "balance of the two-term solution, critical fields sheet, computed"),
        ("SF6 20 % nitrogen 80 %", 269.1, "the same"),
        ("carbon dioxide", 75.3, "the same, Hayashi set"),
    ],
)
def test_attachment_balances_ionization_at_the_known_field(rows, gas, townsend, source):
    _, table = table_of(rows, gas, SETS[gas])
    assert table.lowest * KT / TOWNSEND == pytest.approx(townsend, rel=0.015), source


def test_nothing_is_read_beyond_the_ends_of_a_table(rows):
    _, table = table_of(rows, "air", SETS["air"])
    for field in (0.99 * table.lowest, 1.01 * table.highest, np.nan):
        with pytest.raises(OutsideValidity):
            table.effective(field)
    for effective in (-1e-3, 1.01 * float(table.effective(table.highest)), np.nan):
        with pytest.raises(OutsideValidity):
            table.field(effective)


def test_a_table_that_does_not_rise_over_a_step_is_refused():
    with pytest.raises(ValueError, match="rises"):
        IonizationTable.from_columns([1e-19, 2e-19, 3e-19], [3e-21, 2e-21, 1e-21], [0, 0, 0])


def test_a_table_whose_curve_would_have_two_minima_is_refused():
    fields = np.array([1, 2, 4, 8, 16, 32.0]) * 1e-19
    with pytest.raises(ValueError, match="more than one minimum"):
        IonizationTable.from_columns(fields, [1e-22, 1e-21, 1.5e-21, 8e-21, 1e-20, 1.1e-20], np.zeros(6))


def test_the_exponential_form_answers_the_textbook_question():
    # Abdel-Salam et al., example 4.7: 9 kV, 2 mm, 101.3 kPa, A = 11253.7 /(m kPa), B = 273840 V/(m kPa); computed
    form = ExponentialIonization(11.2537, 273.84, 40.0, 600.0)
    assert form.effective(9e3 / (2e-3 * 101.3e3)) * 101.3e3 == pytest.approx(2397.29, rel=5e-3)


@pytest.mark.parametrize(("per_cm_torr", "per_m_pa"), [(15, 11.251), (11.5, 8.6257), (4.4, 3.3003)])
def test_printed_constants_in_si_are_the_collected_ones(per_cm_torr, per_m_pa):
    assert per_cm_torr * PER_CM_TORR == pytest.approx(per_m_pa, rel=5e-4)


@pytest.mark.parametrize("form", [CLOSED_FORMS["exp"], CLOSED_FORMS["sqrt"]])
def test_a_closed_form_ends_with_its_printed_range(form):
    ionization = form(10.0, 30.0, 50.0, 500.0)
    for field in (49.9, 500.1):
        with pytest.raises(OutsideValidity):
            ionization.effective(field)
    for effective in (0.99 * ionization.effective(50.0), 1.01 * ionization.effective(500.0)):
        with pytest.raises(OutsideValidity):
            ionization.field(effective)


@pytest.mark.parametrize(
    ("form", "optimum"),
    [
        (ExponentialIonization(10.0, 300.0, 50.0, 500.0), 300.0),
        (ExponentialIonization(10.0, 300.0, 50.0, 200.0), 200.0),
        (SquareRootIonization(20.0, 30.0, 50.0, 500.0), 225.0),
        (LinearIonization(0.027, 2.4, 75.0, 200.0), 200.0),
    ],
)
def test_field_over_ionization_is_least_at_the_optimum(form, optimum):
    assert form.optimum == optimum
    fields = np.linspace(form.lowest * 1.2, form.highest, 500)
    assert np.min(fields / form.effective(fields)) >= optimum / form.effective(optimum) * (1 - 1e-12)


def test_the_limiting_field_of_sulfur_hexafluoride_is_88_9_kilovolt_per_centimetre_at_1_bar():
    # Abdel-Salam et al.: alpha_eff = 0.027 E - 2400.4 p is zero at 88.9 kV/(cm bar), 1 %
    assert LinearIonization(0.027, 2.4004, 75.0, 200.0).field(0.0) == pytest.approx(88.9, rel=1e-3)

"""The streamer criterion against the earthed-sphere table, textbook examples and the uniform-field formula."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad

from service.errors import OutsideValidity
from service.methods.laws import corona_laws, ionization_fits
from service.physics import closed_criterion, criterion
from service.physics.closed_criterion import inception_voltage
from service.physics.criterion import inception, inceptions_of_one
from service.physics.fields import (
    COAXIAL_CYLINDERS,
    CONCENTRIC_SPHERES,
    CYLINDER_PLANE,
    HYPERBOLOID_PLANE,
    PARALLEL_CYLINDERS,
    SPHERE_PLANE,
    SPHERES_ONE_EARTHED,
    SPHERES_SYMMETRICAL,
)
from service.physics.formulas import onset_field
from service.physics.ionization import IonizationFit
from service.reference import load

STANDARD = 101.3e3


@pytest.fixture(scope="module")
def reference():
    return load()


@pytest.fixture(scope="module")
def fits(reference):
    return ionization_fits(reference)


def deviations(reference, fit):
    """Deviation in percent from every cell of IEC 60052 Table 2, utilization factors, and spacing over diameter."""
    table = reference.table("iec-60052-table-2")
    gap, radius = table["spacing"], table["sphere_diameter"] / 2
    voltage = inception(SPHERES_ONE_EARTHED, gap, radius, STANDARD, fit).voltage
    return (
        100 * (voltage / table["voltage"] - 1),
        SPHERES_ONE_EARTHED.utilization_factor(gap, radius),
        gap / (2 * radius),
    )


# fit, median, 95 % of cells, worst, share within 3 and 5 %: what the relations reach, nothing fitted but the third.
# Wanted were a median of 0.9 %, 93 % within 3 % and all within 5 % for the first; a median of 0.7 % and 97 % within
# 3 % for the third, which has 313 of 323 cells there (96.9 %): the misses are 2 m spheres beyond 0.3 D (+3.3 to
# +5.1 %) and the 2 cm spheres beyond 0.4 D.
EVIDENCE = [
    ("quadratic", 0.90, 3.0, 5.0, 95.0, 100.0),
    ("linear-branch", 2.35, 4.6, 6.1, 72.0, 97.5),
    ("calibrated", 0.70, 2.7, 5.1, 96.9, 99.3),
]


@pytest.mark.parametrize(("name", "median", "most", "worst", "within_3", "within_5"), EVIDENCE)
def test_323_cells_of_the_earthed_sphere_table(reference, fits, name, median, most, worst, within_3, within_5):
    # IEC 60052 Table 2, spacing to half a diameter
    percent, _, ratio = deviations(reference, fits[name])
    cells = np.abs(percent[ratio <= 0.5 + 1e-9])
    assert cells.size == 323
    assert np.median(cells) <= median
    assert np.percentile(cells, 95) <= most
    assert cells.max() <= worst
    assert 100 * np.mean(cells <= 3) >= within_3
    assert 100 * np.mean(cells <= 5) >= within_5


def test_bracketed_cells_stay_within_ten_percent_and_lean_low(reference, fits):
    # IEC 60052 Table 2, spacing above half a diameter: utilization factors of 0.52 to 0.66, stated 10 %
    percent, utilization, ratio = deviations(reference, fits["quadratic"])
    wide = ratio > 0.5 + 1e-9
    assert wide.sum() == 66
    assert utilization[wide].min() > 0.5
    assert percent[wide].min() > -10
    assert np.median(percent[wide]) < 0


def test_a_uniform_field_gives_the_formula_that_the_constants_come_from(fits):
    # Kuffel, Zaengl, Kuffel eq. 5.107: 24.36 x + 6.72 sqrt(x) kV, x in bar cm
    x = np.logspace(-2, 2.7, 20)
    formula = 24.36e3 * x + 6.72e3 * np.sqrt(x)
    np.testing.assert_allclose(fits["quadratic"].uniform_field_voltage(x / 100, 1e5), formula, rtol=1e-4)
    flat = inception(SPHERES_ONE_EARTHED, x / 100, 1e7, 1e5, fits["quadratic"]).voltage
    np.testing.assert_allclose(flat, formula, rtol=1e-4)


def test_one_centimetre_between_plates_by_the_fit_with_the_linear_branch(fits):
    # a model against the textbook's formula, from which it is independent: 31.4 kV at 101.3 kPa, 3 % stated
    assert fits["linear-branch"].uniform_field_voltage(0.01, STANDARD) == pytest.approx(31.4e3, rel=0.03)


def test_thresholds_as_they_are_printed(fits):
    # 24.36 kV/(cm bar); 2.588 kV/(mm bar), Petcharaks 1995; 1 kV/(cm bar) is 1 V/(m Pa)
    assert fits["quadratic"].threshold == pytest.approx(24.36)
    assert fits["linear-branch"].threshold == pytest.approx(25.88, abs=0.005)


def test_the_branches_of_the_fit_meet_within_a_thousandth(fits):
    # 53.31 against 53.26 per mm bar at 7.943 kV/(mm bar), computed from the printed constants
    below, above = fits["linear-branch"].coefficient(np.array([79.43 - 1e-9, 79.43]))
    assert below * 100 == pytest.approx(53.31, abs=0.01)
    assert above * 100 == pytest.approx(53.26, abs=0.01)


@pytest.mark.parametrize(("critical_number", "volts"), [(1e-12, 9006.0), (18.42, 9688.0)])
def test_sulfur_hexafluoride_at_one_millimetre(critical_number, volts):
    # Abdel-Salam et al., example 5.2: alpha_eff = 0.027 E - 2400.4 p, 1 mm, 1 atm; onset of ionization and K = 18.42
    fit = IonizationFit(critical_number, branch=0.0, slope=0.027, intercept=2.4004)
    assert fit.threshold == pytest.approx(88.904, abs=1e-3)
    assert fit.uniform_field_voltage(1e-3, 101325.0) == pytest.approx(volts, rel=1e-3)


# --- the solution fulfils the equation ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shape", "gap", "radius"),
    [
        (SPHERE_PLANE, 0.05, 0.02),
        (COAXIAL_CYLINDERS, 0.1, 1e-3),
        (HYPERBOLOID_PLANE, 0.03, 50e-6),
        (PARALLEL_CYLINDERS, 0.5, 5e-3),
        (SPHERES_SYMMETRICAL, 0.5, 0.05),
    ],
)
@pytest.mark.parametrize("name", ["quadratic", "linear-branch"])
def test_the_integral_over_the_zone_is_the_critical_number(fits, name, shape, gap, radius):
    # by adaptive integration, independent of the fixed nodes
    fit = fits[name]
    found = inception(shape, gap, radius, STANDARD, fit)

    def coefficient(z):
        field = found.voltage * shape.axis_field(z, gap, radius)
        return STANDARD * float(fit.coefficient(np.asarray(field / STANDARD)))

    # the kink of the fit with two branches lies inside an interval of the fixed rule: 0.1 % of the integral
    assert quad(coefficient, 0, float(found.zone), limit=200)[0] == pytest.approx(fit.critical_number, rel=1e-3)
    assert coefficient(float(found.zone)) == pytest.approx(0.0, abs=1e-6 * fit.critical_number / found.zone)


def test_nearly_uniform_gaps_ionize_all_the_way(fits):
    found = inception(SPHERES_ONE_EARTHED, 0.5e-3, 0.1, STANDARD, fits["quadratic"])
    assert found.zone == 0.5e-3


def test_more_nodes_change_nothing(fits, monkeypatch):
    gap, radius = np.meshgrid(np.logspace(-4, 0.5, 10), np.logspace(-5, 1, 10))
    shapes = (SPHERE_PLANE, SPHERES_SYMMETRICAL, SPHERES_ONE_EARTHED, HYPERBOLOID_PLANE)
    coarse = [inception(shape, gap, radius, STANDARD, fits["quadratic"]).voltage for shape in shapes]
    nodes, weights = np.polynomial.legendre.leggauss(100)
    monkeypatch.setattr(closed_criterion, "NODES", (nodes + 1) / 2)
    monkeypatch.setattr(closed_criterion, "WEIGHTS", weights / 2)
    by_law = [replace(shape, similar=False) for shape in shapes]
    fine = [inception(shape, gap, radius, STANDARD, fits["quadratic"]).voltage for shape in by_law]
    np.testing.assert_allclose(coarse, fine, rtol=5e-5)


def test_many_cases_at_once_give_what_each_gives_alone(fits, monkeypatch):
    gap, radius = np.linspace(1e-3, 0.1, 7), np.linspace(0.1, 0.01, 7)
    monkeypatch.setattr(criterion, "CHUNK", 3)
    together = inception(SPHERES_ONE_EARTHED, gap, radius, STANDARD, fits["quadratic"])
    alone = [
        inception(SPHERES_ONE_EARTHED, *case, STANDARD, fits["quadratic"]).voltage
        for case in zip(gap, radius, strict=True)
    ]
    np.testing.assert_allclose(together.voltage, alone, rtol=1e-9)


# --- corona, by an independent formula ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shape", "law", "radius", "within"),
    [
        (COAXIAL_CYLINDERS, "coaxial-cylinders", 1e-3, 0.03),
        (COAXIAL_CYLINDERS, "coaxial-cylinders", 1e-2, 0.03),
        (PARALLEL_CYLINDERS, "parallel-wires", 1e-3, 0.08),
        (PARALLEL_CYLINDERS, "parallel-wires", 1e-2, 0.05),
        (SPHERE_PLANE, "spheres", 1e-2, 0.10),
        (SPHERES_SYMMETRICAL, "spheres", 1e-2, 0.10),
    ],
)
def test_inception_of_strongly_curved_electrodes_agrees_with_peek(reference, fits, shape, law, radius, within):
    # Peek's formulas were measured on conductors of about these sizes; spheres far apart are outside his data
    found = inception(shape, 100 * radius, radius, STANDARD, fits["quadratic"])
    peek = onset_field(corona_laws(reference)[law], radius, 1.0)
    assert found.maximum_reduced_field * STANDARD == pytest.approx(peek, rel=within)


@pytest.mark.parametrize(("gap", "radius", "pressure"), [(0, 1, 1e5), (1, 0, 1e5), (1, 1, 0), (np.nan, 1, 1e5)])
def test_arguments_that_are_not_positive_are_refused(fits, gap, radius, pressure):
    with pytest.raises(OutsideValidity):
        inception(SPHERE_PLANE, gap, radius, pressure, fits["quadratic"])


# --- closed integrals against adaptive quadrature -------------------------------------------------------------------

ELEMENTARY = [COAXIAL_CYLINDERS, CONCENTRIC_SPHERES, PARALLEL_CYLINDERS, CYLINDER_PLANE, HYPERBOLOID_PLANE]
"""Shapes whose criterion is solved by closed integrals."""


@pytest.mark.parametrize("shape", ELEMENTARY, ids=lambda shape: shape.title)
@pytest.mark.parametrize("name", ["quadratic", "linear-branch", "calibrated"])
@pytest.mark.parametrize(("gap", "radius"), [(1e-2, 1e-2), (5e-2, 1e-3), (1e-4, 3e-4), (0.3, 2e-5), (1.0, 3.0)])
def test_closed_integrals_are_those_of_adaptive_quadrature(fits, shape, name, gap, radius):
    fit, axis = fits[name], shape.axis(gap, radius)
    volts, zone = inception_voltage(axis, STANDARD, fit)

    def coefficient(z):
        field = shape.law(np.array(z), np.array(gap), np.array(radius))
        return STANDARD * float(fit.coefficient(volts * field / STANDARD))

    kinks = [axis.place(limit * STANDARD / volts) for limit in (fit.branch, float(fit.threshold), fit.centre)]
    kinks += [gap - kink for kink in kinks]
    joints = [0.0, *sorted({k for k in [*kinks, axis.length] if 0 < k < zone}), zone]
    total = sum(quad(coefficient, a, b, epsabs=0, epsrel=1e-11)[0] for a, b in pairwise(joints))
    assert total == pytest.approx(fit.critical_number, rel=1e-8)


@pytest.mark.parametrize("shape", ELEMENTARY, ids=lambda shape: shape.title)
def test_plain_numbers_and_arrays_say_the_same(fits, shape):
    random = np.random.default_rng(7)
    gap, radius = 10 ** random.uniform(-4, 0, 60), 10 ** random.uniform(-4.5, 0, 60)
    for fit in fits.values():
        many = inception_voltage(shape.axis(gap, radius), np.full(60, STANDARD), fit)
        each = [
            inception_voltage(shape.axis(s, R), STANDARD, fit)
            for s, R in zip(gap.tolist(), radius.tolist(), strict=True)
        ]
        assert pytest.approx(np.array(many), rel=1e-9) == np.array(each).T


@pytest.mark.parametrize("shape", ELEMENTARY, ids=lambda shape: shape.title)
def test_closed_integrals_agree_with_the_quadrature_of_other_shapes(fits, shape):
    # without a linear branch 24 nodes straddle a kink between two cylinders only, where attachment is continued
    random = np.random.default_rng(8)
    gap, radius = 10 ** random.uniform(-3, 0, 60), 10 ** random.uniform(-3.5, 0, 60)
    closed = inception(shape, gap, radius, STANDARD, fits["quadratic"])
    nodes = inception(replace(shape, axis=None), gap, radius, STANDARD, fits["quadratic"])
    assert closed.voltage == pytest.approx(nodes.voltage, rel=4e-5)


# --- similar shapes: moments, and zones on the way to the lowest field --------------------------------------------


@pytest.mark.parametrize("shape", [SPHERE_PLANE, SPHERES_ONE_EARTHED, SPHERES_SYMMETRICAL], ids=lambda one: one.title)
@pytest.mark.parametrize("ratio", [2e-4, 0.03, 0.7, 4.0, 60.0])
def test_moments_of_the_field_are_what_adaptive_integration_gives(shape, ratio):
    radius = 0.02
    gap = ratio * radius

    def field(z):
        return float(shape.axis_field(z, gap, radius))

    def whole(power, start=0.0):
        return quad(lambda z: field(z) ** power, start, gap, points=[gap / 2], limit=400, epsrel=1e-11)[0]

    found = closed_criterion.moments(shape, gap, radius)
    lowest = (1 - found.beyond) * gap
    assert found.highest == pytest.approx(field(0.0), rel=1e-10)
    assert found.lowest == pytest.approx(field(lowest), rel=1e-10)
    assert found.square == pytest.approx(whole(2), rel=1e-9)
    assert found.potential == pytest.approx(whole(1), rel=1e-9)
    assert found.potential == pytest.approx(1.0, rel=1e-6)
    assert found.potential_beyond == pytest.approx(whole(1, lowest) / whole(1), abs=1e-8)
    assert found.square_beyond == pytest.approx(whole(2, lowest) / whole(2), abs=1e-8)


@pytest.mark.parametrize("name", ["quadratic", "linear-branch", "calibrated"])
@pytest.mark.parametrize("shape", [SPHERE_PLANE, SPHERES_ONE_EARTHED], ids=lambda one: one.title)
@pytest.mark.parametrize("ratio", [0.05, 0.4, 0.9, 2.0, 8.0, 40.0, 95.0])
@pytest.mark.parametrize("product", [20.0, 60.0, 300.0, 2000.0, 40e3])
def test_one_case_by_moments_is_that_by_the_law_of_the_field(fits, name, shape, ratio, product):
    # by quadrature and a root finder of scipy, along the whole axis and along the zone
    radius, fit = product / STANDARD, fits[name]
    gap = ratio * radius
    [found] = inceptions_of_one(shape, gap, radius, STANDARD, [fit])

    def integral(volts, end):
        def coefficient(z):
            return STANDARD * float(fit.coefficient(np.asarray(volts * shape.axis_field(z, gap, radius) / STANDARD)))

        return quad(coefficient, 0, end, points=[end / 20, end / 3], limit=300)[0] / fit.critical_number

    # a kink of the fit lies inside an interval of the fixed rule: 0.1 % of the integral at the second branch, 0.01 %
    # where attachment begins between two zones
    lowest = found.voltage * float(shape.axis_field(shape.lowest(gap, radius), gap, radius)) / STANDARD
    near = 1e-3 if found.maximum_reduced_field > fit.branch else 1e-6
    near = max(near, 1e-4) if found.zone == gap and lowest < fit.centre else near
    assert integral(found.voltage, found.zone) == pytest.approx(1.0, rel=near)
    if found.zone < gap:
        end = found.voltage * float(shape.axis_field(found.zone, gap, radius)) / STANDARD
        assert end == pytest.approx(float(fit.threshold), rel=1e-6)
        assert integral(found.voltage, gap) <= 1 + 1e-6
    for one in (shape, replace(shape, similar=False)):
        assert found.voltage == pytest.approx(float(inception(one, gap, radius, STANDARD, fit).voltage), rel=2e-7)

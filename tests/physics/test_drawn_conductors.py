"""Boundary elements against exact solutions that owe them nothing: images, confocal coordinates, elliptic integrals."""

from itertools import pairwise

import numpy as np
import pytest
from scipy import special
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq

from service.methods.laws import ionization_fits
from service.physics.boundary import Boundary
from service.physics.conductors import Conductors, Outline, clash
from service.physics.contours import Contour, DoesNotFit, Piece, biarcs
from service.physics.criterion import inception
from service.physics.critical_line import critical_line, largest_part, line_inception
from service.physics.field_lines import FINE, FieldLine, joined, trace, trace_each
from service.physics.fields import (
    CYLINDER_PLANE,
    HYPERBOLOID_PLANE,
    PARALLEL_CYLINDERS,
    SPHERE_PLANE,
    SPHERES_ONE_EARTHED,
)
from service.physics.ionization import IonizationFit
from service.physics.panels import divided
from service.physics.rings import elliptic

PRESSURE = 101300.0
QUADRATIC = IonizationFit(critical_number=1.0, curvature=1 / 45160, centre=24.36)


def ball(height, radius):
    return Contour((Piece(1j * (height - radius), 1j * (height + radius), np.pi),))


def circle(centre, radius):
    halves = (
        Piece(centre - radius, centre + radius, np.pi),
        Piece(centre + radius, centre - radius, np.pi),
    )
    return Contour(halves, closed=True)


def line(*places):
    return tuple(Piece(complex(a), complex(b)) for a, b in pairwise(places))


def solved(contours, given, *, axis=True, plane=False, neutral=False, order=8):
    places = np.concatenate([one.places for one in contours])
    extent = max(np.ptp(places.real), np.ptp(places.imag))
    panels = divided(contours, plane=plane, extent=extent)
    solution = Boundary(panels, axis, plane, neutral, order).solve()
    return solution, solution.field(np.array(given, dtype=float))


def off(found, exact):
    return float(np.max(np.abs(np.asarray(found) / exact - 1)))


def test_elliptic_integrals_are_those_of_the_library():
    complement = np.concatenate([np.geomspace(1e-14, 1e-3, 60), np.linspace(1e-3, 1, 60)])
    K, E = elliptic(complement)
    assert off(K, special.ellipkm1(complement)) < 2e-11
    assert off(E, special.ellipe(1 - complement)) < 2e-11
    # of many those that need more steps are taken apart
    many = np.tile(complement, 200)
    assert off(elliptic(many)[0], special.ellipkm1(many)) < 2e-11


def test_an_isolated_sphere_has_the_capacitance_of_its_radius():
    solution, field = solved([ball(0, 0.3)], [1])
    assert solution.charges[0, 0] == pytest.approx(4 * np.pi * 0.3, rel=1e-7)
    assert off(field.density, 1 / 0.3) < 1e-6


def images(gap, first, second, places):
    """Field between two spheres, one volt and earthed, by images in turn."""
    apart = first + second + gap
    charges, here = [], (first, 0.0)
    for _ in range(4000):
        charges.append(here)
        away = apart - here[1]
        other = (-here[0] * second / away, apart - second**2 / away)
        charges.append(other)
        here = (-other[0] * first / other[1], first**2 / other[1])
    z = first + places
    return sum(q / (z - at) ** 2 * np.sign(z - at) for q, at in charges)


@pytest.mark.parametrize(("gap", "second"), [(1, 1), (0.1, 1), (0.01, 1), (0.3, 0.2), (0.5, 5)])
def test_two_spheres_are_those_of_the_images(gap, second):
    _, field = solved([ball(-1, 1), ball(gap + second, second)], [1, 0])
    share = np.linspace(0.03, 0.97, 21) * gap
    found = np.abs(field.at(1j * share)[1])
    assert off(found, images(gap, 1, second, share)) < 1e-4
    assert field.residual < 1e-4


@pytest.mark.parametrize("gap", [1e-3, 0.1, 1.0])
def test_sphere_and_plane_is_the_law(gap):
    _, field = solved([ball(1 + gap, 1)], [1], plane=True)
    share = np.linspace(0.03, 0.97, 21) * gap
    law = SPHERE_PLANE.law(share, np.float64(gap), np.float64(1))
    assert off(np.abs(field.at(1j * (gap - share))[1]), law) < 1e-4


def test_a_mirrored_conductor_is_the_plane():
    _, plane = solved([ball(1.5, 1)], [1], plane=True)
    _, mirrored = solved([ball(1.5, 1), ball(-1.5, 1)], [1, -1])
    places = np.array([0.2j, 0.7 + 0.4j, 2 + 1j])
    assert off(plane.at(places)[1], mirrored.at(places)[1]) < 1e-5


def test_concentric_spheres_and_a_floating_shell_between():
    outer = Contour(ball(0, 2).pieces, solid=False)
    _, field = solved([ball(0, 1), outer], [1, 0])
    r = np.linspace(1.05, 1.9, 9)
    assert off(field.at(r * np.exp(0.3j))[1] / np.exp(0.3j), 2 / r**2) < 1e-4
    shell = Contour(ball(0, 1.5).pieces, solid=False)
    _, floating = solved([ball(0, 1), shell, outer], [1, np.nan, 0])
    assert floating.potentials[1] == pytest.approx((1 / 1.5 - 1 / 2) / (1 - 1 / 2), abs=1e-6)


@pytest.mark.parametrize("gap", [0.01, 0.5, 5, 50])
def test_parallel_wires_and_a_wire_along_a_plane_are_the_laws(gap):
    share = np.linspace(0.03, 0.97, 21) * gap
    _, wires = solved([circle(1j * (1 + gap / 2), 1), circle(-1j * (1 + gap / 2), 1)], [1, 0], axis=False, neutral=True)
    law = PARALLEL_CYLINDERS.law(share, np.float64(gap), np.float64(1))
    assert off(np.abs(wires.at(1j * (gap / 2 - share))[1]), law) < 1e-4
    _, wire = solved([circle(1j * (1 + gap), 1)], [1], axis=False, plane=True)
    law = CYLINDER_PLANE.law(share, np.float64(gap), np.float64(1))
    assert off(np.abs(wire.at(1j * (gap - share))[1]), law) < 1e-4


def test_eccentric_tubes_have_the_capacitance_of_the_textbook():
    # capacitance per length 2 pi / arcosh((R^2 + r^2 - e^2) / (2 R r)): Smythe, section 4.13, from memory
    outer = Contour(circle(0, 3).pieces, closed=True, solid=False)
    solution, _ = solved([circle(0.8, 1), outer], [1, 0], axis=False, neutral=True)
    exact = 2 * np.pi / np.arccosh((9 + 1 - 0.64) / 6)
    assert solution.charges[0, 0] - solution.charges[0, 1] == pytest.approx(2 * exact, rel=1e-6)


def toroidal(slenderness):
    """Capacitance over permittivity of a torus, its wire radius one part of its mean radius one."""
    x = 1 / slenderness
    n = np.arange(60) - 0.5
    P = special.hyp2f1(-n, n + 1, 1, (1 - x) / 2)
    share = np.sqrt(np.pi) * np.exp(special.gammaln(n + 1) - special.gammaln(n + 1.5)) / (2 * x) ** (n + 1)
    Q = share * special.hyp2f1(n / 2 + 1, n / 2 + 0.5, n + 1.5, 1 / x**2)
    terms = Q / P
    terms = terms[: np.argmax(terms < 1e-14 * terms[0])] if (terms < 1e-14 * terms[0]).any() else terms
    return 8 * np.sqrt(1 - slenderness**2) * (terms[0] + 2 * terms[1:].sum())


@pytest.mark.parametrize("slenderness", [0.05, 0.3, 0.7])
def test_a_torus_has_the_capacitance_of_the_toroidal_functions(slenderness):
    # Smythe, section 5.36; toroidal functions by the hypergeometric series, DLMF 14.3; from memory
    solution, _ = solved([circle(1, slenderness)], [1])
    assert solution.charges[0, 0] == pytest.approx(toroidal(slenderness), rel=1e-5)


def test_a_thin_disc_has_eight_radii():
    disc = Contour((Piece(0j, 1 + 0j),), solid=False, corners={1: "edge"})
    solution, _ = solved([disc], [1])
    assert solution.charges[0, 0] == pytest.approx(8, rel=1.2e-5)


def test_a_slender_spheroid_of_biarcs():
    # 4 pi c / artanh(c / a), a and c half axis and focal distance; Smythe, section 5.02, from memory
    a, b = 1.0, 0.2
    angle = np.linspace(-np.pi / 2, np.pi / 2, 41)
    places = b * np.cos(angle) + 1j * a * np.sin(angle)
    places[[0, -1]] = [-1j * a, 1j * a]
    solution, _ = solved([Contour(tuple(biarcs(places, -b * np.sin(angle) + 1j * a * np.cos(angle))))], [1])
    focal = np.sqrt(a**2 - b**2)
    assert solution.charges[0, 0] == pytest.approx(4 * np.pi * focal / np.arctanh(focal / a), rel=1e-4)


def test_two_coplanar_strips_have_the_capacitance_of_the_elliptic_integrals():
    # K'(k) / K(k) with k the inner over the outer distance; from memory
    strips = [
        Contour((Piece(a, b),), solid=False, corners={0: "edge", 1: "edge"})
        for a, b in ((-2 + 0j, -1 + 0j), (1 + 0j, 2 + 0j))
    ]
    _, field = solved(strips, [0.5, -0.5], axis=False, neutral=True)
    charge = (field.density * field.boundary.charge_weights)[field.boundary.owner == 0].sum()
    assert charge == pytest.approx(special.ellipkm1(0.25) / special.ellipk(0.25), rel=1e-4)


def test_at_a_sharp_corner_the_field_rises_as_the_angle_says():
    square = Conductors((Outline(line(-1 + 1j, 1 + 1j, 1 + 3j, -1 + 3j, -1 + 1j)),), axis=False, plane=True)
    _, field = solved(square.contours(), [1], axis=False, plane=True)
    assert exponent(field, 1 + 1j, 2 / 3) == pytest.approx(2 / 3 - 1, abs=5e-4)


@pytest.mark.parametrize("half_angle", [30, 60])
def test_at_a_sharp_cone_the_field_rises_as_the_legendre_function_says(half_angle):
    angle = np.radians(half_angle)
    power = brentq(lambda nu: special.hyp2f1(-nu, nu + 1, 1, (1 + np.cos(angle)) / 2), 0.05, 1.0)
    tip = Conductors((Outline(line(1j, 1j + 2 * (np.sin(angle) + 1j * np.cos(angle)), 6j)),), axis=True, plane=True)
    _, field = solved(tip.contours(), [1], plane=True)
    assert exponent(field, 1j) == pytest.approx(power - 1, abs=5e-4)


def exponent(field, corner, following=1.0):
    """Slope of the logarithm of the surface field over that of the distance, the next term of the series apart."""
    away = np.abs(field.boundary.nodes - corner)
    near = (away > 0.006) & (away < 0.02)
    side = np.angle(field.boundary.nodes[near] - corner)
    one = np.abs(side - side[0]) < 1e-6
    s, strength = away[near][one], np.abs(field.density[near][one])
    return np.linalg.lstsq(np.stack([np.log(s), s**following, np.ones_like(s)], 1), np.log(strength))[0][0]


def test_charges_answer_each_other_and_directions_do_not_matter():
    outlines = [Outline((Piece(-1j, 1j, np.pi),)), Outline(line(2j, 1 + 2j, 1 + 3j, 3j), edge_radius=0.1)]
    turned = [Outline(tuple(one.reversed() for one in reversed(o.pieces)), edge_radius=o.edge_radius) for o in outlines]
    first, _ = solved(Conductors(tuple(outlines), axis=True, plane=False).contours(), [1, 0])
    other, _ = solved(Conductors(tuple(reversed(turned)), axis=True, plane=False).contours(), [0, 1])
    assert first.charges == pytest.approx(other.charges[::-1, ::-1], rel=1e-9)
    assert first.charges[0, 1] == pytest.approx(first.charges[1, 0], rel=1e-4)


def test_a_larger_drawing_at_a_lower_pressure_starts_at_the_same_voltage():
    found = [
        ask((Outline(line(size * 2j, size * (1 + 2j), size * (1 + 3j), size * 3j), edge_radius=0.1 * size),), pressure)
        for size, pressure in ((0.005, PRESSURE), (0.05, PRESSURE / 10))
    ]
    assert found[0] == pytest.approx(found[1], rel=1e-12)


def ask(outlines, pressure=PRESSURE, given=(1,), *, axis=True, plane=True, neutral=False):
    drawing = Conductors(tuple(outlines), axis=axis, plane=plane)
    contours = drawing.contours()
    assert clash(contours, drawing) is None
    panels = divided(contours, plane=plane, extent=drawing.extent)
    both = [Boundary(panels, axis, plane, neutral, order).solve().field(np.array(given)) for order in (6, 8)]
    found = critical_line(*both, np.array([one.solid for one in contours]), pressure, QUADRATIC)
    return found.best.voltage


@pytest.mark.parametrize("ratio", [0.05, 1.0, 20.0, 100.0])
@pytest.mark.parametrize("case", ["spheres", "sphere-plane", "wires", "wire-plane"])
def test_the_criterion_on_a_traced_line_is_that_of_the_exact_field(case, ratio):
    R = 0.01
    gap = ratio * R
    contours, given, axis, plane, shape = {
        "spheres": ([ball(R + gap / 2, R), ball(-R - gap / 2, R)], [1, 0], True, False, SPHERES_ONE_EARTHED),
        "sphere-plane": ([ball(R + gap, R)], [1], True, True, SPHERE_PLANE),
        "wires": (
            [circle(1j * (R + gap / 2), R), circle(-1j * (R + gap / 2), R)],
            [1, 0],
            False,
            False,
            PARALLEL_CYLINDERS,
        ),
        "wire-plane": ([circle(1j * (R + gap), R)], [1], False, True, CYLINDER_PLANE),
    }[case]
    _, field = solved(contours, given, axis=axis, plane=plane, neutral=not axis and not plane)
    panels = field.boundary.panels
    _, panel, t = panels.nearest(np.array([0j]), panels.owner == 0)
    lines = trace(field, panel, np.clip(t, -1 + 1e-9, 1 - 1e-9), FINE)
    found = line_inception(*joined(lines), PRESSURE, QUADRATIC)[0]
    assert found == pytest.approx(float(inception(shape, gap, R, PRESSURE, QUADRATIC).voltage), rel=1e-4)
    assert lines[0].length == pytest.approx(gap, rel=1e-4)


def test_lines_of_several_fields_traced_together_are_those_of_each_alone():
    fields = [solved([ball(1 + gap, 1)], [1], plane=True)[1] for gap in (0.5, 0.7)]
    panel, t = np.array([0, 1, 1]), np.array([0.0, -0.5, 0.5])
    together = trace_each([(field, panel, t) for field in fields], FINE)
    for field, lines in zip(fields, together, strict=True):
        for one, alone in zip(lines, trace(field, panel, t, FINE), strict=True):
            assert one.end == alone.end
            assert off(np.array(one.strength), np.array(alone.strength)) < 1e-9


def test_the_spline_of_a_line_is_that_of_the_library():
    random = np.random.default_rng(3)
    for count in (4, 5, 30):
        drop, logarithm = np.cumsum(random.uniform(0.01, 1, count)), random.normal(size=count)
        line = FieldLine(0, 0.0, 0, [0j] * count, list(drop), list(np.exp(logarithm)))
        steps = np.diff(drop)[:, None] / 2 * (1 + np.polynomial.legendre.leggauss(6)[0])
        expected = CubicSpline(drop, logarithm)(drop[:-1, None] + steps)
        assert np.abs(np.log(line.between(6)[0]) - expected).max() < 1e-12


def test_a_hyperboloid_of_biarcs_is_the_law_of_its_name():
    gap, tip = 0.01, 0.002
    centre = np.sqrt(gap * (gap + tip))  # focal distance; the plane is the middle
    eta = gap / centre
    xi = np.cosh(np.linspace(0, np.arccosh(30 * gap / (gap)), 60))
    places = centre * np.sqrt((xi**2 - 1) * (1 - eta**2)) + 1j * centre * xi * eta
    slope = centre * np.sqrt(1 - eta**2) * xi / np.sqrt(np.maximum(xi**2 - 1, 1e-300)) + 1j * centre * eta
    slope[0] = 1.0
    places[0] = 1j * gap
    contour = Contour(tuple(biarcs(places, slope)), solid=False, corners={})
    _, field = solved([contour], [1], plane=True)
    share = np.linspace(0.1, 0.95, 12) * gap
    law = HYPERBOLOID_PLANE.law(share, np.float64(gap), np.float64(tip))
    assert off(np.abs(field.at(1j * (gap - share))[1]), law) < 2e-3  # the cone is cut off at 30 gaps


def test_the_largest_part_of_a_sum():
    steps = np.array([[1.0, -0.5, 2.0, -9.0, 3.0], [-1.0, -2.0, -3.0, -1.0, -1.0]])
    assert largest_part(steps).tolist() == [3.0, 0.0]


def test_a_radius_that_does_not_fit_is_told_with_the_largest_that_does():
    with pytest.raises(DoesNotFit) as error:
        Conductors((Outline(line(1j, 1 + 1j, 1 + 1.6j, 1.6j), edge_radius=0.5),), axis=True, plane=True).contours()
    assert error.value.most == pytest.approx(0.3, rel=0.7)
    assert error.value.most < 0.5


@pytest.mark.parametrize(
    ("outlines", "first", "second"),
    [
        ((Outline(line(1j, 1 + 1j, 1 + 3j, -0.5 + 3j, -0.5 + 1j, 1j)),), (0, 2), (-1, 0)),
        ((Outline(line(1 + 1j, 3 + 3j, 3 + 1j, 1 + 3j, 1 + 1j)),), (0, 0), (0, 2)),
        ((Outline((Piece(1j, 3j, np.pi),)), Outline((Piece(2.9j, 5j, np.pi),))), (0, 0), (1, 0)),
        ((Outline((Piece(1j, 3j, np.pi),)), Outline((Piece(3j, 5j, np.pi),))), (0, 0), (1, 0)),
        ((Outline((Piece(1j, 5j, np.pi),)), Outline((Piece(2j, 3j, np.pi),))), (1, 0), (0, 0)),
        ((Outline((Piece(-0.5j, 3j, np.pi),)),), (0, 0), (-2, 0)),
    ],
)
def test_clashes_name_both_parts(outlines, first, second):
    drawing = Conductors(tuple(outlines), axis=True, plane=True)
    for index, outline in enumerate(drawing.outlines):
        pieces = tuple(Piece(p.start, p.end, p.turn, source=k) for k, p in enumerate(outline.pieces))
        drawing = Conductors((*drawing.outlines[:index], Outline(pieces), *drawing.outlines[index + 1 :]), True, True)
    found = clash(drawing.contours(), drawing)
    assert (found.first, found.second) == (first, second)


def test_every_published_field_factor_of_spheres_as_printed(registry):
    # sphere-images: highest over mean field, six digits; the solver knows nothing of images
    table = registry.reference.table("sphere-field-factors")
    for row, gap in enumerate(table["gap_over_radius"]):
        both = [ball(1 + gap / 2, 1), ball(-1 - gap / 2, 1)]
        for name, contours, given, plane in (
            ("factor_symmetrical", both, [0.5, -0.5], False),
            ("factor_one_earthed", both, [1, 0], False),
            ("factor_sphere_plane", [ball(1 + gap, 1)], [1], True),
        ):
            _, field = solved(contours, given, plane=plane)
            panel = np.flatnonzero(field.boundary.panels.owner == 0)[:1]
            highest = abs(field.surface(panel, np.array([-1.0]))[0])
            assert highest * gap == pytest.approx(table[name][row], rel=3e-4), (name, gap)


@pytest.mark.parametrize("fit", ["quadratic", "linear-branch", "calibrated"])
@pytest.mark.parametrize("kind", ["falling", "rising", "two peaks", "padded", "even"])
def test_the_voltage_of_a_line_is_the_root_that_scipy_finds(registry, fit, kind):
    random, law = np.random.default_rng(len(kind)), ionization_fits(registry.reference)[fit]
    for _ in range(8):
        steps = np.linspace(0, 1, 300)
        strength = 1 / (random.uniform(0.02, 2.0) + steps) ** random.uniform(0.5, 2)
        strength = {"rising": strength[::-1], "two peaks": strength + strength[::-1], "even": steps * 0 + 1.0}.get(
            kind, strength
        )
        length = np.full(300, 10 ** random.uniform(-8, -3))
        length[250:] = 0.0 if kind == "padded" else length[0]
        strength = strength / np.sum(strength * length)

        def excess(volts, strength=strength, length=length):
            coefficient = law.coefficient(volts * strength / PRESSURE) * PRESSURE * length / law.critical_number
            return largest_part(coefficient[None])[0] - 1

        found = line_inception(strength[None], length[None], PRESSURE, law)
        assert found == pytest.approx(brentq(excess, 1.0, 1e8, xtol=1e-9, rtol=1e-14), rel=1e-9)


def test_very_many_lines_are_answered_as_each_of_them_alone():
    """They are taken some at a time, so that they need no more memory than these."""
    random = np.random.default_rng(4)
    many, steps = 1500, 64
    strength = 1e3 * np.exp(-np.linspace(0, random.uniform(1, 4, many), steps, axis=1))
    length, pressure = np.full(strength.shape, 2e-4), random.uniform(0.5, 1.0, many) * PRESSURE
    found = line_inception(strength, length, pressure, QUADRATIC)
    some = slice(None, None, 97)
    pairs = zip(strength[some], length[some], pressure[some], strict=True)
    alone = [line_inception(one[None], of[None], p, QUADRATIC)[0] for one, of, p in pairs]
    assert np.isfinite(found).all()
    assert found[some] == pytest.approx(np.array(alone), rel=1e-12)

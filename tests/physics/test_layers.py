"""Fields in layers: by hand, by a finite-difference solution of the same capacitor, and their domain."""

import math

import numpy as np
import pytest
from scipy import integrate

from service.errors import OutsideValidity
from service.physics.layers import coaxial_layers, plane_layers


def test_a_film_much_thinner_than_the_solid_sees_the_permittivity_times_its_field():
    fields = plane_layers(12e3, 1e-3, 4.7, 0.0)
    assert float(fields.film) == pytest.approx(4.7 * 12e6)
    assert float(fields.solid) == pytest.approx(12e6)
    assert float(fields.film_voltage) == 0.0


def test_the_fields_around_a_wire_integrate_to_the_voltage():
    radius, thickness, film, permittivity = 0.5e-3, 0.8e-3, 0.3e-3, 2.3
    fields = coaxial_layers(10e3, radius, thickness, permittivity, film)
    outer = radius + thickness
    solid = integrate.quad(lambda r: float(fields.solid) * radius / r, radius, outer)[0]
    air = integrate.quad(lambda r: float(fields.film) * outer / r, outer, outer + film)[0]
    assert solid + air == pytest.approx(10e3)
    assert air == pytest.approx(float(fields.film_voltage))


def test_the_wire_agrees_with_a_solution_of_the_potential_equation_on_a_grid():
    # div(eps grad phi) = 0 between cylinders, solved as a chain of thin coaxial capacitors
    edges = np.linspace(0.5e-3, 1.6e-3, 4401)
    middle = (edges[1:] + edges[:-1]) / 2
    permittivity = np.where(middle < 1.3e-3, 3.0, 1.0)
    drops = np.diff(edges) / (permittivity * middle)
    drops *= 10e3 / drops.sum()
    field = drops / np.diff(edges)
    fields = coaxial_layers(10e3, 0.5e-3, 0.8e-3, 3.0, 0.3e-3)
    assert float(fields.solid) == pytest.approx(field[0], rel=1e-3)
    assert float(fields.film) == pytest.approx(field[middle > 1.3e-3][0], rel=1e-3)


def test_arrays_broadcast():
    fields = plane_layers([1e3, 2e3], 1e-3, [[1.0], [2.0]], 1e-3)
    assert fields.solid.shape == (2, 2)
    assert fields.film[1, 1] == pytest.approx(2 * fields.solid[1, 1])


@pytest.mark.parametrize(
    "values",
    [
        (0.0, 1e-3, 2.0, 0.0),
        (1e3, -1e-3, 2.0, 0.0),
        (1e3, 1e-3, 0.9, 0.0),
        (1e3, 1e-3, 2.0, -1e-3),
        (math.nan, 1e-3, 2.0, 0.0),
    ],
)
def test_values_outside_their_domain_raise(values):
    with pytest.raises(OutsideValidity):
        plane_layers(*values)


def test_a_wire_needs_a_radius():
    with pytest.raises(OutsideValidity):
        coaxial_layers(1e3, 0.0, 1e-3, 2.0, 0.0)

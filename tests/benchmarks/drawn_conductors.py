"""``python -m tests.benchmarks.drawn_conductors``: error against cost of the boundary elements, on exact solutions."""

import time

import numpy as np

from service.physics.boundary import Boundary
from service.physics.contours import Contour, Piece
from service.physics.fields import PARALLEL_CYLINDERS, SPHERE_PLANE, SPHERES_ONE_EARTHED
from service.physics.panels import divided

ORDERS = (4, 6, 8, 10, 12)


def ball(height):
    return Contour((Piece(1j * (height - 1), 1j * (height + 1), np.pi),))


def wire(height):
    left, right = 1j * height - 1, 1j * height + 1
    return Contour((Piece(left, right, np.pi), Piece(right, left, np.pi)), closed=True)


def cases():
    """Yield name, conductors, potentials, symmetry, plane, and the field of the law at heights in the gap."""
    for gap in (1.0, 0.1, 0.01, 0.001):
        both = [ball(1 + gap / 2), ball(-1 - gap / 2)]
        yield f"spheres, gap {gap:g} R", both, [1, 0], True, False, gap, SPHERES_ONE_EARTHED, gap / 2
        yield f"sphere and plane, gap {gap:g} R", [ball(1 + gap)], [1], True, True, gap, SPHERE_PLANE, gap
    for gap in (0.01, 0.5, 5.0, 50.0):
        both = [wire(1 + gap / 2), wire(-1 - gap / 2)]
        yield f"wires, gap {gap:g} R", both, [1, 0], False, False, gap, PARALLEL_CYLINDERS, gap / 2


def error(contours, given, axis, plane, gap, law, top, order):
    """Return the largest relative error of the field on the axis, the unknowns and the time."""
    places = np.concatenate([one.places for one in contours])
    started = time.process_time()
    panels = divided(contours, plane=plane, extent=float(max(np.ptp(places.real), np.ptp(places.imag))))
    field = Boundary(panels, axis, plane, not axis and not plane, order).solve().field(np.array(given, dtype=float))
    spent = time.process_time() - started
    z = np.linspace(0.03, 0.97, 21) * gap
    exact = law.law(z, np.float64(gap), np.float64(1))
    return float(np.abs(np.abs(field.at(1j * (top - z))[1]) / exact - 1).max()), field.density.size, spent


def main():
    print(f"{'case':32} " + " ".join(f"{f'order {order}':>22}" for order in ORDERS))
    for name, *asked in cases():
        cells = []
        for order in ORDERS:
            off, unknowns, spent = error(*asked, order)
            cells.append(f"{off:8.1e} {unknowns:5d} {1e3 * spent:5.0f}ms")
        print(f"{name:32} " + " ".join(f"{cell:>22}" for cell in cells))


if __name__ == "__main__":
    main()

"""Random drawings, seeded: turned parts over a plane, pairs of them, polygons of a section.

``python -m tests.bench.random_drawings 200`` prints how estimate and true error compare; the suite takes fewer.
"""

import sys
import time

import numpy as np

from service.bench.profile_body import BODY, read
from service.bench.profile_field import numerical_errors, solve
from service.errors import BadQuestion, OutsideValidity
from service.methods.laws import ionization_fits
from service.physics.boundary import Boundary
from service.physics.conductors import REACH
from service.physics.critical_line import against
from service.physics.panels import divided
from service.web import bodies
from tests.asking import SHIPPED

PRESSURE = 101300.0


def mm(*values):
    return [f"{float(value):.6g}mm" for value in values]


def turned(random, tip, up, size, radius):
    """A turned part: steps of cylinders and cones from its tip, which goes on or ends."""
    count = random.integers(1, 4)
    widths, heights = size * random.uniform(0.3, 1.5, count), np.cumsum(size * random.uniform(0.4, 1.5, count))
    path, z = [{"line": mm(widths[0], tip)}], tip
    for k in range(count):
        z = tip + up * heights[k]
        path.append({"line": mm(widths[k], z)})
        if k + 1 < count and abs(widths[k + 1] / widths[k] - 1) > 0.2:
            path.append({"line": mm(widths[k + 1], z + up * size * random.choice([0, 0.3]))})
    goes_on = random.random() < 0.5 and path[-1]["line"][0] == path[-2]["line"][0]
    part = {"start": mm(0, tip), "path": path, "edge_radius": f"{radius:.4g}mm"}
    if goes_on:
        return {**part, "goes_on": ["end"]}
    return {**part, "path": [*path, {"line": mm(0, z)}]}


def polygon(random, centre, size, radius):
    angles = np.sort((np.arange(5) + random.uniform(-0.3, 0.3, 5)) * 2 * np.pi / 5)
    places = centre + size * random.uniform(0.6, 1.2, 5) * np.exp(1j * angles)
    lines = [{"line": mm(place.real, place.imag)} for place in [*places[1:], places[0]]]
    return {"start": mm(places[0].real, places[0].imag), "path": lines, "edge_radius": f"{radius:.4g}mm"}


def drawing(random):
    gap, size = np.exp(random.uniform(np.log(0.5), np.log(50))), np.exp(random.uniform(np.log(2), np.log(20)))
    radius = np.exp(random.uniform(np.log(0.01), np.log(min(1.0, 0.08 * size))))
    kind = random.choice(["plane", "pair", "section", "section-plane"])
    if kind == "plane":
        return {"plane": "earthed", "electrodes": [{"potential": 1, **turned(random, gap, 1, size, radius)}]}
    if kind == "pair":
        both = turned(random, gap / 2, 1, size, radius), turned(random, -gap / 2, -1, size, radius)
        return {"electrodes": [{"potential": 1 - k, **one} for k, one in enumerate(both)]}
    if kind == "section":
        both = (
            polygon(random, 1.25 * size + gap / 2, size, radius),
            polygon(random, -1.25 * size - gap / 2, size, radius),
        )
        return {"symmetry": "section", "electrodes": [{"potential": 1 - k, **one} for k, one in enumerate(both)]}
    one = polygon(random, 1j * (1.25 * size + gap), size, radius)
    return {"symmetry": "section", "plane": "earthed", "electrodes": [{"potential": 1, **one}]}


def compared(count, seed):
    """Yield per drawing: why it was refused, or estimate and true error of the voltage and of the field, and time."""
    registry, random = SHIPPED.registry, np.random.default_rng(seed)
    fit = ionization_fits(registry.reference)["quadratic"]
    for _ in range(count):
        asked = drawing(random)
        started = time.process_time()
        try:
            body = read(bodies.read(BODY, asked), registry)
            found = solve(body, PRESSURE, fit)
        except (BadQuestion, OutsideValidity) as error:
            yield error.detail, None, None, time.process_time() - started
            continue
        spent = time.process_time() - started
        panels = divided(body.contours(REACH), plane=body.drawing.plane, extent=body.drawing.extent, halve=1)
        reference = Boundary(panels, body.drawing.axis, body.drawing.plane, body.neutral, 8).solve()
        true = against(reference.field(body.potentials), found.found.best, PRESSURE, fit)
        errors = numerical_errors(found)
        yield "", (errors["field on the critical line"], errors["inception voltage"]), true, spent


def main():
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    rows = list(compared(count, int(sys.argv[2]) if len(sys.argv) > 2 else 7))
    kept = [row for row in rows if not row[0]]
    for name, index in (("field", 0), ("voltage", 1)):
        estimate = np.array([row[1][index] for row in kept])
        true = np.array([row[2][index] for row in kept])
        print(
            f"{name}: estimate median {np.median(estimate):.1e} largest {estimate.max():.1e}; true median "
            f"{np.median(true):.1e} largest {true.max():.1e}; true above estimate "
            f"{int((true > estimate + 1e-7).sum())} of {len(kept)}, worst ratio {np.max(true / (estimate + 1e-7)):.2f}"
        )
    times = np.array([row[3] for row in rows])
    print(f"time median {np.median(times):.2f} largest {times.max():.2f} s")
    for row in rows:
        if row[0]:
            print(row[0][:150])


if __name__ == "__main__":
    main()

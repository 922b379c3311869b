"""``python -m tests.computed_hall``: what floor, lead and walls do to the voltage of a sphere gap, written as a table.

The upper sphere hangs on a shank of a fifth of its diameter, two diameters long, under a vertical lead of a tenth; the
lower one stands on a shank on the earthed floor; the wall is an earthed tube all around. The change is that of the
inception voltage on the axis against a free pair of spheres, one earthed, of 25 cm at 101.3 kPa.
"""

from __future__ import annotations

import csv
import hashlib
import json
from itertools import product
from pathlib import Path

import numpy as np

from service.methods.laws import ionization_fits
from service.physics.boundary import Boundary
from service.physics.conductors import Conductors, Outline
from service.physics.contours import Piece
from service.physics.criterion import inception
from service.physics.critical_line import line_inception
from service.physics.field_lines import FINE, joined, trace
from service.physics.fields import SPHERES_ONE_EARTHED
from service.physics.panels import divided
from service.reference import load

FOLDER = Path(__file__).parent.parent / "reference_data" / "computed-sphere-hall"
D, PRESSURE, ORDER = 0.25, 101300.0, 6
SPACINGS = (0.05, 0.2, 0.35, 0.5, 0.65, 0.8, 1.0)
HEIGHTS = (3.0, 5.5, 9.0)
LEADS = (2.0, 5.0, 15.0, 40.0)
WALLS = (0.0, 1 / 30, 1 / 15, 1 / 10)
"""Diameter over the distance of the wall; zero for none."""


def standing(tip: float) -> Outline:
    """The lower sphere on its shank."""
    R, s = D / 2, D / 10
    neck = complex(s, tip - R - np.sqrt(R * R - s * s))
    return Outline((Piece(complex(s, 0), neck), Piece(neck, 1j * tip, np.pi - np.arcsin(s / R))))


def hanging(tip: float, lead: float) -> Outline:
    """The upper sphere on its shank under a lead that ends round."""
    R, s, thin = D / 2, D / 10, D / 20
    neck = complex(s, tip + R + np.sqrt(R * R - s * s))
    step, top = neck.imag + 2 * D, neck.imag + 2 * D + lead * D
    pieces = (
        Piece(1j * tip, neck, np.pi - np.arcsin(s / R)),
        Piece(neck, complex(s, step)),
        Piece(complex(s, step), complex(thin, step + s)),
        Piece(complex(thin, step + s), complex(thin, top)),
        Piece(complex(thin, top), complex(0, top + thin), np.pi / 2),
    )
    return Outline(pieces, edge_radius=D / 40)


def change(spacing: float, height: float, lead: float, wall: float, fit) -> float:
    """Relative change of the inception voltage on the axis."""
    gap, upper = spacing * D, height * D
    outlines = [hanging(upper, lead), standing(upper - gap)]
    if wall:
        distance = D / wall
        outlines.append(Outline((Piece(complex(distance, 0), complex(distance, 2 * upper)),), frozenset({"end"})))
    drawing = Conductors(tuple(outlines), True, True)
    contours = drawing.contours(20.0)
    panels = divided(contours, plane=True, extent=drawing.extent)
    field = Boundary(panels, True, True, False, ORDER).solve().field(np.array([1.0] + [0.0] * (len(outlines) - 1)))
    volts = []
    for owner, place in ((0, 1j * upper), (1, 1j * (upper - gap))):
        _, panel, t = panels.nearest(np.array([place]), panels.owner == owner)
        volts.append(line_inception(*joined(trace(field, panel, np.clip(t, -0.9999, 0.9999), FINE)), PRESSURE, fit)[0])
    return min(volts) / float(inception(SPHERES_ONE_EARTHED, gap, D / 2, PRESSURE, fit).voltage) - 1


def main() -> None:
    fit = ionization_fits(load())["quadratic"]
    heads = ["spacing_over_diameter", "height_over_diameter", "lead_over_diameter", "diameter_over_wall"]
    rows = [
        [*(f"{one:.6g}" for one in place), f"{100 * change(*place, fit):.2f}", "computed"]
        for place in product(SPACINGS, HEIGHTS, LEADS, WALLS)
    ]
    FOLDER.mkdir(exist_ok=True)
    path = FOLDER / "sphere_hall.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow([*heads, "change_percent", "provenance"])
        writer.writerows(rows)
    package = {
        "name": "computed-sphere-hall",
        "title": "What floor, lead and walls do to a sphere gap",
        "version": "1.0.0",
        "created": "2026-11-26T00:00:00Z",
        "licenses": [{"name": "CC0-1.0", "title": "Computed by this project"}],
        "sources": [{"title": "Computed by the boundary elements of this project: python -m tests.computed_hall"}],
        "resources": [_resource(hashlib.sha256(path.read_bytes()).hexdigest())],
    }
    text = json.dumps(package, indent=1, ensure_ascii=False)
    (FOLDER / "datapackage.json").write_text(text + "\n", encoding="utf-8")


def _resource(digest: str) -> dict:
    number = {
        "type": "number",
        "unit": "1",
        "dimension": "number",
        "constraints": {"required": True, "minimum": 0, "maximum": 100},
    }
    titles = {
        "spacing_over_diameter": "Spacing over diameter",
        "height_over_diameter": "Height of the sparking point of the upper sphere over the floor, over diameter",
        "lead_over_diameter": "Length of the vertical lead over diameter",
        "diameter_over_wall": "Diameter over the distance of an earthed wall all around; zero for none",
    }
    return {
        "name": "sphere-hall",
        "title": "What floor, lead and walls do to a sphere gap",
        "path": "sphere_hall.csv",
        "type": "table",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "hash": f"sha256:{digest}",
        "source": {
            "key": "computed-sphere-hall",
            "citation": "Computed by the boundary elements of this project: python -m tests.computed_hall",
            "edition": "2026",
            "table": "",
        },
        "doubts": "the lead is vertical and the wall a tube; horizontal leads and flat walls act alike",
        "checked_against": [{"what": "not measured anywhere; the field against exact solutions", "when": "2026-11"}],
        "schema": {
            "fields": [
                *({"name": name, "title": title, "quantity": name, **number} for name, title in titles.items()),
                {"name": "change_percent", "title": "Change of the voltage against a free pair", "type": "number",
                 "quantity": "change", "unit": "percent", "dimension": "fraction",
                 "constraints": {"required": True, "minimum": -10, "maximum": 10}},
                {"name": "provenance", "title": "How the row came here", "type": "string", "quantity": "provenance",
                 "constraints": {"required": True}},
            ],
            "missingValues": [""],
        },
    }  # fmt: skip


if __name__ == "__main__":
    main()

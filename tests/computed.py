"""``python -m tests.computed [key ...]``: compute the lines of force of the arrangements without a law, and write them.

Every row is a line of force of one shape at given proportions: the logarithm of the field over its mean value at nodes
of the potential passed through. It is the critical one at a pressure times gap of 300 Pa m; at others the lowest line
lies a few tenths of a percent below it at most, see the tests.
"""

from __future__ import annotations

import csv
import hashlib
import json
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import product
from pathlib import Path

import numpy as np
from scipy.interpolate import CubicSpline

from service.bench.profile_shapes import SHAPES
from service.methods.criterion import NODES
from service.methods.laws import ionization_fits
from service.physics.boundary import Boundary
from service.physics.conductors import Conductors, Outline
from service.physics.contours import Piece
from service.physics.critical_line import critical_line
from service.physics.panels import CHECK_ORDER, ORDER, divided
from service.reference import Reference, load

FOLDER = Path(__file__).parent.parent / "reference_data" / "computed"
GAP = 0.01
PD = 300.0


@dataclass(frozen=True)
class Family:
    """Shapes of one arrangement: names and grid of the proportions, and the drawing at a gap of 10 mm."""

    key: str
    names: tuple[str, ...]
    grid: tuple[tuple[float, ...], ...]
    draw: Callable[..., tuple[Conductors, list[float], bool]]


def _even(low, high, count):
    return tuple(float(f"{one:.6g}") for one in np.geomspace(low, high, count))


def shape(reference: Reference, key: str, **sizes) -> Outline:
    return SHAPES[key].draw(sizes, reference)


def rounded_rod(reference, ratio):
    rod = shape(reference, "rod", diameter=2 * GAP / ratio, tip=GAP, end="round")
    return Conductors((rod,), True, True), [1.0], False


def flat_rod(reference, ratio, edge):
    radius = GAP / ratio
    rod = shape(reference, "rod", diameter=2 * radius, tip=GAP, end="flat", edge_radius=edge * radius)
    return Conductors((rod,), True, True), [1.0], False


def cone(reference, ratio, angle):
    tip, half = GAP / ratio, np.radians(angle)
    end = complex(tip * np.cos(half), tip * (1 - np.sin(half)))
    away = 20 * max(GAP, tip)
    pieces = (
        Piece(1j * GAP, 1j * GAP + end, np.pi / 2 - half),
        Piece(1j * GAP + end, 1j * GAP + end + away * complex(np.sin(half), np.cos(half))),
    )
    return Conductors((Outline(pieces, frozenset({"end"})),), True, True), [1.0], False


def bolt_head(reference, size, ratio, edge):
    table = reference.table("hexagon-heads")
    names = list(table.text("size"))
    row = names.index(f"M{size:g}")
    flats = float(table["across_flats"][row])
    # drawn at its own size, then scaled to the gap
    gap = ratio * flats
    drawn = shape(reference, "hex-head", size=f"M{size:g}", face=gap, edge_radius=edge * flats)
    return Conductors((_scaled(drawn, GAP / gap),), True, True), [1.0], False


def _scaled(outline, factor):
    pieces = tuple(Piece(factor * one.start, factor * one.end, one.turn, source=one.source) for one in outline.pieces)
    return Outline(pieces, outline.goes_on, factor * outline.edge_radius, outline.sheet)


def bar(reference, ratio, thickness, edge):
    width = GAP / ratio
    high = thickness * width
    drawn = shape(
        reference, "bar", width=width, thickness=high, at=1j * (GAP + high / 2), edge_radius=edge * min(width, high)
    )
    return Conductors((drawn,), False, True), [1.0], False


def ring(reference, ratio, fill):
    wire = GAP / ratio
    tube = (GAP + 2 * wire) / fill
    drawn = shape(reference, "ring", diameter=2 * wire, at=complex(tube - GAP - wire, 0))
    return Conductors((drawn, shape(reference, "tube", inside_diameter=2 * tube)), True, False), [1.0, 0.0], False


def hole(reference, ratio, thickness, edge):
    rod = GAP / ratio
    high = thickness * GAP
    plate = shape(reference, "plate", thickness=high, edge_radius=edge * high, **{"from": complex(rod + GAP, 0)})
    return Conductors((shape(reference, "wire", diameter=2 * rod), plate), True, False), [1.0, 0.0], False


SIZES = (3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0)
FAMILIES = (
    Family("rounded-rod-plane", ("gap over radius",), (_even(0.02, 200, 25),), rounded_rod),
    Family(
        "flat-rod-plane",
        ("gap over radius", "edge radius over radius"),
        (_even(0.05, 50, 11), _even(0.005, 0.8, 6)),
        flat_rod,
    ),
    Family(
        "cone-plane",
        ("gap over tip radius", "half angle, degrees"),
        (_even(0.1, 500, 12), (5.0, 10.0, 17.5, 30.0, 45.0)),
        cone,
    ),
    Family(
        "bolt-head-plane",
        ("thread, mm", "gap over width across flats", "edge radius over width across flats"),
        (SIZES, _even(0.05, 10, 7), _even(0.003, 0.04, 4)),
        bolt_head,
    ),
    Family(
        "bar-plane",
        ("gap over width", "thickness over width", "edge radius over the smaller"),
        (_even(0.05, 10, 8), _even(0.1, 10, 6), _even(0.015, 0.48, 5)),
        bar,
    ),
    Family(
        "ring-in-tube",
        ("gap over wire radius", "gap and wire over tube radius"),
        (_even(0.05, 50, 10), (0.05, 0.2, 0.4, 0.6, 0.8)),
        ring,
    ),
    Family(
        "rod-through-hole",
        ("gap over rod radius", "thickness over gap", "edge radius over thickness"),
        (_even(0.1, 30, 8), _even(0.1, 10, 5), _even(0.02, 0.48, 4)),
        hole,
    ),
)


def traced(family: Family, reference: Reference, place: tuple[float, ...]) -> list[float]:
    """Return highest field times gap, and the logarithm of field times gap at the nodes of the critical line."""
    drawing, given, neutral = family.draw(reference, *place)
    contours = drawing.contours()
    panels = divided(contours, plane=drawing.plane, extent=drawing.extent)
    solid = np.array([one.solid for one in contours])
    fields = [
        Boundary(panels, drawing.axis, drawing.plane, neutral, order).solve().field(np.array(given))
        for order in (CHECK_ORDER, ORDER)
    ]
    fit = ionization_fits(reference)["quadratic"]
    drawn = np.flatnonzero(solid[panels.owner] & ~np.array([piece.far for piece in panels.pieces]))
    t = np.linspace(-0.999, 0.999, 33)
    highest = float(np.abs(fields[1].surface(np.repeat(drawn, t.size), np.tile(t, drawn.size))).max())
    found = critical_line(*fields, solid, PD / GAP, fit)
    line = found.best.line
    whole = line.drop[-1]
    if abs(whole - 1) > 1e-6:
        raise ValueError(f"{family.key} {place}: the line ends at {whole}")
    # the criterion does not know which end is first: rows are told from the live conductor, so that they lie close
    along = NODES if line.owner == 0 else 1 - NODES
    return [highest * GAP, *np.log(GAP * np.exp(CubicSpline(line.drop, np.log(line.strength))(along * whole)))]


def rows(family: Family, reference: Reference) -> Iterator[list[str]]:
    for place in product(*family.grid):
        highest, *nodes = traced(family, reference, place)
        padded = [*(f"{one:.6g}" for one in place), *[""] * (3 - len(place))]
        yield [family.key, *padded, f"{highest:.6g}", *(f"{one:.5f}" for one in nodes), "computed"]


HEADS = ["key", "first", "second", "third", "highest", *(f"node_{k:02d}" for k in range(NODES.size)), "provenance"]


def write(keys: list[str]) -> None:
    reference = load()
    FOLDER.mkdir(exist_ok=True)
    path = FOLDER / "field_lines.csv"
    kept = []
    if keys and path.exists():
        with path.open(encoding="utf-8", newline="") as file:
            kept = [row for row in csv.reader(file) if row[0] not in (*keys, "key")]
    made = {family.key: list(rows(family, reference)) for family in FAMILIES if not keys or family.key in keys}
    for row in kept:
        made.setdefault(row[0], []).append(row)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(HEADS)
        for family in FAMILIES:
            writer.writerows(made.get(family.key, []))
    descriptor = FOLDER / "datapackage.json"
    package = json.loads(descriptor.read_text(encoding="utf-8")) if descriptor.exists() else _package()
    resource = next(one for one in package["resources"] if one["name"] == "field-lines")
    resource["hash"] = f"sha256:{hashlib.sha256(path.read_bytes()).hexdigest()}"
    descriptor.write_text(json.dumps(package, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


def _package():
    source = {
        "key": "computed",
        "citation": "Computed by the boundary elements of this project: python -m tests.computed",
        "edition": "2026",
        "table": "",
    }
    number = {"type": "number", "unit": "1", "dimension": "number"}

    def within(low, high, *, required=True):
        return {**number, "constraints": {**({"required": True} if required else {}), "minimum": low, "maximum": high}}

    fields = [
        {"name": "key", "title": "Arrangement", "type": "string", "quantity": "key", "constraints": {"required": True}},
        *(
            {"name": name, "title": f"{name.capitalize()} proportion", "quantity": name,
             **within(1e-3, 1e3, required=name == "first")}
            for name in ("first", "second", "third")
        ),
        {"name": "highest", "title": "Highest over mean field", "quantity": "highest", **within(0.9, 5000)},
        *(
            {"name": f"node_{k:02d}", "title": f"Logarithm of field over mean, node {k}", "quantity": f"node_{k:02d}",
             **within(-12, 9)}
            for k in range(NODES.size)
        ),
        {"name": "provenance", "title": "How the row came here", "type": "string", "quantity": "provenance",
         "constraints": {"required": True}},
    ]  # fmt: skip
    return {
        "name": "computed",
        "title": "Fields computed for shapes without a law",
        "version": "1.0.0",
        "created": "2026-11-26T00:00:00Z",
        "licenses": [{"name": "CC0-1.0", "title": "Computed by this project"}],
        "sources": [{"title": source["citation"]}],
        "resources": [
            {
                "name": "field-lines",
                "title": "Lines of force of shapes without a law",
                "path": "field_lines.csv",
                "type": "table",
                "format": "csv",
                "mediatype": "text/csv",
                "encoding": "utf-8",
                "hash": "",
                "source": source,
                "accuracy": "field 0.1 %; between the rows see the tests",
                "checked_against": [{"what": "exact fields of spheres, wires, tori, discs, strips", "when": "2026-11"}],
                "schema": {"fields": fields, "missingValues": [""]},
            }
        ],
    }


if __name__ == "__main__":
    write(sys.argv[1:])

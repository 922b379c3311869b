"""Many distances at once are those of single questions: the number, the requirement that governs, and the status.

Points are drawn at random, most of them at rows of tables, a hair to either side of one, and beyond the last; every
point is asked again alone. Numbers are equal to the last bit.
"""

from __future__ import annotations

import re
from types import MappingProxyType

import numpy as np
import pytest

from service.errors import BadQuestion, OutsideValidity, ServiceError
from service.lookups import batch
from service.lookups.batch import asked_with
from service.standards.boards import PLACES, BoardTables
from service.standards.requirement import CATEGORIES, INSULATION, SUPPLIES
from service.units import DIMENSIONS
from tests.asking import SHIPPED

SITUATIONS, POINTS = 30, 60
HAIRS = (0.0, 0.0, 0.0, 1e-9, -1e-9, 1.1e-9, -1.1e-9, 1e-8, -1e-8, 1e-3, -1e-3)
UNITS = {"voltage": "V", "altitude": "m", "frequency": "Hz", "count": None}
GROOVE = "Where the clearance is below # mm, the groove width may be reduced to a third of it."


@pytest.fixture(scope="module")
def rows():
    """Every row that a voltage, an altitude or a frequency is read at."""
    tables = BoardTables.of(SHIPPED.registry.reference)
    air, surface = tables.air, tables.surface
    ladders = [*air.mains.values(), *air.impulse.values(), *air.peak.values(), air.fast, *surface.columns.values()]
    ladders += [*surface.ribs.values(), *surface.fast.values()]
    volts = np.concatenate([one.arguments for one in ladders] + [tables.spacing["voltage_to"], [500.0, 630.0, 1e3]])
    return {
        "voltage": np.unique(volts[np.isfinite(volts)]),
        "altitude": np.array([*air.altitude.arguments, 0.0, 3050.0, -4996.0, -4997.0]),
        "frequency": np.array([50.0, 30e3, 100e3, 200e3, 400e3, 700e3, 1e6, 2e6, 3e6, 10e6]),
    }


def column(random, rows, dimension):
    """Return points: at a row, a hair beside it, between rows, or what no question may hold."""
    if dimension == "count":
        return random.choice([1.0, 2.0, 3.0, 3.0, 2.5, 7.0], POINTS)
    known = rows[dimension]
    near = random.choice(known, POINTS) * (1 + random.choice(HAIRS, POINTS))
    # what of a situation a voltage belongs to is mostly small
    ends = {"voltage": (1.0, 2e5), "altitude": (1.0, 2.5e4), "frequency": (1e3, 2e7)}[dimension]
    between = np.exp(random.uniform(*np.log(ends), POINTS))
    odd = random.choice([np.nan, -10.0, 0.0, 1e8, 1e12, -5e3], POINTS)
    return np.choose(random.choice(3, POINTS, p=[0.55, 0.42, 0.03]), [near, between, odd])


def one_of(random, **choices):
    """Return a choice for some of the names."""
    return {name: str(random.choice(list(of))) for name, of in choices.items() if random.random() < 0.6}


def clearance(random):
    place = {"pollution_degree": str(random.integers(1, 4)), "insulation": str(random.choice(INSULATION))}
    given = place | one_of(random, field=("homogeneous", "inhomogeneous"), temporary_overvoltage=("none", "700V"))
    mains = {"overvoltage_category": str(random.choice(CATEGORIES)), "supply": str(random.choice(SUPPLIES))}
    way = str(random.choice(["mains", "impulse", "peak", "all"]))
    columns = {"mains": ["system_voltage"], "impulse": ["impulse_voltage"], "peak": ["recurring_peak_voltage"]}.get(
        way, ["system_voltage", "recurring_peak_voltage"]
    )
    given |= mains if "system_voltage" in columns else {}
    if "recurring_peak_voltage" not in columns and random.random() < 0.3:
        columns.append("recurring_peak_voltage")
    return given, columns + [one for one in ("altitude", "frequency", "pollution_degree") if random.random() < 0.4]


def creepage(random):
    place = {"pollution_degree": str(random.integers(1, 4)), "insulation": str(random.choice(INSULATION))}
    given = place | one_of(
        random,
        field=("homogeneous", "inhomogeneous"),
        material_group=("I", "II", "III", "IIIa", "IIIb"),
        waveform=("ac", "dc", "pulse-train"),
        surface=("general", "general", "printed-wiring"),
        ribbed=("true", "false"),
    )
    given |= {"site_class": str(random.choice(["a", "c", "e", "II"]))} if random.random() < 0.3 else {}
    columns = ["working_voltage"]
    if random.random() < 0.4:
        given |= {"overvoltage_category": str(random.choice(CATEGORIES)), "supply": str(random.choice(SUPPLIES))}
        columns += ["system_voltage"]
    elif random.random() < 0.3:
        columns += ["impulse_voltage"]
    others = ("peak_voltage", "altitude", "frequency", "pollution_degree")
    return given, columns + [one for one in others if random.random() < 0.4]


def conductor_spacing(random):
    return {"place": str(random.choice(list(PLACES)))}, ["voltage", *["altitude"][: random.integers(2)]]


def of_clearance(results):
    return [results["clearance"].value], results["governed_by"]


def of_creepage(results):
    return [results["creepage"].value], results["governed_by"]


def of_boards(results):
    """Return the largest of everything that a table asks for, the spacing of the place, and what asks for the first."""
    asked = {one["key"]: one["spacing"].value for one in [*results["requirements"], *results["beside"]]}
    most = max(asked, key=asked.__getitem__)
    return [asked[most], results["spacing"].value], most


SHOWN = 1 / float(DIMENSIONS["length"].spellings["mm"].scale)
LOOKUPS = MappingProxyType(
    {
        "clearance": (clearance, of_clearance),
        "creepage": (creepage, of_creepage),
        "conductor-spacing": (conductor_spacing, of_boards),
    }
)


def alone(lookup, question, read):
    """Return distances in millimetres, what governs, status, notes and cautions of a single question."""
    try:
        found = SHIPPED.found[lookup].answer(question)
    except ServiceError as error:
        return None, None, "outside-validity" if isinstance(error, OutsideValidity) else "unreadable", [], (), error
    distances, governed_by = read(found.results)
    scale = float(DIMENSIONS["length"].spellings["mm"].scale)
    return [value / scale for value in distances], governed_by, "ok", found.notes, found.cautions, None


def told(notes):
    """Return sentences without their numbers, and without which of several rows one is told of."""
    plain = {re.sub(r"[-+]?[\d.]*\d[\d.]*(?: (?:V|kV|MV))?", "#", note) for note in notes}
    return {GROOVE if note.startswith("The clearance is below") else re.sub(r"#.*doubted", "doubted", note)
            for note in plain}  # fmt: skip


@pytest.mark.parametrize("seed", range(SITUATIONS))
@pytest.mark.parametrize("lookup", LOOKUPS)
def test_a_batch_is_what_its_points_are_alone(lookup, seed, rows):
    random = np.random.default_rng([seed, *lookup.encode()])
    situation, read = LOOKUPS[lookup]
    given, names = situation(random)
    given = {name: text for name, text in given.items() if name not in names}
    declared = {one.name: one for one in SHIPPED.found[lookup].parameters}
    columns = {name: column(random, rows, declared[name].dimension) for name in names}
    for name, values in columns.items():
        values[0] = {"count": 2.0, "altitude": 100.0, "frequency": 1e3}.get(declared[name].dimension, 200.0)
    body = {
        name: {"values": values}
        | ({"unit": UNITS[declared[name].dimension]} if UNITS[declared[name].dimension] else {})
        for name, values in columns.items()
    }
    units = {name: UNITS[declared[name].dimension] or "" for name in names}
    first = {name: f"{values[0]:.0f}{units[name]}" for name, values in columns.items()}
    asked = SHIPPED.found[lookup].read([*given.items(), *first.items()])
    expected = []
    for point in range(POINTS):
        values = {name: float(array[point]) for name, array in columns.items()}
        readable = all(
            declared[name].low <= value <= declared[name].high
            and (value > 0 or declared[name].dimension == "altitude")
            and (declared[name].dimension != "count" or value == int(value))
            for name, value in values.items()
        )
        unread = (None, None, "unreadable", [], (), None)
        expected.append(alone(lookup, asked_with(asked, values), read) if readable else unread)
    refused = [error for *_, error in expected if isinstance(error, BadQuestion)]
    body = {"lookup": lookup, "given": given, "columns": body}
    if refused and not any(status == "ok" for _, _, status, *_ in expected):
        with pytest.raises(BadQuestion) as raised:
            batch.answer(body, SHIPPED.found)
        assert raised.value.detail in [error.detail for error in refused]
        return
    found = batch.answer(body, SHIPPED.found)
    results = found.results
    statuses, methods = (words(results[name]) for name in ("status", "method"))
    assert statuses == [status for _, _, status, *_ in expected]
    assert methods == [governed_by for _, governed_by, *_ in expected]
    numbers = [np.concatenate(list(one["values"].pieces())) for one in results["columns"].values()]
    for at, (distances, *_) in enumerate(expected):
        assert [one[at] for one in numbers] == (distances or [pytest.approx(np.nan, nan_ok=True)] * len(numbers))
    assert told(found.notes) == told(note for *_, notes, _, _ in expected for note in notes)
    assert set(found.cautions) >= {one for *_, cautions, _ in expected for one in cautions}


def words(of):
    codes = np.concatenate(list(of.codes.pieces()))
    return [of.words[code] if code >= 0 else None for code in codes]

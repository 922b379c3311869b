"""A batch is the single answer, many times: every lookup and every column against single questions, words included."""

from __future__ import annotations

import math
import re

import numpy as np
import orjson
import pytest

from service import units
from service.answers.cautions import cautions
from service.errors import BadQuestion, OutsideValidity, ServiceError, TooCostly
from service.lookups import batch
from service.lookups.batch import batched as batched_lookups
from service.lookups.batch import read_columns
from service.lookups.batch_places import cut
from service.render.json_text import pieces
from tests.asking import SHIPPED

SHAPES = {
    "unknown": {},
    "uniform-field": {},
    "sphere-gap": {"sphere_diameter": "2cm"},
    "sphere-plane": {"sphere_diameter": "30mm"},
    "coaxial-cylinders": {"inner_diameter": "10mm"},
    "point-plane": {"tip_radius": "1mm"},
    "parallel-wires": {"wire_diameter": "2mm"},
    "needle-gap": {},
    "rod-gap": {},
    "rod-plane": {},
}
COLUMNS = {  # in answer units; among them values that are refused, or lie outside every method
    "gap": [0.02, 3.0, 14.0, 60.0, -1.0, 3e5],
    "voltage": [0.3, 3.0, 13.0, 37.14, 39.9, 5e4],
    "pressure": [101.3, 80.0, 130.0, 1.0, 1e-3, 2000.0],
    "altitude": [0.0, 3000.0, -300.0, 1500.0, 9000.0, 40000.0],
    "temperature": [20.0, -40.0, 35.0, 200.0, 900.0, -200.0],
    "relative_humidity": [50.0, 1.0, 100.0, 80.0, 20.0, 300.0],
    "absolute_humidity": [8.5, 1.0, 17.0, 40.0, 11.0, 16.0],
    "dew_point": [5.0, 19.5, 25.0, -10.0, 12.0, -300.0],
    "frequency": [50.0, 16.0, 2e4, 1e5, 2e6, 1e9],
    "repetition_frequency": [50.0, 1e3, 5e4, 1e5, 0.1, 1e9],
    "fraction": [10.0, 20.0, 50.0, 0.5, 100.0, 150.0],
    "sphere_diameter": [20.0, 50.0, 30.0, 150.0, 7.0, 2000.0],
    "inner_diameter": [10.0, 1.0, 30.0, 0.1, 40.0, 200.0],
    "outer_diameter": [40.0, 12.0, 30.0, 9.0, 10.0, 100.0],
    "tip_radius": [1.0, 0.1, 5.0, 0.01, 50.0, 1e4],
    "wire_diameter": [2.0, 0.1, 10.0, 0.01, 50.0, 1e4],
}
OWNERS = {
    "sphere_diameter": ("sphere-gap", "sphere-plane"),
    "inner_diameter": ("coaxial-cylinders",),
    "outer_diameter": ("coaxial-cylinders",),
    "tip_radius": ("point-plane",),
    "wire_diameter": ("parallel-wires",),
}
LIKE_OTHERS = ("sphere-plane", "parallel-wires", "point-plane", "rod-plane")
"""Shapes whose curves are made as those of other shapes are: their inverses are not asked one by one."""
FIXED = {"breakdown": {"gap": "8mm"}, "gap": {"voltage": "13kV"}, "pressure": {"voltage": "13kV", "gap": "8mm"}}


def batched(key, given, columns):
    body = {"lookup": key, "given": given, "columns": columns}
    document = batch.answer(body, SHIPPED.found).document(SHIPPED.registry)
    return orjson.loads(b"".join(pieces(document)))


def block_of(key, document, branch):
    """Return numbers, method key and status of a single answer, as a batch has them."""
    if key == "breakdown":
        return document["breakdown_voltage"], document["method"]["key"]
    here = [one for one in document[f"{key}s"] if one["branch"] == branch]
    return (here[0], here[0]["method"]) if here else (None, None)


def same(one, other):
    return one is other if None in (one, other) else one == pytest.approx(other, rel=1e-9)


def texts(document):
    """Return notes without their numbers, which differ from point to point."""
    return {re.sub(r"[\d.]+(e-?\d+)? ?(um|mm|m|Pa|kPa|nm|g/m3)?\b", "#", note) for note in document["notes"]}


def compared(key, given, columns, branch="right"):
    """Check every point of a batch against its single question; return how many were answered."""
    size = len(next(iter(columns.values()))["values"])
    singles = []
    for i in range(size):
        own = {name: f"{column['values'][i]!r}{column['unit']}" for name, column in columns.items()}
        try:
            singles.append(SHIPPED.ask(key, **given | own))
        except ServiceError as error:
            singles.append(error)
    answered = [one for one in singles if not isinstance(one, ServiceError)]
    try:
        many = batched(key, {**given, **({} if branch == "right" else {"branch": branch})}, columns)
    except BadQuestion:
        assert not answered, "one element refuses the others"
        return 0
    column = many["columns"][key if key != "breakdown" else "breakdown_voltage"]
    wanted_notes: set[str] = set()
    wanted_cautions: set[str] = set()
    count = 0
    for i, one in enumerate(singles):
        where = (key, given, {name: value["values"][i] for name, value in columns.items()}, branch)
        status = many["status"][i]
        if isinstance(one, ServiceError):
            assert status == ("outside-validity" if isinstance(one, OutsideValidity) else "unreadable"), (where, one)
            assert column["values"][i] is None, where
            continue
        block, method = block_of(key, one, branch)
        wanted_notes |= texts(one)
        wanted_cautions |= {caution["key"] for caution in one["cautions"]}
        if block is None:
            assert status in ("no-breakdown", "outside-validity"), where
            assert status == "no-breakdown" or one[f"{key}s"], where
            continue
        count += 1
        assert status == "ok", where
        assert many["method"][i] == method, where
        ends = {"values": block.get("value"), "low": block.get("low"), "high": block.get("high")}
        for name, value in ends.items():
            assert same(column[name][i], value), (where, name)
        for name in ("sparks_below", "holds_above"):
            if key == "gap" and branch == "right":
                assert same(many["columns"][name]["values"][i], block.get(name)), (where, name)
    assert wanted_notes <= texts(many), (key, given, wanted_notes - texts(many))
    assert wanted_cautions <= {one["key"] for one in many["cautions"]}, (key, given)
    return count


@pytest.mark.parametrize("key", FIXED)
@pytest.mark.parametrize("shape", SHAPES)
def test_every_column_of_a_lookup_is_answered_as_single_questions_are(key, shape):
    if key != "breakdown" and shape in LIKE_OTHERS:
        return
    count = 0
    for name, values in COLUMNS.items():
        declared = {one.name: one for one in SHIPPED.found[key].parameters}
        if name not in declared or (name in OWNERS and shape not in OWNERS[name]):
            continue
        given = {"electrodes": shape, **SHAPES[shape], **FIXED[key]}
        if key == "pressure" and shape == "unknown":
            continue  # pressures are asked of named electrodes
        if shape == "coaxial-cylinders" and key != "gap":
            given = {**given, "outer_diameter": "30mm"}
            given.pop("gap", None)
        if name == "fraction":
            given["gas"] = "sulfur-hexafluoride-nitrogen"
        if name == "repetition_frequency":
            given["waveform"] = "pulse-train"
        given.pop(name, None)
        if name == "gap" and "outer_diameter" in given:
            continue
        # every situation of an inverse has its own curves: two good values, one refused
        some = values if key == "breakdown" or name in ("gap", "voltage") else [*values[:2], values[-1]]
        unit = units.DIMENSIONS[declared[name].dimension].shown
        count += compared(key, given, {name: {"unit": unit, "values": some}})
    assert count or (key, shape) == ("pressure", "unknown")


@pytest.mark.parametrize("branch", ["left", "right"])
@pytest.mark.parametrize("gas", ["air", "nitrogen", "argon", "sulfur-hexafluoride", "vacuum", "helium"])
@pytest.mark.parametrize("key", ["gap", "pressure"])
def test_branches_and_gases_of_a_batch_are_those_of_single_questions(key, gas, branch):
    given = {"electrodes": "uniform-field", "gas": gas}
    given |= {"gap": "10mm"} if key == "pressure" else {"pressure": "1mPa" if gas == "vacuum" else "100Pa"}
    volts = {"unit": "kV", "values": [0.05, 0.25, 0.3, 0.4, 0.6, 1.0, 3.0, 30.0, 1000.0]}
    compared(key, given, {"voltage": volts}, branch)


@pytest.mark.parametrize("key", FIXED)
def test_columns_together_are_answered_as_single_questions_are(key):
    given = {"electrodes": "sphere-gap", **FIXED[key]}
    given.pop("voltage", None)
    columns = {
        "sphere_diameter": {"unit": "cm", "values": [2.0, 5.0, 2.0, 10.0, 2.0]},
        "temperature": {"unit": "degC", "values": [20.0, 0.0, 35.0, 20.0, 20.0]},
        "dew_point": {"unit": "degC", "values": [10.0, -5.0, 40.0, 19.5, 10.0]},
    }
    if key != "breakdown":
        columns["voltage"] = {"unit": "kV", "values": [37.14, 40.0, 20.0, 60.0, 37.14]}
    assert compared(key, given, columns) >= 3


MAINS = {"insulation": "reinforced", "pollution_degree": "2", "overvoltage_category": "III", "system_voltage": "230V"}
GIVEN = {"insulation": "basic", "pollution_degree": "2"}
FAST = {"recurring_peak_voltage": [0.3, 1.0, 2.0, 60.0, 1e3], "frequency": [50.0, 40.0, 100.0, 1e3, 1e9]}
ALONG = {"working_voltage": [0.1, 0.2, 0.3, 0.4, 0.5], "frequency": [0.05, 40.0, 100.0, 3e3, 1e9]}
BARE = {"place": "external-uncoated"}
DISTANCES = [  # lookup, what is given once, columns in answer units; among them what is refused
    ("clearance", GIVEN, {"impulse_voltage": [0.3, 2.5, 4.0, 7.0, 1e6]}),
    ("clearance", GIVEN | {"impulse_voltage": "4kV"}, {"altitude": [0.0, 1500.0, 3000.0, 5000.0, 1e5]}),
    ("clearance", MAINS, FAST),
    ("clearance", {**MAINS, "supply": "dc"}, {"altitude": [0.0, 2500.0, 2500.0, 9000.0, 15000.0]}),
    ("clearance", {"insulation": "basic", "impulse_voltage": "6kV"}, {"pollution_degree": [1.0, 2.0, 3.0, 2.5, 4.0]}),
    ("creepage", GIVEN, {"working_voltage": [0.01, 0.25, 0.4, 1.0, 1e6]}),
    ("creepage", GIVEN | {"working_voltage": "400V"}, {"peak_voltage": [0.1, 0.7, 2.0, 12.0, 1e4]}),
    ("creepage", MAINS | {"working_voltage": "240V"}, {"altitude": [0.0, 2500.0, 4000.0, 9000.0, 1e5]}),
    ("creepage", GIVEN, ALONG),
    ("conductor-spacing", BARE, {"voltage": [0.01, 0.05, 0.6, 3.0, 1e4]}),
    ("conductor-spacing", BARE | {"voltage": "600V"}, {"altitude": [0.0, 3500.0, 2e4, 1e5, 3050.0]}),
    ("conductor-spacing", {"place": "internal"}, {"voltage": [0.01, 0.05, 0.6, 3.0, 1e4]}),
]


OF_GROOVES = "Where the clearance is below 3 mm, the groove width may be reduced to a third of it."


def least_of(key, one):
    """Return the result columns of a distance, and what governs, from the single answer."""
    if key != "conductor-spacing":
        return {key: one[key]["value"]}, one["governed_by"]
    every = [("board", one["spacing"]["value"]), *((row["key"], row["spacing"]["value"]) for row in one["beside"])]
    most = max(every, key=lambda pair: pair[1])
    return {"largest_spacing": most[1], "spacing": one["spacing"]["value"]}, most[0]


def least_alone(key, given):
    """Return the single answer, and the status that it is in a batch."""
    try:
        return SHIPPED.ask(key, **given), "ok"
    except OutsideValidity:
        return None, "outside-validity"
    except ServiceError:
        return None, "unreadable"


@pytest.mark.parametrize(("key", "given", "columns"), DISTANCES)
def test_distances_of_a_batch_are_those_of_single_questions(key, given, columns):
    kinds = {one.name: units.DIMENSIONS.get(one.dimension) for one in SHIPPED.found[key].parameters}
    unit = {name: kinds[name].shown if kinds[name] else "" for name in columns}
    sent = {name: {"unit": unit[name], "values": values} for name, values in columns.items()}
    many, answered = batched(key, given, sent), 0
    for i in range(5):
        own = {name: f"{values[i]:.15g}{unit[name]}" for name, values in columns.items()}
        one, status = least_alone(key, {**given, **own})
        assert many["status"][i] == status, own
        if one is None:
            assert many["method"][i] is None
            continue
        answered += 1
        distances, governs = least_of(key, one)
        assert list(many["columns"]) == list(distances)
        for name, distance in distances.items():
            assert many["columns"][name]["values"][i] == pytest.approx(distance, rel=1e-11)
        assert many["method"][i] == governs
        # the width of a groove is another at every point: a batch says where it may be reduced, and no number
        said = {
            OF_GROOVES if note.startswith("The clearance is below 3 mm: the groove") else note for note in one["notes"]
        }
        assert said <= set(many["notes"])
        assert {c["key"] for c in one["cautions"]} <= {c["key"] for c in many["cautions"]}
        for name, block in one["asked"].items():
            assert name == "assumed" or many["asked"][name] in ("column", block)
    assert answered >= 2


def test_distances_that_lack_something_everywhere_are_refused_with_it():
    with pytest.raises(BadQuestion, match="A voltage is needed"):
        batched("clearance", GIVEN, {"altitude": {"unit": "m", "values": [0.0, 3000.0]}})


def test_every_lookup_of_a_batch_is_compared_here():
    assert set(batched_lookups(SHIPPED.found)) == set(FIXED) | {key for key, _, _ in DISTANCES}


def test_one_bad_element_refuses_no_other():
    # the first would be refused alone: such air holds no such water
    columns = {"absolute_humidity": {"unit": "g/m3", "values": [60.0, 10.0]}}
    many = batched("breakdown", {"gap": "8mm"}, columns)
    assert many["status"] == ["unreadable", "ok"]


@pytest.mark.parametrize(
    ("given", "name", "unit", "values"),
    [
        # the atmosphere has no pressure there, with one that is the same for all points
        ({"electrodes": "uniform-field", "gap": "8mm", "sea_level_pressure": "101kPa"}, "altitude", "m", [-5e3, 900.0]),
        # the first two diameters leave no gap
        ({"electrodes": "concentric-spheres", "inner_diameter": "10mm"}, "outer_diameter", "mm", [4.0, 10.0, 16.0]),
    ],
)
def test_what_is_refused_first_refuses_nothing_after_it(given, name, unit, values):
    many = batched("breakdown", given, {name: {"unit": unit, "values": values}})
    assert [status == "ok" for status in many["status"]] == [value == values[-1] for value in values]
    alone = SHIPPED.ask("breakdown", **given, **{name: f"{values[-1]!r}{unit}"})["breakdown_voltage"]["value"]
    assert many["columns"]["breakdown_voltage"]["values"][-1] == pytest.approx(alone, rel=1e-9)


def test_an_altitude_beyond_the_factors_of_clearances_is_refused_in_a_batch_as_alone():
    """Above 63 kV no clearance of a working voltage is known, and the altitude is refused all the same."""
    given = {"pollution_degree": 2, "insulation": "basic", "site_class": "d", "working_voltage": "126kV"}
    many = batched("creepage", given, {"altitude": {"unit": "km", "values": [100.0, 1.0]}})
    assert many["status"] == ["outside-validity", "ok"]
    with pytest.raises(OutsideValidity, match="Table A"):
        SHIPPED.ask("creepage", **given, altitude="100km")


def test_a_pressure_reduced_to_sea_level_follows_the_temperature_of_each_point():
    """At -20 degC the air of a column is denser: 2 % of the pressure at 1200 m, as a single question says."""
    given = {"electrodes": "uniform-field", "gap": "37.7mm", "sea_level_pressure": "101kPa", "altitude": "1200m"}
    warm = [20.0, 50.0, -20.0]
    many = batched("breakdown", given, {"temperature": {"unit": "degC", "values": warm}})
    alone = [SHIPPED.ask("breakdown", **given, temperature=f"{one}degC") for one in warm]
    volts = [one["breakdown_voltage"]["value"] for one in alone]
    assert many["columns"]["breakdown_voltage"]["values"] == pytest.approx(volts, rel=1e-9)
    assert many["asked"]["pressure"] == "column"
    assert volts[2] / volts[0] < (273.15 + 20) / (273.15 - 20)


@pytest.mark.parametrize("key", sorted(FIXED))
def test_a_bound_is_read_in_every_unit_as_in_a_single_question(key):
    lookup = SHIPPED.found[key]
    numeric = [one for one in lookup.parameters if one.dimension in units.DIMENSIONS and not one.many]
    for parameter in numeric:
        for unit, kind in units.DIMENSIONS[parameter.dimension].spellings.items():
            for bound in (parameter.low, parameter.high):
                number = kind.from_si(bound)
                try:
                    parameter.read(f"{number!r}{unit}")
                except BadQuestion:
                    continue  # the number that is nearest to the bound in this unit lies beyond it
                columns = {parameter.name: {"unit": unit, "values": [number]}}
                column = read_columns(columns, lookup)[parameter.name]
                assert column.first() == pytest.approx(bound, rel=1e-12), (parameter.name, unit, number)
                assert parameter.holds(column.first()), (parameter.name, unit, number)


def test_what_would_hold_a_worker_too_long_is_refused_with_what_may_be_asked(monkeypatch):
    monkeypatch.setattr(batch, "MOST_SECONDS", 0.02)
    monkeypatch.setattr(batch, "TRIAL", 0.01)
    given = {"electrodes": "coaxial-cylinders", "inner_diameter": "10mm", "voltage": "20kV"}
    columns = {"pressure": {"unit": "kPa", "values": [60 + 0.05 * i for i in range(600)]}}
    with pytest.raises(TooCostly, match=r"Ask at most \d+ of them at once"):
        batched("gap", given, columns)


def test_the_cautions_of_a_batch_are_those_of_its_worst_point():
    volts = {"voltage": {"unit": "kV", "values": [0.5, 200.0]}}
    many = batched("gap", {"electrodes": "uniform-field", "gas": "vacuum"}, volts)
    assert {"x-rays", "which-end"} <= {one["key"] for one in many["cautions"]}
    assert cautions(("x-rays",), ())[0] in many["cautions"]


@pytest.mark.parametrize(
    ("given", "columns", "caution"),
    [
        # the first point asks for no such caution, and the second is of the same method
        ({"pressure": "100Pa"}, {"gap": {"unit": "mm", "values": [4.1, 3.651]}}, "x-rays"),
        ({"gap": "5mm"}, {"frequency": {"unit": "kHz", "values": [0.05, 500.0]}}, "fast-current"),
    ],
)
def test_a_caution_of_one_point_of_many_of_a_method_is_told(given, columns, caution):
    [(name, column)] = columns.items()
    alone = [
        {
            one["key"]
            for one in SHIPPED.ask("breakdown", electrodes="uniform-field", **given, **{name: text})["cautions"]
        }
        for text in (f"{value}{column['unit']}" for value in column["values"])
    ]
    assert [caution in keys for keys in alone] == [False, True]
    many = batched("breakdown", {"electrodes": "uniform-field", **given}, columns)
    assert len({*many["method"]}) == 1
    assert caution in {one["key"] for one in many["cautions"]}


def test_that_no_gap_is_known_to_hold_one_voltage_of_many_is_said():
    # unknown electrodes, 50 Hz: at 10 m the low end is 2.16 MV, of which 1.96 MV are held
    columns = {"voltage": {"unit": "kV", "values": [1900.0, 2100.0]}}
    many = batched("gap", {"electrodes": "unknown"}, columns)
    assert [one is None for one in many["columns"]["holds_above"]["values"]] == [False, True]
    assert [one is None for one in many["columns"]["gap"]["high"]] == [False, False]
    assert any("No gap is named that holds this voltage" in note for note in many["notes"])
    held = batched("gap", {"electrodes": "unknown"}, {"voltage": {"unit": "kV", "values": [1800.0, 1900.0]}})
    assert not any("No gap is named" in note for note in held["notes"])


def test_water_that_the_air_cannot_hold_is_refused_for_its_point_alone():
    # saturated air at 20 degC has 17.3 g/m3 (every table of steam)
    columns = {"absolute_humidity": {"unit": "g/m3", "values": [8.5, 17.0, 17.6, 25.0]}}
    found = batched("breakdown", {"electrodes": "uniform-field", "gap": "5mm"}, columns)
    assert found["status"] == ["ok", "ok", "unreadable", "unreadable"]


@pytest.mark.parametrize("towards", ["floor", "ceil"])
def test_digits_of_many_distances_are_cut_as_those_of_one(towards):
    # what people are kept off by is cut upward, what sparks downward, of nanometres as of kilometres
    values = np.concatenate([np.geomspace(1.23456e-6, 9.87654e6, 301), [1e-3, 1.0, 13.41, 9999.0, 1e4, 12340.0]])
    alone = [units.cut(float(one), getattr(math, towards)) for one in values]
    np.testing.assert_allclose(cut(np.append(values, np.nan), getattr(np, towards)), [*alone, np.nan], rtol=1e-12)
    short = values < 9e3  # of which all four digits reach behind the point
    np.testing.assert_allclose(cut(values[short], getattr(np, towards)), np.array(alone)[short], rtol=1e-12)
    assert cut(np.empty(0), getattr(np, towards)).size == 0


MANY_VOLTAGES = {  # kV; across the places where methods take over, or a curve ends and another stands for it
    "uniform-field": ({}, 0.2, 200),
    "unknown": ({}, 200, 3000),
    "coaxial-cylinders": ({"inner_diameter": "10mm"}, 3, 100),
    "point-plane": ({"tip_radius": "1mm"}, 3, 100),
    "rod-plane": ({}, 100, 1500),
}


@pytest.mark.parametrize("shape", MANY_VOLTAGES)
def test_voltages_in_rising_order_are_told_as_in_any_other(shape):
    """Of rising ones the methods are asked at the ends of what lies on one step of the curves, of others everywhere."""
    sizes, low, high = MANY_VOLTAGES[shape]
    given, volts = {"electrodes": shape, **sizes}, np.geomspace(low, high, 25_000)
    order = np.random.default_rng(11).permutation(volts.size)
    rising, other = (
        batched("gap", given, {"voltage": {"unit": "kV", "values": one.tolist()}}) for one in (volts, volts[order])
    )
    for words in ("method", "status"):
        assert [rising[words][i] for i in order.tolist()] == other[words]
    for words in ("notes", "cautions"):
        assert sorted(map(str, rising[words])) == sorted(map(str, other[words]))
    for name, column in rising["columns"].items():
        for end in ("values", "low", "high"):
            if end in column:
                numbers = [np.array(each["columns"][name][end], dtype=float) for each in (rising, other)]
                np.testing.assert_allclose(numbers[0][order], numbers[1], rtol=1e-11)

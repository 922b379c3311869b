"""Extremes together, and the very ends that a refusal tells: answered or refused with a parameter, in its own unit."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from typing import Any
from urllib.parse import parse_qsl, urlencode

import pytest

from service import units
from service.parameters import Parameter
from service.web import create_app
from tests.campaign.promises import numbers

QUESTIONS = 700
STEPS = 3
"""How often a refusal is followed to the end that it tells."""
USUAL: Mapping[str, tuple[float, ...]] = {
    "length": (1e-6, 1e-5, 1e-4, 1e-3, 1e-2, 0.1, 1.0, 10.0),
    "pressure": (1.0, 1e3, 1e4, 1e5, 1.013e6, 1e7),
    "voltage": (1.0, 50.0, 330.0, 1e3, 1e4, 1e5, 1e6),
    "frequency": (50.0, 1e3, 3e4, 3e6, 1e9),
    "altitude": (-500.0, 2e3, 9e3, 2e4),
}
"""Places [SI] at which something changes over."""


@pytest.fixture(scope="module")
def app():
    return create_app()


@pytest.fixture(scope="module")
def client(app):
    return app.test_client()


@pytest.fixture(scope="module")
def lookups(app):
    return {key: one for key, one in app.extensions["workshop"].lookups.items() if not one.post and one.parameters}


def written(parameter: Parameter, value: float) -> str:
    if parameter.dimension in units.DIMENSIONS:
        return f"{units.written(value, parameter.dimension)}{units.DIMENSIONS[parameter.dimension].shown}"
    return str(int(value)) if parameter.dimension == "count" else repr(value)


def extreme(parameter: Parameter, dice: random.Random) -> str:
    """Return one of the choices, an end of what is declared, or a place at which something changes over."""
    if parameter.dimension in ("choice", "boolean"):
        return dice.choice(parameter.choices or ("true", "false"))
    if parameter.dimension == "text" or parameter.low is None or parameter.high is None:
        return parameter.example or "1"
    between = [one for one in USUAL.get(parameter.dimension, ()) if parameter.low <= one <= parameter.high]
    return written(parameter, float(dice.choice([parameter.low, parameter.high, *between])))


def question(dice: random.Random, lookup: Any, arrangements: Mapping[str, Any]) -> dict[str, str]:
    """Return a lookup's example between other electrodes, with two or three extremes in it."""
    declared = {one.name: one for one in lookup.parameters}
    pairs = dict(parse_qsl(dice.choice((lookup.example, *lookup.more))))
    if "electrodes" in declared and dice.random() < 0.7:
        key = dice.choice(list(arrangements))
        sizes = {one.name for each in arrangements.values() for one in each.parameters}
        pairs = {name: text for name, text in pairs.items() if name not in sizes} | {"electrodes": key}
        own = (one for one in arrangements[key].parameters if one.name in declared)
        pairs |= {one.name: one.example or extreme(one, dice) for one in own}
    for one in dice.sample(lookup.parameters, min(len(lookup.parameters), dice.choice((2, 2, 3)))):
        if one.name not in ("method", "electrodes"):
            pairs = {name: text for name, text in pairs.items() if name not in one.excludes}
            pairs |= {one.name: extreme(one, dice), **{n: extreme(declared[n], dice) for n in one.needs[:1]}}
    return pairs


def ends(problem: Mapping[str, Any], declared: Mapping[str, Parameter]) -> Iterator[tuple[str, str]]:
    """Yield every end that a refusal tells, as name and text; a voltage is told as its peak."""
    for fault in problem["errors"]:
        for end in (fault.get("valid", {}).get(name) for name in ("low", "high")):
            parameter = declared[fault["parameter"]]
            if end is None or parameter.dimension == "text":
                continue
            if not isinstance(end, dict):
                yield parameter.name, written(parameter, end)
                continue
            assert end["unit"] in units.DIMENSIONS[parameter.dimension].spellings, fault
            yield parameter.name, written(parameter, units.to_si(end["value"], end["unit"], parameter.dimension))


def test_extremes_together_are_answered_or_refused_with_what_may_be_asked(app, client, lookups):
    arrangements = app.extensions["workshop"].registry.arrangements
    dice = random.Random(20261126)
    for _ in range(QUESTIONS):
        lookup = dice.choice(list(lookups.values()))
        declared = {one.name: one for one in lookup.parameters}
        pairs = question(dice, lookup, arrangements)
        form = dice.choice([one for one in lookup.formats if one != "png"])
        for _ in range(STEPS):
            address = f"/v1/{lookup.key}.{form}?{urlencode(pairs)}"
            response = client.get(address)
            assert response.status_code in (200, 400, 422), address
            if response.status_code == 200:
                assert form != "json" or list(numbers(response.json)) == [], address
                break
            named = {fault["parameter"] for fault in response.json["errors"]}
            assert named, address
            assert named <= declared.keys(), address
            told = list(ends(response.json, declared))
            if not told:
                break
            pairs |= [dice.choice(told)]


RING = "electrodes=ring-in-tube&wire_diameter=2mm&outer_diameter=30mm"


@pytest.mark.parametrize(
    ("address", "named"),
    [
        ("spark?length=1nm", "length"),
        ("source-check?input_voltage=24V&input_current=2A&output_voltage=12kV&spark_length=1nm", "spark_length"),
        ("spectators?voltage=30kV&waveform=pulse-train&repetition_frequency=10MHz", "voltage"),
        (
            "divider?voltage=30kV&ratio=1000&upper_resistance=1Gohm&input_resistance=1ohm",
            "input_resistance",
        ),
        (
            f"protective-gap?hold=1V&fire_below=30kV&{RING}&spacing_uncertainty=1m",
            "spacing_uncertainty",
        ),
    ],
)
def test_a_refusal_names_a_parameter_as_its_own_question_calls_it(client, address, named):
    response = client.get(f"/v1/{address}")
    assert response.status_code == 422
    assert named in {fault["parameter"] for fault in response.json["errors"]}


@pytest.mark.parametrize(
    ("address", "name"),
    [
        ("gap?voltage=1V&electrodes=parallel-wires&wire_diameter=1um&gas=sulfur-dioxide&frequency=100kHz", "voltage"),
        (f"gap?voltage=90MV&{RING}", "voltage"),
        ("pressure?voltage=600V&gap=10mm&electrodes=point-plane&tip_radius=1mm&gas=water-vapour", "voltage"),
        ("pressure?voltage=1kV&gap=10mm&electrodes=uniform-field&gas=ccl4", "voltage"),
        ("switch-on-sheet?voltage=1kV&waveform=dc&gas=c4f7n", "voltage"),
        ("paschen?gas=air&pd_from=1000bar_cm", "pd_from"),
        ("paschen?gas=methane&pd_to=0.1Pa_m", "pd_to"),
        (f"protective-gap?hold=25kV&fire_below=30kV&{RING}&waveform=dc", "hold"),
        ("breakdown?gap=8mm&relative_humidity=100percent&pressure=1kPa", "relative_humidity"),
        ("breakdown?gap=8mm&dew_point=19degC&pressure=1kPa", "dew_point"),
        ("breakdown?gap=8mm&absolute_humidity=1000g_m3", "absolute_humidity"),
    ],
)
def test_the_end_that_a_refusal_tells_is_taken_when_it_is_asked(client, lookups, address, name):
    key, _, query = address.partition("?")
    declared = {one.name: one for one in lookups[key].parameters}
    refused = client.get(f"/v1/{address}")
    assert refused.status_code in (400, 422)
    told = [text for parameter, text in ends(refused.json, declared) if parameter == name]
    assert told
    again = dict(parse_qsl(query))
    answers = [client.get(f"/v1/{key}?{urlencode(again | {name: text})}") for text in told]
    for answer in answers:
        still = [] if answer.status_code == 200 else [fault["parameter"] for fault in answer.json["errors"]]
        assert name not in still


@pytest.mark.parametrize("pressure", ["1013kPa", "2MPa"])
@pytest.mark.parametrize("voltage", ["1V", "12kV", "10MV"])
def test_a_voltage_is_sought_where_low_ends_alone_are_known(client, pressure, voltage):
    """In compressed air nothing says what plates hold, and points have a low end still."""
    for address in (
        f"gap?voltage={voltage}&pressure={pressure}&waveform=dc",
        f"spectators?voltage={voltage}&pressure={pressure}&waveform=dc",
        f"switch-on-sheet?voltage={voltage}&pressure={pressure}&waveform=dc",
        f"divider?voltage={voltage}&pressure={pressure}&ratio=1000&upper_resistance=1Gohm",
        f"protective-gap?hold={voltage}&fire_below=90MV&pressure={pressure}&waveform=dc",
    ):
        assert client.get(f"/v1/{address}").status_code in (200, 422), address


def test_every_gas_has_its_whole_curve(client, lookups):
    """That of a vapour, which no pressure above its own has, is laid over wider gaps."""
    gases = next(one for one in lookups["paschen"].parameters if one.name == "gas").choices
    for gas in gases:
        response = client.get(f"/v1/paschen?gas={gas}")
        if response.status_code == 400:  # a mixture
            response = client.get(f"/v1/paschen?gas={gas}&fraction=50percent")
        assert response.status_code == (422 if gas == "vacuum" else 200), gas
    assert client.get("/v1/paschen?gas=ccl4").json["asked"]["pd_to"]["value"] == 5000.0  # as its method states


def test_strays_that_leave_nothing_at_the_tap_overflow_nowhere(client):
    rest = "voltage=30kV&ratio=1000&upper_resistance=1Gohm&elements=100000&stray_capacitance=1uF"
    answer = client.get(f"/v1/divider?{rest}&frequency=10MHz").json
    assert answer["error_percent"] == {"low": -100.0, "high": -100.0}
    assert client.get(f"/v1/divider.svg?{rest}").status_code == 200


def test_a_reading_beyond_every_voltage_says_nothing_of_a_gap(client):
    answer = client.get("/v1/reading?indicated=9.30kV&scale_factor=1e9&expanded_uncertainty=5percent").json
    assert "for_a_gap" not in answer
    assert any("nothing is said of a gap" in note for note in answer["notes"])

"""Spellings of units: what is printed is read, and no suggestion changes a value by a power of ten."""

import random
import re
from itertools import product

import pytest

from service import units
from service.errors import BadQuestion
from service.spoken import printed
from service.units import DIMENSIONS, SIGNS, read

PREFIXES = {
    "": 0,
    "f": -15,
    "p": -12,
    "n": -9,
    "u": -6,
    "m": -3,
    "c": -2,
    "d": -1,
    "h": 2,
    "k": 3,
    "M": 6,
    "G": 9,
    "T": 12,
}
BASES = ("m", "Pa", "bar", "Torr", "V", "Hz", "F", "C", "J", "A", "W", "VA", "ohm", "s", "K")
SLIPS = ("{}s", "{}.", "{0}{0}", "{}2", "{}e", "x{}", "{}H", "{}x")


@pytest.mark.parametrize(
    ("text", "dimension", "expected"),
    [
        ("1mPa", "pressure", 1e-3),
        ("1 uTorr", "pressure", 1e-6 * 101325 / 760),
        ("1um_Hg", "pressure", 0.13332236842105263),
        ("14.5psia", "pressure", 14.5 * 6894.757293168361),
        ("1GHz", "frequency", 1e9),
        ("1mF", "capacitance", 1e-3),
        ("200 MΩ", "resistance", 2e8),
        ("10kΩ", "resistance", 1e4),
        ("50 Ω", "resistance", 50.0),
        ("1TΩ", "resistance", 1e12),
        ("5µm", "length", 5e-6),
        ("5μm", "length", 5e-6),
        ("20 °C", "temperature", 293.15),
        ("68°F", "temperature", 293.15),
        ("3 Pa·m", "pd", 3.0),
        ("8.5 g/m³", "humidity", 8.5e-3),
        ("2.5kVA", "power", 2500.0),
        ("30kV/cm", "field", 3e6),
        ("20ms", "time", 0.02),
        ("45 µC", "charge", 45e-6),
    ],
)
def test_a_spelling_of_the_trade_is_read(text, dimension, expected):
    assert read("x", text, dimension) == pytest.approx(expected, rel=1e-12)


def test_every_unit_that_an_answer_prints_is_read():
    for key, kind in DIMENSIONS.items():
        for name, one in kind.spellings.items():
            expected = one.to_si("20")
            assert read("x", f"20 {printed(name)}", key) == expected
            assert read("x", f"20{name}".translate(str.maketrans({"u": "µ"})), key) == expected


def test_no_suggestion_changes_a_value_by_a_power_of_ten():
    for key, (prefix, power), base, slip in product(DIMENSIONS, PREFIXES.items(), BASES, ("{}", *SLIPS)):
        spelling = slip.format(f"{prefix}{base}").translate(SIGNS)
        try:
            read("x", f"1{spelling}", key)
        except BadQuestion as error:
            offered = re.search(r"did you mean '([^']+)'", error.faults[0].detail)
            if offered and base in offered[1]:
                meant = re.fullmatch(rf"(.?){re.escape(base)}", offered[1])
                assert meant is None or PREFIXES[meant[1]] == power, (key, spelling, offered[1])


def test_milliohm_is_neither_read_nor_offered():
    with pytest.raises(BadQuestion, match="'mohm' is not a unit of it"):
        read("x", "200mohm", "resistance")
    assert not any("mohm" in kind.spellings for kind in DIMENSIONS.values())


@pytest.mark.parametrize("query", ["/v1/breakdown?gap=1mm", "/v1/gap?voltage=20kV"])
@pytest.mark.parametrize("electrodes", ["unknown", "uniform-field"])
def test_near_vacuum_is_told_of_vacuum(client, query, electrodes):
    detail = client.get(f"{query}&pressure=1e-6mbar&electrodes={electrodes}").get_json()["detail"]
    advised = detail.rsplit("Try ", 1)[1]
    assert "ask gas=vacuum" in detail
    assert "gas=vacuum" in advised
    assert client.get(advised).status_code == 200


@pytest.mark.parametrize("gap", ["0.05um", "1mm", "3m", "40m"])
@pytest.mark.parametrize("pressure", ["1uPa", "1Pa", "1kPa", "101.3kPa", "30bar"])
@pytest.mark.parametrize("gas", ["air", "argon", "vacuum"])
def test_a_refusal_never_proposes_a_larger_gap(client, gap, pressure, gas):
    answer = client.get(f"/v1/breakdown?gap={gap}&electrodes=uniform-field&pressure={pressure}&gas={gas}")
    detail = answer.get_json().get("detail", "")
    advised = detail.rsplit("Try ", 1)[-1]
    if answer.status_code == 422 and "Nothing near it" not in detail:
        proposed = re.search(r"gap=([^&]+)", advised)[1]
        assert read("gap", proposed, "length") <= read("gap", gap, "length") * (1 + 1e-9)


SPELLINGS = [(dimension, unit) for dimension, kind in units.DIMENSIONS.items() for unit in kind.spellings]


@pytest.mark.parametrize(("dimension", "unit"), SPELLINGS)
def test_a_canonical_text_reads_back_to_the_very_same_value(dimension, unit):
    """A link and a tag are of the question that was asked, whatever digits it had and whatever unit."""
    dice = random.Random(f"{dimension} {unit}")
    for _ in range(60):
        value = units.read("x", f"{10 ** dice.uniform(-6, 6)!r}{unit}", dimension)
        text = f"{units.written(value, dimension)}{units.DIMENSIONS[dimension].shown}"
        assert units.read("x", text, dimension) == value, text


def test_a_link_of_many_digits_is_the_question_itself(client):
    asked = client.get("/v1/hazard;frequency=31.922763510378438GHz;voltage=12kV;capacitance=4.4nF.json")
    link = re.match(r"<([^>]*)\.[a-z]+>", asked.headers["Link"])[1]
    again = client.get(f"{link}.json")
    assert again.data == asked.data
    assert again.headers["ETag"] == asked.headers["ETag"]

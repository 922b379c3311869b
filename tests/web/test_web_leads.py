"""What is read first of every answer: a sentence, a headline, one caution; a printed safe end is never unsafe."""

import json
import os
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from service import spoken, units
from service.web.workshop import workshop

GOLDEN = Path(__file__).parent / "golden" / "leads.json"
"""Written anew with ``RENDER_GOLDEN=write``; look at the difference before it is kept."""

FURTHER = (
    "breakdown?gap=8mm",
    "breakdown?gap_from=1mm&gap_to=50mm&electrodes=uniform-field,rod-plane",
    "gap?voltage=12kV&electrodes=uniform-field",
    "gap?voltage=12kV&measure=unknown",
    "gap?voltage=12kV&gas=vacuum&electrodes=uniform-field",
    "gap?voltage=200V&electrodes=uniform-field&pressure=1kPa",
    "gap?voltage=1kV&electrodes=uniform-field&pressure=100Pa",
    "gap?voltage=2MV&electrodes=needle-gap",
    "pressure?voltage=200V&gap=10mm&electrodes=uniform-field",
    "pressure?voltage=12kV&gap=10mm&electrodes=sphere-gap&sphere_diameter=2cm",
    "paschen?gas=air,argon,nitrogen",
    "paschen?gas=nitrogen&pd_from=100Pa_m&pd_to=500Pa_m",
    "spark?length=9mm",
    "spark?length=9mm&claimed_voltage=27kV&spark=running",
    "sphere-gaps?voltage_from=8kV&voltage_to=20kV&sphere_diameter=2cm,5cm",
    "sphere-gaps?voltage=15kV&sphere_diameter=25mm",
    "probe-plan?voltage_from=10kV&voltage_to=20kV&spheres=25mm",
    "clearance?impulse_voltage=4kV&pollution_degree=3&insulation=reinforced&altitude=3000m",
    "creepage?working_voltage=250V&system_voltage=230V&overvoltage_category=IV&pollution_degree=2&insulation=basic",
    "conductor-spacing?voltage=50V&place=internal",
    "barrier?working_voltage=250V&pollution_degree=2&insulation=basic",
    "barrier?recurring_peak_voltage=12kV&pollution_degree=2&insulation=basic",
    "insulation-stress?voltage=12kV&thickness=0.8mm&material=fr-4-cti-350",
    "insulation-stress?voltage=1kV&thickness=5mm&permittivity=2.3",
    "approach?nominal_voltage=40V&supply=dc",
    "approach?nominal_voltage=345kV&supply=ac&person=qualified",
    "hazard?voltage=230V&measure=rms&frequency=50Hz&available_current=16A",
    "hazard?voltage=400V&capacitance=100uF",
    "switch-on-sheet?voltage=200V&gas=air",
    "switch-on-sheet?voltage=12kV&gas=vacuum",
    "source-check?input_voltage=24.0V&input_current=2.00A&output_voltage=12kV",
)
"""Questions beside the examples, for the other outcomes of a lookup."""

BODIES = {
    "profile": {
        "symmetry": "section",
        "electrodes": [
            {
                "name": f"bar {k}",
                "potential": 2 - k,
                "shape": "bar",
                "width": "5mm",
                "thickness": "30mm",
                "at": [x, "0mm"],
            }
            for k, x in ((1, "-7.5mm"), (2, "7.5mm"))
        ],
    },
    "probe-check": {
        "sphere_diameter": "20mm",
        "waveform": "ac",
        "irradiated": "yes",
        "pressure": "101.3kPa",
        "temperature": "20.0degC",
        "absolute_humidity": "8.5g/m3",
        "readings": [
            {
                "spacing": f"{gap}mm",
                "indicated_voltages": [f"{1.05 * kilovolts + 0.01 * (k % 3):.3f}kV" for k in range(10)],
            }
            for gap, kilovolts in ((3, 11.2), (4, 14.4), (5, 17.4))
        ],
    },
}


@pytest.fixture(scope="module")
def lookups(client):
    with client.application.app_context():
        return dict(workshop().lookups)


@pytest.fixture(scope="module")
def answers(client, lookups):
    questions = [f"{key}?{one.example}".rstrip("?") for key, one in lookups.items() if not one.post]
    found = {}
    for question in (*questions, *FURTHER):
        response = client.get(f"/v1/{question}")
        assert response.status_code == 200, (question, response.get_data(as_text=True)[:300])
        found[question] = response.get_json()
    for key, body in BODIES.items():
        response = client.post(f"/v1/{key}", json=body)
        assert response.status_code == 200, (key, response.get_data(as_text=True)[:300])
        found[key] = response.get_json()
    found["probe-record"] = client.post("/v1/probe-record", json=found["probe-check"]).get_json()
    return found


def test_every_lookup_is_among_the_questions(lookups, answers):
    assert {question.partition("?")[0] for question in answers} == set(lookups)


def test_every_answer_begins_with_a_sentence_a_headline_and_one_of_its_cautions(answers):
    for question, document in answers.items():
        headline = document["headline"]
        assert document["sentence"].endswith("."), question
        assert headline["label"], question
        assert headline["text"], question
        assert headline["caution"] in [one["key"] for one in document["cautions"]], question


def test_no_key_or_power_of_ten_is_read_first(answers):
    for question, document in answers.items():
        words = f"{document['sentence']} {document['headline']['label']} {document['headline']['text']}"
        assert not re.search(r"\b\w+_\w+\b|\d[eE][+-]?\d|nan|None|\bum\b|kohm|Mohm|degC", words), (question, words)


def test_sentences_and_headlines_are_as_they_were_looked_at(answers):
    shown = {
        question: {"sentence": one["sentence"], "label": one["headline"]["label"], "text": one["headline"]["text"]}
        for question, one in answers.items()
    }
    if os.environ.get("RENDER_GOLDEN") == "write":
        GOLDEN.write_text(json.dumps(shown, indent=1, ensure_ascii=False) + "\n")
    assert json.loads(GOLDEN.read_text()) == shown


NUMBER = re.compile(r"([\d.]+) (\S+)")


def length(text):
    number, unit = NUMBER.search(text).groups()
    return units.to_si(float(number), {"µm": "um"}.get(unit, unit), "length")


@settings(max_examples=25)
@given(
    kilovolts=some.floats(0.4, 900.0),
    shape=some.sampled_from(["unknown", "uniform-field", "point-plane&tip_radius=1mm"]),
)
def test_the_gap_that_is_printed_holds_and_the_one_that_jumps_jumps(client, kilovolts, shape):
    response = client.get(f"/v1/gap?voltage={kilovolts:.5g}kV&electrodes={shape}").get_json()
    right = next((one for one in response.get("gaps", ()) if one["branch"] == "right"), {})
    if "holds_above" in right:
        assert length(response["headline"]["text"]) >= right["holds_above"] * 1e-3 * (1 - 1e-9)
    below = re.search(r"Below ([\d.]+ \S+) it jumps", response.get("sentence", ""))
    if below:
        assert length(below[1]) <= right["sparks_below"] * 1e-3 * (1 + 1e-9)


@settings(max_examples=25)
@given(kilovolts=some.floats(0.4, 300.0), waveform=some.sampled_from(["ac", "dc"]))
def test_the_distance_of_the_sheet_is_never_below_the_one_found(client, kilovolts, waveform):
    document = client.get(f"/v1/switch-on-sheet?voltage={kilovolts:.5g}kV&waveform={waveform}").get_json()
    if "keeps_apart_above" in document:
        printed = length(document["headline"]["text"])
        assert printed >= document["keeps_apart_above"]["value"] * 1e-3 * (1 - 1e-9)


@settings(max_examples=200)
@given(value=some.floats(1e-9, 1e9), digits=some.integers(1, 6))
def test_a_rounding_towards_caution_never_crosses_the_value(value, digits):
    slack = 10.0 ** (1 - spoken.CLEAN) * value
    assert float(spoken.rounded(value, digits, "up")) >= value - slack
    assert float(spoken.rounded(value, digits, "down")) <= value + slack

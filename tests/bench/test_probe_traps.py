"""Traps of a probe check: probes and sellers that were once judged wrongly, each asked again, old answer and new.

A perfect probe indicates just what the truth is; its readings scatter by 0.4 %. The truth is a model of the service or
the printed table, so that nothing here is compared with itself.
"""

import numpy as np
import pytest

from service.answers.evaluate import evaluate
from service.answers.situation import one, situation
from service.bench.spheres import Spheres
from service.lookups import probe_check
from service.web.bodies import read
from tests.asking import SHIPPED

TABLE = {2: 8.0, 3: 11.2, 4: 14.4, 5: 17.4, 6: 20.4}
"""IEC 60052 Table 2, 2 cm spheres: spacing in mm, peak voltage in kV; from memory."""
SAID = {
    "sphere_diameter": "20mm",
    "waveform": "ac",
    "irradiated": "yes",
    "pressure": "101.3kPa",
    "temperature": "20.0degC",
    "absolute_humidity": "8.5g/m3",
}
MODELS = ("streamer-quadratic", "streamer-linear-branch", "streamer-calibrated")
PLANS = (
    "voltage_from=8kV&voltage_to=20kV&spheres=2cm",
    "voltage_from=5kV&voltage_to=25kV&spheres=2cm",
    "voltage_from=3kV&voltage_to=30kV&spheres=2cm",
    "voltage_from=3kV&voltage_to=9kV&spheres=2cm",
    "voltage_from=8kV&voltage_to=40kV&spheres=2cm,5cm",
    "voltage_from=10kV&voltage_to=60kV&spheres=5cm",
    "voltage_from=20kV&voltage_to=100kV&spheres=6.25cm,10cm",
    "voltage_from=30kV&voltage_to=200kV&spheres=12.5cm,25cm",
    "voltage_from=50kV&voltage_to=400kV&spheres=25cm,50cm",
    "voltage_from=20kV&voltage_to=60kV&spheres=5cm,6.25cm",
)


@pytest.fixture(scope="module")
def check(registry):
    return lambda body: probe_check.answer(read(probe_check.BODY, body), registry).document(registry)


def shots(volts, error=0.0, scatter=0.004, count=10, seed=0):
    random = np.random.default_rng(seed)
    return [f"{one:.5g}kV" for one in volts * (1 + error) * (1 + scatter * random.standard_normal(count))]


def body(change=None, *, error=0.0, lag=1.0, scale=1.0, spacings=(3, 4, 5), without=(), seed=0):
    """A probe at the printed voltages: off by an error, sparks late by a factor, the air denser by a scale."""
    readings = [
        {"spacing": f"{s}mm", "indicated_voltages": shots(TABLE[s] * lag * scale, error, seed=seed + s)}
        for s in spacings
    ]
    whole = {**SAID, "readings": readings, **(change or {})}
    return {name: value for name, value in whole.items() if name not in without}


def planned(registry, query, model, waveform="ac"):
    """Spacing, diameter and the voltage that a model takes for the truth, at the settings of a plan."""
    query = f"{query}&waveform={waveform}"
    settings = SHIPPED.ask("probe-plan", query)["settings"]
    case, found = situation(SHIPPED.question("probe-plan", query), registry, "uniform-field").case, []
    for row in settings:
        spacing, diameter = row["spacing"]["value"] / 1e3, row["sphere_diameter"]["value"] / 1e3
        spheres = Spheres.of(registry, case, diameter)
        volts = evaluate(spheres.arrangement, spheres.case.with_gap(one(spacing)), only=model).value[0]
        found.append((row["spacing"]["value"], row["sphere_diameter"]["value"], float(volts) / 1e3))
    return found


def as_body(settings, seed, errors=None):
    readings = [
        {
            "spacing": f"{spacing!r}mm",
            "sphere_diameter": f"{diameter!r}mm",
            "indicated_voltages": shots(volts, 0.0 if errors is None else errors[i], seed=100 * seed + i),
        }
        for i, (spacing, diameter, volts) in enumerate(settings)
    ]
    return {**SAID, "readings": readings}


def test_a_perfect_probe_is_not_called_bent_whichever_model_is_the_truth(check, registry):
    # once: not-linear in 24 of 30 pairs of plan and model, in ten of ten tries
    words = {}
    for plan in PLANS:
        for model in MODELS:
            settings = planned(registry, plan, model)
            words[plan, model] = [check(as_body(settings, seed))["overall"]["verdict"] for seed in range(4)]
    called = sum(word == "not-linear" for found in words.values() for word in found)
    assert called / (4 * len(words)) <= 0.05


@pytest.mark.parametrize("model", MODELS)
def test_a_bend_of_twelve_percent_is_found(check, registry, model):
    for plan in PLANS:
        settings = planned(registry, plan, model)
        volts = np.array([row[2] for row in settings])
        errors = 0.12 * (volts - volts.min()) / np.ptp(volts)
        overall = check(as_body(settings, 1, errors))["overall"]
        assert overall["verdict"] == "not-linear", plan
        assert "scale_factor" not in overall


def test_settings_apart_by_one_and_a_half_percent_are_no_bend(check):
    # once: not-linear in 211 of 300 tries
    random = np.random.default_rng(5)
    found = []
    for seed in range(40):
        settings = [(s, 20.0, v * (1 + 0.015 * random.standard_normal())) for s, v in TABLE.items()]
        found.append(check(as_body(settings, seed))["overall"]["verdict"])
    assert found.count("not-linear") <= 4


SILENT = ("pressure", "temperature", "absolute_humidity")


@pytest.mark.parametrize(
    ("place", "scale", "said"),
    [
        # density over that of the table; at sea level 97.5 kPa and 25 degC, Munich, Denver
        ("a low at sea level", 97.5 / 101.3 * 293.15 / 298.15, {"pressure": "97.5kPa", "temperature": "25.0degC"}),
        ("Munich", 95.4 / 101.3, {"pressure": "95.4kPa", "temperature": "20.0degC"}),
        ("Denver", 83.4 / 101.3, {"pressure": "83.4kPa", "temperature": "20.0degC"}),
    ],
)
def test_a_perfect_probe_anywhere_is_not_called_low_because_the_weather_was_not_said(check, place, scale, said):
    # once: reads-low, "4.6 % less, known to 3.1 %", in Denver 19 %
    silent = check(body(scale=scale, without=SILENT))["overall"]
    assert silent["verdict"] == "cannot-tell"
    assert "the pressure or the altitude" in silent["explanation"]
    assert silent["possible_error_percent"]["low"] < 0 < silent["possible_error_percent"]["high"]
    told = check(body(said, scale=scale))["overall"]
    assert told["verdict"] == "agrees-within-uncertainty", place


def test_an_impulse_without_its_polarity_is_not_judged(check):
    # once: reads-high by 6.2 %, known to 3.1 %: the polarity was taken to be the weaker
    change = {"waveform": "lightning-impulse", "sphere_diameter": "12.5cm"}
    change["readings"] = [{"spacing": "60mm", "indicated_voltages": shots(166.0)}]
    with pytest.raises(ValueError, match="polarity is needed"):
        check(body(change))


def test_a_sheet_without_its_waveform_is_not_judged(check):
    # once: reads-high by 3.8 %, known to 3.1 %, of a direct voltage, where the gap is known to 5 %
    with pytest.raises(ValueError, match="waveform is needed"):
        check(body(error=0.038, without=("waveform",)))
    assert check(body({"waveform": "dc"}, error=0.038))["overall"]["verdict"] == "agrees-within-uncertainty"


@pytest.mark.parametrize("irradiated", [None, "unknown", "no"])
def test_a_dark_gap_that_fires_late_does_not_make_the_probe_read_high(check, irradiated):
    # once: reads-high, where nothing was said of the light
    dark = body({} if irradiated is None else {"irradiated": irradiated}, lag=1.04)
    if irradiated is None:
        del dark["irradiated"]
    overall = check(dark)["overall"]
    assert overall["verdict"] == "cannot-tell"
    assert "irradiated" in overall["explanation"]


def test_a_probe_with_coarse_digits_is_not_called_high(check):
    # once: ten times "12kV" at 3 mm: reads-high by 7.1 %, known to 5.1 %, though one digit is 4.2 %
    coarse = {"waveform": "dc", "readings": [{"spacing": "3mm", "indicated_voltages": ["12kV"] * 10}]}
    overall = check(body(coarse))["overall"]
    assert overall["verdict"] == "agrees-within-uncertainty"
    assert overall["expanded_uncertainty_parts_percent"]["resolution"] == pytest.approx(100 * 2 * 0.5 / 12 / 3**0.5)
    fine = {"readings": [{"spacing": "3mm", "indicated_voltages": ["12.00kV"] * 10}]}
    assert check(body(coarse | fine))["overall"]["verdict"] == "reads-high"
    said = check(body(coarse | fine | {"resolution": "0.5kV"}))["overall"]
    assert said["expanded_uncertainty"] == pytest.approx(overall["expanded_uncertainty"])


@pytest.mark.parametrize(
    ("error", "change"),
    [
        (-0.40, {"spacing_uncertainty": "1mm", "spacings": (2,)}),
        (-0.40, {"spacing_uncertainty": "1.9mm", "spacings": (2,)}),
        (-0.10, {"density_uncertainty": "20percent"}),
    ],
)
def test_a_probe_that_reads_low_does_not_agree_because_the_check_is_poor(check, error, change):
    # it was said to agree: 40 % less, known to 46 %, so no error is shown
    spacings = change.pop("spacings", (3, 4, 5))
    overall = check(body(change, error=error, spacings=spacings))["overall"]
    assert overall["verdict"] == "cannot-tell"
    assert "scale_factor" not in overall
    assert overall["expanded_uncertainty"] > 0.1
    low, high = (overall["possible_error_percent"][end] for end in ("low", "high"))
    assert low < 100 * error < high
    assert "more voltage is present than it shows" in overall["explanation"]


def test_under_reads_low_stands_that_more_voltage_is_present_than_shown(check):
    overall = check(body(error=-0.4))["overall"]
    assert overall["verdict"] == "reads-low"
    assert overall["explanation"].startswith("More voltage is present than the probe shows")


@pytest.mark.parametrize(
    ("factor", "words"),
    [
        (1000.0, "attenuation applied twice"),
        (1e-3, "attenuation not applied"),
        (2**0.5, "measure=rms"),
        (0.5**0.5, "rms values"),
        (2.0, "peak-to-peak"),
        (0.5, "closed at both ends"),
        (8**0.5, "peak-to-peak readings"),
        (0.125**0.5, "rms readings"),
    ],
)
def test_a_common_mistake_is_named(check, factor, words):
    # it was told as 100 % less, written with an exponent
    overall = check(body({"measure": "peak"}, error=1.02 * factor - 1))["overall"]
    assert overall["verdict"] == ("reads-high" if factor > 1 else "reads-low")
    assert words in overall["likely_cause"]
    assert overall["likely_cause"] in overall["explanation"]
    assert "e+" not in overall["explanation"]


def test_a_meter_that_may_show_rms_is_not_condemned_where_the_measure_was_not_said(check):
    overall = check(body(error=0.5**0.5 - 1))["overall"]
    assert overall["verdict"] == "cannot-tell"
    assert "say the measure" in overall["explanation"]


def test_a_drift_a_step_and_a_late_spark_are_told(check):
    # once: all three accepted without a note
    series = {
        "trend_percent": (np.linspace(0, 0.03, 20), "drift"),
        "step_percent": (np.repeat([0, 0.015], 10), "jump"),
        "high_outliers": (np.eye(20)[13] * 0.04, "high outliers"),
    }
    random = np.random.default_rng(2)
    for field, (shape, words) in series.items():
        volts = 11.2 * (1 + shape + 0.002 * random.standard_normal(20))
        readings = [{"spacing": "3mm", "indicated_voltages": [f"{one:.3f}kV" for one in volts]}]
        document = check(body({"readings": readings}))
        assert field in document["settings"][0]
        assert any(words in note for note in document["notes"])
        assert not set(series) - {field} & set(document["settings"][0])


NETWORK = {"upper_resistance": "100Mohm", "lower_resistance": "100kohm", "upper_capacitance": "3pF"}
NETWORK |= {"lower_capacitance": "3nF", "elements": 10, "frequency": "10kHz"}


def test_a_compensated_divider_does_not_carry_while_its_strays_are_not_said(check):
    # once: "yes, less than 0.01 %", for a network that in metal is 25 to 75 % off
    network = check(body({"waveform": "dc", "network": NETWORK}))["network"]
    assert network["carries"] == "cannot-tell"
    # own ladder of the reviewer: +33 % with 5 pF, +73 % with 10 pF; top element 1.5 and 1.8 times its even share
    for stray, off, stress in (("5pF", 33, 1.46), ("10pF", 73, 1.83)):
        network = check(body({"waveform": "dc", "network": {**NETWORK, "stray_capacitance": stray}}))["network"]
        assert network["carries"] == "no"
        assert network["ratio_difference_percent"] == pytest.approx(off, abs=0.5)
        assert network["largest_stress_over_mean"] == pytest.approx(stress, abs=0.01)
    tall = check(body({"waveform": "dc", "network": {**NETWORK, "height": "0.5m"}}))["network"]
    assert tall["carries"] == "no"
    assert (tall["stray_capacitance"]["low"], tall["stray_capacitance"]["high"]) == (0.005, 0.01)
    assert tall["ratio_difference_percent"]["low"] == pytest.approx(33, abs=0.5)


OPPOSITE = {"reads-high": "reads-low", "reads-low": "reads-high"}
GIVEN = ("pressure", "temperature", "absolute_humidity", "irradiated", "measure", "polarity")


@pytest.mark.parametrize("error", [-0.5, -0.2929, -0.1, -0.03, 0.0, 0.03, 0.06, 0.3, 1.0])
@pytest.mark.parametrize("irradiated", ["yes", "no"])
@pytest.mark.parametrize("place", [("101.3kPa", "20.0degC"), ("97.5kPa", "31.0degC"), ("83.4kPa", "8.0degC")])
def test_taking_a_given_value_away_never_makes_a_verdict_nor_turns_one(check, error, irradiated, place):
    pressure, temperature = place
    scale = float(pressure[:-3]) / 101.3 * 293.15 / (float(temperature[:-4]) + 273.15)
    change = {
        "absolute_humidity": "6.0g/m3",
        "pressure": pressure,
        "temperature": temperature,
        "irradiated": irradiated,
        "measure": "peak",
    }
    full = check(body(change, error=error, scale=scale, lag=1.04 if irradiated == "no" else 1.0))["overall"]
    for mask in range(1, 32):
        gone = [name for i, name in enumerate(GIVEN[:5]) if mask >> i & 1]
        less = check(body(change, error=error, scale=scale, lag=1.04 if irradiated == "no" else 1.0, without=gone))[
            "overall"
        ]
        assert less["verdict"] in (full["verdict"], "cannot-tell"), gone
        if full["verdict"] == "cannot-tell":
            assert less["verdict"] == "cannot-tell", gone
        for end, wider in (("low", min), ("high", max)):
            both = full["possible_error_percent"][end], less["possible_error_percent"][end]
            assert wider(both) == pytest.approx(both[1], abs=0.3), gone


def test_two_hundred_settings_are_judged_together(check):
    volts = np.linspace(11.2, 17.4, 200)
    readings = [
        {"spacing": f"{3 + i * 0.01:.2f}mm", "indicated_voltages": shots(volts[i], count=20, seed=i)}
        for i in range(200)
    ]
    assert check(body({"readings": readings}))["overall"]["verdict"] == "agrees-within-uncertainty"

"""Whatever is sent, the workbench answers or names a fault; whatever a probe is, a check finds it."""

import json
import math

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from uncertainties import ufloat

from service.bench.divider import NETWORK
from service.bench.probe_sheet import BODY, FLAT
from service.errors import ServiceError
from service.lookups import breakdown, protective_gap, source_check, spark, sphere_gaps, switch_on_sheet
from service.lookups.probe_check import answer, body_from_csv
from service.web.bodies import read

QUIET = settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
MANY = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
MEMBERS = [parameter.name for parameter in FLAT] + ["readings", "network", "colour"]
TEXTS = st.sampled_from(
    ["20mm", "3mm", "dc", "ac", "10kV", "50percent", "1000", "", "nan", "-5mm", "yes", "peak", "1e400m"]
)
VALUES = st.recursive(
    st.one_of(st.none(), st.booleans(), st.floats(), st.integers(), TEXTS, st.text(max_size=8)),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(st.sampled_from(["spacing", "indicated_voltages", "frequency"]), inner, max_size=3),
        st.dictionaries(st.sampled_from([parameter.name for parameter in NETWORK.parameters]), inner, max_size=4),
    ),
    max_leaves=8,
)
BODIES = st.dictionaries(st.sampled_from(MEMBERS), VALUES, max_size=6)
PRINTED = {3: 11.2, 4: 14.4, 5: 17.4}
"""IEC 60052 Table 2, 2 cm spheres: spacing in mm, peak voltage in kV; read in a laboratory manual."""


SAID = {
    "sphere_diameter": "20mm",
    "waveform": "ac",
    "irradiated": "yes",
    "pressure": "101.3kPa",
    "temperature": "20.0degC",
    "absolute_humidity": "8.5g/m3",
}


def readings(error, scatter, seed, count=10):
    random = np.random.default_rng(seed)
    found = []
    for spacing, volts in PRINTED.items():
        shots = volts * (1 + error) * (1 + scatter * random.standard_normal(count))
        found.append({"spacing": f"{spacing}mm", "indicated_voltages": [f"{one:.5f}kV" for one in shots]})
    return found


def numbers(entry):
    return [float(text.removesuffix("kV")) for text in entry["indicated_voltages"]]


def answered(make):
    """Return what is made, or ``None`` for a refusal that says why."""
    try:
        return make()
    except ServiceError as error:
        if not error.detail:
            raise
        return None


@MANY
@given(body=BODIES)
def test_a_body_is_answered_or_its_faults_are_named(registry, body):
    document = answered(lambda: answer(read(BODY, body), registry).document(registry))
    json.dumps(document, allow_nan=False)


@MANY
@given(text=st.text(alphabet='spacing_mmindicated_kV,;|\t\n0123456789.-e "', max_size=120))
def test_a_sheet_is_read_or_its_fault_is_named(text):
    body = answered(lambda: body_from_csv("spacing_mm,indicated_kV\n" + text, {}))
    assert body is None or body["readings"]


@QUIET
@given(error=st.floats(-0.3, 0.3), scatter=st.floats(0.0, 0.004), seed=st.integers(0, 1000))
def test_a_simulated_probe_is_found_within_its_scatter(registry, error, scatter, seed):
    body = {**SAID, "readings": readings(error, scatter, seed)}
    overall = answer(read(BODY, body), registry).document(registry)["overall"]
    assert 1 / overall["scale_factor"] - 1 == pytest.approx(error, abs=max(4 * scatter / math.sqrt(30), 1e-5))
    # of the 3 % of the table 2.2 % are common, the rest is of each setting
    assert 0.026 < overall["expanded_uncertainty"] < 0.028
    expected = "agrees-within-uncertainty" if abs(error) < 0.0275 else "reads-high" if error > 0 else "reads-low"
    if abs(abs(error) - 0.0275) > 0.0075:
        assert overall["verdict"] == expected


@QUIET
@given(factor=st.floats(0.2, 5.0))
def test_the_verdict_does_not_depend_on_the_unit_of_the_instrument(registry, factor):
    body = {**SAID, "attenuation": 1000, "resolution": "0kV"}
    plain = answer(read(BODY, {**body, "readings": readings(0.05, 0.003, 1)}), registry).results["overall"]
    scaled = [
        {"spacing": one["spacing"], "instrument_voltages": [f"{volts * factor!r}V" for volts in numbers(one)]}
        for one in readings(0.05, 0.003, 1)
    ]
    other = answer(read(BODY, {**body, "attenuation": 1000 / factor, "readings": scaled}), registry).results["overall"]
    assert other.scale_factor == pytest.approx(plain.scale_factor, rel=1e-9)
    assert other.uncertainty == pytest.approx(plain.uncertainty, rel=1e-6)


def test_a_whole_check_agrees_with_the_library(registry):
    # the oracle builds the reference voltages of 2 cm spheres from correlated inputs, with the slopes of the table
    shots = readings(0.02, 0.003, 5)
    body = {**SAID, "readings": shots, "diameter_uncertainty": "1nm", "resolution": "0kV"}
    overall = answer(read(BODY, body), registry).document(registry)["overall"]
    # of the 1.5 % (standard) of the table 1 % is of each setting: by so much models and table leave each other
    gap = ufloat(1.0, math.sqrt(0.015**2 - 0.01**2))
    spacing, density = ufloat(0.0, 0.02 / math.sqrt(3)), ufloat(1.0, 0.005 / math.sqrt(3))
    humid = ufloat(8.5, 1 / math.sqrt(3))
    slopes = {3: 3.2, 4: 3.1, 5: 3.0}  # kV per mm, mean of the two sides: 8.0 (2 mm), 11.2, 14.4, 17.4, 20.4
    sums = dict(zip(PRINTED, map(numbers, shots), strict=True))
    spread = math.sqrt(np.mean([np.var(volts, ddof=1) / np.mean(volts) ** 2 for volts in sums.values()]))
    above = below = 0
    for s, volts in sums.items():
        mean = ufloat(np.mean(volts), np.mean(volts) * spread / math.sqrt(10))
        # IEC 60052: density scales the table, humidity by 0.2 % per g/m3 over density
        y = (
            gap
            * ufloat(1.0, 0.01)
            * (PRINTED[s] + slopes[s] * spacing)
            * density
            * (1 + 0.002 * (humid / density - 8.5))
        )
        weight = 1 / PRINTED[s] ** 2  # the own parts are alike at all three
        above, below = above + weight * mean * y, below + weight * mean**2
    scale = above / below
    assert overall["scale_factor"] == pytest.approx(scale.n, rel=1e-6)
    # the service takes differences over the whole tolerance, the library derivatives
    assert overall["expanded_uncertainty"] == pytest.approx(2 * scale.s / scale.n, rel=2e-4)


@QUIET
@given(length=st.floats(1.0, 200.0), waveform=st.sampled_from(["ac", "dc", "lightning-impulse"]))
def test_the_verdict_rises_with_the_claim_at_every_length(ask, length, waveform):
    order = {"more-than-claimed": 0, "fits-points": 1, "needs-uniform-field": 3, "too-high": 4}
    order |= {"cannot-tell": 2, "needs-rounder-electrodes": 2}
    bracket = ask(spark, f"length={length!r}mm&waveform={waveform}")["bracket"]
    claims = np.geomspace(0.3 * bracket["low"], 2 * bracket["high"], 8)
    air = "pressure=101.3kPa&temperature=20.0degC&absolute_humidity=8.5g/m3"
    sign = "" if waveform == "ac" else "&polarity=positive"
    said = f"waveform={waveform}{sign}&{air}&measure=peak&length_is=widest"
    query = f"length={length!r}mm&{said}&claimed_voltage="
    found = [order[ask(spark, f"{query}{volts!r}kV")["claim"]["verdict"]] for volts in claims.tolist()]
    assert found == sorted(found)
    assert (found[0], found[-1]) == (0, 4)


@QUIET
@given(gap=st.floats(0.5, 30.0), key=st.sampled_from(["needle-gap", "uniform-field", "sphere-gap&sphere_diameter=5cm"]))
def test_what_the_breakdown_lookup_says_is_consistent_with_its_own_spark(ask, gap, key):
    known = answered(lambda: ask(breakdown, f"gap={gap!r}mm&electrodes={key}"))
    assume(known is not None)
    volts = known["breakdown_voltage"]["value"]
    assume(volts is not None)
    said = "waveform=ac&measure=peak&pressure=101.3kPa&temperature=20.0degC&absolute_humidity=8.5g/m3&length_is=widest"
    claim = ask(spark, f"length={gap!r}mm&electrodes={key}&claimed_voltage={volts!r}kV&{said}")["claim"]
    assert claim["verdict"] == "consistent"


@QUIET
@given(
    volts=st.floats(1.0, 1e6),
    measure=st.sampled_from(["peak", "rms", "peak-to-peak", "unknown"]),
    waveform=st.sampled_from(["ac", "dc", "lightning-impulse", "pulse-train"]),
)
def test_every_voltage_is_answered_or_refused_by_every_lookup(ask, volts, measure, waveform):
    around = f"&waveform={waveform}"
    asked = [
        (switch_on_sheet, f"voltage={volts!r}V&measure={measure}{around}"),
        (sphere_gaps, f"voltage={volts!r}V&measure={measure}{around}&sphere_diameter=2cm,10cm"),
        (spark, f"length=9mm&claimed_voltage={volts!r}V&measure={measure}{around}"),
        (protective_gap, f"hold={volts!r}V&fire_below={2 * volts!r}V{around}"),
        (source_check, f"input_voltage=24V&input_current=2A&output_voltage={volts!r}V&output_current=30mA"),
    ]
    for module, query in asked:
        json.dumps(answered(lambda module=module, query=query: ask(module, query)), allow_nan=False)

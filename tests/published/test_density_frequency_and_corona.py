"""Thin air, high frequency, corona and utilization factors against sources that no method was fitted to."""

from dataclasses import replace

import numpy as np
import pytest

from service.answers.evaluate import evaluate
from service.methods import Case
from service.methods.laws import corona_laws
from service.physics.formulas import onset_field
from service.units import to_si

MODELS = ("streamer-quadratic", "streamer-linear-branch", "streamer-calibrated")


def spheres(table):
    count = len(table)
    return Case(
        table["spacing"],
        np.full(count, 101.3e3),
        np.full(count, 293.15),
        np.full(count, 8.5e-3),
        np.full(count, 50.0),
        dimensions={"sphere_diameter": table["sphere_diameter"]},
        options={"earthing": "one-earthed"},
    )


@pytest.mark.parametrize("model", MODELS)
def test_thin_and_dense_air_by_the_factors_of_iec_52(registry, reference, model):
    # IEC 52:1960, factor k against density 0.70 to 1.15, two printed digits (worked example gap33: 0.72 at 0.70). The
    # criterion is not told the factor: over the cells of Table 2 to 0.5 D the mean lies within 1.5 % of it, and no
    # cell is further than 4.5 %. The factor is one number for all spheres; below 3 mm the root term of Paschen's curve
    # alone raises it by up to 8 % at a density of 0.7, so that those 7 cells are left out
    table = reference.table("iec-60052-table-2").where(bracketed=0.0)
    factors = reference.table("iec-52-density-factors")
    wide = table["spacing"] >= 3e-3
    standard = spheres(table).select(wide)
    assert np.count_nonzero(~wide) == 7
    spheres_here = registry.arrangement("sphere-gap")
    at_standard = evaluate(spheres_here, standard, only=model).value
    for density, factor in zip(factors["relative_air_density"], factors["factor"], strict=True):
        here = replace(standard, pressure=standard.pressure * density)
        ratio = evaluate(spheres_here, here, only=model).value / at_standard
        assert np.mean(ratio) == pytest.approx(factor, rel=0.015)
        assert np.abs(ratio / factor - 1).max() < 0.045


def test_spheres_at_radio_frequency_spark_within_the_band(ask, printed):
    # worked example ekstrand_rf: 0.80 to 0.83 of the value at 60 Hz between 0.7 and 1.8 MHz
    low, high = (float(end) for end in printed("frequency-effects-compilation", "ekstrand_rf").expected.split(".."))
    query = "electrodes=sphere-gap&sphere_diameter=6.25cm&gap=10mm"
    slow = ask("breakdown", query)["breakdown_voltage"]["value"]
    for frequency in ("700kHz", "1800kHz"):
        fast = ask("breakdown", f"{query}&frequency={frequency}")["breakdown_voltage"]
        assert fast["low"] <= low * slow
        assert fast["high"] >= high * slow
        assert fast["value"] < slow


def test_the_band_of_spheres_begins_to_fall_at_20_kilohertz(ask, printed):
    # worked example hf_onset: 20 kHz, within a factor of 2 to 3
    onset = float(printed("frequency-effects-compilation", "hf_onset").expected)
    query = "electrodes=sphere-gap&sphere_diameter=6.25cm&gap=10mm&frequency="
    low = [ask("breakdown", f"{query}{f}kHz")["breakdown_voltage"]["low"] for f in (0.05, onset, 3 * onset, 10 * onset)]
    assert low[0] == pytest.approx(low[1], rel=1e-6)
    assert low[2] == pytest.approx(0.8 * low[0], rel=1e-6)
    assert low[3] <= low[2]


@pytest.mark.parametrize(
    ("query", "expected"),
    [
        ("electrodes=sphere-gap&earthing=symmetrical&sphere_diameter=20mm&gap=10mm", 0.7358),
        ("electrodes=sphere-plane&sphere_diameter=20mm&gap=10mm", 0.5649),
        ("electrodes=coaxial-cylinders&inner_diameter=10mm&outer_diameter=27.182818284590452mm", 0.581977),
        ("electrodes=concentric-spheres&inner_diameter=10mm&outer_diameter=15mm", 10 / 15),
    ],
)
def test_utilization_factors_of_the_textbooks(ask, query, expected):
    # sphere-images and field-factors: spheres at a gap of one radius, cylinders of ratio e; spheres r / R; 0.1 %
    assert ask("breakdown", query)["field_utilization_factor"] == pytest.approx(expected, rel=1e-3)


def test_one_earthed_sphere_is_less_uniform_than_two_at_half_the_voltage(ask):
    # Russell's table, memory: highest over mean field 1.517 and 1.359 at a gap of one radius
    factors = {
        earthing: ask("breakdown", f"electrodes=sphere-gap&sphere_diameter=30mm&gap=15mm&earthing={earthing}")[
            "field_utilization_factor"
        ]
        for earthing in ("one-earthed", "symmetrical")
    }
    assert 1 / factors["one-earthed"] == pytest.approx(1.517, abs=1e-3)
    assert 1 / factors["symmetrical"] == pytest.approx(1.359, abs=1e-3)


@pytest.mark.parametrize(
    ("query", "key"),
    [
        ("electrodes=wire-plane&wire_diameter=2mm&gap=50mm", "parallel-wires"),
        ("electrodes=parallel-wires&wire_diameter=2mm&gap=50mm", "parallel-wires"),
        ("electrodes=coaxial-cylinders&inner_diameter=2mm&outer_diameter=100mm", "coaxial-cylinders"),
        ("electrodes=sphere-plane&sphere_diameter=20mm&gap=100mm", "spheres"),
        ("electrodes=point-plane&tip_radius=2mm&gap=100mm", "spheres"),
    ],
)
def test_the_classical_onset_stands_beside_the_criterion_and_agrees_within_ten_percent(ask, query, key):
    # Peek, from memory, independent of the criterion
    found = ask("breakdown", query)
    assert found["breakdown_voltage"]["value"] is None
    corona = next(other for other in found["also"] if other["key"] == f"corona-onset-{key}")
    assert corona["kind"] == "formula"
    assert corona["inception_voltage"]["value"] == pytest.approx(found["inception_voltage"]["value"], rel=0.10)


def test_onset_between_coaxial_cylinders_by_hand(ask):
    # 31 delta (1 + 0.308 / sqrt(delta r)) kV/cm, r = 0.1 cm, delta of the law at 20 degC and 101.3 kPa, r ln(R / r)
    delta = 1013.0 / 1013.25 * 298.15 / 293.15
    onset = 31 * delta * (1 + 0.308 / np.sqrt(delta * 0.1)) * 0.1 * np.log(50)
    found = ask("breakdown", "electrodes=coaxial-cylinders&inner_diameter=2mm&outer_diameter=100mm")
    corona = next(other for other in found["also"] if other["key"] == "corona-onset-coaxial-cylinders")
    assert corona["inception_voltage"]["value"] == pytest.approx(onset, rel=1e-9)


def test_critical_disruptive_voltage_of_a_line(reference, printed):
    # worked example gap39: 21.1 kV rms per cm times m delta r ln(D / r), the law without its root term; 1 %
    asked = printed("peek-1929", "gap39")
    radius, distance = asked.inputs["diameter_cm"] / 200, asked.inputs["distance_cm"] / 100
    law = replace(corona_laws(reference)["parallel-wires"], root=0.0)
    pressure = to_si(10 * asked.inputs["pressure_cmHg"], "mmHg", "pressure")
    density = pressure / 101300.0 * 293.15 / to_si(asked.inputs["temperature_degC"], "degC", "temperature")
    field = onset_field(law, radius, density, asked.inputs["roughness"])
    voltage = field * radius * np.log(distance / radius) / np.sqrt(2)
    assert voltage == pytest.approx(float(asked.expected) * 1e3, rel=0.01)

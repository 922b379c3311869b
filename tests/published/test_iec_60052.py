"""IEC 60052: cells, corrections, bands and limits of the sphere-gap tables as /v1/breakdown answers them.

Cells are those of the data package, most of them from memory; 2 cm to 0.4 cm was read in a laboratory manual. What is
tested here is that a printed cell is what is answered, and that the standard's rules about it are kept.
"""

import numpy as np
import pytest

from service.answers.evaluate import evaluate
from service.errors import OutsideValidity
from service.methods import Case

SPHERES = "electrodes=sphere-gap"


def kilovolts(document):
    block = document["breakdown_voltage"]
    assert block["unit"] == "kV"
    assert block["measure"] == "peak"
    return block["value"]


def band(document):
    block = document["breakdown_voltage"]
    return 1 - block["low"] / block["value"], block["high"] / block["value"] - 1


def sphere_case(table, waveform, polarity=None, pressure=101.3e3):
    count = len(table)
    return Case(
        table["spacing"],
        np.full(count, pressure),
        np.full(count, 293.15),
        np.full(count, 8.5e-3),
        np.zeros(count),
        dimensions={"sphere_diameter": table["sphere_diameter"]},
        options={"earthing": "one-earthed"},
        waveform=waveform,
        polarity=polarity,
    )


@pytest.mark.parametrize(
    ("example", "query"),
    [
        ("gap1", "sphere_diameter=2cm&gap=1mm"),
        ("gap2", "sphere_diameter=2cm&gap=3mm"),
        ("gap3", "sphere_diameter=2cm&gap=5mm"),
    ],
)
def test_cells_that_a_laboratory_manual_reproduces(ask, printed, example, query):
    assert kilovolts(ask("breakdown", f"{SPHERES}&{query}")) == float(printed("iec-60052", example).expected)


def test_humidity_correction_of_a_cell(ask, printed):
    # worked example gap49, by hand: 14.4 kV times 1 + 0.002 (15 - 8.5)
    found = ask("breakdown", f"{SPHERES}&sphere_diameter=2cm&gap=4mm&absolute_humidity=15g/m3")
    assert kilovolts(found) == pytest.approx(float(printed("iec-60052", "gap49").expected), abs=0.005)


def test_spheres_of_25_cm_in_thin_warm_air(ask):
    # 206 kV at 8 cm; 740 mmHg and 30 degC: by hand 0.9418 for density, 0.10 % for humidity; 194 kV within 0.5 %
    query = f"{SPHERES}&sphere_diameter=25cm&gap=8cm&pressure=740mmHg&temperature=30degC"
    assert kilovolts(ask("breakdown", query)) == pytest.approx(194.0, rel=5e-3)


@pytest.mark.parametrize(
    ("number", "waveform", "polarity"),
    [(2, "ac", None), (2, "dc", "positive"), (2, "dc", "negative"), (3, "lightning-impulse", "positive")],
)
def test_every_printed_cell_is_what_is_answered(registry, number, waveform, polarity):
    table = registry.reference.table(f"iec-60052-table-{number}")
    found = evaluate(registry.arrangement("sphere-gap"), sphere_case(table, waveform, polarity))
    # the standard does not cover impulses below 10 kV
    covered = (table["voltage"] >= 10e3) | ("impulse" not in waveform)
    np.testing.assert_allclose(found.value[covered], table["voltage"][covered], rtol=1e-12)
    assert {found.methods[i].method.kind for i in found.choice[covered]} == {"table"}
    assert {found.methods[i].method.kind for i in found.choice[~covered]} <= {"model"}


def test_without_a_polarity_the_weaker_is_answered(registry, ask):
    # Table 3 is nowhere below Table 2
    impulse = f"{SPHERES}&sphere_diameter=5cm&gap=15mm&waveform=lightning-impulse"
    weaker = kilovolts(ask("breakdown", impulse))
    both = [kilovolts(ask("breakdown", f"{impulse}&polarity={polarity}")) for polarity in ("positive", "negative")]
    assert weaker == min(both)
    assert both[0] > both[1]


def test_between_spacings_of_one_diameter_the_table_is_straight(ask):
    # 14.4 kV at 0.40 cm and 17.4 kV at 0.50 cm
    found = ask("breakdown", f"{SPHERES}&sphere_diameter=2cm&gap=4.5mm")
    assert kilovolts(found) == pytest.approx(15.9, abs=1e-9)
    assert found["method"]["row"] == "sphere diameter 2 cm, spacing 0.4 cm and 0.5 cm"


@pytest.mark.parametrize(
    ("query", "why"),
    [
        ("sphere_diameter=3cm&gap=5mm", "no interpolation between diameters"),
        ("sphere_diameter=2cm&gap=0.2mm", "before the first spacing"),
        ("sphere_diameter=2cm&gap=15.9mm", "beyond the last spacing"),
        ("sphere_diameter=2cm&gap=5mm&earthing=symmetrical", "the tables are for one sphere earthed"),
        ("sphere_diameter=2cm&gap=5mm&pressure=85kPa", "density below 0.9"),
        ("sphere_diameter=2cm&gap=5mm&pressure=115kPa", "density above 1.1"),
        ("sphere_diameter=2cm&gap=2mm&waveform=lightning-impulse", "impulse below 10 kV"),
        ("sphere_diameter=2cm&gap=5mm&waveform=pulse-train", "not a waveform of the tables"),
    ],
)
def test_where_no_table_reaches_a_model_answers_and_says_so(ask, query, why):
    method = ask("breakdown", f"{SPHERES}&{query}")["method"]
    assert method["kind"] == "model", why
    # outside a column the criterion is scaled to meet the last or first cell, so that the voltage always rises
    scaled = {
        "beyond the last spacing": "sphere-gap-table-2-continued",
        "before the first spacing": "sphere-gap-table-2-begun",
        "impulse below 10 kV": "sphere-gap-table-3-begun",
    }
    assert method["key"] == scaled.get(why, "streamer-quadratic")


@pytest.mark.parametrize(
    ("diameter", "kilovolt", "spacing"),
    [("10cm", 16.8, 5.0), ("12.5cm", 16.8, 5.0), ("15cm", 16.8, 5.0), ("25cm", 31.7, 10.0), ("200cm", 266.0, 100.0)],
)
def test_the_first_printed_voltage_of_a_column_gives_its_spacing(ask, diameter, kilovolt, spacing):
    # first cells of IEC 60052 Table 2; the criterion alone lies up to 2 % above them and used to answer 4.89 mm
    found = ask("gap", f"{SPHERES}&sphere_diameter={diameter}&voltage={kilovolt}kV")["gaps"]
    assert [one["value"] for one in found] == [pytest.approx(spacing, rel=1e-6)]


@pytest.mark.parametrize(
    ("query", "percent"),
    [
        ("sphere_diameter=2cm&gap=5mm", 3),
        ("sphere_diameter=25cm&gap=12cm", 3),
        ("sphere_diameter=25cm&gap=10cm&waveform=dc", 5),
        ("sphere_diameter=25cm&gap=12cm&waveform=dc", 10),
        ("sphere_diameter=25cm&gap=15cm", 10),
        ("sphere_diameter=25cm&gap=12cm&waveform=lightning-impulse&polarity=positive", 3),
    ],
)
def test_the_band_is_the_stated_accuracy_where_there_is_one(ask, query, percent):
    # 3 % to 0.5 D, direct voltage 5 % to 0.4 D; beyond, no accuracy is stated and the band of 10 % is ours
    found = ask("breakdown", f"{SPHERES}&{query}")
    # above, no spheres hold more than plates do: 17.4 kV at 5 mm and 3 % would be more than a uniform field's 17.6 kV
    plates = ask("breakdown", f"electrodes=uniform-field&gap={found['asked']['gap']['value']}mm")["breakdown_voltage"]
    above = min(1 + percent / 100, plates["high"] / found["breakdown_voltage"]["value"]) - 1
    assert band(found) == pytest.approx((percent / 100, above))
    assert found["method"]["uncertainty_percent"] == percent
    assert any("no accuracy" in note for note in found["notes"]) == (percent == 10)


def test_away_from_the_reference_density_the_band_widens(ask):
    # by 0.2 of the difference: 0.05 times 0.2 is 1 %
    found = ask("breakdown", f"{SPHERES}&sphere_diameter=25cm&gap=8cm&pressure=96.235kPa")
    assert band(found) == pytest.approx((0.04, 0.04), abs=1e-6)


def test_air_too_cold_for_the_default_humidity_is_not_corrected_for_it(ask):
    found = ask("breakdown", f"{SPHERES}&sphere_diameter=25cm&gap=8cm&temperature=0degC&pressure=95kPa")
    assert found["corrections"]["density_and_humidity_factor"] == found["corrections"]["relative_air_density"]
    assert any("no humidity correction" in note for note in found["notes"])


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("sphere_diameter=2cm&gap=5mm", True),
        ("sphere_diameter=12.5cm&gap=5cm", True),
        ("sphere_diameter=25cm&gap=1cm", True),
        ("sphere_diameter=25cm&gap=8cm", False),
    ],
)
def test_irradiation_is_asked_for_below_50_kv_or_with_small_spheres(ask, query, said):
    notes = ask("breakdown", f"{SPHERES}&{query}")["notes"]
    assert any("irradiate" in note for note in notes) is said


def test_every_answer_names_row_source_and_provenance(ask):
    found = ask("breakdown", f"{SPHERES}&sphere_diameter=2cm&gap=5mm")
    method = found["method"]
    assert method["source"]["key"] == "iec-60052"
    assert method["source"]["table"] == "Table 2"
    assert method["row"] == "sphere diameter 2 cm, spacing 0.5 cm"
    assert method["provenance"] == "reproduction+memory"
    between = ask("breakdown", f"{SPHERES}&sphere_diameter=5cm&gap=11mm")["method"]
    assert between["row"] == "sphere diameter 5 cm, spacing 1 cm and 1.2 cm"
    assert between["provenance"].startswith("memory")


def test_the_criterion_stands_beside_the_table_by_three_fits(ask):
    also = ask("breakdown", f"{SPHERES}&sphere_diameter=25cm&gap=8cm")["also"]
    differences = {other["key"]: other.get("difference_percent") for other in also}
    for name in ("streamer-quadratic", "streamer-linear-branch", "streamer-calibrated"):
        assert abs(differences[name]) < 5


@pytest.mark.parametrize("example", ["gap50", "gap51"])
def test_rod_rod_gap_at_direct_voltage(ask, printed, example):
    # 2 + 0.534 d at 11 g/m3: 269 and 536 kV
    asked = printed("iec-60052", example)
    found = ask(
        "breakdown", f"electrodes=rod-gap&gap={asked.inputs['spacing_mm']}mm&waveform=dc&absolute_humidity=11g/m3"
    )
    assert kilovolts(found) == pytest.approx(float(asked.expected), abs=0.5)
    assert band(found) == pytest.approx((0.03, 0.03))


def test_rod_rod_gap_is_corrected_in_full_for_density_and_humidity(ask):
    # the standard's own rule: density times 1 + 0.014 (h/delta - 11); by hand 0.9 times 1 + 0.014 (8.5/0.9 - 11)
    query = "electrodes=rod-gap&gap=500mm&waveform=dc&pressure=91.17kPa"
    expected = 269 * 0.9 * (1 + 0.014 * (8.5 / 0.9 - 11))
    assert kilovolts(ask("breakdown", query)) == pytest.approx(expected, rel=1e-6)


def test_no_sphere_gap_is_answered_left_of_the_paschen_minimum(ask):
    with pytest.raises(OutsideValidity) as refused:
        ask("breakdown", f"{SPHERES}&sphere_diameter=2cm&gap=5mm&pressure=50Pa")
    assert refused.value.faults[0].valid

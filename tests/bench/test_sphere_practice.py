"""Setting up a sphere gap, row by row of the tables of IEC 60052 (from memory) that the reference data hold."""

import numpy as np
import pytest

from service.answers.situation import ATMOSPHERE, WAVEFORM, situation
from service.bench.spheres import Practice, Spheres
from service.parameters import read_question

TABLE_1 = [
    (2.0, 7.0, 9.0, 14.0),
    (6.25, 7.0, 9.0, 14.0),
    (10.0, 6.0, 8.0, 12.0),
    (15.0, 6.0, 8.0, 12.0),
    (25.0, 5.0, 7.0, 10.0),
    (50.0, 4.0, 6.0, 8.0),
    (75.0, 4.0, 6.0, 8.0),
    (100.0, 3.5, 5.0, 7.0),
    (150.0, 3.0, 4.0, 6.0),
    (200.0, 3.0, 4.0, 6.0),
]
"""Diameter in cm; least and most height over diameter, least clearance over spacing: IEC 60052 Table 1."""


@pytest.fixture(scope="module")
def practice(registry):
    return Practice.of(registry.reference)


def around(registry, waveform="ac"):
    question = read_question("sphere-gaps", (*ATMOSPHERE, *WAVEFORM), [("waveform", waveform)])
    return situation(question, registry, "uniform-field").case


@pytest.mark.parametrize(("size", "low", "high", "clearance"), TABLE_1)
def test_height_and_clearance_are_those_of_table_one(practice, size, low, high, clearance):
    height = practice.earth_height(size / 100)
    assert (height.low, height.high) == (pytest.approx(low * size / 100), pytest.approx(high * size / 100))
    assert practice.side_clearance(size / 100, 0.01).value == pytest.approx(clearance / 100)


@pytest.mark.parametrize("size", [0.07, 0.20, 0.60, 3.0])
def test_between_and_beyond_the_rows_nothing_is_invented(practice, size):
    assert practice.earth_height(size) is None
    assert practice.side_clearance(size, 0.01) is None


def test_the_resistor_follows_the_waveform(practice):
    assert practice.series_resistor("dc").block() == {"value": None, "low": 0.1, "high": 1.0, "unit": "Mohm"}
    assert practice.series_resistor("lightning-impulse").block() == {"value": None, "high": 5e-4, "unit": "Mohm"}


def test_the_standard_diameters_are_those_of_table_two(practice):
    sizes = [round(100 * size, 3) for size in practice.diameters]
    assert sizes == [2.0, 5.0, 6.25, 10.0, 12.5, 15.0, 25.0, 50.0, 75.0, 100.0, 150.0, 200.0]


@pytest.mark.parametrize("size", [2.0, 5.0, 10.0, 25.0, 100.0])
def test_every_cell_of_a_column_is_found_again(registry, size):
    column = registry.reference.table("iec-60052-table-2").where(sphere_diameter=size / 100)
    inside = column["spacing"] <= 0.5 * size / 100 * (1 + 1e-9)
    spheres = Spheres.of(registry, around(registry), size / 100)
    found = spheres.settings_for(column["voltage"][inside].tolist(), tables_only=True)
    np.testing.assert_allclose([setting.spacing for setting in found], column["spacing"][inside], rtol=1e-9)
    assert all(setting.within_limits for setting in found)


@pytest.mark.parametrize(("waveform", "share"), [("ac", 0.5), ("dc", 0.4), ("lightning-impulse", 0.5)])
def test_what_is_covered_ends_at_the_largest_spacing(registry, waveform, share):
    spheres = Spheres.of(registry, around(registry, waveform), 0.05)
    low, high = spheres.covered
    assert spheres.at(share * 0.05).value == pytest.approx(high)
    assert low == pytest.approx(10e3 if waveform == "lightning-impulse" else 8e3, rel=0.08)
    above, below = spheres.at(share * 0.05 * 1.01), spheres.at(share * 0.05 * 0.99)
    assert not above.within_limits
    assert below.within_limits


def test_spheres_without_a_table_cover_nothing(registry):
    assert Spheres.of(registry, around(registry), 0.03).covered is None
    assert Spheres.of(registry, around(registry), 0.05, "symmetrical").covered is None


def test_table_and_criterion_agree_within_their_bands_where_both_answer(registry):
    for size in (0.02, 0.10, 0.25):
        spheres = Spheres.of(registry, around(registry), size)
        for share in (0.1, 0.25, 0.5):
            setting = spheres.at(share * size, every=True)
            others = [one for one in setting.evaluation.others() if one.method.key == "streamer-quadratic"]
            assert others[0].estimate.value[0] == pytest.approx(setting.value, rel=0.05)

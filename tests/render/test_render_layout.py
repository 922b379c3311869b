"""Widths of text, broken lines, shared widths, and numbers for reading."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.render.canvas import Canvas, Text, measure
from service.render.labels import spread
from service.render.layout import fit, text_width, wrap
from service.render.plots import Scale, scale, ticks
from service.render.records import number, quantity_text
from service.spoken import bracket, estimate

HELVETICA = {
    " ": 278,
    "0": 556,
    "a": 556,
    "i": 222,
    "m": 833,
    "A": 667,
    "W": 944,
    ".": 278,
    "(": 333,
    "V": 667,
    "k": 500,
}
"""Advance widths in thousandths: Adobe, Font Metrics for the Adobe Type 1 core fonts, Helvetica; from memory."""

HELVETICA_BOLD = {" ": 278, "0": 556, "a": 556, "i": 278, "m": 889, "A": 722, "W": 944, ".": 278, "(": 333, "V": 667}
"""The same source, Helvetica-Bold; from memory."""


@pytest.mark.parametrize(("character", "thousandths"), HELVETICA.items())
def test_the_shipped_face_is_as_wide_as_the_faces_named_beside_it(character, thousandths):
    assert text_width(character, 1000) == pytest.approx(thousandths, abs=1)


@pytest.mark.parametrize(("character", "thousandths"), HELVETICA_BOLD.items())
def test_the_bold_face_too(character, thousandths):
    assert text_width(character, 1000, bold=True) == pytest.approx(thousandths, abs=1)


@given(st.text(alphabet="abc /-_", max_size=60), st.integers(4, 30))
def test_broken_lines_fit_and_lose_nothing(text, room):
    lines = wrap(text, room)
    assert all(len(line) <= room for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())


@given(st.text(alphabet="iWm .", min_size=1, max_size=60), st.floats(30, 300))
def test_measured_lines_fit(text, room):
    assert all(text_width(line, 12) <= room + 1e-9 for line in wrap(text, room, measure(12)))


def test_a_number_is_not_parted_from_its_unit():
    assert wrap("pressure of 101.3 kPa", 18) == ["pressure of", "101.3 kPa"]
    assert wrap("temperature 20 °C.", 14) == ["temperature", "20 °C."]


@given(st.lists(st.lists(st.text(alphabet="ab ", max_size=30), min_size=1, max_size=4), min_size=1, max_size=6))
def test_columns_share_the_width_or_do_not_fit(columns):
    widths = fit(columns, 60, 2)
    if widths is not None:
        assert sum(widths) + 2 * (len(widths) - 1) <= 60 + 1e-6
        for column, room in zip(columns, widths, strict=True):
            assert all(len(word) <= room + 1e-6 for cell in column for word in cell.split(" "))


@given(st.lists(st.floats(0, 100), min_size=1, max_size=9))
def test_labels_beside_each_other_do_not_overlap(wanted):
    found = sorted(spread(wanted, [10.0] * len(wanted), 0.0, 100.0))
    assert all(second - first >= 10 - 1e-6 for first, second in pairwise(found))
    assert found[0] >= 5 - 1e-6
    assert found[-1] <= 95 + 1e-6


@settings(max_examples=200)
@given(st.floats(1e-30, 1e30))
def test_a_number_for_reading_is_right_to_four_digits(value):
    text = number(value)
    assert float(text) == pytest.approx(value, rel=5.001e-4)
    assert len(text.split("e")[0].replace(".", "").strip("0")) <= 4


@given(st.floats(0.01, 1e5), st.floats(0.001, 0.5))
def test_an_estimate_keeps_its_band_apart_from_its_value(value, part):
    middle, low, high = estimate(value, value * (1 - part), value * (1 + part))
    assert float(low) <= float(middle) <= float(high)
    assert {len(text.partition(".")[2]) for text in (middle, low, high)} == {len(middle.partition(".")[2])}
    if part > 0.01:
        assert float(low) < float(middle) < float(high)


@given(st.floats(1e-3, 1e5), st.floats(1.0, 1e3))
def test_a_bracket_keeps_two_digits_of_its_low_end(low, ratio):
    first, last = bracket(low, low * ratio)
    assert low * 0.899 <= float(first) <= low * (1 + 1e-9) or first == last  # rounded away from each other
    assert low * ratio * (1 - 1e-9) <= float(last) <= low * ratio * 1.101 or first == last


@pytest.mark.parametrize(
    ("quantity", "text"),
    [
        ({"value": 8.0, "unit": "mm"}, "8 mm"),
        ({"value": 20.0, "unit": "degC"}, "20 °C"),
        ({"value": 0.5, "unit": "Pa_m"}, "0.5 Pa·m"),
        ({"value": 12.0, "unit": "kV", "measure": "rms"}, "12 kV rms"),
        ({"value": 12.0, "unit": "kV", "measure": "unknown"}, "12 kV, measure unknown"),
        ({"value": None, "high": 25.79, "unit": "kV", "measure": "peak"}, "at most 25.8 kV peak, no single value"),
        ({"value": None, "low": 9.0, "unit": "kV"}, "at least 9 kV, no single value"),
        ({"low": 3.1, "high": 4.25, "unit": "mm"}, "3.1 to 4.3 mm"),
        ({"value": 5.0, "low": 4.0, "unit": "mm"}, "5 mm (at least 4)"),
        ({"value": 5.0, "high": 6.0, "unit": "mm"}, "5 mm (at most 6)"),
        ({"value": 3, "low": 3, "high": 3, "unit": "mm"}, "3 mm"),
        ({"value": None, "unit": "mm"}, "–"),
        ({"value": -0.0, "unit": "mm"}, "0 mm"),
        ({"value": None, "low": 4.6, "high": 4.8}, "4.60 to 4.80, no single value"),
    ],
)
def test_a_quantity_reads_well(quantity, text):
    assert quantity_text(quantity) == text


@given(st.floats(1e-12, 1e12), st.floats(1.0001, 1e12), st.booleans())
def test_every_scale_holds_its_numbers_and_has_labels(low, ratio, logarithmic):
    on = scale([low, low * ratio], 0.0, 100.0, logarithmic=logarithmic)
    places = [on.place(low), on.place(low * ratio)]
    assert 0 <= places[0] < places[1] <= 100
    found = [tick for tick in ticks(on) if tick.runs]
    assert len(found) >= 2
    assert all(-1e-6 <= on.place(tick.value) <= 100 + 1e-6 for tick in found)
    assert all("e" not in run.text for tick in found for run in tick.runs) or not logarithmic


def test_decades_are_ticked_between_their_labels():
    values = [tick.value for tick in ticks(Scale(1.0, 1000.0, 0.0, 1.0, True))]
    assert values[:10] == pytest.approx([1, 2, 3, 4, 5, 6, 7, 8, 9, 10])
    assert math.isclose(values[-1], 1000)


def test_a_bold_head_runs_into_its_paragraph():
    canvas = Canvas(200, 10)
    canvas.headed("Cautions:", "Never let this distance be the only thing between a person and a live part.", 12)
    lines = [item for item in canvas.items if isinstance(item, Text)]
    assert lines[0].runs[0].bold
    assert not lines[1].runs[0].bold
    assert lines[0].y == lines[1].y
    assert lines[0].pinned
    assert all(line.left + line.width <= 190 for line in lines)
    assert " ".join(line.plain for line in lines).startswith("Cautions: Never let this distance")


@given(st.floats(-1e9, 1e9), st.floats(1e-6, 1e9))
def test_equal_steps_have_labels_that_differ(low, distance):
    on = scale([low, low + distance], 0.0, 100.0, logarithmic=False)
    labels = ["".join(run.text for run in tick.runs) for tick in ticks(on)]
    assert len(set(labels)) == len(labels) >= 2


def test_narrow_steps_keep_their_digits():
    labels = [tick.runs[0].text for tick in ticks(Scale(1000.0, 1000.6, 0.0, 1.0, False))]
    assert labels == ["1000", "1000.1", "1000.2", "1000.3", "1000.4", "1000.5", "1000.6"]

"""CSV: units in the header, one row per element, every digit, nothing that a spreadsheet runs."""

from __future__ import annotations

import csv
import io

import numpy as np
import pytest

from service.render.comma_separated import csv_bytes
from service.render.formats import FORMATS
from service.render.page import Page

from .hostile import TEXTS, pages
from .samples import SAMPLES, length


def raw(page: Page) -> str:
    return FORMATS["csv"].render(page).decode("utf-8")


def rows(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(raw(SAMPLES[name]()), newline=""), strict=True))


def test_every_line_ends_as_rfc_4180_says(name):
    text = raw(SAMPLES[name]())
    assert text.endswith("\r\n")
    assert text.count("\n") == text.count("\r\n")


def test_every_row_is_as_long_as_the_header_and_no_column_has_two_meanings(name):
    table = list(csv.reader(io.StringIO(raw(SAMPLES[name]()), newline=""), strict=True))
    assert {len(row) for row in table} == {len(table[0])}
    assert len(set(table[0])) == len(table[0])


def test_a_quantity_has_columns_with_its_unit():
    (row,) = rows("breakdown")
    assert row["breakdown_voltage_kV"] == "25.79"
    assert (row["breakdown_voltage_low_kV"], row["breakdown_voltage_high_kV"]) == ("25.0", "26.6")
    assert row["mean_field_kV_per_mm"] == "3.22375"
    assert (row["asked_gap_mm"], row["asked_electrodes"]) == ("8.0", "uniform-field")
    assert (row["method"], row["method_provenance"]) == ("uniform-air", "memory")
    assert row["cautions"] == "estimate; not-a-barrier"
    assert row["data_version"] == "2026.11+3f9c2a1b"


def test_a_bracket_leaves_its_value_empty():
    (row,) = rows("unknown")
    assert [row[f"breakdown_voltage{end}_kV"] for end in ("", "_low", "_high")] == ["", "9.03", "25.79"]


def test_a_list_gives_one_row_per_element():
    assert [row["branch"] for row in rows("gap")] == ["left", "right"]
    assert [row["holds_above_mm"] for row in rows("gap")] == ["", "3.489"]
    assert [row["gap_mm"] for row in rows("gap")] == ["0.0123", "3.367"]


def test_an_empty_list_still_gives_what_stands_beside_it():
    (row,) = rows("no-gap")
    assert row["smallest_breakdown_voltage_kV"] == "0.327"


def test_lists_within_a_list_are_spread():
    assert [(row["measure"], row["gaps_mm"], row["gaps_branch"]) for row in rows("readings")] == [
        ("peak", "3.367", "right"),
        ("rms", "4.98", "right"),
    ]


def test_several_lists_are_told_apart():
    assert [row["list"] for row in rows("hazard")] == ["limits"] * 3 + ["discharge_times"] * 2
    assert [row["exceeded"] for row in rows("hazard")[:3]] == ["true", "true", ""]


def test_the_answer_is_not_hidden_by_a_column_of_its_list():
    found = rows("clearance")
    assert [row["clearance_mm"] for row in found] == ["5.5", "20.4"]
    assert {row["answer_clearance_mm"] for row in found} == {"20.4"}
    assert [row["provenance"] for row in found] == ["memory", "reproduction"]


def test_a_curve_gives_one_row_per_point_with_every_digit():
    found = rows("paschen")
    values = SAMPLES["paschen"]().document["curve"]["voltage"]["values"]
    assert [float(row["voltage_V"]) for row in found] == values.tolist()


def test_several_curves_stand_below_each_other():
    found = rows("gap-curves")
    assert len(found) == 320
    assert {row["electrodes"] for row in found} == {"uniform-field", "sphere-gap"}
    assert found[-1]["breakdown_voltage_kV"] == ""


def test_a_batch_has_a_row_per_point():
    document = {
        "count": 2,
        "columns": {"breakdown_voltage": {"unit": "kV", "measure": "peak", "values": [4.5, None], "low": [4.4, None]}},
        "method": ["uniform-air", None],
        "status": ["ok", "outside-validity"],
    }
    found = list(csv.DictReader(io.StringIO(raw(Page(document, "Batch")), newline="")))
    assert [row["breakdown_voltage_kV"] for row in found] == ["4.5", ""]
    assert [row["breakdown_voltage_low_kV"] for row in found] == ["4.4", ""]  # the end that keeps apart
    assert "breakdown_voltage_high_kV" not in found[0]
    document["columns"]["breakdown_voltage"]["high"] = [4.6, None]
    banded = csv.DictReader(io.StringIO(raw(Page(document, "Batch")), newline=""))
    assert [row["breakdown_voltage_high_kV"] for row in banded] == ["4.6", ""]
    assert [row["status"] for row in found] == ["ok", "outside-validity"]
    assert [row["method"] for row in found] == ["uniform-air", ""]


@pytest.mark.parametrize("text", TEXTS)
def test_no_text_cell_begins_as_a_formula(text):
    for page in pages(text):
        for row in csv.reader(io.StringIO(raw(page), newline=""), strict=True):
            for cell in row:
                assert cell == "-" or not cell.startswith(("=", "+", "-", "@"))


def test_a_negative_number_stays_a_number():
    page = Page({"lookup": "x", "change": length(-0.5), "part": "-7", "count": np.int64(3)}, "x")
    assert raw(page) == "change_mm,part,count\r\n-0.5,-7,3\r\n"


def test_commas_quotes_and_line_breaks_are_quoted():
    assert csv_bytes(["a", "b"], [['say "x", y', "two\nlines"]]) == b'a,b\r\n"say ""x"", y",two lines\r\n'

"""Plain text for a terminal."""

from __future__ import annotations

import pytest

from service.render.formats import FORMATS
from service.render.records import series_records

from .hostile import TEXTS, pages
from .samples import SAMPLES


def text(name: str) -> str:
    return FORMATS["txt"].render(SAMPLES[name]()).decode("ascii")


def test_no_line_is_longer_than_eighty_characters(name):
    assert max(map(len, text(name).splitlines())) <= 80


def test_no_line_ends_in_a_space(name):
    assert [line for line in text(name).splitlines() if line != line.rstrip()] == []


@pytest.mark.parametrize("hostile", TEXTS)
def test_hostile_text_keeps_to_ascii_and_eighty_characters(hostile):
    for page in pages(hostile):
        assert max(map(len, FORMATS["txt"].render(page).decode("ascii").splitlines())) <= 80


def test_what_was_assumed_stands_before_the_answer():
    """A default that nobody said must not be found after the number."""
    lines = text("breakdown").splitlines()
    assumed = next(number for number, line in enumerate(lines) if line.startswith("  Assumed, not said"))
    assert lines.index("Because") < assumed < lines.index("Answer") < lines.index("Asked")


def test_cautions_that_come_first_stay_first():
    lines = text("switch-on-sheet").splitlines()
    assert lines.index("Cautions") < lines.index("Because") < lines.index("Answer")


def test_an_estimate_is_read_with_its_band():
    assert "25.8 kV peak (25.0 to 26.6)" in text("breakdown")


def test_a_bracket_has_no_single_value():
    assert "9.0 to 26 kV peak, no single value" in text("unknown")


def test_an_empty_list_is_said_to_be_empty():
    assert "Gaps                        none" in text("no-gap")


def test_source_provenance_uncertainty_and_versions_are_there():
    whole = " ".join(text("breakdown").split())
    for part in ("High Voltage Engineering", "eq. 5.81", "from memory", "+/- 3 %", "data 2026.11+3f9c2a1b"):
        assert part in whole


def test_a_curve_says_how_many_of_its_points_are_shown():
    assert "24 of 200 points" in text("paschen")


def test_an_input_that_is_missing_leaves_a_dash():
    assert " -" in text("hazard")


def test_no_forbidden_word_is_added_by_the_renderer(name):
    words = set(text(name).lower().replace(",", " ").replace(".", " ").split())
    assert not words & {"safe", "harmless", "ok", "pass", "rated", "withstands", "complies"}


def test_a_list_over_two_quantities_is_a_card_to_be_read_off():
    lines = [" ".join(line.split()) for line in text("spacing-card").splitlines()]
    head = lines.index("Voltage 20 mm 50 mm 100 mm")
    assert lines[head + 2] == "10 kV peak 2.66 2.64 2.64"
    assert lines[head + 4].startswith("20 kV peak 5.39 5.32")
    assert lines[head + 5].startswith("30 kV peak - 8.01")


def test_what_a_published_table_does_not_cover_is_marked():
    wide = SAMPLES["spacing-card"]()
    wide.document["settings"][0]["within_limits"] = False
    shown = FORMATS["txt"].render(wide).decode()
    assert "2.66 *" in shown
    assert "* outside the limits of the published tables." in shown


def test_what_all_answered_rows_say_is_said_once():
    shown = " ".join(text("spacing-card").split())
    assert shown.count("sparkovers 10; interval (s) 30") == 1
    assert "All rows that are answered:" in shown


def test_long_columns_stand_under_their_row():
    shown = text("spacing-card")
    assert "        read at sphere diameter 2 cm, spacing 0.2 cm and the next" in shown
    assert shown.count("why not No method gives a spacing of these spheres for this.") == 1


def test_rows_of_a_curve_carry_both_ends_of_their_band():
    volts = {"unit": "kV", "measure": "peak", "values": [4.5, 8.0], "low": [4.4, 7.8], "high": [4.6, None]}
    first, last = series_records({"gap": {"unit": "mm", "values": [1.0, 2.0]}, "breakdown_voltage": volts})
    assert first["breakdown_voltage"] == {"value": 4.5, "low": 4.4, "high": 4.6, "unit": "kV", "measure": "peak"}
    assert last["breakdown_voltage"] == {"value": 8.0, "low": 7.8, "unit": "kV", "measure": "peak"}
    assert (first["gap"]["value"], last["gap"]["value"]) == (1.0, 2.0)

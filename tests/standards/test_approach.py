"""Approach: Table S-5 of 29 CFR 1910.333 and NFPA 70E of 2009 and 2012 (reproduced), R-6 and R-7 (memory)."""

import pytest

from service.errors import BadQuestion, OutsideValidity
from service.lookups import approach


def entries(ask, query):
    return ask(approach, query)["distances"]


def millimetres(entry):
    return entry["distance"]["value"]


def test_unqualified_people_stay_ten_feet_away(ask):
    found = entries(ask, "nominal_voltage=13.8kV&supply=ac")
    assert millimetres(found[0]) == pytest.approx(3048)
    assert found[0]["regulation"] == "29 CFR 1910.333(c)(3)(i)"
    assert {entry["person"] for entry in found} == {"unqualified"}


@pytest.mark.parametrize(("kilovolts", "steps"), [(50, 0), (50.1, 1), (60, 1), (60.1, 2), (138, 9)])
def test_four_inches_more_for_each_started_ten_kilovolts(ask, kilovolts, steps):
    found = entries(ask, f"nominal_voltage={kilovolts}kV&supply=ac")
    line = next(entry for entry in found if entry["regulation"].endswith("(i)"))
    assert millimetres(line) == pytest.approx(3048 + steps * 101.6)


def test_qualified_people_have_sixty_one_centimetres_in_table_s_5(ask):
    found = entries(ask, "nominal_voltage=13.8kV&supply=ac&person=qualified")
    line = next(entry for entry in found if "Table S-5" in entry["regulation"])
    assert millimetres(line) == pytest.approx(610)
    assert line["row"] == ">2000-15000 V"
    assert found[0]["person"] == "unqualified"


@pytest.mark.parametrize("voltage", ["240V", "480V", "12kV", "35kV", "138kV"])
def test_the_largest_distance_stands_first_and_texts_last(ask, voltage):
    found = entries(ask, f"nominal_voltage={voltage}&supply=ac&person=qualified")
    with_distance = [millimetres(entry) for entry in found if "distance" in entry]
    assert with_distance == sorted(with_distance, reverse=True)
    assert ["distance" in entry for entry in found] == sorted(["distance" in entry for entry in found], reverse=True)


def test_avoid_contact_is_a_text_and_not_a_zero(ask):
    answer = ask(approach, "nominal_voltage=240V&supply=ac&person=qualified")
    texts = [entry["text"] for entry in answer["distances"] if "text" in entry]
    assert set(texts) == {"avoid contact"}
    assert any("not distances of zero" in note for note in answer["notes"])


@pytest.mark.parametrize(
    ("voltage", "supply", "boundary", "printed"),
    [
        ("480V", "ac", "restricted approach boundary", "1 ft 0 in"),
        ("13.8kV", "ac", "limited approach boundary, exposed fixed circuit part", "5 ft 0 in"),
        ("750.5V", "ac", "restricted approach boundary", "2 ft 2 in"),
        ("130kV", "ac", "restricted approach boundary", "3 ft 10 in"),
        ("900V", "dc", "restricted approach boundary", "1 ft 0 in"),
        ("12kV", "dc", "restricted approach boundary", "2 ft 2 in"),
    ],
)
def test_boundaries_as_printed_and_between_rows_the_next_one(ask, voltage, supply, boundary, printed):
    found = entries(ask, f"nominal_voltage={voltage}&supply={supply}&person=qualified")
    assert next(entry for entry in found if entry["boundary"] == boundary)["printed"] == printed


@pytest.mark.parametrize(("voltage", "first"), [("49V", "not specified"), ("50V", None)])
def test_below_its_first_voltage_the_boundary_table_specifies_nothing(ask, voltage, first):
    found = [entry for entry in entries(ask, f"nominal_voltage={voltage}&supply=ac") if "NFPA" in entry["regulation"]]
    assert found[0].get("text") == first


def test_direct_voltage_has_no_row_of_the_alternating_tables(ask):
    answer = ask(approach, "nominal_voltage=12kV&supply=dc&person=qualified")
    assert not any("Table" in entry["regulation"] for entry in answer["distances"])
    assert answer["asked"]["nominal_voltage"]["measure"] == "direct"


def test_altitude_factors_are_named_for_the_minimum_distances(ask):
    notes = ask(approach, "nominal_voltage=13.8kV&supply=ac&person=qualified")["notes"]
    assert any("Table R-5" in note and "1.44" in note for note in notes)


def test_it_says_first_that_it_gives_no_permission_and_what_it_is_not_for(ask):
    answer = ask(approach, "nominal_voltage=13.8kV")
    assert list(answer)[:2] == ["lookup", "cautions"]
    assert answer["cautions"][0]["key"] == "rules-first"
    assert any("bench" in text.lower() for text in answer["not_for"])
    assert "supply" in answer["asked"]["assumed"]
    assert "person" in answer["asked"]["assumed"]


def test_single_values_are_not_offered(registry):
    assert not approach.lookup(registry).single_values


def test_above_every_table_nothing_is_said(ask):
    with pytest.raises(OutsideValidity):
        ask(approach, "nominal_voltage=801kV&supply=ac")
    with pytest.raises(BadQuestion):
        ask(approach, "supply=ac")

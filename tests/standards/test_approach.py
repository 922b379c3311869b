"""Approach: Table S-5 of 29 CFR 1910.333, NFPA 70E of 2009 and 2012 (reproduced), later (memory), R-6, R-7 (memory)."""

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


def restricted(ask, query):
    found = entries(ask, f"{query}&person=qualified")
    return next(entry for entry in found if entry["boundary"] == "restricted approach boundary")


def test_editions_are_offered_newest_first(registry):
    """A year that is no number stood among them, and left them in the order of a set: another one in every process."""
    offered = next(one for one in approach.lookup(registry).parameters if one.name == "edition").choices[1:]
    assert list(offered) == sorted(offered, reverse=True)
    assert len(offered) > 3


def test_trap_a7_the_newest_edition_is_asked_by_default(ask):
    # NFPA 70E from 2015 (memory, and a course on 130.4): 50 to 150 V avoid contact, 151 to 750 V 1 ft
    new, old = (restricted(ask, f"nominal_voltage=208V&supply=ac{more}") for more in ("", "&edition=2012"))
    assert (new["printed"], new["edition"]) == ("1 ft 0 in", "2015 and later")
    assert (old["text"], old["edition"]) == ("avoid contact", "2009 and 2012")
    assert restricted(ask, "nominal_voltage=120V&supply=ac")["text"] == "avoid contact"


def test_trap_a7_direct_voltage_begins_at_fifty_volts_from_2018(ask):
    # from 2018 (memory, high): 50 to 300 V: 10 ft, 3 ft 6 in, avoid contact
    found = [
        one for one in entries(ask, "nominal_voltage=60V&supply=dc&person=qualified") if "NFPA" in one["regulation"]
    ]
    assert [one.get("printed", one.get("text")) for one in found] == ["10 ft 0 in", "3 ft 6 in", "avoid contact"]
    older = [one for one in entries(ask, "nominal_voltage=60V&supply=dc&edition=2015") if "NFPA" in one["regulation"]]
    assert {one["text"] for one in older} == {"not specified"}


def test_the_prohibited_boundary_is_there_in_the_editions_that_had_it(ask):
    def names(more):
        return [one["boundary"] for one in entries(ask, f"nominal_voltage=13.8kV&person=qualified{more}")]

    assert not any("prohibited" in name for name in names(""))
    assert any("prohibited" in name for name in names("&edition=2012"))


def test_every_row_has_its_edition(ask):
    for query in ("nominal_voltage=13.8kV&person=qualified", "nominal_voltage=12kV&supply=dc&person=qualified"):
        assert all(entry["edition"] for entry in entries(ask, query))


def test_a_year_without_rows_of_a_rule_is_told(ask):
    # the dc boundaries came with the edition of 2012
    notes = ask(approach, "nominal_voltage=12kV&supply=dc&edition=2009")["notes"]
    assert any("no rows of that year" in note for note in notes)


def test_the_last_row_of_the_newest_boundaries_is_765_to_800_kilovolts(ask):
    # memory: 7.2 m and 4.9 m
    assert millimetres(restricted(ask, "nominal_voltage=790kV&supply=ac")) == pytest.approx(4900, abs=60)

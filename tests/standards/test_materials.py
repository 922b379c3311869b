"""The catalogue of materials: figures with method, thickness and provenance; nothing averaged; names never guessed."""

import pytest

from service.errors import BadQuestion, UnknownName
from service.standards import materials


@pytest.fixture(scope="module")
def listed(registry):
    return {entry["key"]: entry for entry in materials.catalogue(registry)}


def test_the_plain_laminate_has_a_tracking_index_of_one_hundred_and_seventy_five(listed):
    entry = listed["fr-4"]
    assert entry["tracking_index"][0]["value"] == 175
    assert entry["material_group"] == "IIIa"
    assert "fr-4-cti-600" in listed


def test_every_row_of_the_table_is_shown_once(registry, listed):
    names = [name for name, _ in materials.PROPERTIES.values()]
    shown = sum(len(entry.get(name, ())) for entry in listed.values() for name in names)
    assert shown == len(registry.reference.table("materials"))
    assert all(figure["provenance"] for e in listed.values() for name in names for figure in e.get(name, ()))


def test_sources_that_disagree_are_both_shown(listed):
    # Tinius Olsen 19.7 kV/mm against 40 kV/mm of a second source
    assert [figure["value"] for figure in listed["polyethylene"]["strength"]] == [19.7, 40.0]
    assert "none is averaged" in listed["polyethylene"]["disagreement"][0]
    assert "disagreement" not in listed["ptfe"]


def test_what_is_not_published_is_said_to_be_so(listed):
    assert listed["pla"]["tracking_index"][0]["published"] is False
    assert listed["pla"]["strength"][0]["doubtful"] is True


def test_a_range_is_a_bracket(listed):
    assert listed["cem-1"]["tracking_index"][0]["value"] is None
    assert (listed["cem-1"]["tracking_index"][0]["low"], listed["cem-1"]["tracking_index"][0]["high"]) == (175, 600)


@pytest.mark.parametrize("name", ["phenolic", "FR4", "pa", "FR-4"])
def test_an_ambiguous_name_is_refused_with_the_list(registry, name):
    with pytest.raises(BadQuestion) as error:
        materials.material_of(registry, name)
    assert len(error.value.faults[0].accepted) > 1


@pytest.mark.parametrize(("name", "key"), [("Kapton HN", "polyimide-film"), ("PTFE", "ptfe"), ("epoxi", "epoxy")])
def test_another_spelling_is_refused_with_the_key(registry, name, key):
    with pytest.raises(UnknownName, match=key):
        materials.material_of(registry, name)


@pytest.mark.parametrize(("key", "group"), [("polyamide", "IIIa"), ("pbt", "IIIa"), ("abs", "IIIa"), ("cem-1", "IIIa")])
def test_the_group_of_a_material_is_that_of_its_weakest_grade(listed, key, group):
    assert listed[key]["material_group"] == group


def test_a_material_that_does_not_track_has_no_group_without_a_figure(listed):
    assert "material_group" not in listed["porcelain"]
    assert listed["porcelain"]["tracking_index"][0]["method"] == "not tracking"


def test_a_range_is_told_from_its_low_end_to_its_high_one(listed):
    names = [name for name, _ in materials.PROPERTIES.values()]
    figures = [
        figure for entry in listed.values() for name in names for figure in entry.get(name, ()) if "low" in figure
    ]
    assert figures
    assert all(figure["value"] is None and figure["low"] < figure["high"] for figure in figures)


def test_figures_disagree_where_they_exclude_each_other_and_ranges_that_meet_do_not(listed):
    for entry in listed.values():
        told = " ".join(entry.get("disagreement", []))
        for name, _ in materials.PROPERTIES.values():
            known = [one for one in entry.get(name, ()) if one.get("published", True)]
            low = max((one.get("low", one["value"]) for one in known), default=0)
            high = min((one.get("high", one["value"]) for one in known), default=0)
            assert (f"{name.replace('_', ' ')}: the published" in told) == (high < low), (entry["key"], name)

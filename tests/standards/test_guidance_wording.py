"""Every guidance answer: forbidden words, sources and provenance, cautions, what was assumed."""

import re

import pytest

from service.lookups import approach, barrier, clearance, conductor_spacing, creepage, hazard, insulation_stress

FORBIDDEN = re.compile(
    r"\b(safe|safely|harmless|ok|pass|passes|may approach|may touch|rated|withstands|complies)\b", re.I
)
"""The words of the cautions' list; `safe distance` holds the first."""
PRINTED = {"title", "citation", "method"}
"""Fields that repeat printed titles: exempt."""
PLACE = "pollution_degree=2&insulation=basic"
QUESTIONS = (
    (clearance, f"system_voltage=230V&overvoltage_category=III&{PLACE}"),
    (clearance, f"impulse_voltage=5kV&{PLACE}&altitude=3500m&field=homogeneous"),
    (clearance, f"recurring_peak_voltage=12kV&{PLACE}"),
    (clearance, "recurring_peak_voltage=1kV&pollution_degree=1&insulation=reinforced&frequency=100kHz"),
    (creepage, f"working_voltage=250V&{PLACE}"),
    (creepage, f"working_voltage=12kV&{PLACE}&waveform=dc&material=pla"),
    (creepage, "working_voltage=800V&pollution_degree=3&insulation=basic&ribbed=true&cti=175"),
    (creepage, f"working_voltage=90kV&{PLACE}&site_class=d"),
    (creepage, f"working_voltage=300V&{PLACE}&waveform=pulse-train&peak_voltage=900V&frequency=100kHz"),
    (conductor_spacing, "voltage=600V&place=external-uncoated"),
    (conductor_spacing, "voltage=1kV&place=lead-uncoated&altitude=4000m"),
    (barrier, f"system_voltage=230V&overvoltage_category=II&working_voltage=250V&{PLACE}"),
    (barrier, "recurring_peak_voltage=13kV&working_voltage=12kV&waveform=dc&pollution_degree=3&insulation=basic"),
    (barrier, f"working_voltage=1kV&{PLACE}&protection=type-2&material=fr-4&solid_thickness=1mm&altitude=3000m"),
    (barrier, f"impulse_voltage=4kV&working_voltage=400V&frequency=100kHz&{PLACE}&protection=type-1"),
    (barrier, f"system_voltage=600V&overvoltage_category=III&supply=dc&{PLACE}&protection=cemented-joint"),
    (conductor_spacing, "voltage=12kV&place=internal"),
    (insulation_stress, "voltage=12kV&thickness=1.6mm&material=fr-4&air_film=0.1mm"),
    (insulation_stress, "voltage=12kV&thickness=1mm&permittivity=2.3&conductor_diameter=1mm"),
    (approach, "nominal_voltage=13.8kV"),
    (approach, "nominal_voltage=230V&person=qualified"),
    (approach, "nominal_voltage=12kV&supply=dc&person=qualified"),
    (hazard, "voltage=12kV&capacitance=4.4nF&bleed_resistance=200Mohm&stick_resistance=10kohm&available_current=2mA"),
    (hazard, "voltage=12kV"),
    (hazard, "voltage=12kV&capacitance=4.4nF&available_current=2mA&everything=true"),
    (hazard, "available_current=5mA&frequency=150kHz"),
)


def names(value):
    return f"{value[0].__name__.split('.')[-1]}: {value[1][:50]}"


@pytest.fixture(params=QUESTIONS, ids=names)
def document(request, ask):
    module, query = request.param
    return ask(module, query)


def texts(value, field=""):
    if isinstance(value, dict):
        for name, part in value.items():
            yield from texts(part, name)
    elif isinstance(value, list | tuple):
        for part in value:
            yield from texts(part, field)
    elif isinstance(value, str) and field not in PRINTED:
        yield value


def blocks(value):
    if isinstance(value, dict):
        yield value
        for part in value.values():
            yield from blocks(part)
    elif isinstance(value, list | tuple):
        for part in value:
            yield from blocks(part)


def test_no_forbidden_word_stands_in_an_answer(document):
    assert [text for text in texts(document) if FORBIDDEN.search(text)] == []


def test_no_forbidden_word_stands_in_what_describes_a_lookup(registry):
    for module in {module for module, _ in QUESTIONS}:
        lookup = module.lookup(registry)
        words = [lookup.title, lookup.summary, *lookup.results.values(), *(p.meaning for p in lookup.parameters)]
        assert [text for text in words if FORBIDDEN.search(text)] == []


def test_no_field_of_an_answer_is_null_but_the_value_of_a_bracket(document):
    for block in blocks(document):
        nulls = {name for name, part in block.items() if part is None}
        assert nulls <= {"value"}
        assert "value" not in nulls or {"low", "high"} & set(block)


def test_every_row_that_was_used_names_source_and_provenance(document):
    names = ("requirements", "distances", "limits", "current_bands", "ignition", "voltages")
    lists = [block[name] for block in blocks(document) for name in names if name in block]
    for row in [row for rows in lists for row in rows]:
        assert row["source"]["key"], row
        assert re.search(r"memory|reproduction|computed|printed", row["provenance"]), row


def test_every_guidance_answer_says_that_local_codes_decide(document):
    assert "local-codes" in [caution["key"] for caution in document["cautions"]]


def test_everything_assumed_is_shown(document):
    assert set(document["asked"]["assumed"]) <= set(document["asked"])


def test_the_example_of_every_lookup_is_answered(registry, ask):
    for module in {module for module, _ in QUESTIONS}:
        assert ask(module, module.lookup(registry).example)["lookup"] == module.lookup(registry).key


def test_approach_puts_the_rules_first(ask):
    answer = ask(approach, "nominal_voltage=13.8kV")
    assert list(answer)[:2] == ["lookup", "cautions"]
    assert answer["cautions"][0]["key"] == "rules-first"

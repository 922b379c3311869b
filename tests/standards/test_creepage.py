"""Creepage: Table F.4 of IEC 60664-1 (catalogue to 2 kV, memory above), Table 2 of IEC 60664-4 (memory), rules."""

import pytest

from service.errors import BadQuestion, OutsideValidity, UnknownName
from service.lookups import clearance, creepage

BASIC = "working_voltage=250V&pollution_degree=2&insulation=basic"


def requirement(document, key):
    return next(one for one in document["requirements"] if one["key"] == key)


def value(document):
    return document["creepage"]["value"]


def test_two_hundred_and_fifty_volts_at_degree_two(ask):
    answer = ask(creepage, BASIC)
    assert value(answer) == 2.5
    assert answer["asked"]["material_group"] == "IIIa"
    assert "material_group" in answer["asked"]["assumed"]
    found = requirement(answer, "tracking")
    assert found["row"] == "F.4: 250 V, pollution degree 2, group III"
    assert found["provenance"] == "reproduction+memory"
    assert value(ask(creepage, BASIC.replace("basic", "reinforced"))) == 5.0
    assert value(ask(creepage, f"{BASIC}&surface=printed-wiring")) == 1.0


@pytest.mark.parametrize(
    ("surface", "expected"),
    [
        ("cti=175", 2.5), ("cti=400V", 1.8), ("cti=600", 1.25), ("material_group=II", 1.8), ("material=ptfe", 1.25),
        ("material=fr-4", 2.5), ("material=peek", 2.5), ("material=epoxy", 1.8), ("material=pla", 2.5),
    ],
)  # fmt: skip
def test_the_surface_may_be_named_by_group_index_or_material(ask, surface, expected):
    assert value(ask(creepage, f"{BASIC}&{surface}")) == expected


def test_a_material_of_unknown_index_is_treated_as_the_weakest_and_says_so(ask):
    # Freescale AN3962, notes to table 6: unknown material is IIIb
    answer = ask(creepage, f"{BASIC}&material=porcelain")
    assert answer["material"]["group"] == "IIIb"
    assert any("No tracking index of porcelain is published" in note for note in answer["notes"])
    plain = ask(creepage, f"{BASIC}&material=pvc")
    assert not any("ceramics" in note for note in plain["notes"])
    assert any("creepage equal the clearance" in note for note in answer["notes"])


def test_a_material_with_a_range_of_indices_takes_its_low_end(ask):
    answer = ask(creepage, f"{BASIC}&material=cem-1")
    assert answer["material"]["group"] == "IIIa"
    assert any("175 to 600" in note for note in answer["notes"])


def test_only_functional_insulation_is_interpolated(ask):
    query = "working_voltage=300V&pollution_degree=2&insulation="
    assert value(ask(creepage, f"{query}functional")) == 3.0
    assert value(ask(creepage, f"{query}basic")) == 3.2
    between = ask(creepage, "working_voltage=260V&pollution_degree=2&insulation=functional")
    assert value(between) == 2.6  # 2.5 + 0.1 x 0.7 / 0.7, next 0.1 mm


def test_printed_wiring_ends_at_its_last_row_and_names_the_general_column(ask):
    query = "pollution_degree=2&insulation=basic&surface=printed-wiring"
    assert value(ask(creepage, f"working_voltage=1000V&{query}")) == 5.0
    with pytest.raises(OutsideValidity, match="general surface, pollution degree 2, group III") as error:
        ask(creepage, f"working_voltage=1001V&{query}")
    assert error.value.suggestion == {"surface": "general"}
    assert error.value.faults[0].valid["high"].block() == {"value": 1.0, "unit": "kV", "measure": "rms"}
    assert (error.value.faults[0].parameter, error.value.faults[0].accepted) == ("working_voltage", ())
    for other in (f"{query}&material_group=IIIb", "pollution_degree=3&insulation=basic&surface=printed-wiring"):
        with pytest.raises(OutsideValidity, match="general surface") as error:
            ask(creepage, f"working_voltage=100V&{other}")
        assert (error.value.faults[0].parameter, error.value.faults[0].accepted) == ("surface", ("general",))


def test_ribs_reduce_only_where_the_table_has_a_value(ask):
    query = "pollution_degree=3&insulation=basic&ribbed=true"
    reduced = ask(creepage, f"working_voltage=800V&{query}")
    assert value(reduced) == 10.2
    assert any("form that the standard requires" in note for note in reduced["notes"])
    full = ask(creepage, f"working_voltage=250V&{query}")
    assert value(full) == 4.0
    assert any("No reduced value" in note for note in full["notes"])
    assert value(ask(creepage, "working_voltage=800V&pollution_degree=2&insulation=basic&ribbed=true")) == 8.0


@pytest.mark.parametrize(("degree", "width"), [(1, 0.25), (2, 1.0), (3, 1.5)])
def test_a_groove_counts_from_a_width_that_grows_with_pollution(ask, degree, width):
    # Weidmueller Heavy Duty Connectors catalogue, p. A.26
    answer = ask(creepage, f"working_voltage=250V&pollution_degree={degree}&insulation=basic")
    assert answer["minimum_groove_width"]["value"] == width


def test_a_small_clearance_lets_the_groove_shrink_to_a_third(ask):
    # without the temporary overvoltage, which asks for more than the impulse here
    answer = ask(creepage, f"{BASIC}&system_voltage=150V&overvoltage_category=II&temporary_overvoltage=none")
    assert any("may be reduced to a third of it, 0.166667 mm" in note for note in answer["notes"])


def test_creepage_is_never_below_the_clearance_of_the_same_question(ask):
    answer = ask(creepage, f"{BASIC}&system_voltage=230V&overvoltage_category=III")
    assert value(answer) == 3.0
    assert answer["governed_by"] == "clearance"
    assert requirement(answer, "clearance")["of"] == "impulse"
    thin = ask(creepage, f"{BASIC}&system_voltage=230V&overvoltage_category=III&altitude=5000m")
    assert value(thin) == pytest.approx(4.44)
    assert any("no voltage of the clearance was given" in note for note in ask(creepage, BASIC)["notes"])


def test_the_clearance_inside_is_the_clearance_outside(ask):
    voltages = "recurring_peak_voltage=12kV&pollution_degree=2&insulation=reinforced&altitude=3500m"
    inside = requirement(ask(creepage, f"working_voltage=4kV&{voltages}"), "clearance")
    assert inside["creepage"]["value"] == ask(clearance, voltages)["clearance"]["value"]


def test_printed_wiring_has_a_smaller_floor_of_clearance(ask):
    # WAGO technical section, p. 16: pollution degree 1 in place of the 0.2 mm floor, never below 0.04 mm
    query = "working_voltage=10V&peak_voltage=50V&pollution_degree=2&insulation=basic"
    assert value(ask(creepage, f"{query}&surface=printed-wiring")) == 0.04
    assert value(ask(creepage, query)) == 0.4


def test_pulses_need_their_peak(ask):
    query = "working_voltage=4kV&pollution_degree=2&insulation=basic&waveform=pulse-train"
    with pytest.raises(BadQuestion, match="needs peak_voltage"):
        ask(creepage, query)
    answer = ask(creepage, f"{query}&peak_voltage=80kV")
    assert value(answer) == 175.0
    assert answer["governed_by"] == "clearance"


def test_high_frequency_has_its_own_creepage(ask):
    query = "working_voltage=700V&insulation=basic&waveform=ac&pollution_degree="
    found = requirement(ask(creepage, f"{query}1&peak_voltage=1kV&frequency=100kHz"), "high-frequency")
    assert found["creepage"]["value"] == 0.6
    assert requirement(ask(creepage, f"{query}1&peak_voltage=1kV&frequency=150kHz"), "high-frequency")["creepage"][
        "value"
    ] == pytest.approx(0.875)
    dirty = [
        requirement(ask(creepage, f"{query}{degree}&peak_voltage=1kV&frequency=200kHz"), "high-frequency")
        for degree in (1, 2, 3)
    ]
    assert [one["creepage"]["value"] for one in dirty] == pytest.approx([1.15, 1.15 * 1.2, 1.15 * 1.4])


def test_high_frequency_without_a_peak_takes_a_sine_and_lists_it_as_assumed(ask):
    answer = ask(creepage, "working_voltage=400V&pollution_degree=1&insulation=basic&frequency=100kHz")
    assert answer["asked"]["peak_voltage"]["value"] == pytest.approx(0.4 * 2**0.5)
    assert "peak_voltage" in answer["asked"]["assumed"]
    assert "fast-current" in [one["key"] for one in answer["cautions"]]


def test_outdoors_the_site_class_answers_beyond_the_table_and_is_marked(ask):
    query = "working_voltage=70kV&pollution_degree=2&insulation=basic"
    with pytest.raises(OutsideValidity, match="site_class") as error:
        ask(creepage, query)
    assert error.value.faults[0].valid["high"].block()["value"] == 63.0
    answer = ask(creepage, f"{query}&site_class=c")
    assert value(answer) == pytest.approx(70 * 34.7)
    assert any("not for equipment" in note for note in answer["notes"])
    # identity of the two editions: 25 mm/kV phase to phase is 43.3 phase to earth
    assert value(ask(creepage, f"{query}&site_class=III")) == pytest.approx(70 * 43.3, rel=1e-3)


def test_a_three_phase_supply_has_its_rationalized_voltage_beside(ask):
    query = "working_voltage=690V&pollution_degree=2&insulation=basic&system_voltage=400V&overvoltage_category=II"
    answer = ask(creepage, query)
    assert requirement(answer, "tracking")["creepage"]["value"] == 8.0
    other = next(one for one in answer["also"] if one["key"] == "rationalized-three-phase")
    assert other["creepage"]["value"] == 6.3  # 690 V is 630 V by Table F.3b (memory)


def test_windings_with_sections_are_spoken_of(ask):
    assert any("neighbouring sections" in note for note in ask(creepage, BASIC)["notes"])


def test_practice_figures_for_flashover_stand_beside_at_the_peak(ask):
    beside = ask(creepage, BASIC)["surface_flashover"]
    assert beside["peak_voltage"]["value"] == pytest.approx(0.25 * 2**0.5)
    track = next(one for one in beside["figures"] if "flash over" in one["item"])
    assert track["distance"]["value"] == pytest.approx(0.25 * 2**0.5 / 1.18)


@pytest.mark.parametrize(
    "query",
    [
        f"{BASIC}&cti=400&material=ptfe",
        f"{BASIC}&material_group=I&cti=400",
        f"{BASIC}&cti=good",
        f"{BASIC}&peak_voltage=200V",
        f"{BASIC}&peak_voltage=1kV&recurring_peak_voltage=1kV",
        f"{BASIC}&waveform=dc&frequency=40kHz",
        f"{BASIC}&system_voltage=230V",
        "working_voltage=250V&pollution_degree=4&insulation=basic",
        "working_voltage=250V&pollution_degree=2",
        "pollution_degree=2&insulation=basic",
    ],
)
def test_contradictions_and_gaps_are_refused(ask, query):
    with pytest.raises(BadQuestion):
        ask(creepage, query)


def test_an_ambiguous_material_is_refused_with_the_list(ask):
    with pytest.raises(BadQuestion, match="phenolic-paper, phenolic-resin") as error:
        ask(creepage, f"{BASIC}&material=phenolic")
    assert error.value.faults[0].accepted == ("phenolic-paper", "phenolic-resin")
    with pytest.raises(UnknownName):
        ask(creepage, f"{BASIC}&material=unobtainium")


@pytest.mark.parametrize(
    ("query", "parameter"),
    [
        (f"{BASIC}&cti=50", "cti"),
        ("working_voltage=11kV&pollution_degree=3&insulation=basic", "working_voltage"),
        ("working_voltage=1kV&pollution_degree=1&insulation=basic&peak_voltage=2kV&frequency=50kHz", "peak_voltage"),
        (f"{BASIC}&peak_voltage=0.5kV&frequency=4MHz", "frequency"),
    ],
)
def test_nothing_is_read_beyond_a_table(ask, query, parameter):
    with pytest.raises(OutsideValidity) as error:
        ask(creepage, query)
    assert error.value.faults[0].parameter == parameter
    assert error.value.faults[0].valid

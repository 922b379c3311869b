"""Where one table ends and another begins, and exactly at the ends: nothing ever asks for less when more is at stake.

The sweeps call the rules themselves, over every last row, both ends of every choice, and a step to either side of it.
"""

import itertools
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from service.answers.evaluate import Evaluation
from service.errors import BadQuestion, OutsideValidity
from service.lookups import barrier, clearance, conductor_spacing, creepage
from service.standards import boards, solid
from service.standards import clearance as air_rules
from service.standards import creepage as surface_rules
from service.standards.boards import PLACES, BoardTables
from service.standards.clearance import reinforced_impulse
from service.standards.creepage import PRINTED, Path
from service.standards.requirement import INSULATION, SUPPLIES, ClearanceQuestion, governing
from service.units import Quantity

TINY = 1 + 1e-9
GROUPS = ("I", "II", "III", "IIIa", "IIIb")
CLASSES = (None, "a", "b", "c", "d", "e", "I", "II", "III", "IV")
ALTITUDES = (None, -100.0, 0.0, 2000.0, 2001.0, 3049.0, 3050.0, 3051.0, 5000.0, 5500.0, 15000.0, 20000.0)


@pytest.fixture(scope="module")
def tables(reference):
    return BoardTables.of(reference)


def edges(*ladders, to=1.05):
    """Return the arguments of ladders, with a step below, a step above and the middle of every pair, rising."""
    rows = np.unique(np.concatenate([ladder.arguments for ladder in ladders]))
    steps = np.concatenate([rows * 0.999, rows, rows * 1.001, np.sqrt(rows[1:] * rows[:-1]), rows[-1:] * to])
    return np.unique(steps)


def answered(rule, *arguments):
    """Return the largest distance of a rule, or nothing where its tables end."""
    try:
        return governing(rule(*arguments)).distance
    except (OutsideValidity, BadQuestion):
        return None


def rising(values, words):
    """Check that distances never fall, and that what is not answered is not answered again further on."""
    known = [value for value in values if value is not None]
    for first, second in itertools.pairwise(known):
        assert first <= second * TINY, words


# creepage


@pytest.mark.parametrize("site", CLASSES)
@pytest.mark.parametrize("surface", ["general", PRINTED])
def test_creepage_never_falls_with_voltage_degree_or_grade_over_every_hand_over(tables, site, surface):
    volts = edges(*tables.surface.columns.values(), to=2.0)
    found = {
        (degree, grade, group): [
            answered(
                surface_rules.requirements,
                Path(float(v), degree, grade, group, surface, site_class=site),
                tables.surface,
            )
            for v in volts
        ]
        for degree in (1, 2, 3)
        for grade in INSULATION
        for group in GROUPS
    }
    for key, values in found.items():
        rising(values, (site, surface, key))
    for place, _ in enumerate(volts):
        for grade, group in itertools.product(INSULATION, GROUPS):
            rising([found[degree, grade, group][place] for degree in (1, 2, 3)], (volts[place], grade, group))
        for degree, group in itertools.product((1, 2, 3), GROUPS):
            rising([found[degree, grade, group][place] for grade in INSULATION], (volts[place], degree, group))


def test_beyond_the_table_the_outdoor_class_keeps_the_grade_and_the_last_row(ask):
    place = "pollution_degree=3&insulation=reinforced"
    last = ask(creepage, f"working_voltage=10kV&{place}")["creepage"]["value"]
    assert last == 320.0
    beyond = ask(creepage, f"working_voltage=10.1kV&{place}&site_class=a")
    # 22 mm per kV (memory), twice for reinforced insulation
    assert beyond["creepage"]["value"] == pytest.approx(max(10.1 * 22 * 2, last))
    basic = ask(creepage, "working_voltage=63.1kV&pollution_degree=2&insulation=basic&site_class=a")
    assert basic["creepage"]["value"] == pytest.approx(63.1 * 22)
    # 12.7 mm/kV phase to phase of class a is below the last row of degree 3 for no voltage above it
    low = Path(10.1e3, 3, "basic", "IIIa", site_class="a")
    assert low.working_voltage * 22e-6 >= 0.16


def test_the_outdoor_class_never_falls_below_the_last_row(tables):
    # a class as weak as a tenth of the lightest one would: the floor is the last row with the grade
    table = tables.surface.outdoor
    weak = SimpleNamespace(**vars(tables.surface))
    columns = {
        "creepage_per_voltage": np.full(len(table), 2.2e-6),
        "creepage_per_voltage_phase_to_phase": np.full(len(table), np.nan),
    }

    class Weak:
        source, provenance, key, doubtful = table.source, table.provenance, table.key, table.doubtful
        text = table.text

        def __getitem__(self, name):
            return columns[name]

    weak.outdoor = Weak()
    path = Path(11e3, 3, "reinforced", "IIIa", site_class="a")
    assert governing(list(surface_rules.outdoor(path, weak))).distance == pytest.approx(0.32)


def test_direct_voltage_has_no_outdoor_class(ask):
    query = "working_voltage=12kV&pollution_degree=3&insulation=basic&waveform=dc"
    with pytest.raises(OutsideValidity, match="60815-4"):
        ask(creepage, f"{query}&site_class=c")
    with pytest.raises(OutsideValidity, match="no table here goes on"):
        ask(creepage, query)


def test_a_rib_never_asks_for_more_than_none(tables):
    for group, grade in itertools.product(GROUPS, INSULATION):
        for volts in edges(tables.surface.columns["pollution_3_group_iii"]):
            plain, ribbed = (
                answered(surface_rules.requirements, Path(float(volts), 3, grade, group, ribbed=rib), tables.surface)
                for rib in (False, True)
            )
            assert (ribbed is None) == (plain is None)
            assert ribbed is None or ribbed <= plain * TINY
    # 720 V, IIIa, basic: row of 800 V with a rib 10.2 mm; functional 640 V, group I: 8.2 without, 9.0 with one
    assert (
        governing(surface_rules.requirements(Path(640.0, 3, "functional", "I", ribbed=True), tables.surface)).distance
        == 8.2e-3
    )


def test_group_three_is_taken_where_both_of_its_halves_agree(ask):
    query = "working_voltage=250V&insulation=basic&material_group="
    for degree in (1, 2, 3):
        three, halves = (
            [ask(creepage, f"{query}{group}&pollution_degree={degree}")["creepage"] for group in names]
            for names in (("III",), ("IIIa", "IIIb"))
        )
        assert halves == three * 2
    with pytest.raises(BadQuestion, match="IIIa and IIIb differ"):
        ask(creepage, f"{query}III&pollution_degree=2&surface=printed-wiring")


def test_a_correction_that_was_not_made_is_not_listed(ask):
    query = "working_voltage=250V&pollution_degree=1&insulation=basic&altitude=5000m"
    alone = ask(creepage, query)
    assert alone["creepage"]["value"] == 0.56
    assert alone["corrections"] == {}
    by_air = ask(creepage, f"{query}&system_voltage=230V&overvoltage_category=III")
    assert by_air["corrections"] == {"altitude_factor": 1.48}
    assert "altitude_factor" not in ask(barrier, f"{query}&waveform=dc".replace("5000m", "1000m"))["corrections"]


def test_creepage_is_not_below_the_clearance_of_its_own_working_voltage(ask):
    for degree, least in ((1, 0.01), (2, 0.2), (3, 0.8)):
        answer = ask(creepage, f"working_voltage=10V&pollution_degree={degree}&insulation=basic")
        floor = next(one for one in answer["requirements"] if one["key"] == "clearance")
        assert floor["creepage"]["value"] == least
        assert answer["clearance_asked"] is False
        assert any("no voltage of the clearance was given" in note for note in answer["notes"])


def test_the_creepage_alone_is_not_given_without_a_voltage_of_the_clearance(client):
    query = "/v1/creepage?working_voltage=230V&pollution_degree=1&insulation=basic"
    refused = client.get(f"{query}&only=creepage")
    assert refused.status_code == 400
    assert "not given alone" in refused.get_json()["detail"]
    assert client.get(f"{query}&only=governed_by").text == "tracking\n"
    # 230 V, category III: 4 kV, 3.0 mm
    given = client.get(f"{query}&system_voltage=230V&overvoltage_category=III&only=creepage")
    assert given.text == "3.0\n"
    assert (
        client.get("/v1/barrier?working_voltage=230V&pollution_degree=1&insulation=basic&only=creepage").status_code
        == 400
    )


@pytest.mark.parametrize(
    ("material", "group", "distance"),
    [("polyamide", "IIIa", 2.5), ("pbt", "IIIa", 2.5), ("abs", "IIIa", 2.5), ("ptfe", "I", 1.25)],
)
def test_a_material_takes_its_weakest_grade_flame_retardant_ones_included(ask, material, group, distance):
    # from memory: brominated polyamide 250 to 400, glass-filled flame-retardant PBT 175 to 275
    answer = ask(creepage, f"working_voltage=250V&pollution_degree=2&insulation=basic&material={material}")
    assert answer["material"]["group"] == group
    assert answer["creepage"]["value"] == distance


def test_wood_is_said_to_conduct_when_damp_and_only_inorganic_materials_not_to_track(ask):
    notes = {
        material: " ".join(
            ask(creepage, f"working_voltage=250V&pollution_degree=2&insulation=basic&material={material}")["notes"]
        )
        for material in ("wood", "pla", "pvc", "glass", "mica", "porcelain", "fused-silica")
    }
    assert "conductive when damp" in notes["wood"]
    assert [material for material, text in notes.items() if "do not track" in text] == [
        "glass", "mica", "porcelain", "fused-silica"
    ]  # fmt: skip


def test_a_direct_link_with_ripple_can_be_asked(ask):
    query = "working_voltage=400V&waveform=dc&pollution_degree=2&insulation=basic"
    slow = ask(creepage, f"{query}&frequency=20kHz&peak_voltage=420V")
    assert slow["creepage"]["value"] == 4.0
    fast = ask(creepage, f"{query}&frequency=100kHz&peak_voltage=700V")
    # IEC 60664-4 Table 2 (memory): 0.358 mm at 700 V to 100 kHz, x 1.2 at pollution degree 2
    found = next(one for one in fast["requirements"] if one["key"] == "high-frequency")
    assert found["creepage"]["value"] == pytest.approx(0.358 * 1.2, abs=1e-3)
    with pytest.raises(BadQuestion, match="ripple"):
        ask(creepage, f"{query}&frequency=100kHz")


def test_above_thirty_kilohertz_without_a_peak_the_air_is_still_answered(ask):
    query = "working_voltage=400V&frequency=100kHz&pollution_degree=2&insulation=basic"
    answer = ask(creepage, f"{query}&system_voltage=230V&overvoltage_category=III")
    assert next(one for one in answer["requirements"] if one["key"] == "clearance")["creepage"]["value"] == 3.0


def test_on_printed_wiring_the_clearance_inside_has_its_floor(ask):
    query = "working_voltage=10V&peak_voltage=50V&insulation=basic&surface=printed-wiring&pollution_degree="
    for degree, least in ((1, 0.01), (2, 0.04)):
        found = next(one for one in ask(creepage, f"{query}{degree}")["requirements"] if one["key"] == "clearance")
        assert found["creepage"]["value"] == least


# clearance


@pytest.mark.parametrize("homogeneous", [False, True])
@pytest.mark.parametrize("grade", INSULATION)
def test_clearance_never_falls_with_any_voltage_or_degree(tables, homogeneous, grade):
    air = tables.air
    volts = edges(*air.impulse.values(), *air.peak.values(), air.fast, air.quiet)
    kinds = {
        "impulse_voltage": {},
        "recurring_peak_voltage": {},
        "temporary_overvoltage": {"supply": "dc"},
        "steady_peak": {},
    }
    for name, further in kinds.items():
        by_degree = {
            degree: [
                answered(
                    air_rules.requirements,
                    ClearanceQuestion(degree, grade, homogeneous, **{name: float(v)}, **further),
                    air,
                )
                for v in volts
            ]
            for degree in (1, 2, 3)
        }
        for degree, values in by_degree.items():
            rising(values, (name, degree))
        for at in zip(*by_degree.values(), strict=True):
            rising(at, name)


@pytest.mark.parametrize("supply", SUPPLIES)
def test_clearance_never_falls_with_the_mains_their_category_or_the_grade(tables, supply):
    air = tables.air
    volts = edges(air.mains["dc", "II"], to=1.2)
    categories = ("I", "II", "III", "IV")
    found = {
        (category, grade): [
            answered(
                air_rules.requirements,
                ClearanceQuestion(2, grade, system_voltage=float(v), category=category, supply=supply),
                air,
            )
            for v in volts
        ]
        for category in categories
        for grade in INSULATION
    }
    for values in found.values():
        rising(values, supply)
    for place, _ in enumerate(volts):
        for grade in INSULATION:
            rising([found[category, grade][place] for category in categories], (supply, grade))
        for category in categories:
            rising([found[category, grade][place] for grade in INSULATION], (supply, category))


@pytest.mark.parametrize("frequency", [None, 30e3, 30.01e3, 100e3, 3e6])
def test_distances_never_fall_with_altitude(tables, frequency):
    for grade, volts in itertools.product(INSULATION, (300.0, 900.0, 1200.0)):
        asked = ClearanceQuestion(2, grade, recurring_peak_voltage=volts, frequency=frequency)
        rising(
            [answered(air_rules.requirements, replace(asked, altitude=z), tables.air) for z in ALTITUDES],
            (grade, volts),
        )


def test_clearance_never_falls_with_frequency(tables):
    for homogeneous, volts in itertools.product((False, True), (300.0, 700.0, 1500.0, 2000.0)):
        for grade in ("basic", "reinforced"):
            values = [
                answered(
                    air_rules.requirements,
                    ClearanceQuestion(1, grade, homogeneous, None, f, recurring_peak_voltage=volts),
                    tables.air,
                )
                for f in (None, 50.0, 30e3, 30.01e3, 100e3, 300e3, 1e6, 3e6, 10e6)
            ]
            rising(values, (homogeneous, volts))


def test_the_step_at_thirty_kilohertz_is_explained_in_the_answer(ask):
    place = "pollution_degree=1&insulation=basic"
    slow = ask(clearance, f"recurring_peak_voltage=1.5kV&frequency=30kHz&{place}")
    fast = ask(clearance, f"recurring_peak_voltage=1.5kV&frequency=30.01kHz&{place}")
    assert slow["clearance"]["value"] == 0.76
    assert fast["clearance"]["value"] == pytest.approx(3.175)
    rule = next(one for one in fast["requirements"] if one["key"] == "high-frequency")["rule"]
    # 0.2 MHz mm over 0.76 mm is 0.26 MHz (IEC 60664-4, memory)
    assert "260 kHz" in rule
    assert "30 kHz" in rule


def test_reinforced_between_two_steps_is_not_below_what_the_lower_step_asks():
    series = np.array([330, 500, 800, 1500, 2500, 4000, 6000, 8000, 12000.0])
    # 1501 V x 1.6 is 2402 V, less than the 2500 V that 1500 V asks for
    assert reinforced_impulse(1501.0, series, 1.6) == 2500.0
    fine = np.unique(np.concatenate([series * 0.9999, series, series * 1.0001, np.arange(100.0, 20000.0, 7.0)]))
    assert (np.diff([reinforced_impulse(float(v), series, 1.6) for v in fine]) >= 0).all()


def test_the_two_tables_of_the_standard_agree_where_they_must(reference):
    """F.7a against F.2: equal in a homogeneous field; in an inhomogeneous one a voltage that stays needs no less."""
    impulse, lasting = reference.table("iec-60664-1-table-f2"), reference.table("iec-60664-1-table-f7a")
    shared = 0
    for case, column in (("A", "case_a"), ("B", "case_b")):
        rows = impulse.where(case=case, pollution_degree=1.0)
        by_voltage = dict(zip(rows["impulse_voltage"], rows["clearance"], strict=True))
        for volts, distance in zip(lasting["voltage"], lasting[column], strict=True):
            if volts in by_voltage:
                shared += 1
                assert distance == by_voltage[volts] if case == "B" else distance >= by_voltage[volts]
    assert shared == 52


def test_exactly_at_the_ends_of_the_tables_beside(ask):
    def beside(query):
        return {one["key"] for one in ask(clearance, f"{query}&pollution_degree=2&insulation=basic")["also"]}

    ends = {
        "information-technology": (2.8, 42.0),
        "no-partial-discharge": (2.5, 12.0),
        "withstand-table": (0.33, 50.0),
    }
    for key, (low, high) in ends.items():
        assert all(key in beside(f"recurring_peak_voltage={volts}kV") for volts in (low, high))
        assert not any(key in beside(f"recurring_peak_voltage={volts}kV") for volts in (low * 0.99, high * 1.01))
    laboratory = {
        volts: next(
            one["clearance"]["value"]
            for one in ask(
                clearance, f"system_voltage={volts}V&overvoltage_category=II&pollution_degree=2&insulation=basic"
            )["also"]
            if one["key"] == "laboratory-equipment"
        )
        for volts in (150, 150.1, 300, 300.1, 600, 600.1, 1000)
    }
    # IEC 61010-1, memory
    assert list(laboratory.values()) == [0.5, 1.5, 1.5, 3.0, 3.0, 5.5, 5.5]


def test_exactly_at_the_limits_of_a_sentence(ask):
    def said(query, words):
        return any(words in note for note in ask(creepage, f"{query}&pollution_degree=3&insulation=basic")["notes"])

    assert not said("working_voltage=630V&material_group=IIIb", "not recommended")
    assert said("working_voltage=630.1V&material_group=IIIb", "not recommended")
    # a clearance of exactly 3 mm is not below 3 mm
    assert not said("working_voltage=100V&impulse_voltage=4kV", "third of it")
    assert said("working_voltage=100V&impulse_voltage=3.99kV", "third of it")


def test_meters_are_told_that_their_terminals_have_a_part_of_their_own(ask):
    answer = ask(clearance, "system_voltage=600V&overvoltage_category=III&pollution_degree=2&insulation=reinforced")
    found = next(one for one in answer["also"] if one["key"] == "laboratory-equipment")
    assert found["clearance"]["value"] == 11.0
    assert "61010-2-030" in found["rule"]


def test_a_large_step_of_the_mains_says_why(ask):
    answer = ask(
        clearance, "system_voltage=1500V&overvoltage_category=III&supply=dc&pollution_degree=2&insulation=reinforced"
    )
    assert answer["clearance"]["value"] == 25.0
    assert "not interpolated for the mains" in answer["requirements"][0]["rule"]


def test_doubted_rows_are_told_in_a_note(ask):
    doubtful = ask(
        clearance, "system_voltage=1500V&overvoltage_category=III&supply=dc&pollution_degree=2&insulation=basic"
    )
    assert any(note.startswith("Doubtful") for note in doubtful["notes"])
    sure = ask(clearance, "system_voltage=230V&overvoltage_category=III&pollution_degree=2&insulation=basic")
    assert not any(note.startswith("Doubtful") for note in sure["notes"])


# boards


def test_spacings_never_fall_with_voltage_or_altitude(tables):
    volts = np.unique(
        np.concatenate([tables.spacing["voltage_from"], tables.spacing["voltage_to"] * 1.0001, [5e3, 50e3]])
    )
    volts = volts[np.isfinite(volts) & (volts > 0)]
    for place in PLACES:
        by_air = [
            [governing(boards.spacings(float(v), place, thin, tables.spacing)).distance for v in volts]
            for thin in (False, True)
        ]
        for values in by_air:
            rising(values, place)
        for at in zip(*by_air, strict=True):
            rising(at, place)


def test_far_above_the_steps_of_the_board_table_the_slope_is_not_vouched_for(ask):
    assert any(
        "without saying where it ends" in n for n in ask(conductor_spacing, "voltage=1MV&place=internal")["notes"]
    )
    assert not any("without saying" in n for n in ask(conductor_spacing, "voltage=500V&place=internal")["notes"])


# solid


def test_the_low_end_of_a_film_is_not_above_its_corona():
    layer = solid.Layer(1e3, 1e-3, (2.0,), None, 1e-3)

    def found(value, low, high, starts):
        numbers = (np.array([one]) for one in (value, low, high, starts, np.nan))
        film = Evaluation(None, None, *numbers, choice=np.array([0]))
        return solid.film_inception(layer, film).film

    assert found(3e3, 2.5e3, 4e3, 2e3) == Quantity(3e3, "voltage", 2e3, 4e3)
    assert found(3e3, 2.5e3, 4e3, np.nan).low == 2.5e3
    # no value of breakdown: corona is the value
    assert found(np.nan, 2.5e3, 4e3, 2.4e3).value == 2.4e3


@pytest.mark.parametrize("diameter", [0.2e-3, 1e-3])
@pytest.mark.parametrize("film", [0.5e-3, 5e-3])
def test_around_a_wire_the_band_begins_no_later_than_corona(registry, diameter, film):
    from service.lookups.clearance import air_of

    layer = solid.Layer(10e3, 0.1e-3, (2.3,), diameter, film)
    found = solid.film_breakdown(layer, air_of(ClearanceQuestion(2, "basic"), film), registry)
    assert found is not None
    assert solid.film_inception(layer, found).film.low <= float(found.inception[0]) * TINY


def test_the_film_of_a_solid_given_is_that_of_the_stress_lookup(ask):
    from service.lookups import insulation_stress

    whole = ask(
        barrier, "working_voltage=8kV&waveform=dc&pollution_degree=2&insulation=basic&solid_thickness=1mm&material=fr-4"
    )
    alone = ask(insulation_stress, "voltage=8kV&thickness=1mm&material=fr-4")
    for name in ("solid_field", "air_film_inception", "air_film_weakest"):
        assert whole["solid_insulation"][name] == alone[name]


def test_doubted_rows_are_told_in_a_batch_too(client):
    place = {"overvoltage_category": "III", "supply": "dc", "pollution_degree": "2", "insulation": "basic"}
    body = {"lookup": "clearance", "given": place, "columns": {"system_voltage": {"unit": "V", "values": [230, 1500]}}}
    answer = client.post("/v1/batch", json=body)
    assert answer.status_code == 200, answer.text
    assert answer.get_json()["columns"]["clearance"]["values"] == [3.0, 11.0]
    assert any(note.startswith("Doubtful") for note in answer.get_json()["notes"])

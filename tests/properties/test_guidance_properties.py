"""Guidance distances grow with voltage, pollution, altitude and grade; a correction of the data changes the answer."""

import hashlib
import json
import shutil

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.errors import OutsideValidity
from service.lookups import approach, barrier, clearance, conductor_spacing, creepage, insulation_stress
from service.reference import shipped_folder
from tests.asking import Asking

QUICK = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
GRADES = ("functional", "basic", "supplementary", "reinforced")
DEGREES = st.sampled_from((1, 2, 3))
FIELDS = st.sampled_from(("inhomogeneous", "homogeneous"))
SHARES = st.floats(0.02, 1.0)
TINY = 1e-9


def distance(document):
    name = {"clearance": "clearance", "creepage": "creepage", "conductor-spacing": "spacing"}[document["lookup"]]
    return document[name]["value"]


def grows(ask, module, name, low, high, unit, **given):
    smaller, larger = (distance(ask(module, **given, **{name: f"{value!r}{unit}"})) for value in (low, high))
    return smaller <= larger * (1 + TINY)


@QUICK
@given(high=st.floats(0.1, 60.0), share=SHARES, degree=DEGREES, grade=st.sampled_from(GRADES), field=FIELDS)
def test_clearance_grows_with_the_impulse_voltage(ask, high, share, degree, grade, field):
    place = {"pollution_degree": degree, "insulation": grade, "field": field}
    assert grows(ask, clearance, "impulse_voltage", high * share, high, "kV", **place)


@QUICK
@given(high=st.floats(0.1, 60.0), share=SHARES, degree=DEGREES, grade=st.sampled_from(GRADES), field=FIELDS)
def test_clearance_grows_with_the_recurring_peak(ask, high, share, degree, grade, field):
    place = {"pollution_degree": degree, "insulation": grade, "field": field}
    assert grows(ask, clearance, "recurring_peak_voltage", high * share, high, "kV", **place)


@QUICK
@given(high=st.floats(1.0, 1000.0), share=SHARES, category=st.sampled_from(("I", "II", "III", "IV")), degree=DEGREES)
def test_clearance_grows_with_the_voltage_of_the_mains(ask, high, share, category, degree):
    place = {"pollution_degree": degree, "insulation": "basic", "overvoltage_category": category}
    assert grows(ask, clearance, "system_voltage", high * share, high, "V", **place)


@QUICK
@given(volts=st.floats(0.1, 60.0), low=st.floats(-400.0, 20e3), high=st.floats(-400.0, 20e3), degree=DEGREES)
def test_clearance_grows_with_altitude(ask, volts, low, high, degree):
    low, high = sorted((low, high))
    place = {"pollution_degree": degree, "insulation": "basic", "impulse_voltage": f"{volts!r}kV"}
    assert grows(ask, clearance, "altitude", low, high, "m", **place)


@QUICK
@given(volts=st.floats(0.1, 50.0), grade=st.sampled_from(GRADES), field=FIELDS)
def test_clearance_grows_with_pollution_and_grade(ask, volts, grade, field):
    given_voltage = {"impulse_voltage": f"{volts!r}kV", "field": field}
    by_degree = [distance(ask(clearance, **given_voltage, insulation=grade, pollution_degree=d)) for d in (1, 2, 3)]
    assert by_degree == sorted(by_degree)
    by_grade = [distance(ask(clearance, **given_voltage, insulation=g, pollution_degree=2)) for g in GRADES]
    assert by_grade == sorted(by_grade)


@QUICK
@given(volts=st.floats(0.1, 50.0), degree=DEGREES)
def test_a_homogeneous_field_never_asks_for_more(ask, volts, degree):
    given_voltage = {"impulse_voltage": f"{volts!r}kV", "pollution_degree": degree, "insulation": "basic"}
    round_ones = distance(ask(clearance, **given_voltage, field="homogeneous"))
    assert round_ones <= distance(ask(clearance, **given_voltage))


@QUICK
@given(high=st.floats(1.0, 60e3), share=SHARES, degree=DEGREES, grade=st.sampled_from(GRADES))
def test_creepage_grows_with_voltage(ask, high, share, degree, grade):
    place = {"pollution_degree": degree, "insulation": grade}
    if degree == 3 and high > 10e3:
        with pytest.raises(OutsideValidity, match="ends at 10 kV"):
            ask(creepage, **place, working_voltage=f"{high!r}V")
    else:
        assert grows(ask, creepage, "working_voltage", high * share, high, "V", **place)


@QUICK
@given(volts=st.floats(1.0, 1000.0), surface=st.sampled_from(("general", "printed-wiring")))
def test_creepage_grows_with_pollution_group_and_grade(ask, volts, surface):
    given_voltage = {"working_voltage": f"{volts!r}V"}
    by_degree = [
        distance(ask(creepage, **given_voltage, insulation="basic", pollution_degree=d, surface=surface))
        for d in (1, 2)
    ]
    assert by_degree == sorted(by_degree)
    place = given_voltage | {"pollution_degree": 2}
    by_group = [
        distance(ask(creepage, **place, insulation="basic", material_group=g)) for g in ("I", "II", "IIIa", "IIIb")
    ]
    assert by_group == sorted(by_group)
    basic, reinforced = (distance(ask(creepage, **place, insulation=g)) for g in ("basic", "reinforced"))
    assert reinforced == pytest.approx(2 * basic)


@QUICK
@given(working=st.floats(1.0, 1000.0), impulse=st.floats(0.1, 60.0), degree=DEGREES, altitude=st.floats(0.0, 20e3))
def test_creepage_is_never_below_the_clearance_of_the_same_question(ask, working, impulse, degree, altitude):
    place = {
        "impulse_voltage": f"{impulse!r}kV",
        "pollution_degree": degree,
        "insulation": "basic",
        "altitude": f"{altitude!r}m",
    }
    along = distance(ask(creepage, **place, working_voltage=f"{working!r}V"))
    assert along >= distance(ask(clearance, **place)) * (1 - TINY)


PROTECTIONS = st.sampled_from(("none", "type-1", "type-2", "inner-layer", "potted", "cemented-joint"))


def asked_of(part):
    """Return the distance that a part of a barrier asks for; infinite where no table reaches so far."""
    return part.get("value", part.get("low", float("inf"))) if part.get("answered", True) else float("inf")


def parts(document):
    return [asked_of(document[name]) for name in ("clearance", "creepage", "solid_insulation")]


@QUICK
@given(
    low=st.floats(1.0, 2000.0),
    share=st.floats(1.0, 25.0),
    supply=st.sampled_from(("ac", "dc")),
    mains=st.sampled_from((50, 230, 300, 1000)),
    category=st.sampled_from(("I", "IV")),
    protection=PROTECTIONS,
)
def test_a_barrier_never_asks_for_less_when_more_is_at_stake(ask, low, share, supply, mains, category, protection):
    least = {
        "system_voltage": f"{mains}V",
        "overvoltage_category": category,
        "supply": supply,
        "working_voltage": f"{low!r}V",
        "pollution_degree": 1,
        "insulation": "functional",
        "altitude": "0m",
        "protection": protection,
    }
    below = parts(ask(barrier, **least))
    more = {
        "working_voltage": f"{low * share!r}V",
        "overvoltage_category": "IV",
        "pollution_degree": 3,
        "insulation": "reinforced",
        "altitude": "4000m",
        "temporary_overvoltage": "5kV",
    }
    for name, value in more.items():
        above = parts(ask(barrier, **(least | {name: value})))
        assert all(one <= other * (1 + TINY) for one, other in zip(below[:2], above[:2], strict=True)), name
        # no table asks for a thickness of the weaker grades, nor alone above low voltage
        assert float("inf") in (below[2], above[2]) or below[2] <= above[2] * (1 + TINY), name


@QUICK
@given(volts=st.floats(10.0, 1000.0), degree=DEGREES, grade=st.sampled_from(GRADES), protection=PROTECTIONS)
def test_a_protection_never_asks_for_more_than_none(ask, volts, degree, grade, protection):
    place = {"working_voltage": f"{volts!r}V", "pollution_degree": degree, "insulation": grade}
    bare, under = (parts(ask(barrier, **place, protection=kind)) for kind in ("none", protection))
    # the solid is another matter: a protection that counts as one has a spacing of its own
    assert all(one <= other for one, other in zip(under[:2], bare[:2], strict=True))


@QUICK
@given(high=st.floats(0.5, 20e3), share=SHARES, place=st.sampled_from(tuple(conductor_spacing.PLACES)))
def test_conductor_spacing_grows_with_voltage(ask, high, share, place):
    assert grows(ask, conductor_spacing, "voltage", high * share, high, "V", place=place)


@QUICK
@given(
    high=st.floats(100.0, 400e3),
    share=SHARES,
    place=st.sampled_from(tuple(conductor_spacing.PLACES)),
    altitude=st.sampled_from(("0m", "3000m", "9000m")),
)
def test_the_largest_that_tables_ask_for_grows_with_voltage_where_they_end_too(ask, high, share, place, altitude):
    def largest(volts):
        found = ask(conductor_spacing, f"voltage={volts!r}V&place={place}&altitude={altitude}")
        return max(one["spacing"]["value"] for one in (found, *found["beside"]))

    assert largest(high * share) <= largest(high)


@QUICK
@given(volts=st.floats(0.5, 20e3), altitude=st.floats(3051.0, 9000.0))
def test_bare_conductors_need_no_less_high_up(ask, volts, altitude):
    low = distance(ask(conductor_spacing, voltage=f"{volts!r}V", place="external-uncoated", altitude="100m"))
    high = distance(ask(conductor_spacing, voltage=f"{volts!r}V", place="external-uncoated", altitude=f"{altitude!r}m"))
    assert low <= high


@QUICK
@given(low=st.floats(60.0, 790e3), ratio=st.floats(1.0, 10.0), supply=st.sampled_from(("ac", "dc")))
def test_nobody_is_let_nearer_to_a_higher_voltage(ask, low, ratio, supply):
    def largest(volts):
        document = ask(approach, nominal_voltage=f"{volts!r}V", supply=supply)
        return document["distances"][0]["distance"]["value"]

    assert largest(low) <= largest(min(low * ratio, 795e3 if supply == "dc" else 799e3))


@QUICK
@given(
    volts=st.floats(51.0, 799e3),
    supply=st.sampled_from(("ac", "dc")),
    person=st.sampled_from(("unqualified", "qualified")),
)
def test_distances_stand_largest_first_and_texts_after_them(ask, volts, supply, person):
    entries = ask(approach, nominal_voltage=f"{volts!r}V", supply=supply, person=person)["distances"]
    distances = [entry["distance"]["value"] if "distance" in entry else -1.0 for entry in entries]
    assert distances == sorted(distances, reverse=True)
    assert all(("distance" in entry) != ("text" in entry) for entry in entries)


@QUICK
@given(
    volts=st.floats(0.1, 50.0),
    thickness=st.floats(0.05, 10.0),
    film=st.floats(0.02, 5.0),
    permittivity=st.floats(1.0, 20.0),
)
def test_the_voltages_of_solid_and_film_add_up(ask, volts, thickness, film, permittivity):
    found = ask(
        insulation_stress,
        voltage=f"{volts!r}kV",
        thickness=f"{thickness!r}mm",
        air_film=f"{film!r}mm",
        permittivity=permittivity,
    )
    solid, air = found["solid_field"]["value"], found["air_film_field"]["value"]
    # series layers: the displacement is one, the voltages add up
    assert air == pytest.approx(permittivity * solid, rel=1e-9)
    assert solid * thickness + air * film == pytest.approx(volts, rel=1e-9)


def test_a_corrected_cell_changes_the_answer_and_its_version(tmp_path, ask):
    package, name = "ipc-2221", "ipc-2221-table-6-1"
    shutil.copytree(shipped_folder() / package, tmp_path / package)
    described = tmp_path / package / "datapackage.json"
    stated = json.loads(described.read_text(encoding="utf-8"))
    resource = next(one for one in stated["resources"] if one["name"] == name)
    file = tmp_path / package / resource["path"]
    text = file.read_text(encoding="utf-8")
    assert text.count("301-500,301,500,0,0.25,2.5,") == 1
    file.write_text(text.replace("301-500,301,500,0,0.25,2.5,", "301-500,301,500,0,0.25,2.6,"), encoding="utf-8")
    resource["hash"] = f"sha256:{hashlib.sha256(file.read_bytes()).hexdigest()}"
    described.write_text(json.dumps(stated), encoding="utf-8")
    question = {"voltage": "600V", "place": "external-uncoated"}
    shipped, own = ask(conductor_spacing, **question), Asking(tmp_path).ask(conductor_spacing, **question)
    assert (distance(shipped), distance(own)) == (3.0, 3.1)
    assert shipped["data_version"] != own["data_version"]

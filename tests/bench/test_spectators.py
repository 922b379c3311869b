"""How far people are kept off: the largest of what rules and reach say is first, and nothing is permitted."""

import math

import pytest

from service.answers.situation import WAVEFORMS
from tests.asking import SHIPPED

QUERY = "voltage=30kV&waveform=dc&capacitance=10nF"


@pytest.fixture(scope="module")
def asked(client):
    return lambda query: client.get(f"/v1/spectators?{query}").get_json()


def test_the_largest_distance_is_first_and_is_what_is_said(asked):
    answer = asked(QUERY)
    sizes = [one["distance"]["value"] for one in answer["distances"]]
    assert sizes == sorted(sizes, reverse=True)
    assert answer["keep_back"] == answer["distances"][0]["distance"]
    assert answer["headline"]["text"] == f"{math.ceil(sizes[0] / 10) / 100:g} m"
    assert next(iter(answer)) == "lookup"
    assert list(answer).index("cautions") < list(answer).index("keep_back")


def test_reach_is_an_arm_what_is_held_and_a_spark_beyond(client, asked):
    answer = asked(f"{QUERY}&arm_length=1m&rod_length=2m")
    reach = next(one for one in answer["distances"] if "reaches out" in one["basis"])["distance"]["value"]
    gap = client.get("/v1/gap?voltage=30kV&waveform=dc").get_json()["gaps"][-1]["holds_above"]
    assert 3000 + gap <= reach <= 3000 + gap + 10


def test_the_published_rule_for_people_without_training_is_there(client, asked):
    # 29 CFR 1910.333(c)(3)(i): 10 feet from overhead lines to 50 kV; read in the public regulation
    assert any(one["distance"]["value"] == pytest.approx(3048, abs=1) for one in asked(QUERY)["distances"])


def test_the_energy_is_that_of_the_capacitance(asked):
    assert asked(QUERY)["stored_energy"]["value"] == pytest.approx(4.5)
    bare = asked("voltage=30kV&waveform=dc")
    assert "stored_energy" not in bare
    assert any(one["key"] == "charge-unknown" for one in bare["cautions"])


def test_what_is_left_of_a_distance_is_told_with_the_voltage_that_may_jump_it(client, asked):
    near = asked(f"{QUERY}&distance=2.26m")["at_the_distance"]
    assert near["left"]["value"] == pytest.approx(10, abs=1e-6)
    assert "may reach" in near["word"]
    low = client.get("/v1/breakdown?gap=10mm&waveform=dc").get_json()["breakdown_voltage"]["low"]
    assert near["may_jump_from"]["value"] == pytest.approx(low, rel=1e-6)
    assert "can be touched" in asked(f"{QUERY}&distance=2m")["at_the_distance"]["word"]


@pytest.mark.parametrize("query", [QUERY, "voltage=5kV&measure=rms", "voltage=400kV&waveform=lightning-impulse"])
@pytest.mark.parametrize("suffix", ["txt", "md", "html"])
def test_nothing_is_called_permitted(client, query, suffix):
    text = client.get(f"/v1/spectators.{suffix}?{query}").get_data(as_text=True).casefold()
    for word in ("safe", "harmless", "may approach", "may touch", "permitted", "complies"):
        assert word not in text
    assert "permission" in text


def test_a_larger_voltage_never_brings_people_nearer(asked):
    found = [asked(f"voltage={volts}kV&waveform=dc")["keep_back"]["value"] for volts in (5, 10, 30, 60, 120, 300)]
    assert found == sorted(found)


@pytest.mark.parametrize("waveform", ["dc", "ac", "lightning-impulse"])
def test_nobody_is_let_nearer_where_the_tables_of_the_rules_end(waveform):
    volts = [1e3 * 1.2**step for step in range(42)]
    answers = [SHIPPED.ask("spectators", voltage=f"{one:.6g}V", waveform=waveform, measure="peak") for one in volts]
    distances = [one["keep_back"]["value"] for one in answers]
    assert distances == sorted(distances)
    assert any("its table ends at" in one["basis"] for one in answers[-1]["distances"])
    assert any("more than their last rows" in note for note in answers[-1]["notes"])


@pytest.mark.parametrize("kilovolts", [12, 62, 300, 700])
def test_what_was_not_said_of_the_voltage_lets_nobody_nearer(asked, kilovolts):
    """Over every waveform and measure that can be said, nobody is kept further off than where neither is said."""
    said = [
        asked(f"voltage={kilovolts}kV&waveform={waveform}&measure={measure}&distance=9m")
        for waveform in WAVEFORMS
        for measure in ("peak", "rms", "peak-to-peak")
        if measure != "rms" or waveform in ("ac", "dc")
    ]
    unsaid = asked(f"voltage={kilovolts}kV&distance=9m")
    assert unsaid["keep_back"]["value"] == max(one["keep_back"]["value"] for one in said)
    assert unsaid["at_the_distance"]["may_jump_from"] == min(
        (one["at_the_distance"]["may_jump_from"] for one in said), key=lambda volts: volts["value"]
    )
    assert {"waveform", "measure"} <= set(unsaid["asked"]["assumed"])
    assert asked(f"voltage={kilovolts}kV&measure=rms")["keep_back"]["value"] >= max(
        one["keep_back"]["value"] for one in said if one["asked"]["measure"] == "rms"
    )

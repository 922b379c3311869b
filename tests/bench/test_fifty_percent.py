"""The 50 % voltage of impulses: by levels and up and down, against draws of impulses with a known middle."""

import numpy as np
import pytest

from service.bench.settings import WIDTH, FiftyPercent
from service.errors import BadQuestion
from service.lookups import probe_check
from service.web.bodies import read

TRUTH = 100e3


def up_and_down(random, count, width, step):
    volts, found, jumped = TRUTH * (1 + width * random.uniform(-2, 2)), [], []
    for _ in range(count):
        jumps = volts > TRUTH * (1 + width * random.standard_normal())
        found.append(volts)
        jumped.append(float(jumps))
        volts *= 1 - step if jumps else 1 + step
    return FiftyPercent(np.array(found), np.ones(count), np.array(jumped), up_and_down=True)


def levels(random, width):
    volts = TRUTH * (1 + np.arange(-3, 4) * 0.01) * (1 + random.uniform(-0.005, 0.005))
    jumped = [np.sum(one > TRUTH * (1 + width * random.standard_normal(10))) for one in volts]
    return FiftyPercent(volts, np.full(7, 10.0), np.array(jumped, dtype=float), up_and_down=False)


@pytest.mark.parametrize(("width", "step"), [(0.006, 0.01), (0.01, 0.01)])
def test_up_and_down_finds_the_middle_within_what_it_says(width, step):
    random = np.random.default_rng(11)
    found = [up_and_down(random, 30, width, step) for _ in range(200)]
    off = np.array([one.mean / TRUTH - 1 for one in found])
    covered = np.mean(np.abs(off) <= 2 * np.array([one.standard for one in found]))
    assert abs(off.mean()) < 3 * off.std() / np.sqrt(200)
    assert covered > 0.9


def test_levels_find_the_middle_within_what_they_say():
    random = np.random.default_rng(12)
    found = [levels(random, 0.01) for _ in range(300)]
    off = np.array([one.mean / TRUTH - 1 for one in found])
    covered = np.mean(np.abs(off) <= 2 * np.array([one.standard for one in found]))
    assert abs(off.mean()) < 3 * off.std() / np.sqrt(200)
    assert covered > 0.92


def test_the_middle_of_a_symmetrical_series_is_its_middle():
    # IEC 60060-1: sum of k_i U_i over sum of k_i, for jumps and holds about one voltage
    found = FiftyPercent(np.array([99.0, 100, 101]) * 1e3, np.full(3, 10.0), np.array([2.0, 5, 8]), up_and_down=False)
    assert found.mean == pytest.approx(TRUTH, rel=1e-5)
    assert list(found.why_not()) == []


def test_no_other_middle_or_width_makes_what_was_seen_more_likely():
    # of series about one voltage the search once stayed where it began: 32 of 380 were off, one by a whole per cent
    random = np.random.default_rng(3)
    series = [(levels(random, 0.01) if i % 2 else up_and_down(random, 30, 0.01, 0.01)) for i in range(60)]
    for one in series:
        if one.flashovers.sum() in (0, one.count):
            continue
        middle, width, _ = one._fitted
        best = np.array([(middle - 1) / WIDTH, np.log(width / WIDTH)])
        least = one._unlikely(best)
        everywhere = [one._unlikely(np.array([x, y])) for x in range(-9, 10) for y in (-2, -1, 0, 1, 2, 3)]
        beside = [one._unlikely(best + 0.02 * np.array(step)) for step in ((1, 0), (-1, 0), (0, 1), (0, -1))]
        assert least <= min(*everywhere, *beside)
        # where it is least it is level: to either side it rises alike
        assert abs(beside[0] - beside[1]) < 2e-3
        assert abs(beside[2] - beside[3]) < 2e-3


def checked(registry, **reading):
    """6.25 cm spheres at 20 mm, negative lightning impulse: 58.5 kV by the table (IEC 60052, from memory)."""
    said = {"sphere_diameter": "62.5mm", "waveform": "lightning-impulse", "polarity": "negative", "irradiated": "yes"}
    said |= {"pressure": "101.3kPa", "temperature": "20.0degC", "absolute_humidity": "8.5g/m3"}
    body = said | {"readings": [{"spacing": "20mm", **reading}]}
    return probe_check.answer(read(probe_check.BODY, body), registry).document(registry)


LEVELS = [
    {"indicated": f"{volts}kV", "impulses": 10, "flashovers": jumped}
    for volts, jumped in ((57.4, 1), (58.0, 3), (58.6, 5), (59.2, 8), (59.8, 10))
]


def test_an_impulse_check_by_levels_is_judged_with_its_uncertainty(registry):
    document = checked(registry, levels=LEVELS)
    setting = document["settings"][0]
    assert setting["accepted"]
    assert setting["mean"]["value"] == pytest.approx(58.5, abs=0.2)
    assert document["overall"]["verdict"] == "agrees-within-uncertainty"
    assert document["overall"]["expanded_uncertainty_parts_percent"]["repeatability"] > 0.2
    assert document["given"]["readings"][0]["levels"][0] == {"indicated": "57.4kV", "impulses": "10", "flashovers": "1"}


def test_an_impulse_check_up_and_down_is_judged(registry):
    volts, jumped = [58.2], []
    random = np.random.default_rng(4)
    for _ in range(30):
        jumps = volts[-1] > 58.5 * (1 + 0.008 * random.standard_normal())
        jumped.append(jumps)
        volts.append(volts[-1] + (-0.5 if jumps else 0.5))
    shots = [{"indicated": f"{v:.1f}kV", "flashover": str(j).lower()} for v, j in zip(volts, jumped, strict=False)]
    document = checked(registry, up_and_down=shots)
    assert document["overall"]["verdict"] == "agrees-within-uncertainty"
    few = checked(registry, up_and_down=shots[:10])
    assert few["overall"]["verdict"] == "cannot-tell"
    assert "at least 20" in few["settings"][0]["why_not"][0]


def test_the_uncertainty_of_an_up_and_down_check_covers_the_truth(registry):
    # own draws: the gap's common and own parts (3 %, k = 2), spacing, density, humidity, and the order of the impulses
    random, count = np.random.default_rng(8), 600
    series = [up_and_down(random, 30, 0.008, 0.01) for _ in range(count)]
    one = series[0]
    shots = [
        {"indicated": f"{58.5e-5 * volts:.3f}kV", "flashover": str(bool(jumped)).lower()}
        for volts, jumped in zip(one.voltages, one.flashovers, strict=True)
    ]
    stated = checked(registry, up_and_down=shots)["overall"]["expanded_uncertainty"]
    gap = np.hypot(np.sqrt(0.015**2 - 0.01**2), 0.01) * random.standard_normal(count)
    spacing = 0.02 / 20 * 0.93 * random.uniform(-1, 1, count)
    density, humid = 0.005 * random.uniform(-1, 1, count), 0.002 * random.uniform(-1, 1, count)
    off = np.array([each.mean / TRUTH for each in series]) * (1 + gap + spacing + density + humid)
    assert 0.93 <= np.mean(np.abs(1 / off - 1) <= stated) <= 0.97


def test_impulses_that_all_jump_say_nothing(registry):
    all_jumped = [{**one, "flashovers": 10} for one in LEVELS]
    setting = checked(registry, levels=all_jumped)["settings"][0]
    assert "Every impulse jumped" in setting["why_not"][0]


def test_jumps_without_a_chance_are_noted_as_no_fifty_percent(registry):
    volts = [f"{58.5 + 0.1 * (i % 5):.1f}kV" for i in range(10)]
    assert any("50 % voltage" in note for note in checked(registry, indicated_voltages=volts)["notes"])


@pytest.mark.parametrize(
    ("reading", "path"),
    [
        ({"levels": [{**LEVELS[0], "flashovers": 11}] * 3}, "readings[0].levels[0].flashovers"),
        ({"levels": []}, "readings[0].levels"),
        ({"levels": [{"indicated": "58kV"}]}, "readings[0].levels[0].impulses"),
        ({"up_and_down": [{"indicated": "58kV", "flashover": "perhaps"}]}, "readings[0].up_and_down[0].flashover"),
        ({"levels": LEVELS, "indicated_voltages": ["58kV"] * 10}, "readings[0].indicated_voltages"),
    ],
)
def test_impulses_at_fault_are_told_by_their_place(registry, reading, path):
    with pytest.raises(BadQuestion) as refused:
        checked(registry, **reading)
    assert path in {fault.parameter for fault in refused.value.faults}


@pytest.mark.parametrize("width", [0.005, 0.02])
def test_many_impulses_say_how_wide_their_chance_is(width):
    # normal distribution about the truth, 2,000 impulses at each of nine levels two widths to either side
    random = np.random.default_rng(13)
    volts = TRUTH * (1 + width * np.linspace(-2, 2, 9))
    jumped = np.array([np.sum(one > TRUTH * (1 + width * random.standard_normal(2000))) for one in volts], dtype=float)
    found = FiftyPercent(volts, np.full(9, 2000.0), jumped, up_and_down=False)
    assert found.deviation == pytest.approx(width, rel=0.03)
    assert found.mean == pytest.approx(TRUTH, rel=1e-3)

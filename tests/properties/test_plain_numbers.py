"""A method says of a case in plain numbers what it says of the same case in arrays, in every word and digit."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from service.methods import Case
from tests.asking import SHIPPED

REGISTRY = SHIPPED.registry
WAVES = (("ac", None), ("dc", "positive"), ("lightning-impulse", "negative"), ("switching-impulse", None))
SURROUNDINGS = (  # kPa, K, kg/m3, Hz
    (101.3, 293.15, 8.5e-3, 50.0),
    (101.3, 293.15, math.nan, 50.0),
    (60.0, 280.0, 3e-3, 50.0),
    (150.0, 310.0, 20e-3, 25e3),
    (600.0, 293.15, 1e-3, 400e3),
    (2.0, 293.15, 1e-4, 50.0),
)
GASES = ("nitrogen", "sulfur-hexafluoride", "argon")


def cases(arrangement):
    """Yield cases of one element over gaps, sizes, waveforms and surroundings, first choices of options."""
    random = np.random.default_rng(len(arrangement.key))
    sizes = [one for one in arrangement.parameters if one.dimension != "choice" and (one.required or one.low)]
    choices = [one for one in arrangement.parameters if one.dimension == "choice"]
    for number in range(60):
        kilopascal, kelvin, water, hertz = SURROUNDINGS[number % len(SURROUNDINGS)]
        waveform, polarity = WAVES[number // 2 % len(WAVES)]
        gas = GASES[number % 3] if number % 10 == 9 else "air"
        gap = np.array([10 ** random.uniform(-5.3, 0.5)])
        shape = random.choice([0.02, 0.1, 0.3, 1.0, 10 ** random.uniform(-3, 0)])
        dimensions = {one.name: gap / shape * random.uniform(0.5, 2) for one in sizes}
        if number % 3:  # proportions as on a bench
            printed = {one.name: float(one.read(one.example or "10mm")) for one in sizes}
            dimensions = {name: size * gap / random.choice([5e-3, 10e-3, 20e-3]) for name, size in printed.items()}
        if "sphere_diameter" in dimensions and number % 2:
            dimensions["sphere_diameter"] = np.array([random.choice([0.02, 0.05, 0.25, 1.0])])
        if arrangement.completes is not None:
            dimensions = dict(arrangement.completes(dimensions, gap))
        yield Case(
            gap,
            np.array([kilopascal * 1e3]),
            np.array([kelvin]),
            np.array([water if gas == "air" else math.nan]),
            np.array([hertz if waveform == "ac" else 0.0]),
            dimensions,
            {one.name: one.choices[number % len(one.choices)] for one in choices},
            gas,
            waveform=waveform,
            polarity=polarity,
        )


def same(one, other, name):
    if one is None or other is None:
        assert one is other, name
    else:
        assert other == pytest.approx(one.item(), rel=1e-11, abs=0.0, nan_ok=True), name


@pytest.mark.parametrize("key", REGISTRY.arrangements)
def test_in_plain_numbers_and_in_arrays(key):
    arrangement, held = REGISTRY.arrangements[key], 0
    for case in cases(arrangement):
        for method in arrangement.applying(case):
            pair = case.take(np.array([0, 0]))
            inside = method.validity.mask(pair)
            assert method.validity.holds_at_one(case.plain) == inside[0] == inside[1], method.key
            if not inside[0]:
                continue
            held += 1
            wanted, found = method.function(case), method.estimate(case.plain)
            assert isinstance(found.value, float)
            for name in ("value", "low", "high", "inception", "utilization"):
                same(getattr(wanted, name), getattr(found, name), f"{method.key}: {name}")
            assert set(wanted.corrections) == set(found.corrections)
            for name, factor in wanted.corrections.items():
                same(factor, found.corrections[name], f"{method.key}: {name}")
            assert (found.notes, found.row, found.provenance) == (wanted.notes, wanted.row, wanted.provenance)
    assert held > 10


def joined(several):
    """Return many cases of one element as one case of many elements."""
    names = ("gap", "pressure", "temperature", "humidity", "frequency")
    sizes = {name: np.concatenate([one.dimensions[name] for one in several]) for name in several[0].dimensions}
    return replace(
        several[0],
        dimensions=sizes,
        **{name: np.concatenate([getattr(one, name) for one in several]) for name in names},
    )


@pytest.mark.parametrize(("waveform", "polarity"), [("ac", None), ("lightning-impulse", "negative")])
@pytest.mark.parametrize("key", REGISTRY.arrangements)
def test_many_at_once_say_what_each_says(key, waveform, polarity):
    # a rule that is left out where it matters to none must be kept where it matters to one of many
    arrangement = REGISTRY.arrangements[key]
    several = [
        replace(one, waveform=waveform, polarity=polarity, options=options, frequency=hertz)
        for one in list(cases(arrangement))[:30]
        for options in [{p.name: p.choices[0] for p in arrangement.parameters if p.dimension == "choice"}]
        for hertz in [np.array([50.0 if one.frequency == 0 else one.frequency[0]]) if waveform == "ac" else np.zeros(1)]
        if one.gas == "air"
    ]
    whole = joined(several)
    for method in arrangement.applying(whole):
        inside = np.flatnonzero(method.validity.mask(whole))
        if inside.size < 2:
            continue
        found = method.function(whole.take(inside))
        for place, which in enumerate(inside):
            alone = method.function(several[which])
            for name in ("value", "low", "high", "inception"):
                wanted, got = getattr(alone, name), getattr(found, name)
                if wanted is not None:
                    assert got[place] == pytest.approx(wanted.item(), rel=1e-6, nan_ok=True), f"{method.key}: {name}"

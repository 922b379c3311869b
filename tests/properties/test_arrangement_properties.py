"""What every arrangement promises: values with bands, hand-overs within stated uncertainties, limits of shapes."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.answers.evaluate import evaluate
from service.methods import Case
from tests.asking import SHIPPED

SIZES = {
    "sphere-gap": "sphere_diameter",
    "sphere-plane": "sphere_diameter",
    "coaxial-cylinders": "inner_diameter",
    "concentric-spheres": "inner_diameter",
    "parallel-wires": "wire_diameter",
    "wire-plane": "wire_diameter",
    "point-plane": "tip_radius",
}
SHAPES = sorted(SIZES)
GASES = ["air", "nitrogen", "argon", "sulfur-hexafluoride", "carbon-dioxide"]
WAVES = ["ac", "dc", "lightning-impulse", "switching-impulse", "pulse-train"]
quick = settings(max_examples=60, deadline=None)
gaps = st.floats(-4.5, 0.2).map(lambda exponent: 10.0**exponent)
sizes = st.floats(-5.0, 0.6).map(lambda exponent: 10.0**exponent)
pressures = st.floats(3.0, 6.0).map(lambda exponent: 10.0**exponent)


def case(shape, gap, size, pressure=101.3e3, **more):
    """A case of one shape; arrays of gaps, sizes and pressures are broadcast."""
    gap, size, pressure = np.broadcast_arrays(*(np.atleast_1d(np.asarray(x, float)) for x in (gap, size, pressure)))
    air = more.get("gas", "air") == "air"
    base = Case(
        gap,
        pressure,
        np.full(gap.shape, 293.15),
        np.full(gap.shape, 8.5e-3 if air else np.nan),
        np.full(gap.shape, 50.0),
        dimensions={SIZES[shape]: size},
        options={"earthing": "one-earthed"} if shape == "sphere-gap" else {},
    )
    return replace(base, **more)


def answer(shape, gap, size, pressure=101.3e3, **more):
    return evaluate(SHIPPED.registry.arrangement(shape), case(shape, gap, size, pressure, **more))


def agree(found, i, j):
    """Whether two neighbouring answers agree within their bands; a bracket agrees with what it holds."""
    return not (found.low[i] > found.high[j] * (1 + 1e-9) or found.low[j] > found.high[i] * (1 + 1e-9))


@quick
@given(
    st.sampled_from(SHAPES), gaps, sizes, pressures, st.sampled_from(GASES), st.sampled_from(WAVES), st.floats(0, 9e6)
)
def test_an_answer_has_a_band_or_is_a_bracket_and_is_never_not_a_number(
    shape, gap, size, pressure, gas, waveform, frequency
):
    hertz = np.array([frequency if waveform in ("ac", "pulse-train") else 0.0])
    found = answer(shape, gap, size, pressure, gas=gas, waveform=waveform, frequency=hertz)
    if not found.answered[0]:
        assert np.isnan([found.value[0], found.low[0], found.high[0]]).all()
        return
    # beyond a metre, or 5 bar m, plates do not answer: the low end stands alone
    beyond = gap > 1.0 or gap * pressure > 4.99e5
    assert np.isfinite(found.high[0]) or (beyond and np.isfinite(found.low[0]))
    assert not found.high[0] <= 0
    assert 0 < found.utilization[0] <= 1 + 1e-6
    kind = found.preferred().method.kind
    assert np.isnan(found.value[0]) == (kind == "bracket")
    if kind != "bracket":
        assert 0 < found.low[0] < found.value[0] < found.high[0]
    elif gas == "air":
        assert np.isnan(found.low[0]) or found.low[0] > 0
        assert not found.low[0] > found.high[0] * (1 + 1e-9)
    else:
        assert np.isnan(found.low[0])


@quick
@given(st.sampled_from(SHAPES), gaps, sizes, st.floats(2e4, 5e5), st.floats(0.2, 5.0))
def test_size_times_pressure_alone_decides_where_the_criterion_answers(shape, gap, size, pressure, scale):
    here = answer(shape, gap, size, pressure)
    there = answer(shape, gap * scale, size * scale, pressure / scale)
    both = np.isfinite(here.inception[0]) and np.isfinite(there.inception[0])
    if both and "table" not in {one.preferred().method.kind for one in (here, there)}:
        # quadrature and root are each good to about 1e-6; seen: 1.04e-6. The ends of a bracket rest on tables of
        # points, which the correction of IEC 60060-1 carries to other air: no similarity there
        np.testing.assert_allclose([there.inception[0], there.value[0]], [here.inception[0], here.value[0]], rtol=3e-6)


@quick
@given(st.sampled_from(SHAPES), st.floats(1e-3, 0.5), st.floats(3e4, 3e5))
def test_huge_electrodes_give_the_uniform_field(shape, gap, pressure):
    found = evaluate(
        SHIPPED.registry.arrangement(shape), case(shape, gap, 1e5 * gap, pressure), only="streamer-quadratic"
    ).value
    plates = evaluate(
        SHIPPED.registry.arrangement("uniform-field"),
        replace(case(shape, gap, 1.0, pressure), dimensions={}, options={}),
    ).value
    assert found == pytest.approx(plates, rel=1e-3)


@quick
@given(st.sampled_from(SHAPES), sizes, st.floats(3e4, 3e5), st.floats(-4.3, 0.0), st.floats(1.01, 3.0))
def test_no_low_end_falls_where_inception_gives_way_to_a_bracket(shape, size, pressure, exponent, more):
    # beyond 2 m, a little more than the widest cell of the table, no model answers but the sharpest electrode
    found = answer(shape, 10**exponent * np.array([1.0, min(more, 2.0 / 10**exponent)]), size, pressure)
    models = {found.methods[i].method.kind for i in found.choice if i >= 0}
    if found.answered.all() and "table" not in models:
        near, wide = (found.high[k] if np.isnan(found.value[k]) else found.value[k] for k in (0, 1))
        assert not near > wide * (1 + 1e-6)  # beyond a metre a bracket has no high end
        assert found.low[0] <= found.low[1] * (1 + 1e-6)


# --- hand-overs ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("waveform", "polarity"), [("ac", None), ("dc", "positive"), ("lightning-impulse", "positive")]
)
def test_tables_and_criterion_agree_where_one_hands_over_to_the_other(waveform, polarity):
    for diameter in np.unique(SHIPPED.registry.reference.table("iec-60052-table-2")["sphere_diameter"]):
        spacing = np.geomspace(5e-5, 1.5 * diameter, 1500)
        found = answer(
            "sphere-gap",
            spacing,
            diameter,
            waveform=waveform,
            polarity=polarity,
            frequency=np.full(spacing.size, 0.0),
        )
        seams = [i for i in np.flatnonzero(np.diff(found.choice)) if found.answered[[i, i + 1]].all()]
        assert seams
        assert all(agree(found, i, i + 1) for i in seams)


@pytest.mark.parametrize("density", [0.9, 1.1])
def test_tables_and_criterion_agree_at_the_ends_of_the_density_range(density):
    table = SHIPPED.registry.reference.table("iec-60052-table-2")
    sides = [
        answer("sphere-gap", table["spacing"], table["sphere_diameter"], 101.3e3 * density * side)
        for side in (1 - 1e-6, 1 + 1e-6)
    ]
    kinds = [{one.methods[i].method.kind for i in one.choice} for one in sides]
    assert sorted(kinds, key=str) == [{"model"}, {"table"}]
    assert np.all(sides[0].low <= sides[1].high)
    assert np.all(sides[1].low <= sides[0].high)


# the low end of a hyperboloid is that of a rod with its tip, so that its band is wider
@pytest.mark.parametrize("shape", ["sphere-plane", "coaxial-cylinders", "wire-plane"])
def test_the_band_grows_from_5_to_10_percent_and_nothing_steps(shape):
    # the cells of the earthed-sphere table are 4 % off on average from 0.66 to 0.60 of utilization, 8 % at 0.5: from
    # 0.66 on the band is 5 %, at 0.60 and below 10 %, and the bracket that follows begins at 0.9 of inception
    gap = np.geomspace(1e-3, 0.1, 4000)
    found = answer(shape, gap, 20e-3)
    middle = np.where(np.isnan(found.value), found.inception, found.value)
    below = 1 - found.low / middle
    eta = found.utilization
    held = found.low > 0.9 * middle * (1 + 1e-9)  # where the sharpest electrode holds more
    assert below[eta >= 0.66] == pytest.approx(0.05, abs=1e-9)
    assert below[(eta <= 0.60) & ~held] == pytest.approx(0.10, abs=1e-9)
    steps = np.diff(gap) / gap[1:]
    for curve in (found.low, middle):
        rise = np.diff(curve) / curve[1:]
        assert rise.min() >= 0
        assert np.all(rise <= 1.5 * steps)
    # a band never narrows where the field gets less uniform
    assert np.all(np.diff(np.log(found.high / found.low)) >= -1e-9)


def test_parallel_wires_have_corona_first_beyond_the_published_ratio():
    # axis distance over radius 5.85: with 1 mm radius a gap of 3.85 mm
    found = answer("parallel-wires", [3.84e-3, 3.86e-3], 2e-3)
    assert [found.methods[i].method.kind for i in found.choice] == ["model", "bracket"]
    assert (found.utilization > 0.6).all()


def test_rods_hand_over_between_the_formulas_within_their_bands():
    gap = np.array([0.999999, 1.0, 1.999999, 2.0, 5.0, 5.000001, 25.0, 25.000001])
    full = [np.full(gap.size, value) for value in (101.3e3, 293.15, 11e-3, 0.0)]
    rods = Case(gap, *full, options={"configuration": "rod-plane"}, waveform="switching-impulse")
    value = evaluate(SHIPPED.registry.arrangement("rod-plane"), rods).value
    assert np.isnan(value[0])
    assert value[3] == pytest.approx(value[2], rel=1e-5)
    assert value[5] == pytest.approx(value[4], rel=1e-5)
    assert value[7] == pytest.approx(value[6], rel=1e-5)


# --- the ends that hold for every shape ---------------------------------------------------------------------------

NAMED = [
    *((shape, size) for shape in SHAPES for size in (2e-5, 1e-3, 2e-2)),
    *((key, None) for key in ("needle-gap", "rod-gap", "rod-plane")),
]


def grid_of(key, size, **more):
    """What named and unknown electrodes answer over gaps from 12 um to 10 m, and whether sizes are of a named shape."""
    gaps = np.geomspace(1.2e-5, 9.99, 220)
    here = case("sphere-plane", gaps, size or 1.0, **more)
    if size is None:
        here = replace(here, dimensions={}, options={"configuration": "rod-plane"} if key == "rod-plane" else {})
    elif key in ("coaxial-cylinders", "concentric-spheres"):
        here = replace(here, dimensions={"inner_diameter": np.full(gaps.size, size), "outer_diameter": size + 2 * gaps})
    else:
        here = replace(
            here,
            dimensions={SIZES[key]: np.full(gaps.size, size)},
            options={"earthing": "one-earthed"} if key == "sphere-gap" else {},
        )
    unknown = evaluate(SHIPPED.registry.arrangement("unknown"), replace(here, dimensions={}, options={}))
    return evaluate(SHIPPED.registry.arrangement(key), here), unknown


@pytest.mark.parametrize(("key", "size"), NAMED)
def test_naming_the_electrodes_is_never_wider_or_less_safe_than_not_naming_them(key, size):
    waves = [
        ("ac", 50.0),
        ("ac", 20e3),
        ("ac", 100e3),
        ("dc", 0.0),
        ("lightning-impulse", 0.0),
        ("switching-impulse", 0.0),
    ]
    for waveform, frequency in waves:
        for polarity in (None,) if waveform == "ac" else (None, "positive", "negative"):
            for pressure in (20e3, 101.3e3, 300e3):
                more = {"waveform": waveform, "polarity": polarity}
                found, unknown = grid_of(key, size, pressure=pressure, frequency=np.full(220, frequency), **more)
                both = found.answered & unknown.answered
                assert not np.any(found.low[both] < unknown.low[both] * (1 - 1e-9))
                assert not np.any(found.high[both] > unknown.high[both] * (1 + 1e-9))
                # where unknown electrodes have an end, named ones have it too
                assert not np.any(np.isnan(found.low[both]) & np.isfinite(unknown.low[both]))
                assert not np.any(np.isnan(found.high[both]) & np.isfinite(unknown.high[both]))
                assert not np.any(found.value[both] < found.low[both])
                assert not np.any(found.value[both] > found.high[both])


@pytest.mark.parametrize(("key", "size"), NAMED)
def test_a_named_shape_never_needs_more_gap_to_hold_a_voltage(key, size):
    gaps = np.geomspace(1.2e-5, 9.99, 220)
    for waveform in ("ac", "dc", "lightning-impulse"):
        found, unknown = grid_of(key, size, waveform=waveform, frequency=np.full(220, 50.0 * (waveform == "ac")))
        for volts in (2e3, 5e3, 12e3, 30e3, 100e3, 1e6):
            # from which gap of the grid on every answer holds
            apart = [gaps[np.flatnonzero(one.low < volts)[-1]] for one in (found, unknown)]
            assert apart[0] <= apart[1]


# --- frequency and humidity ---------------------------------------------------------------------------------------


@quick
@given(st.sampled_from(SHAPES), st.floats(1e-3, 0.05), st.floats(50.0, 9e6), st.floats(1.01, 10.0))
def test_a_higher_frequency_never_takes_more_voltage(shape, gap, frequency, more):
    hertz = np.array([frequency, min(9.9e6, frequency * more)])
    found = answer(shape, np.array([gap, gap]), 0.1, frequency=hertz)
    assert np.all(np.diff(found.low) <= 1e-9 * found.low[0])
    if np.isfinite(found.value).all():
        assert np.diff(found.value)[0] <= 1e-9 * found.value[0]
        assert found.low[1] >= 0.79 * found.low[0]


def test_away_from_the_reference_humidity_the_band_of_the_criterion_widens():
    # 0.2 % per g/m3: 10 g/m3 away is 2 %
    dry, plain = (answer("sphere-plane", 5e-3, 0.1, humidity=np.array([h])) for h in (18.5e-3, 8.5e-3))
    assert dry.value == plain.value
    assert 1 - dry.low / dry.value == pytest.approx(1 - plain.low / plain.value + 0.02)
    bracket = [answer("sphere-plane", 0.02, 0.01, humidity=np.array([h])) for h in (18.5e-3, 8.5e-3)]
    assert bracket[0].low == pytest.approx(0.98 * bracket[1].low)
    assert bracket[0].high == pytest.approx(1.05 / 1.03 * bracket[1].high)  # the uniform field's 3 % and 2 % more


def test_what_is_unchecked_is_said():
    def notes(*asked):
        return answer(*asked).preferred().estimate.notes

    checked = notes("sphere-gap", 10e-3, 0.03)
    assert not any("rests on similarity" in note for note in checked)
    for asked in [("sphere-plane", 10e-3, 0.05), ("sphere-gap", 2e-3, 0.01), ("sphere-gap", 10e-3, 0.03, 3e5)]:
        assert any("rests on similarity" in note for note in notes(*asked))
    assert any("kV/(cm bar)" in note for note in notes("point-plane", 10e-3, 50e-6))

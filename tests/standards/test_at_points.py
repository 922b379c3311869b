"""Rules that are written for one number, asked at many points: they part where the rule decides."""

from __future__ import annotations

import numpy as np
import pytest

from service.errors import OutsideValidity
from service.standards.boards import BoardTables
from service.standards.clearance import altitude_factor, homogeneous_factor, reinforced_impulse
from service.standards.ladder import VARIES, Parted, at_points, parts, relation, vary
from service.units import ROUNDING
from tests.asking import SHIPPED


def test_points_that_agree_decide_and_others_part():
    volts = at_points(np.array([1.0, 2.0, 3.0]))
    assert volts < 4
    assert not volts > 4
    with pytest.raises(Parted) as apart:
        bool(volts > 1)
    assert apart.value.holds.tolist() == [False, True, True]


def test_a_number_that_varies_decides_nothing_and_has_no_words():
    volts = at_points(np.array([1.0, 2.0]))
    with pytest.raises(TypeError):
        bool(volts)
    with pytest.raises(TypeError):
        float(volts)
    assert f"{volts:.3g} V" == f"{VARIES} V"
    assert vary(volts * 2 + 1)
    assert not vary(1.0)


def test_every_point_goes_its_own_way_through_a_rule():
    def rule(volts):
        if volts < 3:
            return "small", volts * 10
        return ("even", volts) if volts % 2 == 0 else ("odd", max(volts, 6.0))

    values = np.array([5.0, 1.0, 4.0, 9.0, 2.0, 7.0, 8.0])
    found = {}
    for rows, (word, number) in parts(lambda rows: rule(at_points(values[rows])), np.arange(values.size)):
        numbers = np.broadcast_to(number, rows.size)
        found |= {int(row): (word, float(one)) for row, one in zip(rows, numbers, strict=True)}
    assert found == {place: rule(float(value)) for place, value in enumerate(values)}


def test_a_relation_that_holds_at_some_points_parts_them():
    def root(x):
        if np.any(np.asarray(x) < 0):
            raise OutsideValidity("negative")
        return np.sqrt(x)

    values = at_points(np.array([4.0, -1.0]))
    with pytest.raises(Parted):
        relation(root, lambda x: x >= 0, values)
    assert relation(root, lambda x: x >= 0, values[:1]).tolist() == [2.0]
    with pytest.raises(OutsideValidity):
        relation(root, lambda x: x >= 0, values[1:])
    assert relation(root, lambda x: x >= 0, 9.0) == 3.0


def test_the_last_row_is_read_as_far_as_the_table_covers():
    tables = BoardTables.of(SHIPPED.registry.reference)
    for ladder in [tables.air.altitude, *tables.air.peak.values(), *tables.surface.columns.values()]:
        for at in np.nextafter(ladder.last * (1 + ROUNDING), [0.0, np.inf, ladder.last * (1 + ROUNDING)]):
            if ladder.covers(float(at)):
                assert ladder.step_up(float(at)).value == ladder.values[-1]
                assert ladder.interpolated(float(at)).value == ladder.values[-1]
    assert altitude_factor(20000.0 * (1 + ROUNDING), tables.air.altitude).value == tables.air.altitude.values[-1]


def test_reinforced_impulses_are_the_same_for_one_and_for_many():
    tables = BoardTables.of(SHIPPED.registry.reference)
    series, random = tables.air.preferred, np.random.default_rng(5)
    volts = np.concatenate([series, series * (1 + 5e-10), series * (1 - 5e-10), random.uniform(10, 2e5, 500)])
    alone = [reinforced_impulse(float(one), series, 1.6) for one in volts]
    many = np.full(volts.size, np.nan)
    for rows, found in parts(
        lambda rows: reinforced_impulse(at_points(volts[rows]), series, 1.6), np.arange(volts.size)
    ):
        many[rows] = found
    assert many.tolist() == alone
    # a hair beside a step of the series is the step; below the first step no step asks for anything
    beside = [
        reinforced_impulse(float(one * hair), series, 1.6) for one in series[:-1] for hair in (1 - 5e-10, 1 + 5e-10)
    ]
    assert beside == [step for step in series[1:] for _ in range(2)]
    assert reinforced_impulse(100.0, series, 1.6) == 160.0
    assert (many > volts).all()


def test_the_factor_above_the_critical_frequency_settles_at_every_point_for_itself():
    constants, random = BoardTables.of(SHIPPED.registry.reference).air.frequency, np.random.default_rng(6)
    metres, hertz = random.uniform(1e-5, 5e-2, 2000), np.exp(random.uniform(np.log(1e3), np.log(1e7), 2000))

    def rule(rows):
        return homogeneous_factor(at_points(metres[rows]), at_points(hertz[rows]), constants)

    many = np.full(metres.size, np.nan)
    for rows, found in parts(rule, np.arange(metres.size)):
        many[rows] = found
    alone = [homogeneous_factor(float(d), float(f), constants) for d, f in zip(metres, hertz, strict=True)]
    assert many.tolist() == alone
    assert len(set(alone)) > 500

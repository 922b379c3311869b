"""Drawings of electrodes: to scale, or said not to be."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from service.electrodes import discover
from service.methods.drawing import WHOLE
from service.reference import load
from service.web import create_app
from service.web.forms import pictured

ARRANGEMENTS = discover(load())


def shown(key, **given):
    return pictured(ARRANGEMENTS[key], {name: str(text) for name, text in given.items()}).drawing


def apart(one, other):
    """Shortest distance from the places of one outline to the sides of another."""
    start, end = other, np.roll(other, -1)
    along = end - start
    with np.errstate(all="ignore"):
        share = np.real((one[:, None] - start) * np.conj(along)) / np.abs(along) ** 2
    share = np.clip(np.nan_to_num(share), 0.0, 1.0)
    return float(np.abs(one[:, None] - start - share * along).min())


@pytest.mark.parametrize("key", ARRANGEMENTS)
def test_the_shortest_distance_that_is_drawn_is_the_gap(key):
    drawing = shown(key, gap="8mm")
    gap = next(abs(one.end - one.start) for one in drawing.dimensions if one.name == "gap")
    metals = [one.places for one in drawing.metals if one.solid or not one.vague]
    lower = [one for one in metals if one.imag.min() <= 1e-9]
    upper = [one for one in metals if one.imag.min() > 1e-9]
    found = min(min(apart(a, b), apart(b, a)) for a, b in itertools.product(upper, lower))
    assert found == pytest.approx(gap, rel=0.01)
    assert drawing.labels[0].startswith("gap ")


@pytest.mark.parametrize("key", ARRANGEMENTS)
@pytest.mark.parametrize("gap", ["10um", "8mm", "5m"])
def test_the_gap_can_be_seen_whatever_it_is(key, gap):
    drawing = shown(key, gap=gap)
    lines = {one.name: abs(one.end - one.start) for one in drawing.dimensions}
    assert lines["gap"] * WHOLE >= 0.999 * (drawing.reach[2] - drawing.reach[1])
    assert len(drawing.labels) == len(drawing.dimensions)


def test_what_cannot_be_seen_is_drawn_larger_and_said():
    drawing = shown("point-plane", gap="10mm", tip_radius="1um")
    assert not drawing.to_scale
    assert "tip radius 1 µm" in drawing.labels
    assert drawing.remarks[-1].startswith("Not to scale: the tip radius of 1 µm is drawn 2")
    assert shown("point-plane", gap="10mm", tip_radius="3mm").to_scale


def test_where_a_table_states_no_sizes_only_the_gap_is_to_scale():
    assert {key for key in ARRANGEMENTS if shown(key).scaled == "gap to scale"} == {
        "needle-gap",
        "rod-plane",
        "uniform-field",
        "unknown",
    }


def test_a_large_sphere_is_cut_by_a_frame():
    drawing = shown("sphere-gap", gap="5mm", sphere_diameter="2m")
    assert drawing.cut
    assert not shown("sphere-gap", gap="8mm", sphere_diameter="2cm").cut


def test_the_picture_of_an_answer_is_its_electrodes():
    client = create_app().test_client()
    for suffix in ("svg", "html"):
        page = client.get(f"/v1/breakdown.{suffix}?gap=8mm&electrodes=sphere-gap&sphere_diameter=2cm").text
        assert "Sphere gap, to scale" in page
        assert "sphere diameter 20 mm" in page
    brief = client.get("/v1/breakdown.svg?gap=8mm&view=brief").text
    assert "to scale" not in brief

"""PNG: the SVG drawn with the shipped fonts only."""

from __future__ import annotations

import re
import struct
from dataclasses import replace

import pytest
import resvg_py

from service.render import png, svg
from service.render.formats import FORMATS
from service.render.text_metrics import FONTS

from .samples import SAMPLES


def size(data: bytes) -> tuple[int, int]:
    width, height = struct.unpack(">II", data[16:24])
    return width, height


def test_it_is_twice_as_large_as_the_svg(name):
    page = SAMPLES[name]()
    width, height = re.findall(r' (?:width|height)="(\d+)"', svg.markup(page))[:2]
    assert size(FORMATS["png"].render(page)) == (2 * int(width), 2 * int(height))


def test_it_is_drawn_from_the_very_svg():
    page = replace(SAMPLES["claim"](), theme="dark")
    assert png.render(page) == png.pixels(svg.markup(page))


def test_without_a_wish_it_is_light():
    page = SAMPLES["unknown"]()
    assert png.render(page) == png.render(replace(page, theme="light")) != png.render(replace(page, theme="dark"))


@pytest.mark.parametrize("name_of_sample", ["no-gap", "claim"])
def test_every_label_of_the_svg_is_in_it(name_of_sample):
    markup = svg.markup(replace(SAMPLES[name_of_sample](), theme="light"))
    whole = png.pixels(markup)
    labels = re.findall(r"<text.*?</text>\n", markup, re.DOTALL)
    assert len(labels) > 10
    for label in labels:
        assert png.pixels(markup.replace(label, "", 1)) != whole, label


def test_the_letters_come_from_the_shipped_fonts_alone():
    markup = svg.markup(replace(SAMPLES["no-gap"](), theme="light"))
    bare = re.sub(r"<text.*?</text>\n", "", markup, flags=re.DOTALL)
    nothing = bytes(resvg_py.svg_to_bytes(svg_string=markup, zoom=2, skip_system_fonts=True))
    assert nothing == png.pixels(bare) != png.pixels(markup)


def test_the_fonts_come_with_their_licence():
    licence = (FONTS / "LICENSE").read_text(encoding="utf-8")
    assert "SIL OPEN FONT LICENSE Version 1.1" in licence
    assert "Reserved Font Name Liberation" in licence

"""The sheet between an answer and its formats: nothing of the answer is lost on the way to a reader."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from typing import Any

import pytest

from service.render import grids
from service.render.formats import FORMATS
from service.render.page import Page
from service.render.records import amount, in_unit, is_quantity, text_of
from service.render.sheet import sheet

from .samples import SAMPLES, length, volts

SILENT = (
    "lookup",
    "key",
    "kind",
    "provenance",
    "assumed",
    "unit",
    "measure",
    "service_version",
    "data_version",
    "values",
)
"""Keys whose text is not read out as it stands: names for programs, and what is written otherwise."""


EITHER = "\0"
"""Between the two ways in which a number may be read: in the unit of its size, and in that of the answer."""


def read(leaf: str, lines: str) -> bool:
    return any(squeezed(one) in lines for one in leaf.split(EITHER))


def leaves(value: Any, key: str = "") -> Iterator[str]:
    if key in SILENT:
        return
    if is_quantity(value):
        said, own = (re.findall(r"[0-9.e-]+", amount(one)) for one in (in_unit(value), value))
        yield from (EITHER.join(pair) for pair in zip(said, own, strict=True))
        yield from (
            leaf for name, one in value.items() if name not in ("value", "low", "high") for leaf in leaves(one, name)
        )
    elif isinstance(value, dict):
        if "values" not in value:
            yield from (leaf for name, one in value.items() for leaf in leaves(one, name))
    elif isinstance(value, list):
        yield from (leaf for one in value for leaf in leaves(one, key))
    elif isinstance(value, str):
        yield value


def squeezed(text: str) -> str:
    shown = html.unescape(re.sub(r"<[^>]+>", " ", text))
    return re.sub(r"[\s\\-]+|%%", "", shown).rstrip(".").replace("µ", "u")


@pytest.mark.parametrize("suffix", ["txt", "html", "md", "wiki", "dokuwiki"])
def test_every_text_and_every_quantity_of_an_answer_is_read_in_every_format(suffix, name):
    page = SAMPLES[name]()
    text = (
        FORMATS[suffix].render(page).decode("utf-8").replace("degC", "°C").replace("g/m3", "g/m³").replace("ohm", "Ω")
    )
    lines = squeezed(text) + squeezed("".join(re.findall(r"\S+ *", text)))
    if suffix == "txt":
        # words of one cell stand in several lines there
        words = set(re.findall(r"[^\s;:]+", text))
        missing = [word for leaf in leaves(page.document) for word in leaf.split() if not read(word, lines)]
        assert [word for word in missing if word not in words] == []
    else:
        assert [leaf for leaf in leaves(page.document) if not read(leaf, lines)] == []


def test_sections_come_in_the_order_of_reading():
    assert [section.key for section in sheet(SAMPLES["breakdown"]()).sections] == [
        "because",
        "answer",
        "notes",
        "cautions",
        "conditions",
        "method",
        "also",
        "corrections",
    ]


def test_a_document_without_frame_is_read_too():
    page = Page(
        {"units": [{"key": "length", "title": "a length", "accepted": ["m", "mm"]}], "data_version": "x"}, "Units"
    )
    (section,) = sheet(page).sections
    assert section.tables[0].heads == ("Title", "Accepted")
    assert section.tables[0].rows == (("a length", "m, mm"),)
    assert sheet(page).versions == "Data x"


def test_a_block_of_blocks_is_named_by_its_path():
    page = Page({"claim": {"verdict": "too-high", "network": {"load": length(3.0)}, "fits": []}}, "x")
    assert [(line.label, line.text) for line in sheet(page).sections[0].lines] == [
        ("Claim, verdict", "too high"),
        ("Claim, network, load", "3 mm"),
        ("Claim, fits", "none"),
    ]


def test_a_unit_that_rows_do_not_share_stands_in_each():
    page = Page({"limits": [{"limit": volts(1.0)}, {"limit": length(2.0)}]}, "x")
    (grid,) = sheet(page).sections[0].tables
    assert grid.heads == ("Limit",)
    assert grid.rows == (("1 kV peak",), ("2 mm",))


def test_a_default_without_a_value_is_still_said_to_be_assumed():
    page = Page({"asked": {"assumed": ["measure"]}, "x": 1}, "x")
    assert sheet(page).sections[0].lines[0].text == "measure"


def test_what_a_column_repeats_is_worded_once(monkeypatch):
    asked = []
    monkeypatch.setattr(grids, "text_of", lambda value, name: asked.append(value) or text_of(value, name))
    records = [{"size": {"value": float(n % 4), "unit": "mm"}, "flag": n % 2 == 0, "count": n % 2} for n in range(400)]
    found = grids.grid("Sizes", records, "size")
    assert len(asked) == 4
    assert found.rows == grids.grid("Sizes", records[:4], "size").rows * 100
    assert {row[1:] for row in found.rows} == {("yes", "0"), ("no", "1")}

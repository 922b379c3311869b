"""Every format of every kind of answer: type, content, the same bytes every time, and what is refused."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import orjson
import pytest

from service.render.formats import FORMATS
from service.render.page import Page

from .hostile import TEXTS, pages
from .samples import SAMPLES

PLAIN = ("txt", "csv", "dokuwiki")
"""Formats in which an angle bracket is a letter like any other; DokuWiki's is switched off."""

GOLDEN = Path(__file__).parent / "golden"
GOLDEN_FILES = (
    "breakdown.txt",
    "breakdown.svg",
    "switch-on-sheet.txt",
    "gap.csv",
    "unknown.md",
    "unknown.wiki",
    "unknown.dokuwiki",
    "clearance.html",
    "claim.svg",
)
"""Written anew with ``RENDER_GOLDEN=write``; look at the difference before it is kept."""


def test_the_formats_and_their_media_types_are_those_of_the_interface():
    assert {suffix: one.media_type for suffix, one in FORMATS.items()} == {
        "json": "application/json",
        "txt": "text/plain; charset=utf-8",
        "csv": "text/csv; charset=utf-8",
        "md": "text/markdown; charset=utf-8",
        "wiki": "text/plain; charset=utf-8",
        "dokuwiki": "text/plain; charset=utf-8",
        "html": "text/html; charset=utf-8",
        "svg": "image/svg+xml",
        "png": "image/png",
    }


@pytest.mark.parametrize("suffix", FORMATS)
def test_every_answer_is_rendered_alike_twice(suffix, name):
    first, second = (FORMATS[suffix].render(SAMPLES[name]()) for _ in range(2))
    assert first == second
    assert first


@pytest.mark.parametrize("suffix", [suffix for suffix in FORMATS if suffix != "png"])
def test_every_text_format_ends_with_a_newline(suffix, name):
    text = FORMATS[suffix].render(SAMPLES[name]()).decode("utf-8")
    assert text.endswith("\n")
    assert not text.endswith("\n\n")


@pytest.mark.parametrize("file", GOLDEN_FILES)
def test_an_answer_looks_as_it_was_approved(file):
    name, _, suffix = file.rpartition(".")
    rendered = FORMATS[suffix].render(SAMPLES[name]())
    if os.environ.get("RENDER_GOLDEN") == "write":
        (GOLDEN / file).write_bytes(rendered)
    assert rendered.decode() == (GOLDEN / file).read_bytes().decode()


def test_two_processes_write_the_same_bytes():
    script = (
        "import hashlib; from tests.render.samples import SAMPLES; from service.render.formats import FORMATS\n"
        "for name, make in SAMPLES.items():\n"
        "    for suffix in ('svg', 'html', 'csv', 'txt'):\n"
        "        print(name, suffix, hashlib.sha256(FORMATS[suffix].render(make())).hexdigest())\n"
        "print(hashlib.sha256(FORMATS['png'].render(SAMPLES['claim']())).hexdigest())\n"
    )
    root = Path(__file__).parents[2]
    digests = [
        subprocess.run(
            [sys.executable, "-c", script],
            cwd=root,
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    ]
    assert digests[0] == digests[1]
    assert digests[0].count("\n") == 4 * len(SAMPLES) + 1


def test_json_is_the_answer_itself_in_its_order(name):
    page = SAMPLES[name]()
    read = orjson.loads(FORMATS["json"].render(page))
    assert list(read) == list(page.document)
    assert read == orjson.loads(orjson.dumps(page.document, option=orjson.OPT_SERIALIZE_NUMPY))


@pytest.mark.parametrize(
    "faulty",
    [
        float("nan"),
        [1.0, float("inf")],
        {"values": np.array([1.0, np.nan])},
        [{"a": {"b": float("-inf")}}],
        np.float64("nan"),
        np.array([1.0, float("nan")], dtype=object),
    ],
)
def test_a_number_that_is_none_is_never_written_as_null(faulty):
    with pytest.raises(ValueError, match="finite"):
        FORMATS["json"].render(Page({"lookup": "x", "result": faulty}, "x"))


def test_json_keeps_nulls_and_every_digit():
    document = {"columns": {"a": {"values": [0.1 + 0.2, None], "unit": "kV"}}, "status": ["ok", "outside-validity"]}
    assert b"0.30000000000000004,null" in FORMATS["json"].render(Page(document, "x"))


@pytest.mark.parametrize("text", TEXTS)
@pytest.mark.parametrize("suffix", [suffix for suffix in FORMATS if suffix not in ("json", "png")])
def test_hostile_text_brings_no_control_or_direction_character_into_any_format(suffix, text):
    for page in pages(text):
        rendered = FORMATS[suffix].render(page).decode("utf-8")
        assert not set(rendered) & {"\x00", "\x1b", "\u202e", "\u202c", "\t"}
        assert "<script" not in rendered or suffix in PLAIN


@pytest.mark.parametrize("text", TEXTS[:3])
def test_hostile_text_is_drawn_in_the_picture_format_too(text):
    assert FORMATS["png"].render(pages(text)[0]).startswith(b"\x89PNG")

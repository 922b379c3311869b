"""PNG: the SVG drawn with the shipped fonts only."""

from __future__ import annotations

import io
import os
import re
import signal
import struct
import threading
from dataclasses import replace

import pytest
import resvg_py

from service.errors import BadQuestion, Busy
from service.render import png, rasterizer, svg
from service.render.formats import FORMATS
from service.render.layout import FONTS
from service.turns import Turns

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


def test_other_threads_go_on_while_a_picture_is_drawn():
    # the library holds the lock of its interpreter; drawing in a process of its own leaves this one alone
    markup = svg.markup(replace(SAMPLES["no-gap"](), theme="light"))
    png.pixels(markup)
    steps, done = 0, threading.Event()

    def draw():
        for _ in range(3):
            png.pixels(markup)
        done.set()

    thread = threading.Thread(target=draw)
    thread.start()
    while not done.wait(0.0005):
        steps += 1
    thread.join()
    assert steps > 10


def test_a_drawing_process_that_has_died_is_started_again():
    markup = svg.markup(replace(SAMPLES["unknown"](), theme="light"))
    before = png.pixels(markup)
    png._PROCESS.child.kill()
    assert png.pixels(markup) == before


def test_a_picture_that_takes_too_long_is_given_up_and_the_next_is_drawn(monkeypatch):
    markup = svg.markup(replace(SAMPLES["unknown"](), theme="light"))
    before = png.pixels(markup)
    os.kill(png._PROCESS.child.pid, signal.SIGSTOP)
    monkeypatch.setattr(png, "LONGEST", 0.2)
    with pytest.raises(Busy, match="no time to draw this picture"):
        png.pixels(markup)
    monkeypatch.undo()
    assert png.pixels(markup) == before


def test_a_picture_that_breaks_off_is_none():
    whole = io.BytesIO()
    rasterizer.send(whole, bytes(1000))
    with pytest.raises(EOFError):
        rasterizer.receive(io.BytesIO(whole.getvalue()[:-1]))


def test_pictures_wait_for_their_turn_and_are_refused_where_others_come_first(monkeypatch, client):
    monkeypatch.setattr(png, "DRAWINGS", Turns("pictures", at_work=1, waiting=1, patience=0.05))
    question = "/v1/breakdown.png?gap=8.125mm"
    with png.DRAWINGS.taken():
        refused = client.get(question)
        assert refused.status_code == 503
        assert int(refused.headers["Retry-After"]) > 0
        assert refused.headers["Cache-Control"] == "no-store"
    assert client.get(question).status_code == 200


def test_pictures_are_drawn_at_a_lower_priority_than_questions_are_answered():
    png.pixels(svg.markup(replace(SAMPLES["unknown"](), theme="light")))
    drawing = os.getpriority(os.PRIO_PROCESS, png._PROCESS.child.pid)
    assert drawing == min(os.getpriority(os.PRIO_PROCESS, 0) + rasterizer.COURTESY, 19)


@pytest.mark.parametrize(("height", "zoom"), [(4000, 2), (4002, 1.5), (5332, 1.5), (5334, 1), (8000, 1)])
def test_a_high_picture_is_drawn_with_fewer_pixels_per_unit(height, zoom):
    markup = f'<svg xmlns="http://www.w3.org/2000/svg" width="10" height="{height}"></svg>'
    assert size(png.pixels(markup)) == (10 * zoom, height * zoom)


@pytest.mark.parametrize(
    ("height", "letters", "zoom"), [(2588, 0, 2), (2590, 0, 1.5), (1650, 5000, 2), (1654, 5000, 1.5), (6000, 6000, 1)]
)
def test_a_large_picture_is_drawn_with_fewer_pixels_per_unit(height, letters, zoom):
    """The time of a picture goes with its pixels and its letters; a long one stays within what a picture may take."""
    size_of_it = f'width="500" height="{height}"'
    text = f"<text>{'a ' * letters}</text>"
    markup = f'<svg xmlns="http://www.w3.org/2000/svg" {size_of_it}>{text}</svg>'
    assert size(png.pixels(markup)) == (500 * zoom, height * zoom)


def test_a_picture_with_too_much_in_it_is_refused_with_what_to_ask():
    markup = f'<svg xmlns="http://www.w3.org/2000/svg" width="500" height="6000"><text>{"a" * 9000}</text></svg>'
    with pytest.raises(BadQuestion, match=r"500 by 6000 pixels and 9000 letters, .* Ask \.svg or \.html"):
        png.pixels(markup)


def test_a_picture_too_high_for_pixels_is_refused_with_what_to_ask():
    with pytest.raises(BadQuestion, match=r"at most 8000 are drawn. Ask \.svg"):
        png.pixels('<svg xmlns="http://www.w3.org/2000/svg" width="10" height="8001"></svg>')


def test_what_is_no_picture_is_a_fault_and_the_next_is_drawn():
    with pytest.raises(ValueError, match="does not read"):
        png.pixels("<svg")
    assert png.pixels('<svg xmlns="http://www.w3.org/2000/svg" width="10" height="10"></svg>')

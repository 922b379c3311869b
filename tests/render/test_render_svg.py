"""Cards and curves as SVG: the rules of embedding, nothing that overflows or overlaps, all that must be in it."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest

from service.answers.figure import Bar, Curve, Figure, Mark, PlotAxis
from service.render import svg
from service.render.canvas import DrawnPath, Text
from service.render.formats import FORMATS
from service.render.page import THEMES, Page
from service.render.plots import thinned

from .hostile import TEXTS, pages
from .samples import SAMPLES

NAMESPACE = "{http://www.w3.org/2000/svg}"
ALLOWED = {"svg", "title", "desc", "style", "text", "tspan", "path"}
ATTRIBUTES = {
    "viewBox",
    "data-plot",  # numbers by which the page finds the place of a pointer on a curve
    "width",
    "height",
    "role",
    "class",
    "font-family",
    "lang",
    "x",
    "y",
    "dy",
    "font-size",
    "font-weight",
    "text-anchor",
    "fill",
    "stroke",
    "stroke-width",
    "stroke-dasharray",
    "fill-opacity",
    "stroke-opacity",
    "textLength",
    "lengthAdjust",
    "d",
}


def drawn(page: Page) -> ElementTree.Element:
    return ElementTree.fromstring(FORMATS["svg"].render(page).decode("utf-8"))


def texts(page: Page) -> list[Text]:
    return [item for item in svg.drawing(page).items if isinstance(item, Text)]


def words(page: Page) -> str:
    return " ".join(" ".join(text.plain for text in texts(page)).split())


@pytest.mark.parametrize("theme", THEMES)
def test_only_plain_shapes_and_texts_are_drawn(theme, name):
    for element in drawn(replace(SAMPLES[name](), theme=theme)).iter():
        assert element.tag.removeprefix(NAMESPACE) in ALLOWED
        assert set(element.attrib) <= ATTRIBUTES


@pytest.mark.parametrize("hostile", TEXTS)
def test_hostile_text_draws_nothing_but_text(hostile):
    for page in pages(hostile):
        for element in drawn(page).iter():
            assert element.tag.removeprefix(NAMESPACE) in ALLOWED
            assert set(element.attrib) <= ATTRIBUTES


def test_the_root_says_what_it_is_and_how_large(name):
    page = SAMPLES[name]()
    root = drawn(page)
    assert root.get("role") == "img"
    assert root.get("viewBox") == f"0 0 {root.get('width')} {root.get('height')}"
    title, desc = root[0], root[1]
    assert (title.tag, desc.tag) == (f"{NAMESPACE}title", f"{NAMESPACE}desc")
    assert title.text == (page.figure.title if page.figure else page.title)
    assert desc.text


def test_nothing_outside_is_referred_to(name):
    text = FORMATS["svg"].render(SAMPLES[name]()).decode()
    assert not re.search(r"href|url\(|@import|@font-face|<use|<script|<image|foreignObject|on\w+=", text)


def test_a_theme_is_fixed_or_follows_the_reader():
    page = SAMPLES["breakdown"]()
    auto, light, dark = (svg.markup(replace(page, theme=theme)) for theme in ("auto", "light", "dark"))
    assert "prefers-color-scheme: dark" in auto
    assert "<style" not in light
    assert "<style" not in dark
    assert 'fill="#ffffff"' in light
    assert "#ffffff" not in dark
    assert len(re.findall("<path|<text", auto)) == len(re.findall("<path|<text", light))


def test_without_its_style_a_picture_is_the_light_one(name):
    page = SAMPLES[name]()
    bare = re.sub(r"<style>.*?</style>\n", "", svg.markup(page), flags=re.DOTALL)
    assert bare.replace("sr-auto", "sr-light") == svg.markup(replace(page, theme="light"))


def every_page() -> list[Page]:
    return [*(make() for make in SAMPLES.values()), *(page for text in TEXTS for page in pages(text))]


def test_no_text_leaves_the_paper():
    for page in every_page():
        canvas = svg.drawing(page)
        for text in texts(page):
            assert text.left >= 4, text
            assert text.left + text.width <= canvas.width - 4, text
            assert text.size <= text.y <= canvas.y - 0.2 * text.size, text


def test_long_lines_keep_their_width_in_any_face():
    markup = svg.markup(SAMPLES["breakdown"]())
    long = [text for text in texts(SAMPLES["breakdown"]()) if text.width > 60 or text.fixed]
    assert len(long) > 10
    assert markup.count('lengthAdjust="spacingAndGlyphs"') == len(long)


def test_no_two_texts_overlap():
    for page in every_page():
        found = [(text.y - 0.72 * text.size, text) for text in texts(page) if text.plain.strip()]
        boxes = sorted(found, key=lambda pair: pair[0])
        for place, (_, one) in enumerate(boxes):
            for top, other in boxes[place + 1 :]:
                if top >= one.y + 0.1 * one.size:
                    break
                apart = other.left >= one.left + one.width - 0.5 or one.left >= other.left + other.width - 0.5
                assert apart, (one.plain, other.plain)


def test_every_path_stays_on_the_paper(name):
    canvas = svg.drawing(SAMPLES[name]())
    for item in canvas.items:
        if isinstance(item, DrawnPath) and re.fullmatch(r"[ML0-9. z-]+", item.path):
            numbers = np.array(re.findall(r"-?[0-9.]+", item.path), dtype=float).reshape(-1, 2)
            assert (numbers >= 0).all()
            assert (numbers <= [canvas.width, canvas.y]).all()


def test_the_card_holds_all_that_keeps_it_honest():
    inside = words(SAMPLES["breakdown"]())
    for part in (
        "25.8 kV peak (25.0 to 26.6)",
        "gas air; pressure 101.3 kPa; temperature 20 °C",
        "Asked: gap 8 mm; electrodes uniform field",
        "Published formula for uniform fields in air",
        "± 3 %",
        "High Voltage Engineering: Fundamentals",
        "eq. 5.81",
        "from memory, not compared with the printed source",
        "Avalanche criterion with published ionization coefficients",
        "26.3 (24.2 to 28.4)",
        "a burr, dust, a flame",
        "the only thing between a person and a live part",
        "data 2026.11+3f9c2a1b",
    ):
        assert part in inside


def test_the_curve_holds_its_axes_marks_conditions_source_and_cautions():
    inside = words(replace(SAMPLES["several-gases"](), view="full"))
    for part in (
        "Breakdown voltage, peak (V)",
        "Pressure times distance at 20 °C (Pa·m)",
        "Air minimum 206 V",
        "Argon minimum 98 V",
        "measured",
        "streamer criterion from here",
        "Nitrogen",
        "Bands are each method's stated uncertainty.",
        "eq. 5.81",
        "a burr, dust, a flame",
    ):
        assert part in inside


def test_the_claim_picture_has_a_bar_per_shape_the_claim_and_the_reason():
    inside = words(SAMPLES["claim"]())
    for part in (
        "Needle gap",
        "11 (9 to 13)",
        "9.5 to 33",
        "claimed as peak",
        "as rms",
        "too high for a first",
    ):
        assert part in inside
    assert inside.count("A 10 mm spark needs 10 to 32 kV") == 1


def test_cautions_that_come_first_are_at_the_top_of_the_card():
    inside = words(SAMPLES["switch-on-sheet"]())
    assert inside.index("Cautions:") < inside.index("Keeps apart above")


def figure(**parts: object) -> Page:
    whole = {"title": "t", "description": "d", "x": PlotAxis("gap", "mm"), "y": PlotAxis("voltage", "kV")} | parts
    return Page(SAMPLES["breakdown"]().document, "t", Figure(**whole))


X = np.geomspace(1, 10, 20)


@pytest.mark.parametrize(
    ("parts", "expected"),
    [
        ({"curves": (Curve("one", X, X),)}, "one"),
        ({"curves": (Curve("broken", X, np.where(X > 3, np.nan, X)),)}, "broken"),
        ({"curves": (Curve("constant", X, np.full_like(X, 3.0)),)}, "constant"),
        ({"curves": (Curve("nothing", X, np.full_like(X, np.nan)),)}, "Voltage (kV)"),
        ({"curves": (Curve("tiny", X, X * 1e-9),)}, "10−9"),
        ({"curves": (Curve("huge", X, X * 1e9),)}, "1010"),
        ({"curves": (Curve("narrow", X, 1 + X * 1e-3),)}, "narrow"),
        ({"curves": (Curve("through zero", X, X - 5),), "y": PlotAxis("v", "kV", logarithmic=False)}, "through zero"),
        ({"curves": (Curve("band below zero", X, X, X - 5, X + 5),)}, "band below zero"),
        ({"marks": (Mark("alone", np.array([3.0]), np.array([4.0])),)}, "alone"),
        ({"bars": (Bar("open below", np.nan, 5.0), Bar("open above", 2.0, np.nan))}, "at least 2"),
        ({"bars": (Bar("nothing known", np.nan, np.nan),)}, "nothing known"),
        ({"lines": (("far left", 1.0), ("and a rather long label", 1.1), ("another one", 1.2))}, "another one"),
    ],
)
def test_odd_figures_are_drawn_too(parts, expected):
    page = figure(**parts)
    assert drawn(page) is not None
    assert expected in words(page)
    assert not re.search(r'"[^"]*\bnan\b[^"]*"', svg.markup(page))
    assert all(text.left >= 0 for text in texts(page))


def test_many_curves_have_labels_that_do_not_overlap():
    curves = tuple(Curve(f"gas number {n}", X, X ** (0.8 + n / 40)) for n in range(14))
    ended = tuple(Curve(f"ended {n}", X[:10], X[:10] * (2 + n)) for n in range(6))
    page = figure(curves=curves + ended)
    found = [text for text in texts(page) if text.plain.startswith(("gas number", "ended"))]
    assert len(found) == 20
    for place, one in enumerate(found):
        for other in found[place + 1 :]:
            apart = other.left >= one.left + one.width or one.left >= other.left + other.width
            assert apart or abs(one.y - other.y) >= 0.9 * one.size


def test_bounds_of_one_arrangement_share_a_colour_and_are_dashed():
    curves = [
        item
        for item in svg.drawing(SAMPLES["gap-curves"]()).items
        if isinstance(item, DrawnPath) and item.thickness == 2
    ]
    assert [curve.dashes for curve in curves] == ["", "", "6 4", "6 4"]
    assert curves[2].stroke == curves[3].stroke != curves[0].stroke


def test_a_crowded_line_keeps_what_can_be_seen():
    """Every point that is left out lies within a hair of the line that is drawn."""
    x = np.linspace(0.0, 600.0, 5000)
    points = np.stack([x, 180 + 120 * np.sin(x / 40) * np.exp(-x / 300)], axis=1)
    kept = thinned(points)
    assert len(kept) < 500
    drawn = np.interp(x, kept[:, 0], kept[:, 1])
    assert np.abs(drawn - points[:, 1]).max() < 0.1  # coordinates have tenths
    assert kept[0] == pytest.approx(points[0])
    assert kept[-1] == pytest.approx(points[-1])
    few = points[::100]
    assert thinned(few) is few


def test_a_line_that_comes_back_is_not_cut_short():
    there = np.stack([np.linspace(0.0, 100.0, 400), np.zeros(400)], axis=1)
    loop = np.concatenate([there, there[::-1]])
    assert thinned(loop)[:, 0].max() == pytest.approx(100.0)


def test_a_picture_of_many_points_is_small(client):
    few, many = (client.get(f"/v1/paschen.svg?gas=air,argon,helium&points={n}").data for n in (200, 5000))
    assert len(many) < 1.5 * len(few)

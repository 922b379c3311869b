"""Pictures and pages hold the whole answer: no row that matters is cut off, and every label leads to its own mark."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.answers.figure import Bar, Curve, Figure, PlotAxis
from service.render import svg
from service.render.canvas import Text
from service.render.formats import FORMATS
from service.render.grids import Grid
from service.render.labels import MARK, Crowd, Label, Placer
from service.render.page import Page
from service.render.records import quantity_text, union
from service.render.sheet import sheet

from .samples import volts


def drawn(page: Page) -> list[str]:
    return [item.plain for item in svg.drawing(page).items if isinstance(item, Text)]


def limits(count: int, reached: int) -> Page:
    """Return an answer whose exceeded limits come late in a long list."""
    rows = [
        {
            "key": f"limit-{n}",
            "title": f"limit-{n}",
            "limit": volts(float(n + 1)),
            **({"asked": volts(12.0)} if n >= reached else {}),
            "exceeded": True if n >= reached else None,
            "conditions": f"accessible parts under the condition that the printed standard names in its clause {n}, "
            "and under no other one",
            "source": f"a standard that says a good deal in its title, part {n}, and more in its subtitle",
        }
        for n in range(count)
    ]
    return Page({"lookup": "hazard", "limits": rows, "cautions": []}, "Limits")


def test_no_exceeded_limit_is_cut_off_from_the_picture():
    texts = drawn(limits(52, 20))
    assert [f"limit-{n}" for n in range(52) if f"limit-{n}" not in texts] == []
    assert texts.count("yes") == 32


def test_a_long_table_says_that_the_rest_of_what_its_rows_say_stands_elsewhere():
    long, short = " ".join(drawn(limits(52, 20))), " ".join(drawn(limits(30, 20)))
    assert "What is said under the first 8 rows is said of every row in the other formats." in long
    assert "in the other formats" not in short
    assert short.count("title, part") == 30


def test_a_table_beyond_all_measure_says_what_it_leaves_out():
    assert "60 of 70 rows; the answer in the other formats has all." in " ".join(drawn(limits(70, 20)))


def test_a_field_that_the_first_rows_lack_stands_where_the_others_have_it():
    assert union([{"a": 1, "c": 1}, {"a": 1, "b": 1, "c": 1, "d": 1}, {"e": 1}]) == ["a", "b", "c", "d", "e"]
    (grid,) = sheet(limits(4, 2)).sections[0].tables
    assert grid.heads[:4] == ("Title", "Limit (kV peak)", "Asked (kV peak)", "Exceeded")


def spacing_card() -> Page:
    rows = [
        {
            "voltage": volts(float(kilovolt)),
            "sphere_diameter": {"value": size, "unit": "mm"},
            "spacing": {"value": kilovolt / 3 + size / 1000, "unit": "mm"},
            "within_limits": True,
        }
        for kilovolt in range(5, 21)
        for size in (20.0, 50.0)
    ]
    curve = Curve("2 cm", np.array([1.0, 7.0]), np.array([4.0, 21.0]))
    figure = Figure("Chart", "A chart.", PlotAxis("Spacing", "mm"), PlotAxis("Voltage", "kV"), (curve,))
    return Page({"lookup": "sphere-gaps", "settings": rows, "cautions": []}, "Spacing card", figure)


def test_a_spacing_card_is_whole_and_stands_for_its_list():
    texts = drawn(replace(spacing_card(), view="full"))
    assert [f"{kilovolt} kV peak" for kilovolt in range(5, 21) if f"{kilovolt} kV peak" not in texts] == []
    assert "Settings" not in texts


def chart(**parts: object) -> Page:
    figure = Figure("Chart", "A chart.", PlotAxis("Spacing", "mm"), PlotAxis("Voltage", "kV"), **parts)  # type: ignore[arg-type]  # as given
    block = {"x": {"unit": "mm", "values": [1.0, 2.0]}, "y": {"unit": "kV", "values": [3.0, 6.0]}}
    rows = [{"electrodes": name, "voltage": volts(value)} for name, value in (("points", 1.25), ("spheres", 2.75))]
    readings = [{"measure": name, "verdict": "cannot-tell"} for name in ("peak", "rms", "peak-to-peak")]
    return Page({"curve": block, "voltages": rows, "readings": readings, "cautions": []}, "Chart", figure, view="full")


def test_the_tables_of_an_answer_stand_under_its_curve_but_not_the_points_of_it():
    texts = drawn(chart(curves=(Curve("one", np.array([1.0, 2.0]), np.array([3.0, 6.0])),)))
    assert {"Voltages", "1.25", "2.75", "Readings"} <= set(texts)
    assert "Curve" not in texts


def test_a_table_with_a_row_per_bar_is_the_bars():
    texts = drawn(chart(bars=(Bar("points", 1.0, 1.5, 1.25), Bar("spheres", 2.5, 3.0, 2.75))))
    assert "Voltages" not in texts
    assert {"points", "spheres", "Readings", "rms"} <= set(texts)


@pytest.mark.parametrize(
    ("value", "low", "high", "text"),
    [
        (338.09, 304.28, 371.9, "340 V peak (300 to 380)"),  # a band of 10 % bears two digits
        (0.9437, 0.6134, 1.274, "0.94 V peak (0.61 to 1.28)"),
        (25.79, 25.0, 26.6, "25.8 V peak (25.0 to 26.6)"),
        (12345.0, 6000.0, 18000.0, "12 kV peak (6 to 18)"),
        (None, 15.3075, 15.3075, "15.3 V peak, no single value"),
        (None, 15.301, 15.343, "15.3 to 15.4 V peak, no single value"),
    ],
)
def test_a_number_reads_the_same_beside_its_band_as_alone(value, low, high, text):
    assert quantity_text({"value": value, "low": low, "high": high, "unit": "V", "measure": "peak"}) == text


PRECAUTIONS = [
    "Switch off, discharge and short before every setting; measure the spacing then.",
    "Polish, degrease and dry the spheres; keep the clearance to the side of them.",
    "Raise the voltage slowly.",
]


@pytest.mark.parametrize(
    ("expected", "keys"),
    [(volts(12.0), ["answer", "precautions"]), ([{"order": n} for n in range(3)], ["precautions", "answer"])],
)
def test_a_list_of_sentences_has_a_heading_and_stands_before_tables(expected, keys):
    document = {"expected": expected, "precautions": PRECAUTIONS}
    assert [section.key for section in sheet(Page(document, "x")).sections] == keys
    page = Page(document | {"cautions": []}, "x")
    assert "Precautions\n  - Switch off, discharge" in FORMATS["txt"].render(page).decode()
    # a page that stands alone has the answer as its one first heading, and its parts one below
    assert '<h2 class="sr-head">Precautions</h2>' in FORMATS["html"].render(page).decode()
    assert drawn(page).count("Precautions") == 1


def test_what_stands_under_a_row_is_one_sentence():
    grid = Grid("x", ("Size", "Why not", "Row"), (("1", "Too large.", "2 cm"),), (True, False, False))
    assert grid.details([1, 2]) == ("why not Too large; row 2 cm",)
    assert grid.details([1]) == ("why not Too large.",)


def test_a_table_of_one_row_is_lines_in_a_page_so_that_a_phone_need_not_scroll():
    page = Page({"requirements": [{"title": "Impulses", "rule": "row of exactly this value", "why": None}]}, "x")
    text = FORMATS["html"].render(page).decode()
    assert '<tr><th scope="row">Rule</th><td>row of exactly this value</td></tr>' in text
    assert '<div class="sr-wide">' not in text


coordinates = st.tuples(st.floats(20, 380), st.floats(20, 280))


@settings(max_examples=40, deadline=None)
@given(st.lists(coordinates, min_size=1, max_size=5, unique_by=lambda point: (point[0] // 30, point[1] // 30)))
def test_labels_of_marks_overlap_neither_each_other_nor_the_edge(anchors):
    labels = [Label(70.0, 14.0, [anchor]) for anchor in anchors]
    spots = Placer(0.0, 0.0, 400.0, 300.0, np.array(anchors)).place(labels)
    boxes = [(spot.left, spot.top, spot.left + 70, spot.top + 14) for spot in spots]
    for n, (left, top, right, bottom) in enumerate(boxes):
        assert left >= 0
        assert top >= 0
        assert right <= 400
        assert bottom <= 300
        assert all(right < a or c < left or bottom <= b or d <= top for a, b, c, d in boxes[:n])
    assert [spot.anchor for spot in spots] == anchors


def test_a_line_to_a_label_leads_past_the_marks_and_labels_of_others():
    # four minima close together above an axis, as of four gases in one picture
    anchors = [(45.0, 270.0), (30.0, 280.0), (45.0, 290.0), (95.0, 288.0)]
    points = np.stack([np.linspace(0.0, 400.0, 130), np.linspace(270.0, 40.0, 130)], axis=1)
    labels = [Label(118.0, 14.0, [anchor]) for anchor in anchors]
    spots = Placer(0.0, 0.0, 500.0, 300.0, points).place(labels)
    boxes = [(spot.left, spot.top, spot.left + 118, spot.top + 14) for spot in spots]
    for n, spot in enumerate(spots):
        if not spot.far:
            continue
        left, top, right, bottom = boxes[n]
        end = np.array(spot.anchor)
        start = np.clip(end, [left, top], [right, bottom])
        line = start + np.linspace(0.0, 1.0, 400)[:, None] * (end - start)
        for m, other in enumerate(anchors):
            if m != n:
                a, b, c, d = boxes[m]
                assert np.hypot(*(line - other).T).min() > MARK / 2
                assert not ((line > [a, b]) & (line < [c, d])).all(axis=1).any()
    assert any(spot.far for spot in spots)


@settings(max_examples=30, deadline=None)
@given(st.lists(coordinates, min_size=1, max_size=12), st.integers(0, 2**32 - 1))
def test_a_label_stands_where_it_stands_when_all_its_spots_are_weighed_at_once(anchors, seed):
    rng = np.random.default_rng(seed)
    points = np.repeat(rng.uniform([0, 0], [400, 300], (rng.integers(0, 400), 2)), 4, axis=0)
    labels = [
        Label(float(wide), 14.0, [anchor]) for anchor, wide in zip(anchors, rng.uniform(20, 120, 12), strict=False)
    ]

    def spots(few):
        with pytest.MonkeyPatch.context() as patched:
            patched.setattr("service.render.labels.FEW", few)
            return Placer(0.0, 0.0, 400.0, 300.0, points).place(labels)

    assert spots(3) == spots(100_000)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_a_crowd_counts_each_point_as_often_as_it_stands_there(seed):
    rng = np.random.default_rng(seed)
    points = rng.uniform([0, 0], [40, 30], (200, 2)).round(1)
    points = np.concatenate([points, points[rng.integers(0, 200, 150)]])
    corners = rng.uniform([0, 0], [35, 25], (30, 2))
    boxes = np.concatenate([corners, corners + rng.uniform(0, 12, (30, 2))], axis=1)
    x, y = points.T[:, None]
    left, top, right, bottom = boxes.T[:, :, None]
    inside = (x > left - 2) & (x < right + 2) & (y > top) & (y < bottom)
    assert Crowd.of(points).covered(boxes).tolist() == inside.sum(axis=1).tolist()

"""Drawn electrodes over HTTP: what the field says, traps, refusals that name the part, formats, the inverse."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from service.bench.profile_results import margin_block, widened_by
from service.methods import Estimate
from service.physics.boundary import Boundary
from service.turns import Turns
from service.units import Quantity
from service.web import create_app
from tests.bench.random_drawings import compared


def mm(*values):
    return [f"{value}mm" for value in values]


def line(*place):
    return {"line": mm(*place)}


BOLT = {
    "plane": "earthed",
    "electrodes": [
        {
            "name": "bolt",
            "potential": 1,
            "edge_radius": "0.2mm",
            "start": mm(0, 10),
            "goes_on": ["end"],
            "path": [line(4.5, 10), line(5.525, 10.592), line(5.525, 14), line(3, 14), line(3, 24)],
        }
    ],
}
BALL = {"potential": 1, "shape": "ball", "diameter": "20mm"}
WIRE_AT_EDGE = {
    "symmetry": "section",
    "electrodes": [
        {"name": "wire", "potential": 1, "shape": "wire", "diameter": "4mm", "at": mm(0, 12)},
        {
            "name": "plate",
            "potential": 0,
            "shape": "plate",
            "from": mm(0, -1),
            "towards": "left",
            "thickness": "2mm",
            "edge_radius": "0.2mm",
        },
    ],
}
BARS = {
    "symmetry": "section",
    "electrodes": [
        {"name": f"L{k}", "potential": 2 - k, "shape": "bar", "width": "5mm", "thickness": "30mm", "at": mm(x, 0)}
        for k, x in ((1, -7.5), (2, 7.5))
    ],
}


@pytest.fixture(scope="module")
def profile(client):
    def asked(body, status=200, suffix=""):
        response = client.post(f"/v1/profile{suffix}", json=body)
        assert response.status_code == status, response.get_data(as_text=True)[:500]
        return response if suffix else response.get_json()

    return asked


def inception(answer):
    return answer["inception_voltage"]["value"]


def test_a_bolt_head_starts_at_its_edge_and_not_over_the_shortest_distance(profile):
    # the shortest straight path would say 27.7 kV
    answer = profile(BOLT)
    assert inception(answer) == pytest.approx(17.0, rel=0.01)
    path = answer["critical_path"]
    assert path["start"][0]["value"] == pytest.approx(5.5, abs=0.1)
    assert path["length"]["value"] == pytest.approx(12.8, abs=0.2)
    assert answer["shortest_distance"]["value"] == pytest.approx(10)
    assert answer["breakdown_voltage"]["value"] is None
    effect = answer["edge_radius_effect"]
    assert effect["half"]["value"] < inception(answer) < effect["double"]["value"]
    numerics = answer["numerics"]
    assert max(numerics[f"{name}_percent"] for name in ("field_error", "voltage_error", "potential_residual")) < 0.3


def test_the_far_cap_of_a_thin_shank_never_wins(profile):
    # taken as a place like others it would say 18.6 kV
    thin = {"plane": "earthed", "electrodes": [{**BALL, "shank": "2mm", "tip": "5mm"}]}
    answer = profile(thin)
    assert answer["critical_path"]["start"][1]["value"] < 10
    assert answer["breakdown_voltage"]["value"] > 15


def test_of_two_places_the_one_that_starts_first_is_found(profile):
    # the line from the highest field, at the plate's edge, would say 9 % more
    answer = profile(WIRE_AT_EDGE)
    assert inception(answer) == pytest.approx(24.8, rel=0.01)
    assert answer["critical_path"]["between"] == ["wire", "plate"]
    assert any(one["between"][0] == "plate" for one in answer["competing_paths"])


def test_a_drawn_ball_over_a_plane_is_the_arrangement_of_that_name(profile, client):
    drawn = profile({"plane": "earthed", "electrodes": [{**BALL, "tip": "5mm"}]})
    named = client.get("/v1/breakdown?electrodes=sphere-plane&sphere_diameter=20mm&gap=5mm").get_json()
    assert inception(drawn) == pytest.approx(named["inception_voltage"]["value"], rel=1e-3)
    assert drawn["field_utilization_factor"] == pytest.approx(named["field_utilization_factor"], rel=1e-3)
    assert drawn["breakdown_voltage"]["low"] <= named["breakdown_voltage"]["low"] * (1 + 1e-3)


def test_a_wire_between_plates_is_the_precipitator(profile):
    # the field of a wire midway between planes is that of the tube of 4/pi times the distance (images, exact as the
    # wire gets thin); its inception by the coaxial law
    plates = [
        {"name": name, "potential": 0, "edge_radius": "1mm", "start": mm(-150, y),
         "path": [line(150, y), line(150, y + h), line(-150, y + h), line(-150, y)]}
        for name, y, h in (("upper", 25, 2), ("lower", -25, -2))
    ]  # fmt: skip
    wire = {"name": "wire", "potential": 1, "shape": "wire", "diameter": "0.5mm", "at": mm(0, 0)}
    asked = {"symmetry": "section", "waveform": "dc", "voltage": "12kV", "electrodes": [wire, *plates]}
    answer = profile(asked)
    radius, reach = 0.25, 25 * 4 / np.pi
    assert answer["highest_field_per_kilovolt"]["value"] == pytest.approx(
        1 / (radius * np.log(reach / radius)), rel=2e-3
    )
    assert inception(answer) == pytest.approx(11.06, rel=0.01)
    assert answer["margin"]["inception_over_voltage"] < 1


def test_potentials_swapped_electrodes_swapped_and_mirrored_say_the_same(profile):
    first = profile(BARS)
    swapped = profile({**BARS, "electrodes": [{**one, "potential": k} for k, one in enumerate(BARS["electrodes"])]})
    turned = profile({**BARS, "electrodes": BARS["electrodes"][::-1]})
    assert inception(swapped) == pytest.approx(inception(first), rel=1e-4)
    assert inception(turned) == pytest.approx(inception(first), rel=1e-4)
    half = [{**one, "potential": share} for one, share in zip(BARS["electrodes"], (0.5, -0.5), strict=True)]
    assert inception(profile({**BARS, "electrodes": half})) == pytest.approx(inception(first), rel=1e-4)


def test_a_larger_gap_never_starts_earlier_and_a_finer_edge_never_later(profile):
    def ball(gap):
        return inception(profile({"plane": "earthed", "electrodes": [{**BALL, "tip": f"{gap}mm"}]}))

    assert ball(2) < ball(4) < ball(8) < ball(16)

    def bars(radius):
        return inception(
            profile({**BARS, "electrodes": [{**e, "edge_radius": f"{radius}mm"} for e in BARS["electrodes"]]})
        )

    assert bars(0.02) < bars(0.1) < bars(0.5)


def test_floating_and_several_potentials(profile):
    # a ball over a plane and a floating one between: the image of the middle potential
    between = {"potential": "floating", "shape": "ball", "diameter": "5mm", "tip": "10mm", "name": "free"}
    answer = profile({"plane": "earthed", "electrodes": [{**BALL, "tip": "20mm"}, between]})
    share = {one["name"]: one["share"] for one in answer["outlines"]}["free"]
    assert 0 < share < 1
    fixed = profile({"plane": "earthed", "electrodes": [{**BALL, "tip": "20mm"}, {**between, "potential": share}]})
    assert inception(fixed) == pytest.approx(inception(answer), rel=1e-3)


def test_bounds_hold_for_the_pair_with_the_highest_mean_field(profile):
    # a sharp rod far from everything starts first, but what breaks down may be the short gap of the two balls
    spike = {"name": "spike", "potential": 1, "shape": "rod", "diameter": "1mm", "tip": "60mm"}
    pin = {"name": "ball", "potential": 0.9, "shape": "ball", "diameter": "10mm", "tip": "1mm"}
    answer = profile({"plane": "earthed", "electrodes": [spike, pin]})
    assert answer["shortest_distance"]["between"] == ["ball", "plane"]
    assert answer["breakdown_voltage"]["high"] < 6


def test_a_wire_in_a_tube_without_end_is_coaxial_cylinders(profile, client):
    wire = {"potential": 1, "shape": "wire", "diameter": "10mm"}
    drawn = profile({"electrodes": [wire, {"potential": 0, "shape": "tube", "inside_diameter": "30mm"}]})
    named = client.get("/v1/breakdown?electrodes=coaxial-cylinders&inner_diameter=10mm&outer_diameter=30mm").get_json()
    assert inception(drawn) == pytest.approx(named["inception_voltage"]["value"], rel=1e-4)


def test_an_outline_around_another_electrode_is_its_hollow(profile):
    # concentric spheres and coaxial cylinders, exact: r/R and r ln(R/r)/(R - r), 4 pi e r R/(R - r) and 2 pi e/ln(R/r)
    ball = {"potential": 1, "shape": "ball", "diameter": "20mm", "tip": "-10mm"}
    shell = {"potential": 0, "start": ["0mm", "-20mm"], "name": "shell"}
    half = {"arc": ["0mm", "20mm"], "centre": ["0mm", "0mm"], "turn": "left"}
    for path in ([half], [half, {"line": ["0mm", "-20mm"]}]):
        found = profile({"surroundings": "floating", "electrodes": [ball, {**shell, "path": path}]})
        assert found["field_utilization_factor"] == pytest.approx(0.5, rel=1e-4)
        assert found["capacitances"][0]["capacitance"]["value"] == pytest.approx(2.22530e-3, rel=1e-5)
        assert any("outline of shell lies around another electrode" in note for note in found["notes"])
    wire = {"potential": 1, "shape": "wire", "diameter": "20mm", "at": ["0mm", "0mm"]}
    arcs = [{"arc": [end, "0mm"], "centre": ["0mm", "0mm"], "turn": "left"} for end in ("-20mm", "20mm")]
    tube = {"potential": 0, "start": ["20mm", "0mm"], "path": arcs}
    found = profile({"symmetry": "section", "electrodes": [wire, tube]})
    assert found["field_utilization_factor"] == pytest.approx(0.6931472, rel=1e-4)
    assert found["capacitances"][0]["capacitance"]["value"] == pytest.approx(0.0802607, rel=1e-5)


def test_a_body_closed_along_the_axis_is_the_same_as_one_that_ends_on_it(profile, client):
    corners = [["5mm", "10mm"], ["5mm", "30mm"], ["0mm", "30mm"]]
    rod = {"potential": 1, "edge_radius": "0.5mm", "start": ["0mm", "10mm"], "path": [{"line": one} for one in corners]}
    open_, closed = rod, {**rod, "path": [*rod["path"], {"line": ["0mm", "10mm"]}]}
    answers = [profile({"plane": "earthed", "electrodes": [one]}) for one in (open_, closed)]
    assert inception(answers[1]) == pytest.approx(inception(answers[0]), rel=1e-9)
    # a hollow body with its own thickness has a line along the axis between two surfaces: refused, not failed
    half = {"arc": ["0mm", "20mm"], "centre": ["0mm", "0mm"], "turn": "left"}
    back = {"arc": ["0mm", "-23mm"], "centre": ["0mm", "0mm"], "turn": "right"}
    path = [half, {"line": ["0mm", "23mm"]}, back, {"line": ["0mm", "-20mm"]}]
    shell = {"name": "shell", "potential": 0, "start": ["0mm", "-20mm"], "path": path}
    ball = {"name": "ball", "potential": 1, "shape": "ball", "diameter": "20mm", "tip": "-10mm"}
    refused = client.post("/v1/profile", json={"electrodes": [ball, shell]})
    assert refused.status_code == 400
    assert refused.get_json()["errors"][0]["parameter"] == "electrodes[1].path[1]"


REFUSED = [
    ({"plane": "earthed", "electrodes": [{**BALL, "tip": "0mm"}]}, 400, "electrodes[0].potential"),
    ({"plane": "earthed", "electrodes": [{**BALL, "tip": "-1mm"}]}, 400, "electrodes[0].shape"),
    ({"electrodes": [{**BALL, "tip": "0mm"}, {**BALL, "potential": 0, "tip": "20mm"}]}, 400, "electrodes[0].shape"),
    ({"electrodes": [{**BALL, "tip": "0mm"}]}, 422, "electrodes"),
    ({"plane": "earthed", "electrodes": [{**BALL, "tip": "10mm", "width": "1mm"}]}, 400, "electrodes[0].width"),
    ({"plane": "earthed", "electrodes": [{**BALL, "tip": "10mm", "potential": 0}]}, 400, "electrodes[0].potential"),
    ({"plane": "earthed", "electrodes": [{**BALL, "tip": "1e99mm"}]}, 400, "electrodes[0].tip"),
    ({"plane": "earthed", "electrodes": [{**BALL, "tip": "10"}]}, 400, "electrodes[0].tip"),
    ({"plane": "earthed", "gas": "foo", "electrodes": [{**BALL, "tip": "10mm"}]}, 400, "gas"),
    # lines of force from its point step into the metal, where there is no field
    (
        {
            "electrodes": [
                {
                    "start": ["0mm", "3.63686mm"],
                    "potential": "1e-9",
                    "edge_radius": "0.0123146mm",
                    "path": [
                        {
                            "curve": [
                                ["0.11814mm", "4.90241mm"],
                                ["0.276184mm", "6.04883mm"],
                                ["0.402433mm", "7.42097mm"],
                            ]
                        },
                        {"line": ["0mm", "7.42097mm"]},
                    ],
                },
                {"shape": "tube", "inside_diameter": "344.793mm", "potential": 0},
            ]
        },
        422,
        "electrodes[0].edge_radius",
    ),
]
DRAWN = [
    ([line(9, 14), line(9, 10), line(5, 14), line(5, 10)], (5, 10), {}, 400, "electrodes[0].path[0]"),
    ([line(0, 10), line(5, 10), line(0, 15)], (0, 10), {}, 400, "electrodes[0].path[0].line"),
    ([{"arc": mm(5, 15), "centre": mm(0, 16), "turn": "left"}], (0, 10), {}, 400, "electrodes[0].path[0].arc"),
    ([{"arc": mm(5, 15), "centre": mm(0, 15)}, line(0, 20)], (0, 10), {}, 400, "electrodes[0].path[0].turn"),
    ([{"arc": mm(5, 15), "line": mm(0, 15)}], (0, 10), {}, 400, "electrodes[0].path[0]"),
    ([line(5, 10), line(5, 15), line(0, 15)], (0, 10), {"edge_radius": "3mm"}, 400, "electrodes[0].path[1]"),
    ([line(5, 10), line(5, 15), line(0, 15)], (0, 10), {"edge_radius": "0mm"}, 422, "electrodes[0].edge_radius"),
    ([line(5, 10), line(5, 15), line(0, 15)], (0, 10), {"edge_radius": "0.0001mm"}, 422, "electrodes[0].path[1]"),
    ([line(1 + 0.5 * (i % 2) + 0.1 * i, 10 + 0.3 * i) for i in range(59)] + [line(0, 28)], (0, 10),
     {"edge_radius": "0.05mm"}, 422, "electrodes"),
    ([line(1 + 0.1 * i, 10 + i) for i in range(61)], (0, 10), {}, 400, "electrodes[0].path"),
    # curves along which no arc leads on
    ([{"curve": [mm(5, 9), mm(5, 11), mm(5, 9)]}, line(0, 30)], (0, 10), {}, 400, "electrodes[0].path[0].curve"),
    ([{"curve": [mm(5, 12), mm(2, 14), mm(5, 12)]}, line(0, 30)], (0, 10), {}, 400, "electrodes[0].path[0].curve"),
    # a sharp point on the axis, from which no line of force can be followed
    ([line(17.7619, 30.6541), line(0, 30.6541)], (0, 11.6153), {}, 422, "electrodes"),
]  # fmt: skip


@pytest.mark.parametrize(("body", "status", "parameter"), REFUSED)
def test_a_refusal_names_the_member(profile, body, status, parameter):
    assert profile(body, status)["errors"][0]["parameter"] == parameter


@pytest.mark.parametrize(("path", "start", "others", "status", "parameter"), DRAWN)
def test_a_refusal_names_the_part_of_the_drawing(profile, path, start, others, status, parameter):
    body = {"plane": "earthed", "electrodes": [{"potential": 1, "start": mm(*start), "path": path, **others}]}
    assert profile(body, status)["errors"][0]["parameter"] == parameter


@pytest.mark.parametrize("suffix", [".json", ".txt", ".md", ".csv", ".html", ".svg", ".png"])
def test_every_format_answers(profile, suffix):
    response = profile(BOLT, suffix=suffix)
    assert response.headers["Cache-Control"] == "no-store"
    assert len(response.data) > 500
    if suffix in (".txt", ".md", ".html"):
        assert "nception" in response.get_data(as_text=True)


def test_the_smallest_distance_that_holds_a_voltage(profile):
    answer = profile({**BOLT, "voltage": "20kV", "measure": "peak", "move": "bolt", "direction": "up"})
    held = answer["withstand_estimate"]["value"]
    assert 20 <= held < 20.1
    unsaid = profile({**BOLT, "voltage": "20kV", "move": "bolt", "direction": "up"})
    assert unsaid["withstand_estimate"]["value"] >= 20 * math.sqrt(2)  # it may be an rms value
    assert answer["moved"]["solves"] <= 10
    assert answer["shortest_distance"]["value"] == pytest.approx(10 + answer["moved"]["distance"]["value"], abs=1e-6)


def test_a_drawing_is_solved_once_for_other_names_and_voltages_and_says_the_same(client, monkeypatch):
    # its field does not depend on names, voltages, gas and pressure; what is kept gives the bytes of what is fresh
    renamed = {**BOLT, "voltage": "5kV", "electrodes": [{**BOLT["electrodes"][0], "name": "screw"}]}

    def asked(body):
        return client.post("/v1/profile", json=body).get_data()

    def forgotten():
        for kind in ("fields", "profiles"):
            client.application.extensions["workshop"].registry._kept.pop(kind, None)

    others = [renamed, {**BOLT, "pressure": "90kPa"}, {**BOLT, "gas": "SF6"}]
    fresh = []
    for body in [BOLT, *others]:
        forgotten()
        fresh.append(asked(body))
    forgotten()
    assert asked(BOLT) == fresh[0]

    def never(*_):
        raise AssertionError("solved again")

    monkeypatch.setattr("service.bench.profile_field.Boundary.solve", never)
    assert [asked(body) for body in [BOLT, *others]] == fresh


@pytest.mark.parametrize("body", [BOLT, BARS], ids=["earthed", "neutral"])
@pytest.mark.parametrize(
    ("place", "value"),
    [
        pytest.param((slice(None), slice(1, 3)), 0.0, id="charges without effect"),
        pytest.param((0, 0), math.nan, id="not a number"),
    ],
)
def test_charges_that_cannot_be_computed_are_refused(monkeypatch, body, place, value):
    # the library does no more than warn of a singular matrix, and returns what is not finite
    square = Boundary._square

    def singular(self):
        matrix = square(self)
        matrix[place] = value
        return matrix

    monkeypatch.setattr(Boundary, "_square", singular)
    refused = create_app().test_client().post("/v1/profile", json=body)
    assert refused.status_code == 422
    assert refused.get_json()["errors"][0]["parameter"] == "electrodes"
    assert "cannot be computed" in refused.get_json()["detail"]


def test_a_line_that_leaves_the_drawing_ends_in_the_surroundings(profile):
    # a rod over a plate with a wide hole: its line goes through the hole; it was told to be 794 mm long
    rod = {"potential": 1, "shape": "rod", "diameter": "3.241mm", "tip": "2.11mm", "name": "rod"}
    plate = {"potential": 0, "shape": "plate", "from": mm(21.9, -4.413), "thickness": "4.607mm"}
    path = profile({"electrodes": [rod, plate]})["critical_path"]
    assert path["between"] == ["rod", "surroundings"]
    assert path["length"]["value"] < 300


def test_where_every_turn_is_taken_the_question_is_to_be_asked_again(profile, client, monkeypatch):
    one = Turns("profiles", at_work=1, waiting=1, patience=0.05)
    monkeypatch.setattr("service.lookups.profile.PROFILES", one)
    with one.taken():
        response = client.post("/v1/profile", json=BOLT)
        assert response.status_code == 503
        assert int(response.headers["Retry-After"]) > 0
        assert client.get("/v1/breakdown?gap=8mm").status_code == 200
    assert profile(BOLT)["inception_voltage"]


def test_estimates_are_honest_on_random_drawings():
    # 200 of them by command, see random_drawings
    rows = list(compared(12, 7))
    for refused, estimate, true, _ in rows:
        if not refused:
            assert true[0] <= 2 * estimate[0]
            assert true[1] <= 2 * estimate[1]
    assert sum(1 for row in rows if row[0]) <= 3


def test_a_margin_is_that_of_the_low_end_and_is_cut_downwards():
    # 10.007 kV over 12 kV is 0.8339: told as 0.833; a withstand estimate has no band of its own
    point = SimpleNamespace(
        inception_voltage=Quantity(11e3, "voltage", low=10.007e3, high=12e3),
        withstand_estimate=Quantity(9.0e3, "voltage"),
    )
    margin = margin_block(point, 12e3)["margin"]
    assert (margin["inception_over_voltage"], margin["withstand_over_voltage"]) == (0.833, 0.75)


def test_the_errors_of_a_drawing_widen_a_band_to_both_sides_as_a_sum_of_squares():
    # 3 and 6 % with 4 and 8 % of the drawing: 5 and 10 %
    one = np.ones(1)
    found = widened_by(Estimate(30e3 * one, 29.1e3 * one, 31.8e3 * one, inception=30e3 * one), 0.04)
    assert found.low == pytest.approx(30e3 * 0.95)
    assert widened_by(found, 0.0).low == pytest.approx(found.low)
    above = widened_by(Estimate(30e3 * one, 29.1e3 * one, 31.8e3 * one), 0.08)
    assert above.high == pytest.approx(33e3)


def test_an_inception_below_breakdown_is_known_as_well_as_the_criterion_and_the_drawing_are(profile):
    # the cells of IEC 60052 below a utilization factor of 0.6 lie within 10 % of the criterion; from 2 to 10 bar real
    # surfaces hold up to a quarter less (as plates do, common practice, no source); errors of the drawing add to both
    def band(pressure):
        answer = profile({**BOLT, "pressure": pressure, "voltage": "5kV", "measure": "peak", "waveform": "dc"})
        found = answer["inception_voltage"]
        assert answer["breakdown_voltage"]["value"] is None
        assert answer["margin"]["inception_over_voltage"] == pytest.approx(found["low"] / 5, abs=2e-3)
        return found["low"] / found["value"], found["high"] / found["value"]

    bench, vessel = band("101.3kPa"), band("900kPa")
    assert 0.88 < bench[0] < 0.9 - 1e-5
    assert 1.1 + 1e-5 < bench[1] < 1.12
    assert 0.75 <= vessel[0] < 0.82
    assert vessel[1] == pytest.approx(bench[1], rel=0.02)

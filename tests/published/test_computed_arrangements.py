"""Arrangements of computed tables, between the rows, against drawings solved afresh; and what hyperboloids are not."""

import numpy as np
import pytest

from service.methods.criterion import BETWEEN_ROWS


def breakdown(client, query):
    response = client.get(f"/v1/breakdown?{query}")
    assert response.status_code == 200, response.get_data(as_text=True)[:400]
    return response.get_json()


def drawn(client, body):
    response = client.post("/v1/profile", json=body)
    assert response.status_code == 200, response.get_data(as_text=True)[:400]
    return response.get_json()


def mm(*values):
    return [f"{value:.6g}mm" for value in values]


def over(electrode):
    return {"plane": "earthed", "electrodes": [{"potential": 1, **electrode}]}


def rounded(d, gap):
    query = f"electrodes=rounded-rod-plane&rod_diameter={d}mm&gap={gap}mm"
    return query, over({"shape": "rod", "diameter": f"{d}mm", "tip": f"{gap}mm"})


def flat(d, gap, edge):
    query = f"electrodes=flat-rod-plane&rod_diameter={d}mm&edge_radius={edge}mm&gap={gap}mm"
    return query, over(
        {"shape": "rod", "diameter": f"{d}mm", "tip": f"{gap}mm", "end": "flat", "edge_radius": f"{edge}mm"}
    )


def cone(tip, gap, angle):
    query = f"electrodes=cone-plane&tip_radius={tip}mm&half_angle={angle}deg&gap={gap}mm"
    half, away = np.radians(angle), 30 * max(tip, gap)
    at = tip * np.cos(half), gap + tip * (1 - np.sin(half))
    path = [
        {"arc": mm(*at), "centre": mm(0, gap + tip), "turn": "left"},
        {"line": mm(at[0] + away * np.sin(half), at[1] + away * np.cos(half))},
    ]
    return query, over({"start": mm(0, gap), "path": path, "goes_on": ["end"]})


def bolt(thread, gap, edge):
    query = f"electrodes=bolt-head-plane&thread={thread}&edge_radius={edge}mm&gap={gap}mm"
    return query, over({"shape": "hex-head", "size": thread, "face": f"{gap}mm", "edge_radius": f"{edge}mm"})


def bar(width, thickness, gap, edge):
    query = f"electrodes=bar-plane&bar_width={width}mm&bar_thickness={thickness}mm&edge_radius={edge}mm&gap={gap}mm"
    sizes = {"width": f"{width}mm", "thickness": f"{thickness}mm", "edge_radius": f"{edge}mm"}
    return query, {**over({"shape": "bar", "at": mm(0, gap + thickness / 2), **sizes}), "symmetry": "section"}


def ring(wire, gap, tube):
    query = f"electrodes=ring-in-tube&wire_diameter={wire}mm&outer_diameter={tube}mm&gap={gap}mm"
    torus = {"potential": 1, "shape": "ring", "diameter": f"{wire}mm", "at": mm(tube / 2 - gap - wire / 2, 0)}
    return query, {"electrodes": [torus, {"potential": 0, "shape": "tube", "inside_diameter": f"{tube}mm"}]}


def hole(rod, gap, thickness, edge):
    sizes = f"rod_diameter={rod}mm&plate_thickness={thickness}mm&edge_radius={edge}mm"
    query = f"electrodes=rod-through-hole&{sizes}&gap={gap}mm"
    plate = {
        "potential": 0,
        "shape": "plate",
        "from": mm(rod / 2 + gap, 0),
        "thickness": f"{thickness}mm",
        "edge_radius": f"{edge}mm",
    }
    return query, {"electrodes": [{"potential": 1, "shape": "wire", "diameter": f"{rod}mm"}, plate]}


BETWEEN = [
    rounded(10, 10),
    rounded(3, 47),
    rounded(20, 3.3),
    flat(10, 10, 0.5),
    flat(10, 4.3, 0.2),
    flat(25, 33, 1.3),
    cone(0.5, 10, 15),
    cone(0.2, 33, 24),
    cone(3, 7, 40),
    bolt("M6", 10, 0.2),
    bolt("M12", 4.7, 0.1),
    bolt("M3", 27, 0.1),
    bar(30, 5, 10, 0.5),
    bar(12, 17, 3.1, 0.7),
    bar(40, 10, 55, 1.1),
    ring(4, 8, 40),
    ring(3, 2.2, 70),
    hole(4, 13, 3, 1),
    hole(10, 6.2, 8, 0.7),
]


@pytest.mark.parametrize(("query", "body"), BETWEEN, ids=lambda one: one[11:70] if isinstance(one, str) else "")
def test_between_the_rows_the_drawing_says_the_same(client, query, body):
    table, fresh = breakdown(client, query), drawn(client, body)
    value = table["inception_voltage"]["value"]
    assert value == pytest.approx(fresh["inception_voltage"]["value"], rel=BETWEEN_ROWS)
    assert table["field_utilization_factor"] == pytest.approx(fresh["field_utilization_factor"], rel=0.05)


@pytest.mark.parametrize("pressure", ["20kPa", "400kPa"])
def test_at_another_pressure_the_line_of_the_table_serves(client, pressure):
    for query, body in (rounded(10, 10), flat(10, 10, 0.5), bar(30, 5, 10, 0.5)):
        table = breakdown(client, f"{query}&pressure={pressure}")
        fresh = drawn(client, {**body, "pressure": pressure})
        value = fresh["inception_voltage"]["value"]
        assert table["inception_voltage"]["value"] == pytest.approx(value, rel=1.5 * BETWEEN_ROWS)


def test_the_low_end_of_a_hyperboloid_is_that_of_a_rod(client):
    # 1 mm tip at 10 mm: the law says 13.35 kV, a rod of that end starts at 9.23 kV, a free ball at 7.40 kV
    point = breakdown(client, "electrodes=point-plane&tip_radius=1mm&gap=10mm")
    rod = breakdown(client, "electrodes=rounded-rod-plane&rod_diameter=2mm&gap=10mm")
    assert rod["inception_voltage"]["value"] == pytest.approx(9.23, rel=0.01)
    assert point["breakdown_voltage"]["low"] <= max(rod["inception_voltage"]["value"], rod["breakdown_voltage"]["low"])
    assert point["withstand_estimate"]["value"] < point["inception_voltage"]["value"]
    assert any("rounded-rod-plane" in note for note in point["notes"])


@pytest.mark.parametrize("tip", [0.2, 1.0, 5.0])
@pytest.mark.parametrize("over_tip", [0.3, 1.0, 3.0, 10.0, 30.0, 90.0])
def test_no_hyperboloid_is_taken_to_hold_more_than_a_rod_of_its_tip(client, tip, over_tip):
    """A rod of that tip starts earlier than the law of the hyperboloid says; 10 % is the band of its inception."""
    gap = tip * over_tip
    point = breakdown(client, f"electrodes=point-plane&tip_radius={tip}mm&gap={gap:.6g}mm")["breakdown_voltage"]
    rod = breakdown(client, f"electrodes=rounded-rod-plane&rod_diameter={2 * tip}mm&gap={gap:.6g}mm")
    sharpest = breakdown(client, f"electrodes=unknown&gap={gap:.6g}mm")["breakdown_voltage"]["low"]
    starts = rod.get("inception_voltage", {}).get("value") or rod["breakdown_voltage"]["high"]
    assert point["low"] <= max(0.951 * starts, sharpest) * (1 + 1e-6)
    if point["value"] is None:
        assert point["low"] <= max(0.901 * starts, sharpest) * (1 + 1e-6)
    longer = breakdown(client, f"electrodes=point-plane&tip_radius={tip}mm&gap={1.1 * gap:.6g}mm")["breakdown_voltage"]
    assert longer["low"] >= point["low"] * (1 - 1e-6)


def test_computed_shapes_answer_curves_inverses_and_batches(client):
    rod = "electrodes=rounded-rod-plane&rod_diameter=10mm"
    assert client.get(f"/v1/breakdown?{rod}&gap_from=1mm&gap_to=30mm").status_code == 200
    gap = client.get(f"/v1/gap?{rod}&voltage=15kV").get_json()["gaps"][0]["value"]
    assert breakdown(client, f"{rod}&gap={gap}mm")["breakdown_voltage"]["value"] == pytest.approx(15, rel=1e-3)
    batch = {
        "lookup": "breakdown",
        "given": {"electrodes": "rounded-rod-plane", "rod_diameter": "10mm"},
        "columns": {"gap": {"unit": "mm", "values": [1, 2, 5]}},
    }
    found = client.post("/v1/batch", json=batch).get_json()["columns"]["breakdown_voltage"]["values"]
    assert found[2] == pytest.approx(breakdown(client, f"{rod}&gap=5mm")["breakdown_voltage"]["value"], rel=1e-9)


def test_a_hall_is_told_with_its_sign_and_not_applied(client):
    # a built gap holds more than a free pair: by 2 to 4 % at 0.8 of the diameter under a lead of ten diameters
    query = "electrodes=sphere-gap&sphere_diameter=25cm&gap=20cm"
    plain, told = breakdown(client, query), breakdown(client, f"{query}&height=1.25m&lead=2.5m&wall=3m")
    assert told["breakdown_voltage"] == plain["breakdown_voltage"]
    (note,) = (note for note in told["notes"] if "% by computation" in note)
    assert 1.5 < float(note.split(" by ")[1].split(" %")[0]) < 5
    assert not any("% by computation" in note for note in plain["notes"])

"""A lab's corrected table laid over the shipped data: one cell changes the answer; a spoiled one stops the answers."""

from __future__ import annotations

import csv
import hashlib
import json
import shutil

import pytest

from service.reference import shipped_folder
from service.web import create_app

PACKAGE, TABLE = "iec-60052", "iec_60052_table_2.csv"
SPHERES = "/v1/breakdown?electrodes=sphere-gap&sphere_diameter=2cm&gap=5mm"
NEEDLES = "/v1/breakdown?electrodes=needle-gap&gap=20mm"
ROW = 9
"""Line of the table, its header being line 1, with spheres of 2 cm at 0.5 cm: 17.4 kV."""


def overlay(folder, cell, *, seal=True):
    """Copy the package of the sphere-gap tables and change one voltage."""
    shutil.copytree(shipped_folder() / PACKAGE, folder / PACKAGE)
    path = folder / PACKAGE / TABLE
    rows = list(csv.reader(path.read_text(encoding="utf-8").splitlines()))
    at = rows[0].index("voltage_kV_peak")
    assert (rows[ROW - 1][0], float(rows[ROW - 1][1]), rows[ROW - 1][at]) == ("2", 0.5, "17.4")
    rows[ROW - 1][at] = cell
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(rows)
    if seal:
        descriptor = folder / PACKAGE / "datapackage.json"
        stated = json.loads(descriptor.read_text(encoding="utf-8"))
        resource = next(one for one in stated["resources"] if one["path"] == TABLE)
        resource["hash"] = "sha256:" + hashlib.sha256(path.read_bytes()).hexdigest()
        descriptor.write_text(json.dumps(stated), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def corrected(tmp_path_factory):
    folder = overlay(tmp_path_factory.mktemp("corrected"), "17.3")
    return create_app({"SERVICE_REFERENCE_DATA": str(folder)}).test_client()


@pytest.fixture(scope="module")
def spoiled(tmp_path_factory):
    folder = overlay(tmp_path_factory.mktemp("spoiled"), "17.4 kV")
    return create_app({"SERVICE_REFERENCE_DATA": str(folder)}).test_client()


def test_one_cell_changes_the_answer_the_version_and_the_tag(client, corrected):
    shipped, own = client.get(SPHERES), corrected.get(SPHERES)
    assert shipped.get_json()["breakdown_voltage"]["value"] == pytest.approx(17.4)  # IEC 60052 Table 2
    assert own.get_json()["breakdown_voltage"]["value"] == pytest.approx(17.3)
    assert own.get_json()["data_version"] != shipped.get_json()["data_version"]
    assert own.headers["ETag"] != shipped.headers["ETag"]


def test_a_tag_of_the_old_data_is_no_match_for_the_new(client, corrected):
    old = client.get(SPHERES).headers["ETag"]
    assert client.get(SPHERES, headers={"If-None-Match": old}).status_code == 304
    assert corrected.get(SPHERES, headers={"If-None-Match": old}).status_code == 200


def test_an_answer_from_another_table_stays(client, corrected):
    shipped, own = client.get(NEEDLES).get_json(), corrected.get(NEEDLES).get_json()
    assert own["breakdown_voltage"] == shipped["breakdown_voltage"]


def test_the_inverse_and_the_table_follow_the_correction(client, corrected):
    asked = "/v1/gap?electrodes=sphere-gap&sphere_diameter=2cm&voltage=17.3kV"
    assert corrected.get(asked).get_json()["gaps"][-1]["value"] == pytest.approx(5.0)
    assert client.get(asked).get_json()["gaps"][-1]["value"] < 5.0
    assert "17.3" in corrected.get("/v1/tables/iec-60052-table-2.csv").text.splitlines()[ROW - 1]


def test_a_service_with_corrected_data_is_ready(corrected):
    ready = corrected.get("/health/ready")
    assert ready.status_code == 200
    assert ready.get_json()["known_answer_kV"] == pytest.approx(17.3)


REFUSING = [
    "/health/ready",
    SPHERES,
    NEEDLES,
    "/v1/gap?voltage=12kV",
    "/v1/breakdown.svg?gap=8mm",
    "/v1/hazard?voltage=12kV",
    "/v1/gases",
    "/v1/tables",
    "/v1/tables/iec-60052-table-2.csv",
    "/v1/tables/datapackage.json",
]


@pytest.mark.parametrize("address", REFUSING)
def test_a_spoiled_table_is_named_with_row_and_reason(spoiled, address):
    response = spoiled.get(address)
    assert response.status_code == 503
    assert response.content_type == "application/problem+json"
    assert response.headers["Cache-Control"] == "no-store"
    problem = response.get_json()
    assert problem["type"] == "/problems/bad-reference-data"
    assert problem["detail"].startswith(f"{PACKAGE}/{TABLE}, row {ROW}: ")
    assert "17.4 kV" in problem["detail"]


def test_a_batch_and_a_probe_check_are_refused_too(spoiled):
    body = {"lookup": "breakdown", "columns": {"gap": {"unit": "mm", "values": [8]}}}
    assert spoiled.post("/v1/batch", json=body).status_code == 503
    assert spoiled.post("/v1/probe-check", json={}).status_code == 503


@pytest.mark.parametrize("address", ["/health/live", "/openapi.yaml", "/problems/bad-reference-data"])
def test_the_process_lives_on(spoiled, address):
    assert spoiled.get(address).status_code == 200


@pytest.mark.parametrize("address", ["/", "/?gap=8mm", "/docs", "/probe-check"])
def test_a_page_without_data_says_so(spoiled, address):
    response = spoiled.get(address)
    assert response.status_code == 503
    assert TABLE in response.text


def test_a_cell_changed_without_its_hash_is_not_taken(tmp_path):
    folder = overlay(tmp_path, "17.3", seal=False)
    response = create_app({"SERVICE_REFERENCE_DATA": str(folder)}).test_client().get(SPHERES)
    assert response.status_code == 503
    assert TABLE in response.get_json()["detail"]


def test_an_overlay_that_is_not_there_is_not_passed_over(tmp_path):
    client = create_app({"SERVICE_REFERENCE_DATA": str(tmp_path / "nowhere")}).test_client()
    assert client.get(SPHERES).status_code == 503


CHANGES = [
    ("handbook-needle-gap", "needle_gap.csv", lambda rows: [row for row in rows[1:] if float(row[1]) <= 43.3]),
    ("iec-60052", "rod_rod_direct.csv", lambda rows: constant(rows, "slope", "0.52")),
    ("iec-60052", "sphere_gap_practice.csv", lambda rows: constant(rows, "irradiation-below-voltage", "41")),
    ("iec-60052", "sphere_gap_practice.csv", lambda rows: constant(rows, "irradiation-to-diameter", "11.5")),
    ("iec-60071-2", "rod_plane_formulas.csv", lambda rows: constant(rows, "fraction-numerator", "3300")),
    ("iec-60071-2", "rod_plane_formulas.csv", lambda rows: constant(rows, "alternating-slope", "0.53")),
    ("schumann-1923", "schumann_table.csv", lambda rows: [row for row in rows[1:] if float(row[0]) <= 11]),
]
"""What a laboratory may correct: a table that ends earlier, a constant; the rows that follow the header."""
WORDS = [
    ("/v1/breakdown?electrodes=needle-gap&gap=8mm", "4.2 to 433 mm", "547"),
    ("/v1/breakdown?electrodes=needle-gap&gap=540mm&method=needle-gap-table", "4.2 to 433 mm", "547"),
    ("/v1/gap?electrodes=needle-gap&voltage=12kV", "4.2 to 433 mm", "547"),
    ("/v1/spark?electrodes=needle-gap&length=20mm", "4.2 to 433 mm", "547"),
    ("/v1/methods", "4.2 to 433 mm", "547"),
    ("/v1/breakdown?electrodes=rod-gap&gap=1m&waveform=dc", "U = 2 + 0.52 d", "0.534"),
    ("/v1/breakdown?electrodes=sphere-gap&sphere_diameter=2cm&gap=5mm", "Below 41 kV", "50 kV"),
    ("/v1/breakdown?electrodes=sphere-gap&sphere_diameter=2cm&gap=5mm", "up to 115 mm", "12.5 cm"),
    (
        "/v1/breakdown?electrodes=rod-plane&gap=3m&waveform=switching-impulse&polarity=positive",
        "3300/(1 + 8/d)",
        "3400",
    ),
    ("/v1/breakdown?electrodes=rod-plane&gap=3m", "ln(1 + 0.53 d^1.2)", "0.55 d"),
    ("/v1/breakdown?electrodes=uniform-field&gap=8mm", "gap times relative density 1 to 100 mm", "120 mm"),
]
"""An address, what its answer says by the corrected data, and what of the shipped data it must say nowhere."""


def constant(rows, name, value):
    """Return the rows of a table of constants with one changed."""
    return [[name, value, *row[2:]] if row[0] == name else row for row in rows[1:]]


@pytest.fixture(scope="module")
def amended(tmp_path_factory):
    folder = tmp_path_factory.mktemp("amended")
    for package, table, changed in CHANGES:
        if not (folder / package).exists():
            shutil.copytree(shipped_folder() / package, folder / package)
        path = folder / package / table
        rows = list(csv.reader(path.read_text(encoding="utf-8").splitlines()))
        with path.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file, lineterminator="\n").writerows([rows[0], *changed(rows)])
        descriptor = folder / package / "datapackage.json"
        stated = json.loads(descriptor.read_text(encoding="utf-8"))
        resource = next(one for one in stated["resources"] if one["path"] == table)
        resource["hash"] = "sha256:" + hashlib.sha256(path.read_bytes()).hexdigest()
        descriptor.write_text(json.dumps(stated), encoding="utf-8")
    return create_app({"SERVICE_REFERENCE_DATA": str(folder)}).test_client()


@pytest.mark.parametrize(("address", "says", "shipped"), WORDS)
def test_every_sentence_follows_the_corrected_data(client, amended, address, says, shipped):
    before, after = client.get(address).text, amended.get(address).text
    assert shipped in before.replace("125 mm", "12.5 cm")
    assert says in after
    assert shipped not in after.replace("125 mm", "12.5 cm")


def test_spoiled_data_are_told_to_people_as_a_page_and_never_as_nothing_to_embed(spoiled):
    """A consumer keeps a 404 of oEmbed; a browser shows no bare JSON."""
    for path in ("/", "/docs", "/v1/breakdown?gap=8mm"):
        response = spoiled.get(path, headers={"Accept": "text/html,*/*;q=0.8"})
        assert (response.status_code, response.mimetype) == (503, "text/html"), path
        assert "iec_60052_table_2.csv" in response.get_data(as_text=True)
        assert response.headers["Cache-Control"] == "no-store"
        assert spoiled.get(path, headers={"Accept": "application/json"}).mimetype == "application/problem+json"
    assert spoiled.get("/oembed?url=/v1/breakdown?gap=8mm").status_code == 503

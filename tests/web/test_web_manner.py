"""The manner of asking: formats, path form, tags, refusals, batches, pages; the contract is openapi.yaml."""

from __future__ import annotations

import re

import pytest

from service import lookups
from service.answers.registry import Registry
from service.render.formats import FORMATS

LOOKUPS = [one for one in lookups.discover(Registry.build()).values() if not one.post]
CELLS = [(one, suffix) for one in LOOKUPS for suffix in FORMATS]


@pytest.mark.parametrize(("lookup", "suffix"), CELLS, ids=lambda x: getattr(x, "key", x))
def test_every_suffix_of_every_lookup(client, lookup, suffix):
    response = client.get(f"/v1/{lookup.key}.{suffix}?{lookup.example}")
    if suffix not in lookup.formats:
        assert response.status_code == 406
        return
    assert response.status_code == 200, response.data[:300]
    assert response.content_type == FORMATS[suffix].media_type
    assert response.data
    if suffix == "txt":
        text = response.data.decode("ascii")
        assert all(len(line) <= 80 for line in text.splitlines() if "/v1/" not in line)
    if suffix == "svg":
        assert not re.search(rb"<script|xlink:href|<use\b|https?://(?!www\.w3\.org)", response.data)


SPELLINGS = [
    "/v1/breakdown?gap=8mm&electrodes=uniform-field&relative_humidity=50percent",
    "/v1/breakdown?relative_humidity=50%25&electrodes=uniform-field&gap=0.8cm",
    "/v1/breakdown?gap=8000um&electrodes=uniform-field&relative_humidity=50+percent",
    "/v1/breakdown?gap=8000%C2%B5m&electrodes=uniform-field&relative_humidity=50percent",
    "/v1/breakdown;gap=8mm;electrodes=uniform-field;relative_humidity=50percent",
    "/v1/breakdown;gap=8000%CE%BCm?electrodes=uniform-field&relative_humidity=50percent",
]


@pytest.mark.parametrize("address", SPELLINGS)
def test_one_question_in_every_spelling_has_one_answer_and_tag(client, address):
    first, here = client.get(SPELLINGS[0]), client.get(address)
    assert here.status_code == 200, here.data
    assert here.data == first.data
    assert here.headers["ETag"] == first.headers["ETag"]
    again = client.get(address, headers={"If-None-Match": here.headers["ETag"]})
    assert again.status_code == 304


def test_path_form_with_a_suffix(client):
    response = client.get("/v1/breakdown;gap=5.5mm;electrodes=needle-gap.txt")
    assert response.content_type == "text/plain; charset=utf-8"
    assert "Vary" not in response.headers
    assert client.get("/v1/breakdown;gap=8mm;absolute_humidity=11g/m3").status_code == 200


REFUSED = [
    ("gap=8", "bare number"),
    ("gap=8mm&depth=3mm", "not known"),
    ("gap=8mm&gap=9mm", "more than once"),
    ("gap=", "empty"),
    ("gap=5,3mm", "comma"),
    ("gap=nanmm", "cannot read"),
    ("gap=8mm&pressure=3psig", "gauge"),
    ("gap=8mm&pressure=100kPa&altitude=1km", "contradict"),
    ("gap=8mm&gas=foo", "does not know"),
    ("gap=-8mm", "greater than zero"),
    ("gap=1e999mm", "finite"),
    ("gap=8kV", "unit of a voltage"),
    ("", "needed"),
]


@pytest.mark.parametrize(("query", "words"), REFUSED)
def test_what_cannot_be_read_is_a_problem_that_says_why(client, query, words):
    response = client.get(f"/v1/breakdown?{query}")
    assert response.status_code == 400
    assert response.content_type == "application/problem+json"
    problem = response.get_json()
    assert set(problem) == {"type", "title", "status", "detail", "errors"}
    assert words in problem["detail"]
    assert client.get(problem["type"]).status_code == 200


def test_a_refusal_outside_validity_ends_with_a_request_that_works(client):
    response = client.get("/v1/breakdown?gap=2cm&electrodes=uniform-field&method=closed-form-air-raizer")
    problem = response.get_json()
    assert response.status_code == 422
    assert problem["errors"][0]["valid"]
    assert client.get(problem["detail"].split()[-1]).status_code == 200


def test_input_is_echoed_short_and_escaped(client):
    response = client.get("/v1/breakdown?gap=<script>alert(1)</script>" + "x" * 40)
    assert response.status_code == 400
    assert b"<script" not in response.data
    assert b"x" * 33 not in response.data


def test_errors_of_every_kind_are_problems(client):
    wrong = client.post("/v1/breakdown")
    assert wrong.status_code == 405
    assert "GET" in wrong.headers["Allow"]
    cases = {
        404: client.get("/v1/breakdwon?gap=8mm"),
        406: client.get("/v1/breakdown?gap=8mm", headers={"Accept": "application/pdf"}),
        415: client.post("/v1/batch", data="a,b"),
        400: client.post("/v1/batch", data="[" * 100000, content_type="application/json"),
    }
    for status, response in cases.items():
        assert response.status_code == status
        assert response.content_type == "application/problem+json"
        assert response.headers["Access-Control-Allow-Origin"] == "*"


@pytest.mark.parametrize("address", ["/v1/batch", "/v1/probe-check", "/v1/probe-check.txt"])
def test_what_is_asked_in_a_body_is_not_asked_with_get(client, address):
    response = client.get(address)
    assert response.status_code == 405
    assert {one.strip() for one in response.headers["Allow"].split(",")} == {"POST", "OPTIONS"}
    assert client.options(address).headers["Access-Control-Allow-Methods"] == response.headers["Allow"]


def test_a_value_out_of_bounds_is_refused_in_words(client):
    detail = client.get("/v1/gap?voltage=1e9V").get_json()["detail"]
    assert detail == "voltage must be at most 100000 kV; '1e9V' lies outside."


def test_head_and_options_work_everywhere(client):
    assert client.head("/v1/breakdown?gap=8mm").status_code == 200
    options = client.options("/v1/breakdown")
    assert options.status_code == 200
    assert "GET" in options.headers["Access-Control-Allow-Methods"]


def test_one_field_as_plain_text(client):
    spheres = "/v1/breakdown?electrodes=sphere-gap&sphere_diameter=2cm&gap=5mm&only="
    assert client.get(spheres + "breakdown_voltage").data == b"17.4\n"  # IEC 60052 Table 2
    assert client.get(spheres + "breakdown_voltage.low").data == b"16.878\n"
    assert client.get(spheres + "nothing").status_code == 400


def test_a_batch_answers_element_by_element(client):
    body = {
        "lookup": "breakdown",
        "given": {"gas": "air", "electrodes": "uniform-field"},
        "columns": {"gap": {"unit": "mm", "values": [1, 2, 8, True, None, "3", -1, 1e9]}},
    }
    document = client.post("/v1/batch", json=body).get_json()
    assert document["status"] == ["ok"] * 3 + ["unreadable"] * 5
    assert document["columns"]["breakdown_voltage"]["values"][2] == pytest.approx(25.79, abs=0.01)
    assert document["columns"]["breakdown_voltage"]["values"][3:] == [None] * 5


def test_a_batch_of_gaps_is_the_same_as_one_by_one(client):
    body = {
        "lookup": "gap",
        "given": {"electrodes": "uniform-field", "pressure": "1kPa"},
        "columns": {"voltage": {"unit": "kV", "values": [0.2, 5, 12, 5e4]}},
    }
    document = client.post("/v1/batch", json=body).get_json()
    assert document["status"] == ["no-breakdown", "ok", "ok", "outside-validity"]
    single = client.get("/v1/gap?voltage=12kV&electrodes=uniform-field&pressure=1kPa").get_json()["gaps"][-1]
    assert document["columns"]["gap"]["values"][2] == pytest.approx(single["value"], rel=1e-9)


PAGES = (
    "/",
    "/?gap=8mm",
    "/?lookup=spark&length=9mm",
    "/docs",
    "/wiki",
    "/wiki?url=/v1/breakdown?gap=8mm",
    "/probe-check",
)


@pytest.mark.parametrize("address", PAGES)
def test_a_page_is_served_without_outside_hosts(client, address):
    response = client.get(address)
    assert response.status_code == 200
    assert b"http://" not in response.data.replace(b"http://localhost", b"").replace(b"http://www.w3.org", b"")


def test_oembed_describes_only_our_own_addresses(client):
    photo = client.get("/oembed?url=/v1/breakdown.svg%3Fgap%3D8mm").get_json()
    assert photo["type"] == "photo"
    assert client.get("/oembed?url=https://example.org/v1/breakdown%3Fgap%3D8mm").status_code == 404
    assert client.get("/oembed?url=/v1/breakdown%3Fgap%3D8mm&format=xml").status_code == 501

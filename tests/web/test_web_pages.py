"""Pages for people: the reference, the tables, lines for wikis, and a refusal opened in a browser."""

from __future__ import annotations

import re

import pytest

from service.render.formats import FORMATS
from service.web.profile_page import EXAMPLES

BROWSER = {"Accept": "text/html,application/xhtml+xml,image/avif,*/*;q=0.8"}


@pytest.fixture(scope="module")
def reference(client):
    return client.get("/docs").text


def test_the_reference_is_kept_for_each_address_under_which_it_is_asked(client):
    first = client.get("/docs").text
    other = client.get("/docs", base_url="http://hv.example:8081").text
    under = client.get("/docs", environ_overrides={"SCRIPT_NAME": "/sparks"}).text
    assert other == first.replace("http://localhost/", "http://hv.example:8081/") != first
    assert 'href="/sparks/static/' in under
    assert "http://localhost/sparks/v1/" in under
    assert client.get("/docs").text == first


def test_the_reference_is_small_and_holds_every_lookup_name_and_format(client, reference):
    assert len(reference.encode()) < 200_000
    for lookup in client.application.extensions["workshop"].lookups.values():
        assert f'id="{lookup.key}"' in reference
        for parameter in lookup.parameters:
            assert f"<code>{parameter.name}</code>" in reference
        for field in lookup.results:
            assert f"<code>{field}</code>" in reference
    for suffix in FORMATS:
        assert f"<code>.{suffix}</code>" in reference


def test_the_reference_tells_bodies_batch_and_what_pictures_take(reference):
    for word in (
        "readings[].indicated_voltages",
        "/v1/batch",
        "vnd.apache.arrow.stream",
        "theme",
        "width",
        "view",
        "only=",
        "digits=",
        "/oembed",
    ):
        assert word in reference


def test_every_table_is_reached_from_the_index(client):
    shown = client.get("/tables").text
    keys = client.application.extensions["workshop"].registry.reference.tables
    for key in keys:
        assert f'href="/v1/tables/{key}.html"' in shown
    assert client.get(f"/v1/tables/{next(iter(keys))}.html").status_code == 200


@pytest.mark.parametrize(
    "address",
    [
        "/v1/breakdown?gap=8mm",
        "/v1/breakdown;gap=8mm.svg",
        "http://localhost/?lookup=breakdown&gap=8mm",
        "localhost/v1/breakdown?gap=8mm",
        "http://localhost/?gap=8&unit.gap=mm",
    ],
)
def test_any_address_of_the_service_gives_its_lines(client, address):
    shown = client.get("/wiki", query_string={"url": address, "theme": "dark", "width": "640"})
    assert shown.status_code == 200
    assert "/v1/breakdown;gap=8mm;view=brief;theme=dark;width=640.png" in shown.text
    assert "| Method |" in shown.text
    assert "{| class=" in shown.text


@pytest.mark.parametrize(
    "address", ["https://example.org/v1/breakdown?gap=8mm", "/v1/tables/needle-gap", "javascript:x"]
)
def test_another_address_gives_none(client, address):
    assert client.get("/wiki", query_string={"url": address}).status_code == 400


def test_a_refusal_opened_in_a_browser_is_the_page_with_its_form_filled(client):
    shown = client.get("/v1/breakdown?gap=5,3mm&electrodes=needle-gap", headers=BROWSER)
    assert shown.status_code == 400
    assert shown.mimetype == "text/html"
    assert shown.headers["Cache-Control"] == "no-store"
    assert "comma" in shown.text
    assert re.search(r'<option value="needle-gap" selected>', shown.text)


@pytest.mark.parametrize("headers", [{}, {"Accept": "*/*"}, {"Accept": "application/json"}, {"Accept": "image/png"}])
def test_a_refusal_to_a_program_is_a_problem_document(client, headers):
    answer = client.get("/v1/breakdown?gap=5,3mm", headers=headers)
    assert answer.mimetype == "application/problem+json"


def test_what_is_missing_is_still_needed_in_the_words_of_the_form(client):
    shown = client.get("/?lookup=clearance&system_voltage=300V").text
    assert "Still needed" in shown
    assert "<li>Pollution degree</li>" in shown
    assert "pollution_degree is needed" not in shown


def test_real_electrodes_are_chosen_by_their_shapes_and_every_state_is_an_address(client):
    shown = client.get("/profile?plane=earthed&live.shape=hex-head&live.size=M6&live.face=10&unit.live.face=mm")
    assert shown.status_code == 200
    assert "kV peak" in shown.text
    assert 'name="live.face"' in shown.text
    assert 'name="live.inside_diameter"' not in shown.text
    refused = client.get("/profile?plane=earthed&live.shape=hex-head&live.face=10mm")
    assert refused.status_code == 400
    assert 'id="f-live.size-fault"' in refused.text


@pytest.mark.parametrize("query", EXAMPLES.values(), ids=EXAMPLES)
def test_every_example_of_the_drawing_page_is_answered(client, query):
    assert client.get(f"/profile?{query}").status_code == 200

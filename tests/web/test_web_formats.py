"""Every format of every resource: offered ones are right and not empty, the rest is refused."""

from __future__ import annotations

import csv
import io
import json
import re

import pytest

from service.render.formats import FORMATS
from tests.asking import SHIPPED

LOOKUPS = [one for one in SHIPPED.found.values() if not one.post]
CELLS = [(one, suffix) for one in LOOKUPS for suffix in FORMATS]
CATALOGUES = ("gases", "electrodes", "methods", "materials", "units", "sources", "tables")
LISTS = ("json", "txt", "csv", "md", "wiki", "dokuwiki", "html")
TABLE = "iec-60052-table-2"


@pytest.mark.parametrize(("lookup", "suffix"), CELLS, ids=lambda x: getattr(x, "key", x))
def test_every_suffix_of_every_lookup(client, lookup, suffix):
    response = client.get(f"/v1/{lookup.key}.{suffix}?{lookup.example}")
    head = client.head(f"/v1/{lookup.key}.{suffix}?{lookup.example}")
    assert head.status_code == response.status_code
    assert head.content_type == response.content_type
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


def readable_as(suffix, data):
    """Check that a body is what its suffix says."""
    text = data.decode("utf-8") if suffix != "png" else ""
    begins = {"json": "{", "svg": "<svg", "md": "", "wiki": "", "dokuwiki": "", "txt": "", "csv": "", "html": "<"}
    if suffix == "png":
        assert data.startswith(b"\x89PNG\r\n")
    else:
        assert text.startswith(begins[suffix])
        assert text.endswith("\n")
    if suffix == "json":
        assert json.loads(text)
        assert "NaN" not in text
    if suffix == "csv":
        rows = list(csv.reader(io.StringIO(text)))
        assert len(rows) > 1
        assert len({len(row) for row in rows}) == 1


@pytest.mark.parametrize(("lookup", "suffix"), CELLS, ids=lambda x: getattr(x, "key", x))
def test_a_body_is_what_its_suffix_says(client, lookup, suffix):
    if suffix in lookup.formats:
        readable_as(suffix, client.get(f"/v1/{lookup.key}.{suffix}?{lookup.example}").data)


@pytest.mark.parametrize("suffix", FORMATS)
@pytest.mark.parametrize("name", CATALOGUES)
def test_every_suffix_of_every_catalogue(client, name, suffix):
    response = client.get(f"/v1/{name}.{suffix}")
    assert client.head(f"/v1/{name}.{suffix}").status_code == response.status_code
    if suffix not in LISTS:
        assert response.status_code == 406
        return
    assert response.status_code == 200
    assert response.content_type == FORMATS[suffix].media_type
    readable_as(suffix, response.data)


@pytest.mark.parametrize("name", CATALOGUES)
def test_every_entry_of_a_catalogue_has_an_address_of_its_own(client, name):
    entries = client.get(f"/v1/{name}").get_json()[name]
    assert entries
    keys = [one["key"] for one in entries]
    assert len(set(keys)) == len(keys)
    for key in keys:
        assert client.get(f"/v1/{name}/{key}").status_code == 200, key


@pytest.mark.parametrize("suffix", ["json", "csv", "md", "html", "wiki", "dokuwiki"])
def test_every_table_is_served_in_every_table_format(client, suffix):
    for one in client.get("/v1/tables").get_json()["tables"]:
        response = client.get(f"/v1/tables/{one['key']}.{suffix}")
        assert response.status_code == 200, one["key"]
        assert response.content_type == FORMATS[suffix].media_type
        readable_as(suffix, response.data)


def test_a_table_carries_the_provenance_of_every_row(client):
    rows = list(csv.DictReader(io.StringIO(client.get(f"/v1/tables/{TABLE}.csv").text)))
    assert all(row["provenance"] for row in rows)
    # IEC 60052 Table 2: spheres of 2 cm at 0.5 cm
    assert any(
        (row["sphere_diameter_cm"], row["spacing_cm"].rstrip("0"), row["voltage_kV_peak"]) == ("2", "0.5", "17.4")
        for row in rows
    )


def test_the_descriptor_names_every_table_that_is_served(client):
    package = client.get("/v1/tables/datapackage.json").get_json()
    keys = {one["key"] for one in client.get("/v1/tables").get_json()["tables"]}
    assert {one["name"] for one in package["resources"]} == keys


@pytest.mark.parametrize("suffix", ["wiki", "dokuwiki"])
def test_wiki_markup_is_text_by_suffix_only(client, suffix):
    assert client.get(f"/v1/breakdown.{suffix}?gap=8mm").content_type == "text/plain; charset=utf-8"

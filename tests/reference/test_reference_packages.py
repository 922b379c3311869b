"""The shipped packages: valid as Frictionless Data Packages, complete, cell by cell as in their files, honest."""

import csv
import io
import json
import re

import pytest
from frictionless import validate

from service.reference import PROVENANCE_WORDS, shipped_folder

FOLDERS = sorted(path.name for path in shipped_folder().iterdir() if path.is_dir())
OUTSIDE = re.compile(r"https?://|www\.|\b[a-z0-9-]+\.(?:com|org|io|info|net|edu)\b")


@pytest.mark.parametrize("folder", FOLDERS)
def test_a_package_is_a_valid_frictionless_data_package(folder):
    report = validate(str(shipped_folder() / folder / "datapackage.json"))
    assert report.valid, report.flatten(["rowNumber", "fieldName", "message"])


def test_frictionless_sees_a_spoiled_cell_and_a_spoiled_hash(lab):
    lab.copy("iec-52")
    descriptor = str(lab.folder / "iec-52" / "datapackage.json")
    lab.edit("iec-52", "iec_52_density_factors.csv", 3, "k_d", "x")
    assert "type-error" in {kind for (kind,) in validate(descriptor).flatten(["type"])}
    rows = lab.rows("iec-52", "iec_52_density_factors.csv")
    lab.write("iec-52", "iec_52_density_factors.csv", rows[:-1], seal=False)
    assert "hash-count" in {kind for (kind,) in validate(descriptor).flatten(["type"])}


def test_every_resource_of_every_package_is_there_with_the_rows_of_its_file(reference):
    stated = {}
    for folder in FOLDERS:
        descriptor = json.loads((shipped_folder() / folder / "datapackage.json").read_text(encoding="utf-8"))
        for resource in descriptor["resources"]:
            with (shipped_folder() / folder / resource["path"]).open(encoding="utf-8", newline="") as file:
                stated[resource["name"]] = len(list(csv.DictReader(file)))
    stated.pop("worked-examples")
    assert {key: len(table) for key, table in reference.tables.items()} == stated
    assert list(reference.tables) == sorted(reference.tables)


def test_every_printed_question_is_there(reference):
    examples = reference.worked_examples()
    texts = [path.read_text(encoding="utf-8") for path in sorted(shipped_folder().glob("*/worked_examples.csv"))]
    printed = [row["id"] for text in texts for row in csv.DictReader(io.StringIO(text))]
    assert sorted(example.id for example in examples) == sorted(set(printed)) == sorted(printed)
    assert all(isinstance(example.inputs, object) and example.inputs for example in examples)


@pytest.mark.parametrize("folder", FOLDERS)
def test_the_rows_of_a_table_are_those_of_its_file(reference, folder):
    package = reference.packages[folder]
    for key, table in package.tables.items():
        path = shipped_folder() / folder / f"{key.replace('-', '_')}.csv"
        with path.open(encoding="utf-8", newline="") as file:
            assert [dict(row) for row in table.rows] == list(csv.DictReader(file))


def test_every_row_has_a_provenance_word(reference):
    for table in reference.tables.values():
        assert set(table.provenance) <= set(PROVENANCE_WORDS)
    for example in reference.worked_examples():
        assert example.provenance in PROVENANCE_WORDS


def test_every_table_says_where_it_comes_from_and_what_it_was_checked_against(reference):
    for table in reference.tables.values():
        assert all((table.source.key, table.source.citation, table.title)), table.key
        assert all(check["what"] and check["when"] == "2026-11" for check in table.checked_against), table.key


def test_a_source_key_is_always_cited_alike(reference):
    citations = {}
    for table in reference.tables.values():
        citations.setdefault(table.source.key, set()).add(table.package)
    assert all(len(packages) == 1 for packages in citations.values())


def test_more_than_half_of_the_rows_are_from_memory_or_computed(reference):
    """The README says so; when a lab checks tables against print, it must be rewritten."""
    words = [word for table in reference.tables.values() for word in table.provenance]
    assert sum(word in {"memory", "computed", "derived"} for word in words) > len(words) / 2


def test_a_range_beside_a_printed_cell_is_marked_as_derived(reference):
    for table in reference.tables.values():
        quantities = {field.quantity for field in table.fields}
        ranges = [field for field in table.fields if field.quantity.endswith(("_from", "_to"))]
        for field in ranges:
            if f"{field.quantity.rsplit('_', 1)[0]}_printed" in quantities:
                assert "derived from the printed cell" in str(field.description), (table.key, field.name)


@pytest.mark.parametrize("folder", FOLDERS)
def test_a_package_names_no_address(folder):
    for path in (shipped_folder() / folder).iterdir():
        assert OUTSIDE.search(path.read_text(encoding="utf-8")) is None, path.name


@pytest.mark.parametrize("folder", FOLDERS)
def test_a_package_states_version_licence_and_source(folder):
    stated = json.loads((shipped_folder() / folder / "datapackage.json").read_text(encoding="utf-8"))
    assert re.fullmatch(r"[0-9]+\.[0-9]+\.[0-9]+", stated["version"])
    assert stated["licenses"][0]["name"] == "CC0-1.0"
    assert stated["sources"][0]["title"]


def test_the_version_names_month_and_hash(reference):
    assert re.fullmatch(r"2026\.11\+[0-9a-f]{8}", reference.version)

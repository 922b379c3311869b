"""The shipped packages: valid as Frictionless Data Packages, complete, cell by cell as in their files, honest."""

import csv
import json
import re

import pytest
from frictionless import validate

from service.reference import PROVENANCE_WORDS, provenance_word, shipped_folder

ROWS = {
    "air-townsend-curve": 22,
    "correction-constants": 22,
    "critical-fields": 34,
    "effective-ionization-fits": 15,
    "empirical-voltage": 14,
    "energy-source-practice": 24,
    "exposure-limits": 31,
    "field-factor-formulas": 14,
    "frequency-effects": 21,
    "gamma-secondary": 53,
    "gap-factors-iec-60071": 12,
    "gas-constants": 28,
    "gas-methods": 52,
    "gases": 16,
    "handbook-temperature-pressure-factors": 16,
    "iec-52-density-factors": 10,
    "iec-60052-table-1": 8,
    "iec-60052-table-2": 389,
    "iec-60052-table-3": 382,
    "iec-60060-1-corrections": 27,
    "iec-60479-body-impedance": 9,
    "iec-60479-zones": 18,
    "iec-60664-1-groove-width": 4,
    "iec-60664-1-material-groups": 4,
    "iec-60664-1-rules": 12,
    "iec-60664-1-table-a1": 26,
    "iec-60664-1-table-a2": 11,
    "iec-60664-1-table-f1": 32,
    "iec-60664-1-table-f2": 208,
    "iec-60664-1-table-f3a": 18,
    "iec-60664-1-table-f3b": 16,
    "iec-60664-1-table-f4": 39,
    "iec-60664-1-table-f4-ribs": 19,
    "iec-60664-1-table-f7a": 33,
    "iec-60664-1-table-f7b": 8,
    "iec-60664-4-rules": 8,
    "iec-60664-4-table-1": 8,
    "iec-60664-4-table-2": 18,
    "iec-60815-specific-creepage": 9,
    "iec-60950-high-voltage-clearance": 6,
    "iec-60950-secondary-clearance": 8,
    "iec-61010-1-mains": 12,
    "iec-62368-1-charged-capacitor": 15,
    "iec-62368-1-limits": 10,
    "iec-62368-1-single-pulse": 6,
    "ionization-alpha-over-n": 765,
    "ipc-2221-table-6-1": 10,
    "materials": 80,
    "microgap-points": 10,
    "minimum-ignition-energy": 17,
    "mixture-rules": 3,
    "needle-gap": 31,
    "needle-gap-aiee-1914": 13,
    "nfpa-70e-ac": 13,
    "nfpa-70e-dc": 11,
    "norman-2022-points": 166,
    "osha-1910-269-formula": 5,
    "osha-1910-269-table-r5": 13,
    "osha-1910-269-table-r6-r7": 15,
    "osha-1910-333-table-s5": 8,
    "osha-1910-333-unqualified": 4,
    "osha-appendix-b-rod-gap": 19,
    "paschen-minima": 29,
    "peek-constants": 9,
    "relative-strength": 34,
    "rod-gap-60hz": 23,
    "rod-gap-impulse": 9,
    "rod-plane-formulas": 12,
    "rod-rod-direct": 9,
    "schumann-table": 14,
    "shock-limits": 41,
    "source-citations": 21,
    "sphere-field-factor-f": 14,
    "sphere-field-factors": 24,
    "sphere-gap-practice": 14,
    "standard-atmosphere": 25,
    "statistics": 16,
    "streamer-constants": 10,
    "streamer-criterion-fits": 18,
    "surface-flashover": 11,
    "townsend-ab": 31,
    "uniform-field-formulas": 6,
    "vacuum-points": 16,
    "xray-thresholds": 6,
}
"""Rows of each table, counted on the sheets from which the packages were made."""

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


def test_every_table_is_there_with_its_rows(reference):
    assert {key: len(table) for key, table in reference.tables.items()} == ROWS
    assert list(reference.tables) == sorted(reference.tables)


def test_every_printed_question_is_there(reference):
    examples = reference.worked_examples()
    assert len(examples) == 103
    assert len({example.id for example in examples}) == 103
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
        assert {provenance_word(phrase) for phrase in table.provenance} <= set(PROVENANCE_WORDS)
    for example in reference.worked_examples():
        assert provenance_word(example.provenance) in PROVENANCE_WORDS


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
    words = [provenance_word(phrase) for table in reference.tables.values() for phrase in table.provenance]
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

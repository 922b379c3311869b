"""Spoiled data are refused at load, with file, row, column and reason; what is laid over answers every question."""

import shutil
from pathlib import Path

import pytest

from service.errors import BadReferenceData
from service.lookups.examination import examined
from service.reference import collection, load, shipped_folder
from service.web import create_app
from tests.spoil import KINDS, outcome, spoiled_packages

COUNT = 60
GROUPS = 4


@pytest.mark.parametrize("group", range(GROUPS))
def test_sixty_spoiled_overlays_are_refused_or_answer(group, tmp_path):
    """``python -m tests.spoil --count 500`` spoils more."""
    found = [
        (kind, table, *outcome(overlay))
        for kind, table, overlay in spoiled_packages(COUNT // GROUPS, 20261126 + group, tmp_path)
    ]
    assert [one for one in found if one[2] == "FAULT"] == []


def test_a_kind_of_spoiling_is_there_for_cells_rows_columns_and_rules():
    assert len(KINDS) >= 24


@pytest.mark.parametrize(
    ("package", "file", "spoil", "row", "reason"),
    [
        ("doe-energy-sources", "energy_source_practice.csv", ("voltage_above_V", "50000"), 2, "maximum"),
        ("iec-60052", "iec_60052_table_2.csv", ("voltage_kV_peak", "0"), 9, "minimum"),
        ("iec-60052", "sphere_gap_practice.csv", ("value", "300"), 2, "factor of ten"),
        ("iec-60052", "sphere_gap_practice.csv", ("value", "1"), 2, "factor of ten"),
        ("iec-60052", "sphere_gap_practice.csv", ("note", "a\x00"), 2, "not printed"),
        ("iec-60052", "sphere_gap_practice.csv", ("note", "turned \u202e around"), 2, "not printed"),
        ("gas-selection", "gas_methods.csv", ("gas_key", "aether"), 2, "no key of the table 'gases'"),
        ("nfpa-70e", "nfpa_70e_ac.csv", ("voltage_from_V", "500"), 3, "above voltage_to_V"),
    ],
)
def test_a_wrong_cell_is_refused_with_its_place(lab, package, file, spoil, row, reason):
    lab.copy(package).edit(package, file, row, *spoil)
    with pytest.raises(BadReferenceData, match=reason) as caught:
        load(lab.folder)
    assert (caught.value.file, caught.value.row, caught.value.column) == (f"{package}/{file}", row, spoil[0])


@pytest.mark.parametrize(
    ("row", "column", "cell", "reason"),
    [
        (2, "data", "uniform-field-formulas:kufel", "has no such row"),
        (2, "data", "uniform-field-formulas", "reads uniform-field-formulas:KEY"),
        (9, "data", "townsend-ab:nobody:exp", "no such row of air"),
        (9, "data", "towsend-ab:raizer:exp", "reads townsend-ab:SOURCE:FORM"),
        (9, "data", "townsend-ab:raizer:exp:3-4", "range is none of"),
        (50, "cross_sections", "Hayashy (LXCat)", "no such row of carbon-dioxide"),
        (55, "data", "gas-constants:kufel", "kufel-slope"),
        (3, "cross_sections", "SIGLO N2", "no such row of air"),
        (39, "form", "measurd", "the forms are"),
    ],
)
def test_a_method_of_a_gas_that_names_no_data_is_refused_with_its_row(lab, row, column, cell, reason):
    lab.copy("gas-selection").edit("gas-selection", "gas_methods.csv", row, column, cell)
    with pytest.raises(BadReferenceData, match=reason) as caught:
        examined(lab.folder)
    place = ("gas-selection/gas_methods.csv", row, column)
    assert (caught.value.file, caught.value.row, caught.value.column) == place


def test_a_caution_that_is_not_there_is_refused_with_its_row(lab):
    lab.copy("gas-selection").edit("gas-selection", "gases.csv", 32, "cautions", "suffocation explosions")
    with pytest.raises(BadReferenceData, match="cautions has 'explosions'") as caught:
        examined(lab.folder)
    assert (caught.value.file, caught.value.row) == ("gas-selection/gases.csv", 32)


def test_no_share_of_what_is_held_is_more_than_all_of_it(lab):
    lab.copy("sharpest-electrode").edit("sharpest-electrode", "sharpest_electrode.csv", 3, "value", "1.2")
    with pytest.raises(BadReferenceData, match="share must be at most 1") as caught:
        examined(lab.folder)
    assert caught.value.file == "sharpest-electrode/sharpest_electrode.csv"


def test_rules_of_the_shipped_table_hold_where_a_lab_states_none(lab):
    lab.copy("iec-60052", "iec-60052-table-2").edit("iec-60052", "iec_60052_table_2.csv", 9, "voltage_kV_peak", "-17.4")

    def without_rules(stated):
        resource = stated["resources"][0]
        for name in ("rises", "within", "pairs"):
            resource.pop(name, None)
        for field in resource["schema"]["fields"]:
            if field["quantity"] != "provenance":
                field.pop("constraints", None)

    lab.describe("iec-60052", without_rules)
    with pytest.raises(BadReferenceData, match="table it replaces"):
        load(lab.folder)


@pytest.mark.parametrize(
    ("package", "file"), [("iec-60052", "sphere_gap_practice.csv"), ("iec-60664-1", "iec_60664_1_rules.csv")]
)
def test_a_named_row_that_answers_need_is_missed_at_load(lab, package, file):
    lab.copy(package)
    rows = lab.rows(package, file)
    lab.write(package, file, rows[:-1])
    with pytest.raises(BadReferenceData, match="must have a row"):
        load(lab.folder)


def test_a_method_that_lacks_its_row_is_refused_at_load_not_at_a_question(lab):
    lab.copy("townsend-coefficients")
    rows = lab.rows("townsend-coefficients", "townsend_ab.csv")
    lab.write("townsend-coefficients", "townsend_ab.csv", rows[:2])
    with pytest.raises(
        BadReferenceData, match=r"townsend-coefficients/townsend_ab\.csv has no such row of air"
    ) as caught:
        examined(lab.folder)
    assert (caught.value.file, caught.value.row) == ("gas-selection/gas_methods.csv", 9)
    client = create_app({"SERVICE_REFERENCE_DATA": str(lab.folder)}).test_client()
    answer = client.get("/v1/breakdown?gap=8mm")
    assert (answer.status_code, answer.get_json()["type"]) == (503, "/problems/bad-reference-data")


@pytest.fixture
def shipped_without(tmp_path, monkeypatch):
    def without(package):
        folder = tmp_path / "reference_data"
        shutil.copytree(shipped_folder(), folder, ignore=shutil.ignore_patterns(package))
        monkeypatch.setattr(collection, "shipped_folder", lambda: folder)
        return create_app().test_client()

    return without


@pytest.mark.parametrize("package", ["iec-60052", "gas-selection", "iec-60664-1", "uniform-field-air", "*"])
def test_a_missing_shipped_folder_is_503_with_the_reason_and_no_traceback(shipped_without, package):
    client = shipped_without(package)
    answer = client.get("/v1/breakdown?gap=8mm")
    assert answer.status_code == 503
    assert answer.get_json()["type"] == "/problems/bad-reference-data"
    assert "Traceback" not in answer.get_data(as_text=True)


def test_the_shipped_data_answer_every_lookup():
    examined()


def test_the_place_of_the_machine_is_not_told(lab):
    lab.copy("townsend-coefficients")
    rows = lab.rows("townsend-coefficients", "townsend_ab.csv")
    lab.write("townsend-coefficients", "townsend_ab.csv", rows[:2])
    with pytest.raises(BadReferenceData) as caught:
        examined(lab.folder)
    assert str(Path(lab.folder).parent) not in caught.value.detail

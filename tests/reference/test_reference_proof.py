"""A proof sheet: printed, ticked by an owner of the printed source, confirmed into an overlay that says so."""

import csv
import io
import json
import re
from datetime import date

import pytest

from service.errors import BadReferenceData
from service.reference import load
from service.reference.__main__ import main
from service.reference.proof import TICK, confirm, sheet_csv
from service.render.table import PROOF_FORMATS

KEY = "iec-62368-1-single-pulse"
DAY = date(2027, 3, 1)


@pytest.fixture
def rows(reference):
    return list(csv.reader(io.StringIO(sheet_csv(reference.table(KEY)).decode())))


@pytest.fixture
def written(tmp_path):
    def write(rows):
        path = tmp_path / "sheet.csv"
        with path.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(rows)
        return path

    return write


def test_a_ticked_sheet_becomes_an_overlay_that_says_what_it_was_checked_against(reference, rows, written, tmp_path):
    rows[1][0] = rows[3][0] = "x"
    rows[1][1] = "IEC 62368-1:2018, own copy"
    confirm(written(rows), reference, tmp_path / "own", DAY)
    own = load(tmp_path / "own")
    table = own.table(KEY)
    assert table.provenance == ("reproduction+memory", "memory", "reproduction+memory", "memory", "memory", "memory")
    assert table.checked_against[-1] == {"what": "2 of 6 rows: IEC 62368-1:2018, own copy", "when": "2027-03"}
    assert table["es2_voltage"].tolist() == reference.table(KEY)["es2_voltage"].tolist()
    assert own.version != reference.version
    assert table.cells_by_provenance == {"reproduction+memory": 4, "memory": 8}


def test_a_corrected_cell_is_taken_over_as_a_reproduction(reference, rows, written, tmp_path):
    place = rows[0].index("ES2_U_peak_V")
    rows[1][0], rows[1][place] = "x", "197"
    confirm(written(rows), reference, tmp_path / "own", DAY)
    table = load(tmp_path / "own").table(KEY)
    assert (table.provenance[0], table.text("es2_voltage")[0]) == ("reproduction", "197")


@pytest.mark.parametrize(
    ("spoil", "reason"),
    [
        (lambda rows: None, "no row is ticked"),
        (lambda rows: rows[1].__setitem__(0, "perhaps"), "is no tick"),
        (lambda rows: rows[2].__setitem__(4, "1"), "is not ticked"),
        (lambda rows: rows.pop(), "is not the sheet of"),
        (lambda rows: rows[0].__setitem__(0, "tick"), "does not begin with"),
        (lambda rows: rows[1].__setitem__(2, "another"), "there is no table"),
        (lambda rows: rows[2].append("more"), "cells"),
        (lambda rows: rows.__delitem__(slice(1, None)), "has no rows"),
    ],
)
def test_a_sheet_that_is_none_is_refused_with_the_reason(reference, rows, written, tmp_path, spoil, reason):
    spoil(rows)
    with pytest.raises(BadReferenceData, match=reason):
        confirm(written(rows), reference, tmp_path / "own", DAY)


def test_a_tick_beside_a_cell_out_of_range_is_refused_when_laid_over(reference, rows, written, tmp_path):
    rows[1][0], rows[1][4] = "x", "196000"
    confirm(written(rows), reference, tmp_path / "own", DAY)
    with pytest.raises(BadReferenceData, match="maximum"):
        load(tmp_path / "own")


def test_every_table_has_a_sheet_that_can_be_confirmed(reference, tmp_path):
    for key, table in reference.tables.items():
        rows = list(csv.reader(io.StringIO(sheet_csv(table).decode())))
        assert rows[0][0] == TICK
        rows[1][0] = "x"
        path = tmp_path / f"{key}.csv"
        with path.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(rows)
        confirm(path, reference, tmp_path / key, DAY)
        # that it loads is shown for one; here that what was written is the table
        stated = json.loads((tmp_path / key / table.package / "datapackage.json").read_text(encoding="utf-8"))
        assert [one["name"] for one in stated["resources"]] == [key]


@pytest.mark.parametrize("suffix", ["md", "html"])
def test_a_sheet_marks_cells_from_memory_alone_and_has_a_box_per_row(reference, suffix):
    table = reference.table("iec-60052-table-2").where(sphere_diameter=0.02)
    text = PROOF_FORMATS[suffix](table).decode()
    marked = len(re.findall(r"[0-9] \\?\*", text))
    assert marked == table.cells_by_provenance["memory"]
    assert text.count("[ ]") + text.count(r"\[ \]") == len(table)


def test_the_command_confirms_and_hashes(reference, rows, written, tmp_path, capsys):
    rows[1][0] = "x"
    own = tmp_path / "own"
    assert main(["confirm", str(written(rows)), "--into", str(own)]) == 0
    assert "SERVICE_REFERENCE_DATA" in capsys.readouterr().out
    file = own / "iec-62368-1" / "iec_62368_1_single_pulse.csv"
    file.write_text(file.read_text(encoding="utf-8").replace(",196,", ",195,"), encoding="utf-8")
    with pytest.raises(BadReferenceData, match="sha256"):
        load(own)
    assert main(["hash", str(own)]) == 0
    assert capsys.readouterr().out == "iec-62368-1/iec_62368_1_single_pulse.csv\n"
    assert main(["hash", str(own)]) == 0
    assert capsys.readouterr().out == ""
    assert load(own).table(KEY).text("es2_voltage")[0] == "195"


def test_a_folder_without_packages_has_nothing_to_hash(tmp_path, capsys):
    assert main(["hash", str(tmp_path)]) == 1
    assert "datapackage.json" in capsys.readouterr().err

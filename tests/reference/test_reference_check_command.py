"""``python -m service.reference check``."""

import pytest

from service.reference.__main__ import main


def test_the_shipped_packages_pass_one_line_each(capsys, reference):
    assert main(["check"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line.split(" ")[0] for line in lines[:-1]] == list(reference.packages)
    assert "iec-60052 1.0.0: 5 tables, 802 rows, 6 worked examples" in lines
    assert lines[-1] == f"data version {reference.version}"


def test_an_overlay_is_checked_too(capsys, lab):
    lab.copy("iec-52")
    assert main(["check", str(lab.folder)]) == 0
    assert capsys.readouterr().out.count("iec-52 1.0.0: 1 tables, 10 rows, 1 worked examples") == 2


def test_a_spoiled_overlay_ends_with_file_row_and_reason(capsys, lab):
    lab.copy("iec-52").edit("iec-52", "iec_52_density_factors.csv", 3, "k_d", "0,77")
    assert main(["check", str(lab.folder)]) == 1
    assert capsys.readouterr().err == "iec-52/iec_52_density_factors.csv, row 3: k_d is '0,77', not a number\n"


def test_a_command_is_required(capsys):
    with pytest.raises(SystemExit):
        main([])
    assert "check" in capsys.readouterr().err

"""Where the data are found: in a checkout, in a wheel, and beside a stale copy of an editable install."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from service.reference import shipped_folder

CHECKOUT = Path(__file__).resolve().parents[2]
SCRIPT = """
from service.reference import load, shipped_folder
print(shipped_folder())
print(load().table('iec-60052-table-2')['voltage'][7])
"""


def served(*paths):
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(map(str, paths)), "PYTHONSAFEPATH": "1"}
    run = subprocess.run([sys.executable, "-c", SCRIPT], env=environment, capture_output=True, text=True, check=True)
    folder, voltage = run.stdout.split("\n")[:2]
    return Path(folder), float(voltage)


def copy_code(target):
    shutil.copytree(
        CHECKOUT / "service", target / "service", ignore=shutil.ignore_patterns("__pycache__", "reference_data")
    )


@pytest.fixture
def checkout(tmp_path, lab):
    """Return a checkout in which one cell was corrected from 17.4 to 17.3 kV."""
    folder = tmp_path / "checkout"
    copy_code(folder)
    shutil.copy(CHECKOUT / "pyproject.toml", folder)
    lab.folder = folder / "reference_data"
    shutil.copytree(shipped_folder(), lab.folder)
    lab.edit("iec-60052", "iec_60052_table_2.csv", 9, "voltage_kV_peak", "17.3")
    return folder


def test_a_checkout_serves_its_own_data_not_the_stale_copy_of_an_editable_install(checkout, tmp_path):
    stale = tmp_path / "site-packages"
    shutil.copytree(shipped_folder(), stale / "service" / "reference_data")
    for paths in ((checkout, stale), (stale, checkout)):
        assert served(*paths) == (checkout / "reference_data", 17_300.0)


def test_a_stale_copy_inside_the_package_of_a_checkout_is_not_served(checkout):
    shutil.copytree(shipped_folder(), checkout / "service" / "reference_data")
    assert served(checkout) == (checkout / "reference_data", 17_300.0)


def test_an_installed_wheel_serves_the_data_inside_the_package(tmp_path):
    site = tmp_path / "site-packages"
    copy_code(site)
    shutil.copytree(shipped_folder(), site / "service" / "reference_data")
    (site / "reference_data").mkdir()
    assert served(site) == (site / "service" / "reference_data", 17_400.0)

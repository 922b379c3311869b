import csv
import hashlib
import io
import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from service.reference import Reference, load, shipped_folder

Descriptor = dict[str, Any]


class Lab:
    """A folder of data packages that a test may spoil."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def copy(self, package: str, *keep: str) -> "Lab":
        """Copy a shipped package, with all of its resources or those named."""
        shutil.copytree(shipped_folder() / package, self.folder / package)
        if keep:
            self.describe(package, lambda stated: _keep(stated, keep))
        return self

    def describe(self, package: str, change: Callable[[Descriptor], None]) -> None:
        path = self.folder / package / "datapackage.json"
        stated = json.loads(path.read_text(encoding="utf-8"))
        change(stated)
        path.write_text(json.dumps(stated), encoding="utf-8")

    def rows(self, package: str, file: str) -> list[list[str]]:
        return list(csv.reader(io.StringIO((self.folder / package / file).read_text(encoding="utf-8"))))

    def write(self, package: str, file: str, rows: list[list[str]], *, seal: bool = True) -> None:
        """Write a CSV file, and its hash into the descriptor where ``seal`` is true."""
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerows(rows)
        path = self.folder / package / file
        path.write_text(text.getvalue(), encoding="utf-8")
        if seal:
            self.seal(package, file)

    def seal(self, package: str, file: str) -> None:
        digest = hashlib.sha256((self.folder / package / file).read_bytes()).hexdigest()

        def change(stated: Descriptor) -> None:
            resource = next(each for each in stated["resources"] if each["path"] == file)
            resource["hash"] = f"sha256:{digest}"

        self.describe(package, change)

    def edit(self, package: str, file: str, row: int, column: str, cell: str) -> None:
        """Change one cell; ``row`` counts from 1, the header being row 1."""
        rows = self.rows(package, file)
        rows[row - 1][rows[0].index(column)] = cell
        self.write(package, file, rows)


def _keep(stated: Descriptor, names: tuple[str, ...]) -> None:
    stated["resources"] = [each for each in stated["resources"] if each["name"] in names]


@pytest.fixture(scope="session")
def reference() -> Reference:
    return load()


@pytest.fixture
def lab(tmp_path: Path) -> Lab:
    folder = tmp_path / "own_data"
    folder.mkdir()
    return Lab(folder)

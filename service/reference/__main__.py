"""``python -m service.reference check [folder ...]``: check data packages, one line each."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from service.errors import BadReferenceData
from service.reference.collection import load, shipped_folder
from service.reference.package import Package, discover


def main(arguments: Sequence[str] | None = None) -> int:
    """Check the shipped packages and those of the folders named; return the exit status.

    Parameters
    ----------
    arguments : sequence of str, optional
        Command line; that of the process when absent.
    """
    parser = argparse.ArgumentParser(prog="python -m service.reference", description="Reference data packages.")
    commands = parser.add_subparsers(required=True)
    check = commands.add_parser("check", help="check hash, schema, units, cells and provenance of every package")
    check.add_argument("folder", nargs="*", type=Path, help="folder of packages laid over the shipped ones")
    chosen = parser.parse_args(arguments)
    try:
        _check([shipped_folder(), *chosen.folder], chosen.folder)
    except BadReferenceData as fault:
        sys.stderr.write(f"{fault.detail}\n")
        return 1
    return 0


def _check(folders: Sequence[Path], overlays: Sequence[Path]) -> None:
    for folder in folders:
        for package in discover(folder):
            sys.stdout.write(f"{_line(package)}\n")
    for reference in map(load, overlays) if overlays else [load()]:
        sys.stdout.write(f"data version {reference.version}\n")


def _line(package: Package) -> str:
    rows = sum(len(table) for table in package.tables.values())
    examples = len(package.examples) if package.examples else 0
    return f"{package.name} {package.version}: {len(package.tables)} tables, {rows} rows, {examples} worked examples"


if __name__ == "__main__":
    sys.exit(main())

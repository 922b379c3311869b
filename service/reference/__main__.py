"""``python -m service.reference``: check data packages, set their hashes, confirm a proof sheet."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from service.errors import BadReferenceData
from service.lookups.examination import examined
from service.reference.collection import load, shipped_folder
from service.reference.package import Package, discover
from service.reference.proof import confirm, seal


def main(arguments: Sequence[str] | None = None) -> int:
    """Do what the command line says, and return the exit status.

    Parameters
    ----------
    arguments : sequence of str, optional
        Command line; that of the process when absent.
    """
    parser = argparse.ArgumentParser(prog="python -m service.reference", description="Reference data packages.")
    commands = parser.add_subparsers(required=True)
    check = commands.add_parser("check", help="check packages, and ask every lookup what it answers from them")
    check.add_argument("folder", nargs="*", type=Path, help="folder of packages laid over the shipped ones")
    check.set_defaults(run=_check)
    sealing = commands.add_parser("hash", help="set the hash of every file of a package or of a folder of packages")
    sealing.add_argument("folder", type=Path)
    sealing.set_defaults(run=_seal)
    confirming = commands.add_parser("confirm", help="write the overlay package that a ticked proof sheet makes")
    confirming.add_argument("sheet", type=Path, help="the sheet of /v1/tables/KEY.csv?proof=true, ticked")
    confirming.add_argument("--into", type=Path, default=Path("own_data"), help="folder of the overlay (own_data)")
    confirming.set_defaults(run=_confirm)
    chosen = parser.parse_args(arguments)
    try:
        chosen.run(chosen)
    except BadReferenceData as fault:
        sys.stderr.write(f"{fault.detail}\n")
        return 1
    return 0


def _check(chosen: argparse.Namespace) -> None:
    for folder in (shipped_folder(), *chosen.folder):
        for package in discover(folder):
            sys.stdout.write(f"{_line(package)}\n")
    for overlay in chosen.folder or [None]:
        registry, _ = examined(overlay)
        sys.stdout.write(f"data version {registry.reference.version}\n")


def _line(package: Package) -> str:
    rows = sum(len(table) for table in package.tables.values())
    examples = len(package.examples) if package.examples else 0
    return f"{package.name} {package.version}: {len(package.tables)} tables, {rows} rows, {examples} worked examples"


def _seal(chosen: argparse.Namespace) -> None:
    for file in seal(chosen.folder):
        sys.stdout.write(f"{file}\n")


def _confirm(chosen: argparse.Namespace) -> None:
    target = confirm(chosen.sheet, load(), chosen.into)
    sys.stdout.write(f"{target}: set SERVICE_REFERENCE_DATA={chosen.into}\n")


if __name__ == "__main__":
    sys.exit(main())

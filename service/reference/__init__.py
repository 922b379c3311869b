"""Reference data: printed tables with their units, sources and provenance, read from ``reference_data/``."""

from service.reference.collection import Reference, WorkedExample, load, once, shipped_folder
from service.reference.descriptor import PROVENANCE_WORDS, Description, Field, Source, weakest
from service.reference.package import Package
from service.reference.table import GridReader, Table, TableGrid, Tabulated, interpolate

__all__ = [
    "PROVENANCE_WORDS",
    "Description",
    "Field",
    "GridReader",
    "Package",
    "Reference",
    "Source",
    "Table",
    "TableGrid",
    "Tabulated",
    "WorkedExample",
    "interpolate",
    "load",
    "once",
    "shipped_folder",
    "weakest",
]

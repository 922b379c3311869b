"""The templates of cards and pictures, with everything escaped."""

from __future__ import annotations

from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from service.render.canvas import coordinate
from service.render.layout import visible

TEMPLATES = Path(__file__).resolve().parent / "templates"


def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        auto_reload=False,
    )
    environment.filters["coordinate"] = coordinate
    environment.filters["visible"] = visible
    environment.filters["broad"] = lambda grid: grid.broad
    return environment


ENVIRONMENT = _environment()

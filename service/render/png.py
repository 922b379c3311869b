"""PNG: the very SVG of a page, drawn with the shipped fonts and no others."""

from __future__ import annotations

from dataclasses import replace

import resvg_py

from service.render import svg
from service.render.page import Page
from service.render.text_metrics import FAMILY, FILES

ZOOM = 2
"""Pixels per unit of the SVG."""


def render(page: Page) -> bytes:
    """Return the picture of a page as PNG; a picture cannot follow its reader, so that ``auto`` is light.

    Parameters
    ----------
    page : Page
    """
    return pixels(svg.markup(replace(page, theme="light") if page.theme == "auto" else page))


def pixels(markup: str) -> bytes:
    """Return SVG text as PNG.

    Parameters
    ----------
    markup : str
    """
    return bytes(
        resvg_py.svg_to_bytes(
            svg_string=markup,
            zoom=ZOOM,
            skip_system_fonts=True,
            font_files=[str(path) for path in FILES.values()],
            font_family=FAMILY,
            sans_serif_family=FAMILY,
        )
    )

"""PNG: the very SVG of a page, drawn with the shipped fonts and no others, in a process of its own."""

from __future__ import annotations

import atexit
import os
import re
import subprocess
import sys
import threading
from dataclasses import replace

from service.errors import BadQuestion, Busy
from service.render import rasterizer, svg
from service.render.layout import FAMILY, FILES
from service.render.page import Page
from service.turns import Turns

HIGHEST = 8000
"""Most pixels of a picture's height: beyond, at one pixel per unit, it is not drawn at all."""
PER_PIXEL, PER_LETTER = 56e-9, 21e-6
"""Processor time of a pixel and of a letter [s], as measured over 200 pictures; within a tenth."""
MOST_WORK = {2.0: 0.29, 1.5: 0.29, 1.0: 0.34}
"""Longest processor time of drawing [s] by pixels per unit of the SVG, the finest that there is time for.

With what was computed before, a picture takes less than 0.4 s; what takes longer at the coarsest is not drawn.
"""
DRAWINGS = Turns("pictures", at_work=1, waiting=12, patience=15.0)
"""A page may hold a dozen of them."""
LONGEST = 15.0
"""Longest time that one is drawn [s]: with its turn, a picture is there or refused within half a minute."""


def render(page: Page) -> bytes:
    """Return the picture of a page as PNG; a picture cannot follow its reader, so that ``auto`` is light."""
    return pixels(svg.markup(replace(page, theme="light") if page.theme == "auto" else page))


def pixels(markup: str) -> bytes:
    """Return SVG text as PNG.

    Raises
    ------
    BadQuestion
        When the picture is too high for pixels, or has too much in it.
    Busy
        When others come first, or the machine has no time for it.
    """
    width, height = (_length(markup, side) for side in ("width", "height"))
    if height > HIGHEST:
        detail = f"This picture would be {height:.0f} pixels high; at most {HIGHEST} are drawn. Ask .svg or .html."
        raise BadQuestion.about("", detail)
    letters = len("".join(WRITTEN.sub("", markup).split()))
    work = {zoom: PER_LETTER * letters + PER_PIXEL * width * height * zoom**2 for zoom in MOST_WORK}
    zoom = next((one for one, most in MOST_WORK.items() if height * one <= HIGHEST and work[one] <= most), None)
    if zoom is None:
        detail = (
            f"This picture has {width:.0f} by {height:.0f} pixels and {letters} letters, which takes too long to draw."
        )
        raise BadQuestion.about("", f"{detail} Ask .svg or .html, or view=brief.")
    return _PROCESS.draw(rasterizer.drawing_of(markup, zoom))


WRITTEN = re.compile(r"<[^>]*>")
"""What is no letter of a picture."""


def _length(markup: str, side: str) -> float:
    found = re.search(rf'<svg[^>]* {side}="(\d+(?:\.\d+)?)"', markup)
    return float(found[1]) if found else 0.0


class _Process:
    """The drawing process of this one; started with the first picture, and anew where it has died or been forked."""

    def __init__(self) -> None:
        self.owner = 0
        self.child: subprocess.Popen[bytes] | None = None
        atexit.register(self.end)

    def draw(self, drawing: bytes) -> bytes:
        """Return the picture; one at a time."""
        with DRAWINGS.taken():
            try:
                found = self._asked(drawing)
            except (EOFError, BrokenPipeError):  # it has died since the last picture
                self.end()
                found = self._asked(drawing)
        if not found:
            raise ValueError("the rasterizer does not read this picture")
        return found

    def _asked(self, drawing: bytes) -> bytes:
        child = self.child
        if child is None or self.owner != os.getpid() or child.poll() is not None:
            self.end()
            child = self._started()
        if child.stdin is None or child.stdout is None:
            raise EOFError("the drawing process has no pipes")
        late = threading.Event()

        def give_up() -> None:
            late.set()
            child.kill()

        clock = threading.Timer(LONGEST, give_up)
        clock.start()
        try:
            rasterizer.send(child.stdin, drawing)  # type: ignore[arg-type]  # a buffered pipe is what it asks for
            return rasterizer.receive(child.stdout)  # type: ignore[arg-type]  # likewise
        except (EOFError, BrokenPipeError) as error:
            if late.is_set():
                raise Busy("The machine has no time to draw this picture; ask .svg, or again later.", 30) from error
            raise
        finally:
            clock.cancel()

    def _started(self) -> subprocess.Popen[bytes]:
        command = [sys.executable, rasterizer.__file__, FAMILY, *(str(path) for path in FILES.values())]
        pipe = subprocess.PIPE
        try:
            self.child = subprocess.Popen(command, stdin=pipe, stdout=pipe)
        except OSError as error:
            raise Busy("The machine has no room for the process that draws pictures; ask .svg.", 30) from error
        self.owner = os.getpid()
        return self.child

    def end(self) -> None:
        """End the process of this one, if there is one: it ends with its input."""
        child, self.child = self.child, None
        if child is not None and self.owner == os.getpid():
            child.communicate()


_PROCESS = _Process()

"""The exact lines for each place that an answer is put in, with what its administrator must allow."""

from __future__ import annotations

import html
from collections.abc import Iterator, Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Snippet:
    """What to paste into one kind of page.

    Parameters
    ----------
    engine : str
        The wiki engine, or the kind of page.
    what : str
        What is embedded.
    code : str
        To paste as it stands.
    allow : str
        What the administrator must allow; empty for nothing.
    """

    engine: str
    what: str
    code: str
    allow: str = ""


@dataclass(frozen=True)
class Embedded:
    """What is embedded.

    Parameters
    ----------
    base : str
        Scheme, host and path of the service.
    path : str
        The question in path form, without a suffix.
    back : str
        Address of the page that shows it, for a link back.
    title : str
        What is read first, for alternative texts.
    theme : str
        ``auto``, ``light`` or ``dark``.
    width : int
        Of pictures and frames; 0 for their own.
    tables : mapping of str to str
        The answer as a table, by suffix of its markup; empty where it is not offered.
    """

    base: str
    path: str
    back: str
    title: str
    theme: str = "auto"
    width: int = 0
    tables: Mapping[str, str] | None = None

    def picture(self, suffix: str) -> str:
        """Return the address of the picture; its own names are part of the path, which no engine cuts."""
        manner = f";theme={self.theme}" if self.theme != "auto" else ""
        manner += f";width={self.width}" if self.width else ""
        return f"{self.base}{self.path};view=brief{manner}.{suffix}"

    @property
    def card(self) -> str:
        """Address of the card."""
        return f"{self.base}{self.path}" + (f";theme={self.theme}" if self.theme != "auto" else "") + ".html"

    @property
    def plain(self) -> str:
        """The title without what any of the markups reads."""
        return "".join({"[": "(", "]": ")", "|": "/", '"': "", "`": "'"}.get(one, one) for one in self.title)


def snippets(one: Embedded) -> Iterator[Snippet]:
    """Yield the lines for a question."""
    png, svg, text, tables = one.picture("png"), one.picture("svg"), one.plain, one.tables or {}
    linked = f"[![{text}]({png})]({one.back})"
    frame = one.width or 640
    yield Snippet("Plain HTML", "picture", _image(one, svg))
    yield Snippet("GitHub, GitLab, MkDocs", "picture", linked, "GitLab: outside images pass its asset proxy, if any.")
    yield from _table("GitHub, GitLab, MkDocs", tables, "md")
    yield Snippet("Sphinx", "picture", f".. image:: {png}\n   :alt: {text}\n   :target: {one.back}")
    yield Snippet("Jupyter", "picture", f"from IPython.display import Image\n\nImage(url={png!r})")
    yield Snippet(
        "MediaWiki", "picture", png, "External images by $wgAllowExternalImagesFrom with this service's address."
    )
    yield from _table("MediaWiki", tables, "wiki")
    yield Snippet("DokuWiki", "picture", f"[[{one.back}|{{{{{png}?nolink|{text}}}}}]]", "External images.")
    yield from _table("DokuWiki", tables, "dokuwiki")
    yield Snippet("XWiki", "picture", f"{{{{html}}}}{_image(one, svg)}{{{{/html}}}}", "The html macro for the author.")
    yield Snippet("Wiki.js", "picture", f"[![{text}]({svg})]({one.back})", "Frames are taken out by its sanitizer.")
    yield Snippet("Confluence", "picture", png, "Insert the address as an image.")
    yield Snippet(
        "BookStack, any page with frames",
        "card in a frame",
        f'<iframe src="{html.escape(one.card)}" title="{html.escape(text)}" width="{frame}" height="560"></iframe>',
        "BookStack: ALLOWED_IFRAME_SOURCES with this service's address; here SERVICE_FRAME_ANCESTORS with the wiki's.",
    )


def _image(one: Embedded, address: str) -> str:
    width = f' width="{one.width}"' if one.width else ""
    picture = f'<img src="{html.escape(address)}" alt="{html.escape(one.plain)}"{width}>'
    return f'<a href="{html.escape(one.back)}">{picture}</a>'


def _table(engine: str, tables: Mapping[str, str], suffix: str) -> Iterator[Snippet]:
    if suffix in tables:
        yield Snippet(engine, "table", tables[suffix].rstrip())

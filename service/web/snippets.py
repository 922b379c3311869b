"""The exact line for each wiki engine, with what its administrator must allow."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass


@dataclass(frozen=True)
class Snippet:
    """What to paste into one kind of wiki.

    Parameters
    ----------
    engine : str
        The wiki engine.
    what : str
        What is embedded.
    code : str
        To paste.
    allow : str
        What the administrator must allow.
    """

    engine: str
    what: str
    code: str
    allow: str


def snippets(base: str, path: str, title: str) -> Iterator[Snippet]:
    """Yield the snippets of a question.

    Parameters
    ----------
    base : str
        Scheme, host and path of the service.
    path : str
        The question in path form, without a suffix.
    title : str
        Of the answer, for alternative texts.
    """
    picture, card = f"{base}{path}.png", f"{base}{path}.html"
    drawing = f"{base}{path}.svg"
    text = title.replace('"', "").replace("[", "(").replace("]", ")").replace("|", "/")
    yield Snippet(
        "MediaWiki",
        "picture",
        picture,
        "External images by $wgAllowExternalImagesFrom with this service's address; older versions want .png.",
    )
    yield Snippet(
        "MediaWiki",
        "table",
        f"{base}{path}.wiki",
        "Nothing: open the address and paste its text, a table in MediaWiki's own markup.",
    )
    yield Snippet(
        "DokuWiki", "picture", f"{{{{{picture}?nolink|{text}}}}}", "External images, allowed unless switched off."
    )
    yield Snippet(
        "DokuWiki", "table", f"{base}{path}.dokuwiki", "Nothing: open the address and paste its text, DokuWiki markup."
    )
    yield Snippet(
        "XWiki",
        "card",
        f'{{{{html}}}}<img src="{drawing}" alt="{text}"/>{{{{/html}}}}',
        "The html macro for the author; images by address are allowed.",
    )
    yield Snippet(
        "BookStack",
        "card in a frame",
        f'<iframe src="{card}" title="{text}" width="640" height="480"></iframe>',
        "ALLOWED_IFRAME_SOURCES with this service's address; here SERVICE_FRAME_ANCESTORS with the wiki's.",
    )
    yield Snippet("Wiki.js", "picture", f"![{text}]({drawing})", "Nothing; frames are taken out by its sanitizer.")
    yield Snippet(
        "GitLab wiki",
        "picture",
        f"![{text}]({picture})",
        "Outside images pass its asset proxy, where one is set up.",
    )
    yield Snippet(
        "GitLab wiki", "table", f"{base}{path}.md", "Nothing: open the address and paste its text, a markdown table."
    )
    yield Snippet(
        "Confluence",
        "picture",
        picture,
        "Insert the address as an image; a frame needs the iframe macro and this origin on its allow list.",
    )
    yield Snippet("Any page", "frame", f'<iframe src="{card}" title="{text}"></iframe>', "SERVICE_FRAME_ANCESTORS.")

"""Stand-in pages with each wiki engine's rules, and what a person without a mouse or with weak eyes meets."""

from __future__ import annotations

import itertools
import re

import nh3
import pytest
import requests

from service.web.embedding import Embedded, snippets

pytestmark = [
    pytest.mark.browser,
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
]
PATH = "/v1/breakdown;gap=8mm;electrodes=uniform-field"


@pytest.fixture
def shown_in(browser, serve):
    """Return a function from a page of another origin to the natural widths of its pictures."""
    return lambda body: widths(browser, serve, body)


def widths(browser, serve, body):

    def wiki(environ, start_response):
        start_response("200 OK", [("Content-Type", "text/html; charset=utf-8")])
        return [body.encode()]

    origin = serve(wiki)
    page = browser.new_page()
    page.goto(origin)
    page.wait_for_load_state("networkidle")
    sizes = page.evaluate("[...document.images].map(i => i.naturalWidth)")
    page.close()
    return sizes


def line_of(address, engine, what):
    shown = Embedded(address, PATH, f"{address}/?lookup=breakdown&gap=8mm", "A title", "light", 480)
    [line] = [one for one in snippets(shown) if one.engine == engine and one.what == what]
    return line.code


def test_mediawiki_shows_the_picture_whose_address_ends_in_its_suffix(shown_in, address):
    line = line_of(address, "MediaWiki", "picture")
    # its rule: the last path segment ends in the suffix and has only these characters
    assert re.fullmatch(r"[A-Za-z0-9_.,~%\-+&;#*?!=()@]+\.(png|svg)", line.rpartition("/")[2])
    assert min(shown_in(f'<img src="{line}">')) > 100


def test_dokuwiki_shows_the_picture_although_it_cuts_at_the_last_question_mark(shown_in, address):
    inside = re.search(r"\{\{(.+)\|.*\}\}", line_of(address, "DokuWiki", "picture"))[1]
    source, _, options = inside.rpartition("?")
    assert options == "nolink"
    assert "?" not in source
    assert min(shown_in(f'<img src="{source}">')) > 100


@pytest.mark.parametrize("engine", ["Wiki.js", "GitHub, GitLab, MkDocs"])
def test_a_markdown_wiki_shows_the_picture(shown_in, address, engine):
    source = re.search(r"!\[.*?\]\((.+?)\)", line_of(address, engine, "picture"))[1]
    assert min(shown_in(f'<img src="{source}">')) > 100


def test_xwiki_shows_the_picture_of_its_html_macro(shown_in, address):
    inside = re.fullmatch(r"\{\{html\}\}(.+)\{\{/html\}\}", line_of(address, "XWiki", "picture"))[1]
    assert min(shown_in(inside)) > 100


def test_confluence_takes_the_address_of_a_png(shown_in, address):
    line = line_of(address, "Confluence", "picture")
    assert line.endswith(".png")
    assert min(shown_in(f'<img src="{line}">')) > 100


def test_a_pasted_card_reads_right_after_a_strict_sanitizer(address):
    card = requests.get(f"{address}{PATH}.html", timeout=10).text
    kept = nh3.clean(card, tags={"table", "caption", "tr", "th", "td", "tbody", "thead", "p", "h2", "h3", "ul", "li"})
    assert "25.8 kV peak" in kept
    assert "Never let this distance" in kept


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_stands_out_from_its_ground(browser, address, scheme):
    context = browser.new_context(color_scheme=scheme)
    page = context.new_page()
    page.goto(f"{address}/?gap=8mm")
    colours = page.evaluate(
        """() => [...document.querySelectorAll('p, a, label, th, td, h1, h2, button, summary, code')].map(e => {
            const ground = (x) => getComputedStyle(x).backgroundColor;
            let under = e;
            while (under.parentElement && ground(under) === 'rgba(0, 0, 0, 0)') under = under.parentElement;
            return [getComputedStyle(e).color, ground(under)];
        })"""
    )
    assert min(contrast(text, ground) for text, ground in colours) >= 4.5
    context.close()


def contrast(first, second):
    """Contrast ratio of WCAG 2.2."""

    def luminance(colour):
        parts = [int(part) / 255 for part in re.findall(r"\d+", colour)[:3]]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(first), luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_keyboard_reaches_the_form_and_shows_where_it_is(browser, address):
    page = browser.new_page()
    page.goto(address)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.focus("#f-gap")
    page.keyboard.type("8mm")
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") != "none"
    page.keyboard.press("Enter")
    page.locator("#answer").get_by_text("kV peak").first.wait_for()
    page.close()


@pytest.mark.parametrize("path", ["/", "/?gap=8mm", "/docs", "/wiki", "/probe-check", "/v1/tables.html"])
def test_headings_go_down_one_step_at_a_time(browser, address, path):
    page = browser.new_page()
    page.goto(address + path)
    levels = page.evaluate("[...document.querySelectorAll('h1,h2,h3,h4,h5')].map(h => +h.tagName[1])")
    assert levels[0] <= 2
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))
    page.close()

"""The page in the system's Chromium: asked and answered with and without script, at two widths, in both schemes."""

from __future__ import annotations

import pytest

from service.web import create_app

pytestmark = [
    pytest.mark.browser,
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
]


@pytest.fixture
def watched(browser, address):
    """Pages whose console must stay silent and whose requests must stay on the host."""
    contexts, seen = [], []

    def open_page(path, **options):
        context = browser.new_context(**options)
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda message: seen.append(message.text) if message.type == "error" else None)
        page.on("request", lambda r: seen.append(r.url) if not r.url.startswith((address, "data:")) else None)
        page.goto(address + path)
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert seen == []


def test_a_form_is_answered_without_leaving_the_page(watched):
    page = watched("/")
    page.fill("#f-gap", "8mm")
    page.select_option("#f-electrodes", "uniform-field")
    page.click("button[type=submit]")
    page.locator("#answer").get_by_text("25.8 kV").first.wait_for()
    assert "gap=8mm" in page.url


def test_a_form_is_answered_without_script(watched):
    page = watched("/", java_script_enabled=False)
    page.fill("#f-gap", "8mm")
    page.click("button[type=submit]")
    assert "25.8 kV" in page.inner_text("#answer")


@pytest.mark.parametrize("width", [360, 1400])
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("path", ["/?gap=8mm", "/docs", "/wiki?url=/v1/breakdown?gap=8mm", "/probe-check"])
def test_a_page_fits_its_width(watched, path, scheme, width):
    page = watched(path, viewport={"width": width, "height": 800}, color_scheme=scheme)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert page.locator("h1").count() == 1
    fields = "[...document.querySelectorAll('input:not([type=hidden]),select,textarea')]"
    assert page.evaluate(f"{fields}.filter(e => !e.labels.length).length") == 0


def test_a_fault_is_shown_at_its_field(browser, address):
    page = browser.new_page(java_script_enabled=False)
    page.goto(f"{address}/?lookup=breakdown&gap=5%2C3mm")
    assert page.locator("#f-gap[aria-invalid=true]").count() == 1
    assert "comma" in page.inner_text(".fault")
    page.close()


def test_a_question_prints(watched, tmp_path):
    page = watched("/?lookup=switch-on-sheet&voltage=12kV&waveform=dc")
    printed = page.pdf(path=str(tmp_path / "sheet.pdf"))
    assert printed.startswith(b"%PDF")
    page.emulate_media(media="print")
    assert not page.is_visible("button[type=submit]")


@pytest.mark.parametrize("allowed", [False, True])
def test_a_card_is_framed_only_where_it_is_allowed(browser, serve, allowed):
    cards = []

    def wiki(environ, start_response):
        start_response("200 OK", [("Content-Type", "text/html")])
        return [f'<iframe src="{cards[0]}" width="600" height="400"></iframe>'.encode()]

    origin = serve(wiki)
    base = serve(create_app({"SERVICE_FRAME_ANCESTORS": origin if allowed else ""}))
    cards.append(f"{base}/v1/breakdown;gap=8mm.html")
    page = browser.new_page()
    page.goto(origin)
    card = page.frame_locator("iframe").get_by_text("Breakdown voltage").first
    if allowed:
        card.wait_for()
    else:
        page.wait_for_timeout(1000)
        assert card.count() == 0
    page.close()

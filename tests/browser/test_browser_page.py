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
    assert in_window(page, ".sr-headline")


def in_window(page, selector):
    """Return whether the first such element lies within the window, to its lower edge."""
    box = page.locator(selector).first.bounding_box()
    return box is not None and box["y"] >= 0 and box["y"] + box["height"] <= page.viewport_size["height"]


@pytest.mark.parametrize("script", [True, False])
@pytest.mark.parametrize("size", [(360, 740), (768, 1024), (1400, 900)])
def test_a_shared_answer_stands_on_the_first_screen(watched, size, script):
    page = watched(
        "/?lookup=breakdown&gap=8mm",
        viewport={"width": size[0], "height": size[1]},
        java_script_enabled=script,
    )
    assert in_window(page, ".sr-headline")


def test_the_skip_link_skips_and_keeps_what_was_typed(watched):
    page = watched("/")
    page.fill("#f-gap", "8mm")
    page.focus(".skip")
    page.keyboard.press("Enter")
    page.wait_for_timeout(300)
    assert page.input_value("#f-gap") == "8mm"
    assert page.evaluate("document.activeElement.id") == "content"


def test_five_arrow_keys_in_a_list_ask_once(watched, address):
    page = watched("/?gap=8mm&gas=air")
    asked = []
    page.on("request", lambda request: asked.append(request.url) if request.url.startswith(f"{address}/?") else None)
    before = page.evaluate("history.length")
    page.focus("#f-gas")
    for _ in range(5):
        page.keyboard.press("ArrowDown")
    page.wait_for_timeout(2500)
    assert len(asked) == 1
    assert page.evaluate("history.length") - before <= 1


def test_a_bare_number_takes_the_unit_beside_it(watched):
    page = watched("/", java_script_enabled=False)
    page.fill("#f-gap", "8")
    page.click("button[type=submit]")
    assert "kV peak" in page.inner_text(".sr-headline")


def test_only_the_fields_of_the_chosen_shape_are_shown(watched):
    page = watched("/")
    assert page.locator("#f-sphere_diameter").count() == 0
    page.select_option("#f-electrodes", "sphere-gap")
    page.locator("#f-sphere_diameter").wait_for()
    assert page.locator("#f-wire_diameter").count() == 0


def test_the_slider_moves_the_gap_by_keyboard_and_the_address_follows(watched):
    page = watched("/?gap=8mm")
    before = page.inner_text(".sr-headline")
    page.focus(".live input >> nth=0")
    for _ in range(10):
        page.keyboard.press("ArrowRight")
    page.wait_for_timeout(1500)
    assert page.inner_text(".sr-headline") != before
    assert "gap=10.1mm" in page.url


def test_a_form_is_answered_without_script(watched):
    page = watched("/", java_script_enabled=False)
    page.fill("#f-gap", "8mm")
    page.click("button[type=submit]")
    assert "kV peak" in page.inner_text(".sr-headline")


@pytest.mark.parametrize("width", [360, 1400])
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("path", ["/?gap=8mm", "/docs", "/wiki?url=/v1/breakdown?gap=8mm", "/probe-check"])
def test_a_page_fits_its_width(watched, path, scheme, width):
    page = watched(path, viewport={"width": width, "height": 800}, color_scheme=scheme)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert page.locator("h1").count() == 1
    fields = "[...document.querySelectorAll('input:not([type=hidden]),select,textarea')]"
    assert page.evaluate(f"{fields}.filter(e => !e.labels.length && !e.ariaLabel).length") == 0


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

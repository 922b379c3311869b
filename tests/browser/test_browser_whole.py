"""What a newcomer does, what a keyboard reaches, what a printer gets: the pages as people use them."""

from __future__ import annotations

import re

import pytest
from axe_playwright_python.sync_playwright import Axe

from service.web import create_app

pytestmark = [
    pytest.mark.browser,
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
]

PHONE = {"width": 360, "height": 740}


@pytest.fixture
def phone(browser, address):
    context = browser.new_context(viewport=PHONE)
    page = context.new_page()
    page.goto(address)
    yield page
    context.close()


def in_window(page, selector):
    box = page.locator(selector).first.bounding_box()
    return box is not None and box["y"] >= 0 and box["y"] + box["height"] <= page.viewport_size["height"]


TASKS = {
    "what does 8 mm hold": ("", {"gap": "8"}, "kV"),
    "how far does 12 kV jump": ("gap", {"voltage": "12"}, "mm"),
    "can 400 kV be true at 20 mm": ("spark", {"length": "20", "claimed_voltage": "400"}, ""),
    "25 mm balls at 15 kV": ("sphere-gaps", {"voltage": "15", "sphere_diameter": "25mm"}, "mm"),
    "300 V, category III": (
        "clearance",
        {"system_voltage": "300V", "overvoltage_category": "III", "pollution_degree": "2", "insulation": "basic"},
        "mm",
    ),
}


@pytest.mark.parametrize("task", TASKS)
def test_a_newcomer_sees_the_answer_in_the_first_window(phone, task):
    lookup, fields, unit = TASKS[task]
    steps = 1  # the button
    if lookup:
        phone.click(f".questions a[href='/?lookup={lookup}']")
        steps += 1
    for name, text in fields.items():
        field = phone.locator(f"#f-{name}")
        if field.evaluate("e => e.tagName") == "SELECT":
            field.select_option(text)
        else:
            field.fill(text)
        steps += 1
    phone.click("button[type=submit]")
    phone.locator(".sr-headline").first.wait_for()
    phone.wait_for_timeout(300)
    assert unit in phone.inner_text(".sr-headline")
    assert in_window(phone, ".sr-headline")
    assert phone.inner_text("#spoken")
    assert steps == 1 + bool(lookup) + len(fields)


PATHS = [
    "/",
    "/?gap=8mm",
    "/?lookup=clearance",
    "/?lookup=clearance&system_voltage=300V&overvoltage_category=III&pollution_degree=2&insulation=basic",
    "/docs",
    "/wiki?url=/v1/breakdown?gap=8mm",
    "/tables",
    "/probe-check",
    "/problems/bad-question",
    "/v1/tables/iec-60052-table-2.html",
    "/v1/tables/ipc-2221-table-6-1.html",
    *(f"/v1/{kind}.html" for kind in ("electrodes", "gases", "methods", "materials", "units", "sources", "tables")),
    "/v1/electrodes/sphere-gap.html",
]


def cards():
    every = create_app().extensions["workshop"].lookups.values()
    return [f"/v1/{one.key}.html?{one.example}" for one in every if not one.post]


@pytest.fixture(scope="module")
def still(browser):
    context = browser.new_context(viewport={"width": 320, "height": 700})
    yield context.new_page()
    context.close()


@pytest.mark.parametrize("path", [*PATHS, *cards()])
def test_a_page_has_no_fault_of_access_and_fits_a_narrow_window(still, address, path):
    still.goto(address + path)
    found = Axe().run(still, options={"resultTypes": ["violations"]}).response["violations"]
    assert [(one["id"], one["nodes"][0]["html"][:200]) for one in found] == []
    assert still.evaluate("document.documentElement.scrollWidth") <= 320
    assert still.locator("h1").count() == 1
    assert still.locator("main").count() == 1
    assert still.locator("a[href^='/']").count() > 0


def printed(page):
    return len(re.findall(rb"/Type\s*/Page[^s]", page.pdf(format="A4", prefer_css_page_size=True)))


@pytest.mark.parametrize("form", ["/v1/{}.html?{}", "/?lookup={}&{}"])
@pytest.mark.parametrize(
    ("lookup", "query", "most"),
    [
        ("switch-on-sheet", "voltage=12kV&waveform=dc", 1),
        ("clearance", "system_voltage=300V&overvoltage_category=III&pollution_degree=2&insulation=basic", 2),
        ("probe-plan", "voltage_from=10kV&voltage_to=20kV", 2),
    ],
)
def test_one_sheet_is_one_page(still, address, form, lookup, query, most):
    still.goto(address + form.format(lookup, query))
    assert printed(still) <= most


@pytest.mark.parametrize("key", ["ipc-2221-table-6-1", "iec-60052-table-2", "iec-60664-1-table-f2", "gases"])
def test_a_printed_table_loses_no_column(browser, address, key):
    page = browser.new_page(viewport={"width": 1047, "height": 700})
    page.goto(f"{address}/v1/tables/{key}.html")
    page.emulate_media(media="print")
    if not page.locator(".sr-turned").count():
        page.set_viewport_size({"width": 703, "height": 700})
    assert page.evaluate("[...document.querySelectorAll('.sr-wide')].every(e => e.scrollWidth <= e.clientWidth + 1)")
    page.close()


def test_the_curve_is_dragged_by_keyboard_and_by_pointer(browser, address):
    page = browser.new_page()
    page.goto(f"{address}/?gap=8mm&electrodes=uniform-field")
    handle = page.locator(".handle")
    handle.wait_for()
    before = page.inner_text(".sr-headline")
    handle.focus()
    for _ in range(5):
        page.keyboard.press("ArrowRight")
    page.wait_for_url("**gap=8.8*")
    page.wait_for_timeout(1000)
    assert page.inner_text(".sr-headline") != before
    assert page.evaluate("document.activeElement.getAttribute('class')") == "handle"
    assert handle.get_attribute("aria-valuetext").startswith("8.8")
    assert "kV" in handle.get_attribute("aria-valuetext")
    picture = page.locator(".moving svg")
    picture.scroll_into_view_if_needed()
    box = picture.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.down()
    page.mouse.move(box["x"] + 0.3 * box["width"], box["y"] + box["height"] / 2, steps=3)
    page.mouse.up()
    page.wait_for_timeout(1000)
    assert float(handle.get_attribute("aria-valuenow")) < 8
    assert f"gap={handle.get_attribute('aria-valuenow')}mm" in page.url
    page.close()


READINGS = "spacing_mm,indicated_kV\n" + "3,12.1\n3,12.2\n" * 6


def test_a_checked_probe_says_its_result_first(phone, address):
    phone.goto(f"{address}/probe-check")
    assert phone.locator("form .field:visible").count() <= 8
    phone.fill("#readings", READINGS)
    phone.click("button[type=submit]")
    phone.locator("#p-waveform[aria-invalid=true]").wait_for()
    assert in_window(phone, ".problem h2")
    phone.fill("#p-sphere_diameter", "20")
    phone.select_option("#p-waveform", "dc")
    phone.select_option("#p-irradiated", "yes")
    phone.click("button[type=submit]")
    phone.locator(".sr-headline").wait_for()
    assert in_window(phone, ".sr-headline")
    assert phone.inner_text("[role=status]")

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

PAGES = {
    "watch": "/", "engine": "/engine/AQ-101", "add from a file": "/add",
    "add by hand": "/add/AQ-101", "limits": "/limits", "workshop": "/workshop",
    "one engine's form": "/workshop/engine/AQ-101", "one car": "/workshop/car/J-1001",
    "stop signs": "/stop-signs"}


def shown(page: Page, address: str) -> None:
    """Open a page and wait until its callbacks have answered."""
    page.goto(address)
    expect(page.locator("h1")).to_be_visible()
    page.wait_for_load_state("networkidle")


@pytest.mark.parametrize("path", PAGES.values(), ids=list(PAGES))
def test_every_page_passes_the_automatic_check_in_both_themes(
        shop: Page, address: str, path: str, no_serious_fault: Callable[[Page], None]) -> None:
    shown(shop, address + path)
    no_serious_fault(shop)
    shop.get_by_text("Dark", exact=True).click()
    for name in ("data-theme", "data-mantine-color-scheme"):
        expect(shop.locator("html")).to_have_attribute(name, "dark")
    shop.wait_for_load_state("networkidle")
    no_serious_fault(shop)


@pytest.mark.parametrize("path", PAGES.values(), ids=list(PAGES))
def test_every_page_fits_a_phone(shop: Page, address: str, path: str,
                                 no_serious_fault: Callable[[Page], None]) -> None:
    shop.set_viewport_size({"width": 360, "height": 740})
    shown(shop, address + path)
    wide = shop.locator("html").evaluate("e => e.scrollWidth - e.clientWidth")
    assert wide == 0
    small = shop.locator("main a.button, main button.button, .nav a, main summary").evaluate_all(
        "found => found.map(e => [e.textContent, e.getBoundingClientRect().height])"
        ".filter(pair => pair[1] > 0 && pair[1] < 43.5)")
    assert small == []
    no_serious_fault(shop)


def test_watch_puts_the_most_pressing_engine_first_and_says_why(shop: Page, address: str
                                                                 ) -> None:
    shown(shop, address)
    first = shop.locator(".watch-row").first
    expect(first).to_contain_text("AQ-101")
    expect(first.locator(".why")).to_contain_text("Lead")
    waiting = shop.locator(".watch-row", has_text="AQ-107")
    expect(waiting).to_contain_text("result awaited since 1 Jun 2026")
    expect(shop.locator(".watch-row", has_text="AQ-104")).to_contain_text(" mi")
    expect(shop.locator(".watch-row", has_text="AQ-105")).to_contain_text(" h")


def test_watch_searches_filters_and_sorts(shop: Page, address: str) -> None:
    shown(shop, address)
    expect(shop.locator(".watch-row")).to_have_count(8)
    shop.get_by_label("Search").fill("ines")
    expect(shop.locator(".watch-row")).to_have_count(1)
    shop.get_by_label("Search").fill("")
    expect(shop.locator(".watch-row")).to_have_count(8)
    shop.get_by_role("textbox", name="Order").click()
    shop.get_by_role("option", name="by engine").click()
    expect(shop.locator(".watch-row .id").nth(1)).to_have_text("AQ-102")
    shop.get_by_role("textbox", name="Family").click()
    shop.get_by_role("option", name="AQ-I6-32").click()
    expect(shop.locator(".watch-row")).to_have_count(1)
    expect(shop.locator(".watch-row")).to_contain_text("AQ-103")


def test_the_keyboard_alone_reaches_an_engine(shop: Page, address: str) -> None:
    shown(shop, address)
    shop.keyboard.press("Tab")
    expect(shop.locator(".skip")).to_be_focused()
    shop.locator(".watch-row").first.focus()
    shop.keyboard.press("Enter")
    expect(shop.locator("h1")).to_have_text("AQ-101")
    expect(shop.locator("main")).to_be_focused()
    expect(shop.locator(".nav a[aria-current=page]")).to_have_text("Watch")


def test_the_engine_page_says_why_first_and_draws_in_the_theme_that_is_shown(
        shop: Page, address: str) -> None:
    shown(shop, f"{address}/engine/AQ-101")
    headings = shop.locator("main h2").all_inner_texts()
    assert headings.index("Why") < headings.index("Wear rate") < headings.index("Measured values")
    expect(shop.locator(".reasons li").first).to_contain_text("Lead")
    expect(shop.locator("#engine-rate .scatterlayer .point").first).to_be_visible()
    title = shop.locator("#engine-rate .annotation-text").first
    expect(title).to_have_text("Pb [mg per 1000 km]")
    light = title.evaluate("e => getComputedStyle(e).fill")
    shop.get_by_text("Dark", exact=True).click()
    expect(title).not_to_have_css("fill", light)


def test_no_chart_offers_to_leave_the_house(shop: Page, address: str) -> None:
    shown(shop, f"{address}/engine/AQ-101")
    shop.locator("#engine-rate").hover()
    expect(shop.locator("#engine-rate .modebar-btn").first).to_be_attached()
    titles = shop.locator(".modebar-btn").evaluate_all("b => b.map(e => e.dataset.title)")
    assert titles
    assert not [t for t in titles if any(w in t.lower() for w in ("share", "cloud", "edit"))]


def test_a_chart_is_counted_in_miles_when_asked_to(shop: Page, address: str) -> None:
    shown(shop, f"{address}/engine/AQ-101")
    shop.get_by_role("textbox", name="Counted in").click()
    shop.get_by_role("option", name="mi").click()
    expect(shop.locator("#engine-rate .annotation-text").first).to_have_text(
        "Pb [mg per 1000 mi]")
    expect(shop.locator("#engine-rate .xtitle")).to_have_text("Engine distance [mi]")


def test_the_numbers_behind_a_chart_and_the_chart_itself_can_be_taken_along(
        shop: Page, address: str) -> None:
    shown(shop, f"{address}/engine/AQ-101")
    shop.locator("#engine-rate-foot summary", has_text="behind").click()
    expect(shop.locator("#engine-rate-foot table").first).to_contain_text("1 Feb 2024")
    with shop.expect_download() as table:
        shop.locator("#engine-rate-foot").get_by_text("Numbers as CSV").click()
    text = table.value.path().read_text(encoding="utf-8-sig")
    assert text.splitlines()[0].startswith("sample,date,distance [km],rate [mg per 1000 km]")
    assert len(text.splitlines()) == 6
    with shop.expect_download() as image:
        shop.locator("#engine-rate-foot").get_by_text("Chart as image").click()
    assert image.value.suggested_filename == "engine-rate.svg"
    assert b"<svg" in image.value.path().read_bytes()[:200]


def test_a_doubt_is_asked_about_and_its_answer_changes_the_history(shop: Page, address: str
                                                                   ) -> None:
    shown(shop, f"{address}/engine/AQ-108")
    question = shop.locator(".question")
    expect(question).to_contain_text("repeats the sample before to the digit")
    question.get_by_role("button", name="It is what it says").click()
    expect(shop.locator("#engine-told")).to_contain_text("Answered")
    shown(shop, f"{address}/engine/AQ-108")
    expect(shop.locator(".question")).to_have_count(0)


def test_an_unknown_engine_and_an_unknown_page_say_so(shop: Page, address: str) -> None:
    shown(shop, f"{address}/engine/%3Cimg%20src%3Dx%3E")
    expect(shop.locator("main")).to_contain_text("<img src=x>")
    assert shop.locator("main img").count() == 0
    shown(shop, f"{address}/nowhere")
    expect(shop.locator("h1")).to_have_text("There is no such page")


def test_the_demo_says_that_it_is_invented_on_every_page(shop: Page, address: str) -> None:
    for path in ("/", "/limits"):
        shown(shop, address + path)
        expect(shop.locator(".band")).to_have_text("demo workshop, invented data")


def test_the_reader_s_language_decides_the_decimal_sign(browser, address: str) -> None:  # type: ignore[no-untyped-def]
    context = browser.new_context(locale="de-DE")
    page = context.new_page()
    shown(page, f"{address}/engine/AQ-101")
    page.locator("#engine-values-foot summary").click()
    expect(page.locator("#engine-values-foot table")).to_contain_text("11,9")
    context.close()

"""What the shop does on its first day, in a real browser on the real server."""

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from oiltrend.records import Car
from oiltrend.store import Store, open_store
from tests.dashboard.serving import served
from tests.dashboard.test_browser_pages import shown
from tests.dashboard.workshop import result_file, result_rows

AMBIGUOUS = """Unit;Drawn;Odometer (mi);Miles on oil;Oil changed;Iron;Cu;Blei;Mystery
AQ-104;03/04/2026;30000;5000;yes;19,5;9,1;<1;77
AQ-104;05/06/2026;35000;5000;yes;18,2;8,4;6,0;78
AQ-104;07/08/2026;40000;5000;yes;18,2;8,4;six;79
"""


def send(page: Page, path: Path) -> None:
    """Choose a file as a user does."""
    with page.expect_file_chooser() as chooser:
        page.get_by_role("button", name="Choose a file").click()
    chooser.value.set_files(path)


def pick(page: Page, field: str, option: str, *, exact: bool = False) -> None:
    """Choose from a list by its label and the words of the choice."""
    page.get_by_role("textbox", name=field, exact=exact).click()
    page.get_by_role("option", name=option, exact=True).click()


def test_a_file_with_questions_and_a_reject_is_answered_stored_and_taken_back(
        shop: Page, address: str, tmp_path: Path, store: Store) -> None:
    path = tmp_path / "march.csv"
    path.write_text(AMBIGUOUS, encoding="utf-8")
    shown(shop, f"{address}/add")
    send(shop, path)
    expect(shop.locator(".question")).to_have_count(3)
    expect(shop.locator(".account-sum")).to_contain_text("4 rows = ")
    expect(shop.get_by_role("button", name="Store")).to_have_count(0)
    for about, answer in (("'Unit'", "engine"), ("'Mystery'", "leave this column out"),
                          ("'Drawn'", "day, month, year")):
        question = shop.locator(".question", has_text=about)
        question.get_by_role("textbox").click()
        shop.get_by_role("option", name=answer, exact=True).click()
        expect(question).to_have_count(0)
    expect(shop.locator(".account-sum")).to_have_text(
        "4 rows = 1 heading + 2 fit to be stored + 1 rejected")
    row = shop.locator("table", has_text="one cell that cannot be used").locator("tbody tr")
    expect(row).to_contain_text("six")
    with shop.expect_download() as rejects:
        shop.get_by_role("button", name="Rejects as CSV").click()
    lines = rejects.value.path().read_text(encoding="utf-8").splitlines()
    assert lines[0] == "line,column,raw,reason,hint"
    assert lines[1].startswith("4,Blei,six,")
    before = len(store.fleet(engines=["AQ-104"]))
    shop.get_by_role("button", name="Store the 2 good rows, leave out 1").click()
    expect(shop.locator("h2", has_text="Stored: 2 rows of march.csv")).to_be_visible()
    fleet = store.fleet(engines=["AQ-104"])
    assert len(fleet) == before + 2
    assert [str(day) for day in fleet.table.sample_date[-2:]] == ["2026-04-03", "2026-06-05"]
    shop.get_by_role("button", name="Take this import back").click()
    expect(shop.locator("#file-told")).to_contain_text("The import was taken back")
    assert len(store.fleet(engines=["AQ-104"])) == before


def test_all_or_nothing_is_the_plain_way_and_a_second_time_is_told(
        shop: Page, address: str, tmp_path: Path, store: Store) -> None:
    path = tmp_path / "new.csv"
    rows = result_rows("AQ-106", changes=2)
    path.write_bytes(result_file("km", rows))
    shown(shop, f"{address}/add")
    send(shop, path)
    shop.get_by_role("button", name="Store 2 rows").click()
    expect(shop.locator("h2", has_text="Stored: 2 rows")).to_be_visible()
    shown(shop, f"{address}/add")
    send(shop, path)
    expect(shop.locator(".account-sum")).to_have_text("3 rows = 1 heading + 2 known already")
    expect(shop.locator("main")).to_contain_text("There is nothing to store in this file")
    assert len(store.fleet(engines=["AQ-106"])) == 2


def test_an_engine_that_is_not_known_is_asked_for_and_never_guessed(
        shop: Page, address: str, tmp_path: Path, store: Store) -> None:
    path = tmp_path / "unknown.csv"
    path.write_bytes(result_file("km", [row.replace("AQ-106", "UNIT 9")
                                        for row in result_rows("AQ-106", changes=2)]))
    shown(shop, f"{address}/add")
    send(shop, path)
    expect(shop.locator(".account-sum")).to_have_text(
        "3 rows = 1 heading + 2 waiting for an answer")
    pick(shop, "'UNIT 9' (2 rows)", "AQ-106")
    expect(shop.locator(".account-sum")).to_have_text("3 rows = 1 heading + 2 fit to be stored")
    shop.get_by_role("button", name="Store 2 rows").click()
    expect(shop.locator("h2", has_text="Stored: 2 rows")).to_be_visible()
    assert len(store.fleet(engines=["AQ-106"])) == 2


def test_rows_that_wait_are_kept_and_answered_later(shop: Page, address: str, tmp_path: Path,
                                                    store: Store) -> None:
    path = tmp_path / "unknown.csv"
    path.write_bytes(result_file("km", [row.replace("AQ-106", "UNIT 9")
                                        for row in result_rows("AQ-106", changes=2)]))
    shown(shop, f"{address}/add")
    send(shop, path)
    shop.get_by_role("button", name="Store 0 rows, 2 wait for their engine").click()
    expect(shop.locator("#file-waiting")).to_contain_text("'UNIT 9' in unknown.csv (2 rows)")
    pick(shop, "'UNIT 9' in unknown.csv (2 rows)", "AQ-106")
    shop.get_by_role("button", name="It is this one").click()
    expect(shop.locator("#file-told")).to_contain_text("2 rows now belong to AQ-106")
    assert len(store.fleet(engines=["AQ-106"])) == 2


@pytest.mark.parametrize(("name", "data", "said"), [
    ("empty.csv", b"", "empty.csv is empty; choose another file."),
    ("large.csv", b"x" * (15 * 1024 * 1024), "large.csv is too large"),
    ("book.csv", b"PK\x03\x04 a workbook", "save"),
])
def test_a_file_that_cannot_be_read_is_refused_in_a_sentence(
        shop: Page, address: str, tmp_path: Path, name: str, data: bytes, said: str) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    shown(shop, f"{address}/add")
    send(shop, path)
    expect(shop.locator("main")).to_contain_text(said)


def test_a_result_on_paper_is_typed_in_and_the_verdict_is_new(shop: Page, address: str,
                                                              store: Store) -> None:
    shown(shop, f"{address}/add/AQ-102")
    lead = shop.get_by_role("textbox", name="Pb", exact=True)
    expect(lead).to_have_attribute("placeholder", "4.8")
    shop.get_by_role("textbox", name="Meter [km]").fill("48000")
    shop.get_by_role("textbox", name="On this oil [km]").fill("8000")
    lead.fill("sixty")
    expect(shop.locator(".mantine-TextInput-error")).to_be_visible()
    lead.fill("60")
    expect(shop.locator(".mantine-TextInput-error")).to_have_count(0)
    shop.get_by_role("textbox", name="Fe", exact=True).fill("21")
    shop.get_by_role("textbox", name="Sn", exact=True).fill("<1")
    shop.get_by_role("textbox", name="Cu", exact=True).fill("11")
    shop.get_by_role("button", name="Store the result").click()
    told = shop.locator("#add-told")
    expect(told).to_contain_text("Stored. AQ-102 now reads")
    expect(told).to_contain_text("Lead 60 mg/kg is above 25 mg/kg")
    fleet = store.fleet(engines=["AQ-102"])
    assert len(fleet) == 6
    assert fleet.table.raw[-1].count("<1") == 1
    shop.get_by_role("link", name="See the engine").click()
    expect(shop.locator("h1")).to_have_text("AQ-102")


def test_the_keys_a_phone_lacks_write_into_the_field_in_use(browser, address: str) -> None:  # type: ignore[no-untyped-def]
    context = browser.new_context(viewport={"width": 360, "height": 740}, has_touch=True,
                                  is_mobile=True)
    page = context.new_page()
    shown(page, f"{address}/add/AQ-102")
    tin = page.get_by_role("textbox", name="Sn", exact=True)
    tin.fill("1")
    page.locator(".keys").get_by_text("<", exact=True).tap()
    expect(tin).to_have_value("<1")
    expect(tin).to_be_focused()
    page.locator(".keys").get_by_text("<", exact=True).tap()
    expect(tin).to_have_value("1")
    page.locator(".keys").get_by_text("Next", exact=True).tap()
    expect(tin).not_to_be_focused()
    context.close()


def test_a_drawn_sample_is_noted_and_watch_says_so(shop: Page, address: str) -> None:
    shown(shop, f"{address}/add/AQ-103")
    shop.get_by_text("Sample drawn", exact=True).click()
    shop.get_by_role("textbox", name="Meter [km]").fill("44 000")
    shop.get_by_role("button", name="Note it").click()
    expect(shop.locator("#add-told")).to_contain_text("Noted: a sample of AQ-103 is awaited")
    shown(shop, address)
    expect(shop.locator(".watch-row", has_text="AQ-103")).to_contain_text("result awaited since")


def test_a_limit_shows_its_effect_before_it_is_set_and_changes_the_order_after(
        shop: Page, address: str, store: Store) -> None:
    shown(shop, f"{address}/limits")
    pick(shop, "Family", "AQ-I6-32", exact=True)
    pick(shop, "Measurand", "Fe · iron")
    pick(shop, "On", "ppm per 1000 km since the change", exact=True)
    shop.get_by_role("textbox", name="Alert", exact=True).fill("1")
    shop.get_by_role("textbox", name="Alarm", exact=True).fill("1.5")
    shop.get_by_role("button", name="See what it would do").click()
    expect(shop.locator("#limit-told")).to_contain_text(
        "Source: a limit must carry its reason, found none")
    shop.get_by_role("textbox", name="Source").fill("our own teardowns")
    shop.get_by_role("button", name="See what it would do").click()
    effect = shop.locator("#limit-effect")
    expect(effect).to_contain_text("1 of 8 engines change their level")
    row = effect.locator("tbody tr", has_text="AQ-103")
    expect(row).to_contain_text("Alarm")
    versions = len(store.limit_versions())
    shop.get_by_role("textbox", name="Why").fill("iron of the sixes")
    shop.get_by_role("button", name="Set these limits").click()
    expect(shop.locator("#limit-told")).to_contain_text("is in force")
    assert len(store.limit_versions()) == versions + 1
    expect(shop.locator("#limit-history")).to_contain_text("iron of the sixes")
    shown(shop, address)
    expect(shop.locator(".watch-row", has_text="AQ-103")).to_contain_text("Alarm")


def test_a_limit_may_be_taken_out_on_trial_and_the_trial_dropped(shop: Page, address: str,
                                                                 store: Store) -> None:
    shown(shop, f"{address}/limits")
    lead = shop.locator("#limit-force tbody tr", has_text="lead")
    lead.get_by_role("button", name="Try without").click()
    expect(shop.locator("#limit-effect")).to_contain_text("take out every family, lead")
    shop.get_by_role("button", name="Drop the trial").click()
    expect(shop.locator("#limit-effect")).to_be_empty()
    assert len(store.limit_versions()) == 1


def test_an_engine_is_made_changed_and_given_an_event(shop: Page, address: str, store: Store
                                                      ) -> None:
    shown(shop, f"{address}/workshop/engine")
    shop.get_by_role("textbox", name="Engine", exact=True).fill("AQ-200")
    shop.get_by_role("button", name="Save").click()
    expect(shop.locator("#book-told")).to_contain_text("Family: an engine must belong to a family")
    pick(shop, "Family", "AQ-V8-40", exact=True)
    shop.get_by_role("textbox", name="Oil fill").fill("9,25")
    shop.get_by_role("button", name="Save").click()
    expect(shop.locator("#book-told")).to_contain_text("Engine AQ-200 is saved")
    shown(shop, f"{address}/workshop/engine/AQ-200")
    expect(shop.get_by_role("textbox", name="Oil fill")).to_have_value("9.25")
    shop.get_by_role("textbox", name="Meter [km]").fill("12000")
    shop.get_by_role("button", name="Record it").click()
    expect(shop.locator("#book-told")).to_contain_text("Recorded for AQ-200")
    shown(shop, address)
    expect(shop.locator(".watch-row", has_text="AQ-200")).to_contain_text("No verdict yet")


def test_a_car_goes_to_a_new_owner_and_another_engine(shop: Page, address: str) -> None:
    shown(shop, f"{address}/workshop/car/J-1001")
    shop.get_by_role("textbox", name="New owner").fill("Tomek")
    shop.get_by_role("button", name="Hand the car over").click()
    expect(shop.locator("#book-told")).to_contain_text("J-1001 belongs to Tomek from then on")
    pick(shop, "Engine", "AQ-106", exact=True)
    shop.get_by_role("button", name="Fit this engine").click()
    expect(shop.locator("#book-told")).to_contain_text("AQ-106 sits in J-1001 now")
    shown(shop, f"{address}/workshop/car/J-1001")
    expect(shop.locator("main")).to_contain_text("Tomek")


def test_two_people_at_one_record_and_the_later_is_told(shop: Page, address: str, store: Store
                                                        ) -> None:
    shown(shop, f"{address}/workshop/car/J-1002")
    other = shop.context.new_page()
    shown(other, f"{address}/workshop/car/J-1002")
    for page, words in ((shop, "first"), (other, "second")):
        page.get_by_role("textbox", name="Note").fill(words)
        page.get_by_role("button", name="Save").click()
        expect(page.locator("#book-told > *")).to_be_visible()
    expect(shop.locator("#book-told")).to_contain_text("is saved")
    expect(other.locator("#book-told")).to_contain_text("changed")
    other.close()
    assert store.get(Car, "J-1002").record.note == "first"


def test_an_empty_workshop_teaches_what_to_do_first(browser, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    with open_store(folder=tmp_path / "new") as empty, served(empty) as address:
        page = browser.new_page()
        shown(page, address)
        expect(page.locator("h2")).to_have_text("No engine yet")
        with page.expect_download() as sample:
            page.get_by_role("link", name="a file to try").click()
        page.get_by_role("link", name="New engine family").click()
        page.get_by_role("textbox", name="Family").fill("AQ-F4-25")
        page.get_by_role("button", name="Save").click()
        expect(page.locator("#book-told")).to_contain_text("is saved")
        page.get_by_role("link", name="Add result").click()
        send(page, sample.value.path())
        pick(page, "Make them, in the family", "AQ-F4-25")
        page.get_by_role("button", name="Store 5 rows").click()
        page.get_by_role("link", name="See who comes first").click()
        expect(page.locator(".watch-row")).to_contain_text("TRY-1")
        page.close()

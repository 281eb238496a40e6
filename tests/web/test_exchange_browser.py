"""Files dropped on a page, a CSV mapped and recorded, and new files, in a real browser on a phone and at a desk."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect, sync_playwright
from small_farm import SAMPLES
from test_browser import QUIET, SIZES, SMALL_TARGETS, _grave, _watch

from conftest import served
from feedwright.farm.ground.house import open_farm
from feedwright.farm.toolpaths.arrivals import take_arrival

pytestmark = pytest.mark.browser
PRINTS = b"Printer;Date;Material;Print time\nlarch;03.03.2026 09:30;PLA;90\nLarch;23.03.2026;petg;600\n"


@pytest.fixture(scope="module")
def place(farm_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a farm into whose watched folder files came."""
    own = tmp_path_factory.mktemp("exchange") / "farm"
    shutil.copytree(farm_folder, own)
    with open_farm(own) as store:
        take_arrival(store, SAMPLES / "d18.gcode", "a_very_long_name_of_a_file_that_somebody_saved_there_today.gcode")
        take_arrival(store, Path(__file__), "notes.txt")
    yield from served(own)


@pytest.fixture(scope="module")
def browser(chromium: str) -> Iterator[Browser]:
    with sync_playwright() as playwright:
        held = playwright.chromium.launch(executable_path=chromium, args=QUIET)
        yield held
        held.close()


@pytest.fixture(params=list(SIZES))
def page(browser: Browser, request: pytest.FixtureRequest) -> Iterator[Page]:
    width, height = SIZES[request.param]
    context = browser.new_context(viewport={"width": width, "height": height}, accept_downloads=True)
    yield context.new_page()
    context.close()


def audited(page: Page) -> list[str]:
    wide, seen = page.evaluate("[document.documentElement.scrollWidth, window.innerWidth]")
    wrong = [f"{wide} px wide"] if wide > seen else []
    wrong += [str(one) for one in page.evaluate(SMALL_TARGETS)] if seen < 400 else []
    return wrong + _grave(Axe().run(page, options={"resultTypes": ["violations"]}).response)


DROP = """
files => {
  const held = new DataTransfer();
  for (const [name, text] of files) held.items.add(new File([text], name));
  document.body.dispatchEvent(new DragEvent('dragover', {dataTransfer: held, bubbles: true, cancelable: true}));
  document.body.dispatchEvent(new DragEvent('drop', {dataTransfer: held, bubbles: true, cancelable: true}));
}
"""


def test_several_files_dropped_on_the_toolpaths_are_read_and_a_refused_one_says_why(page: Page, place: str) -> None:
    faults = _watch(page, place)
    page.goto(place + "/toolpaths")
    good = (SAMPLES / "d20.gcode").read_text()
    page.evaluate(DROP, [["vase.gcode", good], ["notes.txt", "bring more filament\n" * 30]])
    expect(page.locator(".dropped p")).to_have_count(2, timeout=30_000)
    expect(page.locator(".dropped")).to_contain_text("vase.gcode: read open", timeout=30_000)
    expect(page.locator(".dropped")).to_contain_text("notes.txt: read as: text")
    assert audited(page) == []
    page.get_by_role("link", name="open").click()
    expect(page.locator("h1")).to_contain_text("vase.gcode")
    assert [fault for fault in faults if "422" not in fault] == []


def test_one_chosen_file_leads_to_its_page(page: Page, place: str) -> None:
    page.goto(place + "/toolpaths")
    page.set_input_files("#file", SAMPLES / "d21.gcode")
    page.get_by_role("button", name="Read it").click()
    page.wait_for_url("**/toolpaths/*", timeout=30_000)


def test_a_log_dropped_on_the_page_is_chosen(page: Page, place: str) -> None:
    page.goto(place + "/machines/Larch/true")
    page.evaluate(DROP, [["heating.csv", "time_s,nozzle_c\n0,22\n"]])
    assert page.evaluate("document.getElementById('log').files[0].name") == "heating.csv"


def test_a_csv_is_dropped_mapped_and_recorded(page: Page, place: str) -> None:
    faults = _watch(page, place)
    page.goto(place + "/exchange")
    assert audited(page) == []
    page.evaluate(DROP, [["my prints.csv", PRINTS.decode()]])
    page.wait_for_url("**/exchange/in/*", timeout=30_000)
    expect(page.locator("h1")).to_have_text("Take in my prints.csv")
    expect(page.locator("#col-hours")).to_have_value("Print time")
    page.select_option("#unit-hours", "min")
    page.select_option("#col-material", "")
    page.get_by_role("button", name="Look again").click()
    expect(page.locator(".caution").first).to_contain_text("material")
    assert audited(page) == []
    page.fill("#fixed-material", "pla")
    page.get_by_role("button", name="Look again").click()
    record = page.get_by_role("button", name="Record 2 rows")
    if record.count():  # the other size of screen may have recorded them before
        record.click()
        expect(page.locator(".done")).to_contain_text("2 rows of runs are recorded.")
    else:
        expect(page.locator(".lead")).to_contain_text("2 rows on record already")
    assert faults == []


def test_new_files_lead_on_to_what_can_be_done_with_them(page: Page, place: str) -> None:
    faults = _watch(page, place)
    page.goto(place + "/arrivals")
    assert audited(page) == []
    page.locator("select[name=machine]").select_option("Larch")
    page.get_by_role("button", name="Will it print?").click()
    expect(page.locator("h1")).to_be_visible()
    assert "/fit?" in page.url
    page.go_back()
    page.get_by_role("button", name="Log a run").click()
    expect(page.locator("select[name=toolpath]")).not_to_have_value("")
    assert faults == []


def test_a_list_and_the_archive_can_be_kept(page: Page, place: str) -> None:
    page.goto(place + "/exchange")
    for name, file in (("Runs", "runs.csv"), ("Archive of the farm", "farm.zip")):
        with page.expect_download() as begun:
            page.get_by_role("link", name=name, exact=True).first.click()
        assert begun.value.suggested_filename == file

"""Prints on a phone with one thumb and on a desktop, in a real browser, with the accessibility audit.

Sources: W3C WCAG 2.2 as the axe rules check it (2.5.5: targets of 44 px).
"""

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, sync_playwright
from small_farm import served

pytestmark = pytest.mark.browser

QUIET = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync"]  # fmt: skip
SMALL_TARGETS = """
() => [...document.querySelectorAll(
        'main .act, main summary, main .choice, main select, main .symptom-pick, '
        + 'main input:not([type=radio], [type=checkbox])')]
    .filter(target => target.checkVisibility() && target.type !== 'hidden')
    .map(target => [target.textContent.trim() || target.name, target.getBoundingClientRect().height])
    .filter(([, height]) => height < 43.5)
"""


@pytest.fixture(scope="module")
def browser(chromium: str) -> Iterator[Browser]:
    with sync_playwright() as playwright:
        held = playwright.chromium.launch(executable_path=chromium, args=QUIET)
        yield held
        held.close()


@pytest.fixture(params=[(360, 740, "dark"), (1280, 900, "light")], ids=["phone", "desktop"])
def page(browser: Browser, request: pytest.FixtureRequest) -> Iterator[Page]:
    width, height, scheme = request.param
    context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=scheme)
    yield context.new_page()
    context.close()


@pytest.fixture
def own_address(farm_folder: Path, tmp_path: Path) -> Iterator[str]:
    """A server on a copy of the farm that this test alone changes."""
    shutil.copytree(farm_folder, tmp_path / "farm")
    yield from served(tmp_path / "farm")


def _watch(page: Page, address: str) -> list[str]:
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(f"error: {error}"))
    page.on("console", lambda said: faults.append(said.text) if said.type in ("error", "warning") else None)
    page.on("request", lambda asked: None if asked.url.startswith(address) else faults.append(f"left: {asked.url}"))
    return faults


def _sound(page: Page) -> None:
    """It fits the width, every target is as large as a thumb, and the audit finds nothing grave."""
    wide, seen = page.evaluate("[document.documentElement.scrollWidth, window.innerWidth]")
    assert wide <= seen, f"{page.url} is {wide} px wide"
    assert not page.evaluate(SMALL_TARGETS), page.url
    held: Any = Axe().run(page, options={"resultTypes": ["violations"]})
    grave = [f"{one['id']}: {one['nodes'][0]['html'][:120]}" for one in held.response["violations"]
             if one["impact"] in ("serious", "critical")]  # fmt: skip
    assert not grave, (page.url, grave)


def test_a_print_is_two_taps_to_begin_one_to_end_and_one_to_take_back(page: Page, own_address: str) -> None:
    faults = _watch(page, own_address)
    page.goto(own_address + "/machines/Larch")
    page.get_by_role("link", name="Begin a print").click()
    _sound(page)
    page.get_by_role("button", name="d14.gcode.gz").click()
    page.get_by_text("Larch: the print of d14.gcode.gz began").wait_for()
    _sound(page)
    page.get_by_role("button", name="Take it back").click()
    page.get_by_text("Nothing is under way.").wait_for()
    page.goto(own_address + "/prints?machine=Larch")
    page.get_by_role("button", name="d14.gcode.gz").dblclick()  # an eager thumb
    page.get_by_text("Larch: the print of d14.gcode.gz began").wait_for()
    page.goto(own_address + "/machines/Larch")
    _sound(page)
    page.get_by_role("button", name="Finished on Larch").click()
    page.get_by_text("Larch: the print of d14.gcode.gz is finished").wait_for()
    assert not faults


def test_a_spoiled_print_is_told_by_its_picture_and_leads_to_a_case(page: Page, own_address: str) -> None:
    faults = _watch(page, own_address)
    page.goto(own_address + "/prints?machine=Larch")
    page.get_by_text("Something else").click()
    page.get_by_label("Hours one copy takes").fill("3")
    page.get_by_role("button", name="Begin it").click()
    page.get_by_role("link", name="It went wrong on Larch").click()
    _sound(page)
    page.get_by_label("How far it came, %").fill("40")
    page.get_by_text("Fine hairs between parts of the print").click()
    page.get_by_role("button", name="Record it").click()
    page.get_by_role("heading", name="Run 62 of Larch").wait_for()
    _sound(page)
    page.get_by_role("button", name="Find the part at fault").click()
    page.wait_for_url("**/cases/1")
    assert "hairs" in page.locator("main").inner_text().lower()
    assert not faults


def test_a_whole_shelf_and_the_queue(page: Page, own_address: str) -> None:
    faults = _watch(page, own_address)
    page.goto(own_address + "/prints/shelf")
    page.get_by_label("File begun on Larch").fill("d14.gcode.gz")
    page.get_by_label("Material begun on Larch").select_option("pla")
    _sound(page)
    page.get_by_role("button", name="Record them all").click()
    page.get_by_text("Larch: the print of d14.gcode.gz began in PLA.").wait_for()
    page.goto(own_address + "/prints/shelf")
    page.get_by_label("How the print on Larch ended").select_option("spoiled")
    page.get_by_label("How far the print on Larch came, in percent").fill("50")
    _sound(page)
    page.get_by_role("button", name="Record them all").click()
    page.get_by_text("Larch: the print of d14.gcode.gz is spoiled.").wait_for()
    page.goto(own_address + "/queue")
    page.get_by_label("Copies").fill("2")
    page.get_by_role("button", name="Queue it").click()
    page.get_by_text("Can begin now").wait_for()
    page.get_by_text("Why").first.click()
    _sound(page)
    page.get_by_role("button", name="Begun").first.click()
    page.get_by_text("the print of d14.gcode.gz began").first.wait_for()
    assert not faults

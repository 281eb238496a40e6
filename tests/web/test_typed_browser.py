"""What was typed is there again after a refusal, and nowhere else, in a real browser."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright
from small_farm import served

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def browser(chromium: str) -> Iterator[Browser]:
    with sync_playwright() as playwright:
        held = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
        yield held
        held.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 360, "height": 740})
    yield context.new_page()
    context.close()


@pytest.fixture
def own_address(farm_folder: Path, tmp_path: Path) -> Iterator[str]:
    shutil.copytree(farm_folder, tmp_path / "farm")
    yield from served(tmp_path / "farm")


def test_a_refused_shelf_is_there_again_as_it_was_marked(page: Page, own_address: str) -> None:
    page.goto(own_address + "/prints/shelf")
    page.get_by_label("File begun on Larch").fill("none.gcode")
    page.get_by_label("Material begun on Larch").select_option("petg")
    page.get_by_label("Copies on Larch").fill("3")
    page.get_by_role("button", name="Record them all").click()
    page.get_by_role("link", name="Back to what you typed").click()
    expect(page.get_by_role("alert")).to_contain_text("none.gcode")
    expect(page.get_by_label("File begun on Larch")).to_have_value("none.gcode")
    expect(page.get_by_label("Material begun on Larch")).to_have_value("petg")
    expect(page.get_by_label("Copies on Larch")).to_have_value("3")
    page.get_by_label("File begun on Larch").fill("d14.gcode.gz")
    page.get_by_role("button", name="Record them all").click()
    page.get_by_text("Larch: the print of d14.gcode.gz began in PETG.").wait_for()
    page.goto(own_address + "/prints/shelf")
    expect(page.get_by_label("File begun on Larch")).to_have_value("")
    expect(page.get_by_role("alert")).to_have_count(0)


def test_a_refused_run_keeps_its_choices_and_opens_what_was_folded(page: Page, own_address: str) -> None:
    page.goto(own_address + "/runs/new?machine=Larch")
    page.get_by_label("Hours printed").fill("2")
    page.get_by_label("spoiled").check()
    page.get_by_label("How far it came, %").fill("0.37")
    page.get_by_text("More", exact=True).click()
    page.get_by_label("Note").fill("hairs at the corners")
    page.get_by_role("button", name="Record it").click()
    page.get_by_role("link", name="Back to what you typed").click()
    assert page.url.endswith("/runs/new?machine=Larch")
    expect(page.get_by_role("alert")).to_contain_text("write 37 for 37 percent")
    expect(page.get_by_label("spoiled")).to_be_checked()
    expect(page.get_by_label("complete")).not_to_be_checked()
    expect(page.get_by_label("How far it came, %")).to_have_value("0.37")
    expect(page.get_by_label("Note")).to_be_visible()
    expect(page.get_by_label("Note")).to_have_value("hairs at the corners")
    assert page.evaluate("sessionStorage.length") == 0


def test_a_form_that_was_taken_comes_back_empty_on_the_same_page(page: Page, own_address: str) -> None:
    page.goto(own_address + "/queue")
    page.get_by_label("Copies").fill("2")
    page.get_by_role("button", name="Queue it").click()
    page.get_by_text("2 waiting").wait_for()
    expect(page.get_by_label("Copies")).to_have_value("1")
    assert page.evaluate("sessionStorage.length") == 0


def test_a_file_cannot_be_kept_and_the_form_says_so(page: Page, own_address: str, tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_text("cold\n")
    page.goto(own_address + "/machines/Larch/true")
    page.get_by_label("A heating log").set_input_files(tmp_path / "log.csv")
    page.get_by_label("Tune for, °C").fill("215")
    form = page.locator("form", has=page.get_by_label("A heating log"))
    form.get_by_role("button", name="Work it out").click()
    page.get_by_role("link", name="Back to what you typed").click()
    expect(page.get_by_role("alert")).to_contain_text("Choose the file again.")
    expect(page.get_by_label("Tune for, °C")).to_have_value("215")
    expect(page.get_by_label("Tune for, °C")).to_be_in_viewport()

"""Cases on a phone with one thumb and on a desktop, in a real browser, with the accessibility audit.

Sources: W3C WCAG 2.2 as the axe rules check it (2.5.5: targets of 44 px).
"""

import re
import time
from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, sync_playwright

pytestmark = pytest.mark.browser

SIZES = {"phone": (360, 740), "desktop": (1280, 900)}
QUIET = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync"]  # fmt: skip
SMALL_TARGETS = """
() => [...document.querySelectorAll(
        'main .act, main summary, main .choice, main select, .symptom-pick, input[type=search]')]
    .filter(target => target.checkVisibility())
    .map(target => [target.textContent.trim() || target.name, target.getBoundingClientRect().height])
    .filter(([, height]) => height < 43.5)
"""

FEW_SYMPTOMS = "[...document.querySelectorAll('.symptom-pick')].filter(pick => pick.checkVisibility()).length <= 3"


@pytest.fixture(scope="module")
def browser(chromium: str) -> Iterator[Browser]:
    with sync_playwright() as playwright:
        held = playwright.chromium.launch(executable_path=chromium, args=QUIET)
        yield held
        held.close()


@pytest.fixture(params=[("phone", "light"), ("desktop", "dark")], ids="-".join)
def page(browser: Browser, request: pytest.FixtureRequest) -> Iterator[Page]:
    size, scheme = request.param
    width, height = SIZES[size]
    context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=scheme)
    yield context.new_page()
    context.close()


def _watch(page: Page) -> list[str]:
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(f"error: {error}"))
    page.on("console", lambda said: faults.append(said.text) if said.type in ("error", "warning") else None)
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


def test_from_a_word_to_the_cure_by_pressing(page: Page, address: str) -> None:
    """A newcomer with one symptom reaches a first advised check within a minute, then the end of the case."""
    faults = _watch(page)
    begun = time.monotonic()
    page.goto(address + "/cases")
    _sound(page)
    page.get_by_role("link", name="Something is wrong").click()
    page.get_by_label("Find by a word").fill("stringing")
    page.wait_for_function(FEW_SYMPTOMS)
    page.get_by_text("Fine hairs between parts of the print").click()
    page.get_by_label("Find by a word").fill("")
    _sound(page)
    page.get_by_role("button", name="What should I check?").click()
    page.get_by_role("heading", name="Next:").wait_for()
    assert time.monotonic() - begun < 60
    _sound(page)
    here = page.url.split("#")[0]
    first = page.locator(".causes h3").first.inner_text()
    page.goto(f"{here}?asked=burnt tube")
    page.get_by_role("button", name=re.compile("^Yes.*burnt brown or black")).click()
    page.get_by_role("heading", name="Next:").wait_for()
    assert page.locator(".causes h3").first.inner_text() != first
    _sound(page)
    page.get_by_role("link", name="Write the answer").click()
    page.get_by_role("heading", name="About your print trouble").wait_for()
    _sound(page)
    page.get_by_role("link", name="Back to the case").click()
    page.get_by_role("link", name="End the case").click()
    page.get_by_label("What it was").select_option("liner_burnt")
    _sound(page)
    page.get_by_role("button", name="End the case").click()
    page.get_by_role("heading", name="Closed").wait_for()
    assert "Trim the tube end" in page.locator("main").inner_text()
    page.goto(address + "/handbook/causes/liner_burnt")
    _sound(page)
    assert not faults


def test_a_check_with_several_questions_is_answered_at_once(browser: Browser, address: str) -> None:
    page = browser.new_context(viewport={"width": 360, "height": 740}).new_page()
    page.goto(address + "/cases/new")
    page.get_by_text("Thin lines everywhere").click()
    page.get_by_text("The drive clicks or knocks back").click()
    page.get_by_role("button", name="What should I check?").click()
    page.get_by_role("heading", name="Next:").wait_for()
    for _ in range(4):
        if page.get_by_role("button", name="That is what I found", exact=True).is_visible():
            break
        page.locator("#next").get_by_role("button", name="No").first.click()
        page.get_by_role("heading", name="Next:").wait_for()
    asked = page.locator("#next fieldset")
    assert asked.count() > 1
    asked.first.get_by_text("yes", exact=True).click()
    page.get_by_role("button", name="That is what I found", exact=True).click()
    page.get_by_role("heading", name="Next:").wait_for()
    assert "don't know" in page.locator("main").inner_text()
    page.context.close()

"""The page of rounds in a real browser: planned by its button, a stop moved, fit for a phone, and audited.

Sources: W3C WCAG 2.2 as the axe rules check it; a target of 44 px as 2.5.5 asks.
"""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect, sync_playwright

pytestmark = pytest.mark.browser
SMALL = """
() => [...document.querySelectorAll('main .act, main .quiet, main summary, main select, main input')]
    .filter(target => target.checkVisibility() && target.type !== 'hidden')
    .map(target => [target.textContent.trim() || target.name, target.getBoundingClientRect().height])
    .filter(([, height]) => height < 43.5)
"""


@pytest.fixture(params=["light", "dark"])
def phone(chromium: str, request: pytest.FixtureRequest) -> Iterator[Page]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
        yield browser.new_page(viewport={"width": 360, "height": 740}, color_scheme=request.param)
        browser.close()


def test_rounds_are_planned_and_a_stop_is_moved_on_a_phone(phone: Page, address: str) -> None:
    faults: list[str] = []
    phone.on("pageerror", lambda error: faults.append(str(error)))
    phone.on("console", lambda said: faults.append(said.text) if said.type == "error" else None)
    phone.set_default_timeout(60_000)
    phone.goto(address + "/rounds")
    phone.get_by_role("button", name="Plan").first.click()
    phone.get_by_text("This plan costs").wait_for()
    phone.get_by_text("Move or skip").first.click()
    phone.get_by_role("button", name="Move it").first.click()
    expect(phone.get_by_text("Choose a day from").first).to_be_visible()
    to = (datetime.now(UTC) + timedelta(days=9)).date().isoformat()
    phone.get_by_label("To which day").first.fill(to)
    phone.get_by_role("button", name="Move it").first.click()
    expect(phone.get_by_text("moved by you").first).to_be_visible()
    expect(phone.get_by_role("button", name="Take it back")).to_be_visible()
    for path in ("/rounds", "/rounds/hours", "/rounds/what-if", "/rounds/sheet"):
        phone.goto(address + path)
        assert phone.evaluate("document.documentElement.scrollWidth <= innerWidth"), path
        assert not phone.evaluate(SMALL), path
        held = Axe().run(phone, options={"resultTypes": ["violations"]}).response["violations"]
        grave = [(one["id"], one["nodes"][0]["html"][:120]) for one in held if one["impact"] in ("serious", "critical")]
        assert not grave, (path, grave)
    assert not faults

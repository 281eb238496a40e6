"""A whole visit on a phone: trimmed, nozzle renewed, trammed, first layer, released, with the connection lost midway.

Set FEEDWRIGHT_PICTURES to a folder to have each screen drawn there.
"""

import json
import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright
from small_farm import served as serving

from feedwright.farm.ground.house import open_farm
from feedwright.farm.parts.renewals import tube_left_mm

pytestmark = pytest.mark.browser

PHONE = {"width": 360, "height": 740}
QUIET = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync",
         "--host-resolver-rules=MAP bench.test 127.0.0.1"]  # fmt: skip
SMALL = """
() => [...document.querySelectorAll('.act, .choice, summary, select, input')]
    .filter(target => !['radio', 'checkbox', 'file'].includes(target.type))
    .filter(target => target.checkVisibility() && target.type !== 'hidden')
    .filter(target => target.getBoundingClientRect().height < 43.5)
    .map(target => target.textContent.trim() || target.name)
"""


@pytest.fixture(scope="module")
def browser(chromium: str) -> Iterator[Browser]:
    with sync_playwright() as playwright:
        held = playwright.chromium.launch(executable_path=chromium, args=QUIET)
        yield held
        held.close()


@pytest.fixture
def served(farm_folder: Path, tmp_path: Path) -> Iterator[tuple[str, Path]]:
    own = tmp_path / "farm"
    shutil.copytree(farm_folder, own)
    for address in serving(own):
        yield address, own


def phone(browser: Browser, scheme: str = "light") -> BrowserContext:
    return browser.new_context(viewport=PHONE, color_scheme=scheme)  # type: ignore[arg-type]


def draw(page: Page, name: str) -> None:
    folder = os.environ.get("FEEDWRIGHT_PICTURES")
    if folder:
        page.screenshot(path=str(Path(folder) / f"{name}.png"))


def fill(page: Page) -> str:
    """Does what the step on the screen asks; returns its id."""
    step = page.locator(".visit-step.now")
    name = step.get_attribute("data-step") or ""
    if step.locator("[name=cautions_read]").count():
        step.locator("[name=cautions_read]").check()
    if step.locator("[name=grade]").count():
        step.locator("[name=grade]").nth(2).check()
    if name == "trim_tube.cut":
        step.locator("[name=trimmed_mm]").fill("15")
    if name == "renew_nozzle.screw_in":
        step.locator("[name=product]").select_option("hardened_steel")
    if name == "tram_bed.read":
        step.locator("[name=value]").fill("0,04")
    if name == "first_layer.print":
        step.locator("[name=value]").select_option(label="9 of 9")
    step.get_by_role("button", name="Done", exact=True).click()
    return name


def go_on(page: Page, count: int) -> list[str]:
    return [fill(page) for _ in range(count)]


def test_a_whole_visit_with_a_lost_connection_and_two_devices(browser: Browser, served: tuple[str, Path]) -> None:
    address, folder = served
    first = phone(browser)
    page = first.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.goto(f"{address}/machines/Larch")
    page.get_by_role("link", name="Service visit").click()
    for box in page.locator("[name=job]").all():
        box.set_checked(box.get_attribute("value") in ("trim_tube", "renew_nozzle"))
    draw(page, "1-choose")
    page.get_by_role("button", name="See what it takes").click()
    expect(page.get_by_role("heading", name="What it takes")).to_be_visible()
    draw(page, "2-plan")
    page.get_by_role("button", name="Begin the visit").click()
    page.wait_for_url("**/visits/1")
    steps = page.locator("[data-step]").count()
    assert page.locator(".visit-step:visible").count() == 1
    draw(page, "3-first-step")

    step = page.locator(".visit-step.now")
    step.get_by_role("button", name="Done", exact=True).click()  # the cautions are not acknowledged: nothing happens
    assert step.get_attribute("data-closed") == ""
    go_on(page, 3)
    expect(page.locator("#visit-line")).to_contain_text("All entries are kept")

    first.set_offline(True)
    lost = go_on(page, 4)
    expect(page.locator("#visit-line")).to_contain_text("4 entries wait on this phone")
    expect(page.get_by_role("button", name="End the visit")).to_be_disabled()
    draw(page, "4-offline")
    with open_farm(folder) as store:
        assert not {entry.step for entry in store.visit_entries(1)} & set(lost)
    first.set_offline(False)
    expect(page.locator("#visit-line")).to_contain_text("All entries are kept", timeout=15_000)
    with open_farm(folder) as store:
        assert set(lost) <= {entry.step for entry in store.visit_entries(1)}

    page.get_by_role("button", name="Pause the visit").click()
    second = phone(browser, "dark")
    other = second.new_page()
    other.goto(f"{address}/visits/1")
    other.get_by_role("button", name="Resume the visit").click()
    other.get_by_label("At the bench").select_option("Ada")
    assert other.locator("[data-step]:not([data-closed=''])").count() == 7
    done = []
    while other.locator("[data-step][data-closed='']").count():
        name = other.locator(".visit-step.now").get_attribute("data-step") or ""
        draw(other, f"5-{len(done):02d}-{name}")
        wide, seen = other.evaluate("[document.documentElement.scrollWidth, window.innerWidth]")
        assert wide <= seen, name
        assert other.evaluate(SMALL) == [], name
        done.append(fill(other))
    assert len(done) == steps - 7
    expect(other.locator("#visit-line")).to_contain_text("All entries are kept")
    page.reload()  # the first device sees what the second did
    assert page.locator("[data-step][data-closed='']").count() == 0
    other.get_by_role("button", name="End the visit").click()
    expect(other.get_by_role("heading", name="Held until proved")).to_be_visible()
    draw(other, "6-held")
    other.get_by_role("button", name="Release Larch").click()
    expect(other.get_by_text("Larch may take work again")).to_be_visible()
    draw(other, "7-released")
    assert not faults
    check_records(folder, steps)
    first.close()
    second.close()


def check_records(folder: Path, steps: int) -> None:
    """Every record is as it should be: nothing twice, nothing missing."""
    with open_farm(folder) as store:
        visit = store.visits()[0]
        entries = store.visit_entries(visit.id)
        closed = [entry.step for entry in entries if entry.kind == "done"]
        assert len(closed) == len(set(closed)) == steps
        machine = store.machine(visit.machine_id)
        assert machine is not None
        by = {act.id: act.person_id for act in store.acts(200)}
        assert [by[entry.act_id] for entry in entries if entry.kind == "done"] == [None] * 7 + [1] * (steps - 7)
        assert [ending.outcome for ending in store.visit_endings()] == ["done"]
        fitted = {fitting.part_kind: fitting for fitting in store.fittings(machine.id, open_only=True)}
        assert fitted["nozzle"].product == "hardened_steel"
        trims = [one.trimmed_mm for one in store.removals(machine.id) if one.trimmed_mm]
        assert trims == [15.0]
        assert tube_left_mm(store, machine) == 405.0
        found = {one.grade for one in store.findings() if one.act_id == store.visit_endings()[0].act_id}
        assert found == {"ring", "worn"}
        assert {(one.kind, one.value) for one in store.measurements()} == {("tram", 0.04), ("first_layer", 1.0)}
        released = store.releases()[0]
        assert set(json.loads(released.proofs)) == {"tram", "first_layer"}
        assert released.override == ""


def test_entries_outlive_a_page_that_was_closed_without_connection(browser: Browser, served: tuple[str, Path]) -> None:
    address, folder = served
    context = phone(browser)
    page = context.new_page()
    page.request.post(f"{address}/machines/Larch/visit", form={"job": "trim_tube"})
    page.goto(f"{address}/visits/1")
    context.set_offline(True)
    lost = go_on(page, 2)
    page.close()
    context.set_offline(False)
    again = context.new_page()
    again.goto(f"{address}/visits/1")
    expect(again.locator("#visit-line")).to_contain_text("2 of")
    expect(again.locator("#visit-line")).to_contain_text("All entries are kept")
    with open_farm(folder) as store:
        assert [entry.step for entry in store.visit_entries(1) if entry.kind == "done"] == lost
    context.close()


def test_an_entry_that_the_farm_refuses_opens_its_step_again(browser: Browser, served: tuple[str, Path]) -> None:
    address, _ = served
    context = phone(browser)
    page = context.new_page()
    page.request.post(f"{address}/machines/Larch/visit", form={"job": "tram_bed"})
    page.goto(f"{address}/visits/1")
    while page.locator(".visit-step.now").get_attribute("data-step") != "tram_bed.read":
        fill(page)
    step = page.locator(".visit-step.now")
    step.locator("[name=cautions_read]").check()
    step.locator("[name=value]").fill("40")
    step.get_by_role("button", name="Done", exact=True).click()
    expect(page.locator("#visit-refusal")).to_contain_text("0 to 3 mm")
    assert page.locator(".visit-step.now").get_attribute("data-step") == "tram_bed.read"
    assert step.get_attribute("data-closed") == ""
    context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_pages_of_service_fit_and_pass_the_audit(browser: Browser, served: tuple[str, Path], scheme: str) -> None:
    """W3C WCAG 2.2 as the axe rules check it."""
    address, _ = served
    context = phone(browser, scheme)
    page = context.new_page()
    page.request.post(f"{address}/machines/Larch/visit", form={"job": "trim_tube"})
    axe = Axe()
    paths = [
        "/visits",
        "/machines/Larch/visit?job=trim_tube",
        "/visits/1",
        "/machines/Larch/tram",
        "/machines/Larch/values",
        "/machines/Larch/true",
    ]
    for path in paths:
        page.goto(address + path)
        page.wait_for_load_state("networkidle")
        wide, seen = page.evaluate("[document.documentElement.scrollWidth, window.innerWidth]")
        assert wide <= seen, path
        held = axe.run(page, options={"resultTypes": ["violations"]})
        grave = [f"{one['id']}: {one['nodes'][0]['html'][:120]}" for one in held.response["violations"]
                 if one["impact"] in ("serious", "critical")]  # fmt: skip
        assert not grave, (path, grave)
    draw(page, f"7-true-{scheme}")
    page.goto(f"{address}/machines/Larch/tram")
    for number, height in enumerate(("0.1", "0.22", "0.05", "-0.03", "0.09"), 1):
        page.locator(f"#reading-{number}").fill(height)
    page.get_by_role("button", name="Work out the screws").click()
    expect(page.get_by_role("heading", name="Turn the screws")).to_be_visible()
    draw(page, f"8-tram-{scheme}")
    page.locator(".bed-picture").scroll_into_view_if_needed()
    draw(page, f"9-bed-{scheme}")
    context.close()

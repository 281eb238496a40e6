"""A visit without the connection: the page opens again, photos and entries wait in order, what is old says so.

Set FEEDWRIGHT_PICTURES to a folder to have each screen drawn there.
"""

import shutil
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Browser, Page, expect
from small_farm import served as serving
from tests.web import test_visit_in_browser as whole
from tests.web.test_visit_in_browser import draw, fill, go_on, phone

from feedwright.farm.ground.house import open_farm
from feedwright.farm.parts.photos import photo_file
from feedwright.records.photo_values import Photo

pytestmark = pytest.mark.browser
browser, served = whole.browser, whole.served  # the same fixtures

REACHED = """
() => {
  const box = document.querySelector('.visit-step.now .visit-acts').getBoundingClientRect();
  const top = document.elementFromPoint(box.left + 40, box.top + box.height / 2);
  return box.bottom <= innerHeight + 0.5 && top.closest('.visit-acts') !== null;
}
"""
SMALL = """
() => [...document.querySelectorAll('.visit-step.now :is(.act, .choice, summary, select, input[inputmode])')]
    .filter(target => target.checkVisibility() && target.getBoundingClientRect().height < 55.5)
    .map(target => target.textContent.trim() || target.name)
"""


def begin(page: Page, address: str, job: str) -> None:
    page.request.post(f"{address}/machines/Larch/visit", form={"job": job})
    page.goto(f"{address}/visits/1")


def to_step(page: Page, name: str) -> None:
    while page.locator(".visit-step.now").get_attribute("data-step") != name:
        fill(page)


def photographed(page: Page, tmp_path: Path, size: tuple[int, int] = (3000, 2000)) -> None:
    """Gives the step on the screen a photo, half of it red."""
    image = Image.new("RGB", size, "blue")
    image.paste("red", (0, 0, size[0] // 2, size[1]))
    exif = Image.Exif()
    exif[0x010F] = "somebody's phone"
    image.save(tmp_path / "taken.jpg", exif=exif)
    page.locator(".visit-step.now [name=photo]").set_input_files(str(tmp_path / "taken.jpg"))
    expect(page.locator(".visit-step.now .photo-preview")).to_be_visible()


def test_a_photo_taken_offline_waits_with_its_entry_and_arrives(
    browser: Browser,
    served: tuple[str, Path],
    tmp_path: Path,
) -> None:
    address, folder = served
    context = phone(browser)
    page = context.new_page()
    begin(page, address, "trim_tube")
    to_step(page, "trim_tube.look")
    expect(page.locator("#visit-keeps")).to_contain_text("opened again")
    context.set_offline(True)
    page.locator(".visit-step.now [name=grade]").nth(2).check()
    photographed(page, tmp_path)
    draw(page, "photo-offline")
    page.locator(".visit-step.now").get_by_role("button", name="Done", exact=True).click()
    expect(page.locator("#visit-line")).to_contain_text("1 entry waits")
    page.close()  # the photo outlives the page
    again = context.new_page()
    again.goto(f"{address}/visits/1")
    expect(again.locator("#visit-line")).to_contain_text("Offline, as of")
    expect(again.locator("#visit-line")).to_contain_text("1 entry waits")
    context.set_offline(False)
    expect(again.locator("#visit-line")).to_contain_text("All entries are kept", timeout=15_000)
    with open_farm(folder) as store:
        (photo,) = store.every(Photo)
        kept = photo_file(store, photo.id)[1].read_bytes()
        entry = next(one for one in store.visit_entries(1) if one.step == "trim_tube.look")
    assert photo.visit_entry_id == entry.id
    assert (photo.width_px, photo.height_px) == (2000, 1333)
    assert b"somebody" not in kept
    left = Image.open(photo_file_path(folder, photo)).convert("RGB").getpixel((300, 600))
    assert left[0] > 200 > left[2]
    again.reload()
    again.get_by_role("button", name="Back").click()
    while again.locator(".visit-step.now").get_attribute("data-step") != "trim_tube.look":
        again.get_by_role("button", name="Back").click()
    shown = again.locator(".visit-step.now .photo img")
    expect(shown).to_be_visible()
    assert shown.evaluate("image => image.decode().then(() => image.naturalWidth)") == 2000
    draw(again, "photo-kept")
    context.close()


def photo_file_path(folder: Path, photo: Photo) -> Path:
    return folder / "photos" / f"{photo.sha256}.jpg"


def test_the_page_opens_again_offline_as_it_last_stood_and_says_how_old_it_is(
    browser: Browser,
    served: tuple[str, Path],
) -> None:
    address, folder = served
    context = phone(browser)
    page = context.new_page()
    begin(page, address, "trim_tube")
    expect(page.locator("#visit-keeps")).to_contain_text("opened again")
    sent = go_on(page, 2)
    expect(page.locator("#visit-line")).to_contain_text("2 of")
    expect(page.locator("#visit-line")).to_contain_text("All entries are kept")
    context.set_offline(True)
    page.reload()
    expect(page.locator("#visit-line")).to_contain_text("Offline, as of")
    assert page.locator("[data-step]:not([data-closed=''])").count() == len(sent), "no step that was done is open again"
    lost = go_on(page, 2)
    page.reload()
    expect(page.locator("#visit-line")).to_contain_text("4 of")
    expect(page.locator("#visit-line")).to_contain_text("2 entries wait")
    expect(page.get_by_role("button", name="End the visit")).to_be_disabled()
    draw(page, "opened-offline")
    other = context.new_page()
    with pytest.raises(Exception, match="ERR_INTERNET_DISCONNECTED"):
        other.goto(f"{address}/machines")  # nothing but visits is kept
    context.set_offline(False)
    expect(page.locator("#visit-line")).to_contain_text("All entries are kept", timeout=15_000)
    with open_farm(folder) as store:
        assert [entry.step for entry in store.visit_entries(1) if entry.kind == "done"] == [*sent, *lost]
    context.close()


def test_an_answer_that_is_not_the_farms_loses_no_entry(browser: Browser, served: tuple[str, Path]) -> None:
    """A session that ran out, a proxy's error, a hotel's sign-in: the entry stays on the phone until it is taken."""
    address, folder = served
    context = browser.new_context(viewport={"width": 360, "height": 740}, service_workers="block")
    page = context.new_page()
    begin(page, address, "trim_tube")
    answers = [
        {"status": 401, "content_type": "application/json", "body": '{"subject": "session"}'},
        {"status": 200, "content_type": "text/html", "body": "<h1>Welcome to the hotel</h1>"},
        {"status": 502, "content_type": "text/html", "body": "bad gateway"},
        {"status": 413, "content_type": "text/html", "body": "too large"},
    ]
    page.route("**/visits/1/entries", lambda route: route.fulfill(**answers.pop(0)) if answers else route.continue_())
    (step,) = go_on(page, 1)
    expect(page.locator("#visit-line")).to_contain_text("sign in again")
    expect(page.locator("#visit-line")).to_contain_text("All entries are kept", timeout=30_000)
    assert not answers
    with open_farm(folder) as store:
        assert [entry.step for entry in store.visit_entries(1) if entry.kind == "done"] == [step]
    context.close()


def test_what_waits_can_be_taken_back_and_pausing_waits_too(browser: Browser, served: tuple[str, Path]) -> None:
    address, folder = served
    context = phone(browser)
    page = context.new_page()
    begin(page, address, "trim_tube")
    (sent,) = go_on(page, 1)
    expect(page.locator("#visit-line")).to_contain_text("All entries are kept")
    context.set_offline(True)
    (waits,) = go_on(page, 1)
    page.get_by_role("button", name="Back").click()
    page.locator(".visit-step.now").get_by_role("button", name="Take it back").click()
    expect(page.locator(f"[data-step='{waits}']")).to_have_attribute("data-closed", "")
    page.get_by_role("button", name="Back").click()
    page.locator(".visit-step.now").get_by_role("button", name="Take it back").click()
    expect(page.locator("#visit-refusal")).to_contain_text("once the connection is there")
    page.get_by_role("button", name="Pause the visit").click()
    expect(page.get_by_role("button", name="Resume the visit")).to_be_visible()
    context.set_offline(False)
    expect(page.locator("#visit-line")).to_contain_text("All entries are kept", timeout=15_000)
    with open_farm(folder) as store:
        kinds = [(entry.kind, entry.step) for entry in store.visit_entries(1) if entry.kind != "cautions"]
    assert kinds == [("done", sent), ("paused", "")]
    context.close()


def test_over_plain_http_the_open_page_keeps_what_is_entered(
    browser: Browser, farm_folder: Path, tmp_path: Path
) -> None:
    """W3C Secure Contexts: under a name that is not the machine's own, http gets no service worker."""
    shutil.copytree(farm_folder, tmp_path / "farm")
    for address in serving(tmp_path / "farm", "bench.test"):
        context = phone(browser)
        page = context.new_page()
        page.goto(f"{address.replace('127.0.0.1', 'bench.test')}/machines/Larch/visit?job=trim_tube")
        page.get_by_role("button", name="Begin the visit").click()
        page.wait_for_url("**/visits/1")
        assert page.evaluate("[isSecureContext, 'serviceWorker' in navigator]") == [False, False]
        expect(page.locator("#visit-keeps")).to_contain_text("Keep this page open")
        to_step(page, "trim_tube.look")
        context.set_offline(True)
        page.locator(".visit-step.now [name=grade]").nth(2).check()
        photographed(page, tmp_path, (600, 400))
        page.locator(".visit-step.now").get_by_role("button", name="Done", exact=True).click()
        # its photo is kept first
        expect(page.locator(".visit-step.now")).to_have_attribute("data-step", "trim_tube.cut")
        go_on(page, 2)
        expect(page.locator("#visit-line")).to_contain_text("3 entries wait")
        context.set_offline(False)
        expect(page.locator("#visit-line")).to_contain_text("All entries are kept", timeout=15_000)
        context.close()
        with open_farm(tmp_path / "farm") as store:
            assert len(store.every(Photo)) == 1
            assert len([entry for entry in store.visit_entries(1) if entry.kind == "done"]) == 6


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_done_is_under_the_thumb_on_every_step(
    browser: Browser,
    served: tuple[str, Path],
    scheme: str,
) -> None:
    address, _ = served
    context = phone(browser, scheme)
    page = context.new_page()
    page.request.post(
        f"{address}/machines/Larch/visit", headers={"Content-Type": "application/x-www-form-urlencoded"},
        data="job=trim_tube&job=renew_nozzle&job=clean_bed&job=look_belts&job=renew_heater",
    )  # fmt: skip
    page.goto(f"{address}/visits/1")
    for _ in range(page.locator("[data-step]").count()):
        name = page.locator(".visit-step.now").get_attribute("data-step")
        assert page.evaluate(REACHED), name
        assert page.evaluate(SMALL) == [], name
        wide, seen = page.evaluate("[document.documentElement.scrollWidth, window.innerWidth]")
        assert wide <= seen, name
        page.get_by_role("button", name="Onward").click()
    context.close()


def test_two_people_at_once_enter_nothing_twice(browser: Browser, served: tuple[str, Path]) -> None:
    address, folder = served
    first, second = phone(browser), phone(browser, "dark")
    ada, ines = first.new_page(), second.new_page()
    begin(ada, address, "trim_tube")
    ines.goto(f"{address}/visits/1")
    both = go_on(ada, 1)
    assert go_on(ines, 1) == both, "the same step, before either page knew of the other"
    (mine,) = go_on(ada, 1)
    expect(ada.locator("#visit-line")).to_contain_text("All entries are kept")
    ines.evaluate("dispatchEvent(new Event('online'))")  # looks at once, else every twenty seconds
    expect(ines.locator(f"[data-step='{mine}']")).to_have_attribute("data-closed", "done")
    ines.reload()
    (theirs,) = go_on(ines, 1)
    expect(ines.locator("#visit-line")).to_contain_text("All entries are kept")
    with open_farm(folder) as store:
        steps = [entry.step for entry in store.visit_entries(1) if entry.kind == "done"]
    assert steps == [*both, mine, theirs]
    first.close()
    second.close()


def test_what_the_tramming_page_read_is_filled_in_at_its_step(browser: Browser, served: tuple[str, Path]) -> None:
    address, _ = served
    context = phone(browser)
    page = context.new_page()
    begin(page, address, "tram_bed")
    to_step(page, "tram_bed.read")
    with context.expect_page() as opened:
        page.get_by_role("link", name="Work out the screws").click()
    tram = opened.value
    for number, height in enumerate(("0.02", "0.03", "-0.01", "0", "0.01"), 1):
        tram.locator(f"#reading-{number}").fill(height)
    tram.get_by_role("button", name="Work out the screws").click()
    expect(tram.get_by_role("heading", name="Within tolerance: leave it")).to_be_visible()
    tram.close()
    page.evaluate("dispatchEvent(new Event('online'))")
    value = page.locator(".visit-step.now [name=value]")
    expect(value).to_have_value("0.02")
    expect(page.locator(".visit-step.now .field .hint")).to_contain_text("as read since the visit began")
    draw(page, "filled-in")
    context.close()

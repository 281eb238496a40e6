"""Signing in on a phone, over the network as far as the farm can tell, and the Access page at this machine.

Sources: W3C WCAG 2.2 (2.5.5 for targets); the rules of password managers for `autocomplete` (WHATWG HTML, 4.10.18.7).
"""

import re
import shutil
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
import uvicorn
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, sync_playwright

from feedwright.farm.access.access import open_to_network, set_passphrase
from feedwright.farm.access.access_log import MOST_FROM_ONE
from feedwright.farm.ground.house import open_farm
from feedwright.web.app import create_app

pytestmark = pytest.mark.browser

WORDS = "quince anvil harbour moth"
QUIET = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync"]  # fmt: skip
SMALL = """
() => [...document.querySelectorAll('.act, summary, nav a, .choice, select, input:not([type=radio], [type=checkbox])')]
    .filter(target => target.checkVisibility() && target.type !== 'hidden')
    .map(target => [target.textContent.trim() || target.name, target.getBoundingClientRect().height])
    .filter(([, height]) => height < 43.5)
"""


KEEP = """
async () => {
    localStorage.setItem("waiting", "an entry");
    await (await caches.open("feedwright visits")).put("/visits/1", new Response("kept"));
}
"""


@pytest.fixture(scope="module")
def served(farm_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A really listening server on a farm that is open to the network."""
    import socket

    own = shutil.copytree(farm_folder, tmp_path_factory.mktemp("signed") / "farm")
    with open_farm(own) as store:
        set_passphrase(store, WORDS)
        open_to_network(store)
    with socket.create_server(("127.0.0.1", 0)) as listening:
        config = uvicorn.Config(create_app(own), log_level="warning", lifespan="off", proxy_headers=False)
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{listening.getsockname()[1]}"
        server.should_exit = True
        thread.join(10)


@pytest.fixture(scope="module")
def browser(chromium: str) -> Iterator[Browser]:
    with sync_playwright() as playwright:
        held = playwright.chromium.launch(executable_path=chromium, args=QUIET)
        yield held
        held.close()


def phone(browser: Browser, address: str, *, scheme: str = "light") -> Page:
    """A phone that reaches the farm through a proxy, from an address of its own."""
    context = browser.new_context(
        viewport={"width": 360, "height": 740}, color_scheme=scheme,  # type: ignore[arg-type]
        extra_http_headers={"X-Forwarded-For": "192.0.2.9"},
    )  # fmt: skip
    page = context.new_page()
    page.goto(f"{address}/books")
    return page


def sound(page: Page) -> None:
    """It fits, its targets fit a thumb, and the audit finds nothing grave."""
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert not page.evaluate(SMALL)
    held = Axe().run(page, options={"resultTypes": ["violations"]})
    grave = [one["id"] for one in held.response["violations"] if one["impact"] in ("serious", "critical")]
    assert not grave


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_phone_signs_in_records_and_signs_out(browser: Browser, served: str, scheme: str) -> None:
    page = phone(browser, served, scheme=scheme)
    assert page.url == f"{served}/sign-in?to=/books"
    sound(page)
    field = page.get_by_label("Passphrase")
    assert field.get_attribute("type") == "password"
    assert field.get_attribute("autocomplete") == "current-password"
    field.fill("not the passphrase")
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("alert").get_by_text("this is not the passphrase").wait_for()
    sound(page)
    page.get_by_label("Passphrase").fill(WORDS)
    page.get_by_label("Your name").fill("Ada")
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{served}/books")
    page.get_by_label("Somebody new").fill(f"Grace {scheme}")
    page.get_by_role("button", name="Add", exact=True).click()
    page.get_by_text(re.compile("add person.*by Ada through a browser")).first.wait_for()
    page.evaluate(KEEP)
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url(f"{served}/sign-in")
    page.wait_for_function("async () => !(await caches.has('feedwright visits'))")
    assert page.evaluate("localStorage.getItem('waiting')") == "an entry", "what waits to be sent stays"
    page.goto(f"{served}/books")
    assert "/sign-in" in page.url
    page.go_back()
    assert not page.get_by_text("Grace").count()


def test_another_page_cannot_use_the_session(browser: Browser, served: str) -> None:
    """The same server by another name is another site to the browser: its form is refused, its fetch reads nothing."""
    page = phone(browser, served)
    page.get_by_label("Passphrase").fill(WORDS)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{served}/books")
    other = page.context.new_page()
    other.goto(served.replace("127.0.0.1", "localhost") + "/sign-in")
    read = f"fetch('{served}/books', {{credentials: 'include'}}).then(a => a.text()).catch(() => 'refused')"
    assert other.evaluate(read) == "refused"
    elsewhere = {"Origin": "http://localhost", "Sec-Fetch-Site": "cross-site"}
    sent = other.request.post(f"{served}/sign-out", headers=elsewhere)
    assert sent.status == 403
    page.reload()
    assert page.url == f"{served}/books"


def test_the_page_makes_a_token_once_and_takes_it_back(browser: Browser, served: str) -> None:
    """At this machine: no sign-in."""
    page = browser.new_context(viewport={"width": 360, "height": 740}).new_page()
    page.goto(f"{served}/access")
    sound(page)
    page.get_by_label("What you call it").fill("Shelf sensor")
    page.get_by_text("write down what happened").click()
    page.get_by_role("button", name="Make its token").click()
    secret = page.locator(".token").inner_text()
    sound(page)
    asked = page.context.request
    held = {"Authorization": f"Bearer {secret}"}
    assert asked.get(f"{served}/api/v1/machines", headers=held).status == 403, "it may record, not read"
    run = {"machine": "Larch", "material": "pla", "hours": 1}
    assert asked.post(f"{served}/api/v1/runs", data=run, headers=held).status == 201
    page.goto(f"{served}/access")
    assert not page.get_by_text(secret).count()
    page.get_by_text("Revoke").click()
    page.get_by_label("Why").fill("a trial")
    page.get_by_role("button", name="Take its token back").click()
    page.get_by_text("device revoked").wait_for()
    assert asked.get(f"{served}/api/v1/me", headers=held).status == 401
    page.goto(f"{served}/api")
    sound(page)


def test_after_too_many_tries_the_phone_is_told_to_wait(browser: Browser, served: str) -> None:
    page = phone(browser, served)
    for _ in range(MOST_FROM_ONE + 1):
        page.get_by_label("Passphrase").fill("wrong")
        page.get_by_role("button", name="Sign in").click()
        page.get_by_role("alert").wait_for()
    page.get_by_text("it failed too often lately").wait_for()
    page.get_by_text(re.compile(r"wait \d+ min")).wait_for()
    sound(page)

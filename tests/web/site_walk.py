"""Finds the pages: from the navigation along every link, one page for each kind of address."""

import re
from html import unescape
from urllib.error import HTTPError
from urllib.parse import parse_qsl, urlsplit
from urllib.request import Request, urlopen

from feedwright.web.navigation import SECTIONS

LINK = re.compile(r'<a\b[^>]*?\bhref="([^"]+)"')
NOT_PAGES = re.compile(r"^/(static|api)/|\.(pdf|txt|csv|zip|gcode|json|svg|ics|jpg|png)$")
NAMED_AFTER = (
    "machines", "parts", "materials", "causes", "checks", "repairs", "procedures", "m", "s", "toolpaths", "csv"
)  # fmt: skip
"""What follows one of these in an address is a name, of which one stands for all."""
REFUSED = 422
"""A page may say why it cannot show what a link asks for, such as figures of too short a period."""
MOST_PAGES = 140
"""More kinds of address than that are a sign that this list of names is out of date."""


def shape(address: str) -> str:
    """The kind of an address: names and numbers in it left open, of its query only what is asked.

    >>> shape("/machines/Larch/part?part=idler&position=2") == shape("/machines/Ash/part?part=belt&position=1")
    True
    """
    parts = urlsplit(address)
    words = parts.path.split("/")
    open_words = ["*" if before in NAMED_AFTER and word != "new" else re.sub(r"\d+", "*", word)
                  for before, word in zip(["", *words], words, strict=False)]  # fmt: skip
    asked = sorted({name for name, _ in parse_qsl(parts.query)})
    return "/".join(open_words) + ("?" + "&".join(asked) if asked else "")


def found_pages(address: str, also: list[str]) -> dict[str, str]:
    """The pages that can be reached, by their kind; each is asked for once and must answer, if only with why not.

    ``also`` are pages that no link leads to.
    """
    waiting = [(door.to, "the navigation") for section in SECTIONS for door in section.doors]
    waiting += [(path, "the test") for path in also]
    seen: dict[str, str] = {}
    asked: set[str] = set()
    dead: list[str] = []
    while waiting:
        path, leads_here = waiting.pop(0)
        kind = shape(path)
        if kind in asked or NOT_PAGES.search(urlsplit(path).path):
            continue
        asked.add(kind)
        assert len(asked) <= MOST_PAGES, sorted(asked)
        try:
            links = _links(address, path)
        except HTTPError as error:
            links = []
            if error.code != REFUSED:
                dead.append(f"{path}, from {leads_here}: {error.code}")
        if links is not None:
            seen[kind] = path
            waiting += [(link, path) for link in links]
    assert not dead, dead
    return seen


def _links(address: str, path: str) -> list[str] | None:
    """Where a page leads; None where that is no page but a file to keep."""
    with urlopen(Request(address + path, headers={"Accept": "text/html"}), timeout=120) as answer:
        if answer.headers.get_content_type() != "text/html":
            return None
        html = answer.read().decode()
    links = (unescape(link).split("#")[0] for link in LINK.findall(html))
    return [link for link in links if link.startswith("/")]

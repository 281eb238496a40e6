"""Every door of the navigation opens, and says where the reader stands."""

import pytest
from starlette.testclient import TestClient

from feedwright.web.navigation import SECTIONS

DOORS = [(section, door) for section in SECTIONS for door in section.doors]


@pytest.mark.parametrize(("section", "door"), DOORS, ids=[door.to for _, door in DOORS])
def test_every_door_opens_and_is_marked_as_the_current_one(client: TestClient, section, door) -> None:
    page = client.get(door.to, headers={"accept": "text/html"})
    assert page.status_code == 200
    marked = page.text.count(f'href="{door.to}" aria-current="page"')
    assert marked == (1 if len(section.doors) == 1 or door is not section.doors[0] else 2)


def test_a_page_lies_in_one_section_only() -> None:
    for _, door in DOORS:
        assert sum(section.holds(door.to) for section in SECTIONS) == 1
        assert sum(section.holds(f"{door.to.rstrip('/')}/x") for section in SECTIONS) == (door.to != "/")


@pytest.mark.parametrize("door", [door for _, door in DOORS], ids=[door.to for _, door in DOORS])
def test_every_door_opens_where_no_farm_is_yet(empty_client: TestClient, door) -> None:
    assert empty_client.get(door.to, headers={"accept": "text/html"}).status_code == 200

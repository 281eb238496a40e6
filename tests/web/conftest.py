"""A small farm behind the pages, and a browser to look at them with."""

import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from argon2 import PasswordHasher
from starlette.testclient import TestClient

from feedwright.farm.access import passphrases
from feedwright.farm.access.access import open_to_network, set_passphrase
from feedwright.farm.ground.house import open_farm
from feedwright.records.store import Store
from feedwright.web.app import create_app

sys.path.insert(0, str(Path(__file__).parent))  # the farm stands beside the tests

from from_afar import OWN_PAGE, PHONE, WORDS
from small_farm import TEST_HOSTS, THIS_MACHINE, fill_farm, served


@pytest.fixture(scope="session")
def farm_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("web") / "farm"
    fill_farm(folder)
    return folder


@pytest.fixture
def client(farm_folder: Path, tmp_path: Path) -> Iterator[TestClient]:
    """The pages on a copy of the farm that the test may change."""
    own = tmp_path / "farm"
    shutil.copytree(farm_folder, own)
    with TestClient(create_app(own, hosts=TEST_HOSTS), follow_redirects=True, client=THIS_MACHINE) as held:
        yield held


@pytest.fixture
def empty_client(tmp_path: Path) -> Iterator[TestClient]:
    """The pages where no farm is yet."""
    with TestClient(
        create_app(tmp_path / "none", hosts=TEST_HOSTS), follow_redirects=True, client=THIS_MACHINE
    ) as held:
        yield held


@pytest.fixture(scope="session")
def address(farm_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a really listening server on a copy of the farm."""
    own = tmp_path_factory.mktemp("served") / "farm"
    shutil.copytree(farm_folder, own)
    yield from served(own)


@pytest.fixture(scope="session")
def empty_address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a server where no farm is yet."""
    yield from served(tmp_path_factory.mktemp("served") / "none")


@pytest.fixture
def quick_hashes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Passphrases are hashed with next to no work; tests/farm/test_access.py looks at the real parameters."""
    _hash_quickly(monkeypatch)


def _hash_quickly(patch: pytest.MonkeyPatch) -> None:
    hasher = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    patch.setattr(passphrases, "_hasher", lambda: hasher)


@pytest.fixture(scope="session")
def opened_once(farm_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A farm that was opened to the network."""
    own = shutil.copytree(farm_folder, tmp_path_factory.mktemp("opened") / "farm")
    with pytest.MonkeyPatch.context() as patch, open_farm(own) as store:
        _hash_quickly(patch)
        set_passphrase(store, WORDS)
        open_to_network(store)
    return own


@pytest.fixture
def opened(opened_once: Path, tmp_path: Path, quick_hashes: None) -> Path:
    """The same, for a test to change."""
    return shutil.copytree(opened_once, tmp_path / "farm")


@pytest.fixture
def opened_store(opened: Path) -> Iterator[Store]:
    """Its records."""
    with open_farm(opened) as held:
        yield held


@pytest.fixture
def phone(opened: Path) -> Iterator[TestClient]:
    """A browser on the network that is not signed in."""
    app = create_app(opened, hosts=TEST_HOSTS, any_address=True)
    with TestClient(app, client=PHONE, headers=OWN_PAGE, follow_redirects=False) as held:
        yield held


@pytest.fixture
def signed_in(phone: TestClient) -> TestClient:
    """The same, signed in as Ada."""
    assert phone.post("/sign-in", data={"passphrase": WORDS, "person": "Ada"}).status_code == 303
    return phone


@pytest.fixture(scope="session")
def chromium() -> str:
    """Where Chromium is; its absence is a loud skip, or a failure where it is demanded."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        if os.environ.get("FEEDWRIGHT_DEMAND_BROWSER") == "1":
            pytest.fail("no Chromium found, and FEEDWRIGHT_DEMAND_BROWSER asks for one")
        pytest.skip("no Chromium found: install the chromium package of your system")
    return found

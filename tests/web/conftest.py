"""A small farm behind the pages, and a browser to look at them with."""

import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from feedwright.web.app import create_app

sys.path.insert(0, str(Path(__file__).parent))  # the farm stands beside the tests

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


@pytest.fixture(scope="session")
def chromium() -> str:
    """Where Chromium is; its absence is a loud skip, or a failure where it is demanded."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        if os.environ.get("FEEDWRIGHT_DEMAND_BROWSER") == "1":
            pytest.fail("no Chromium found, and FEEDWRIGHT_DEMAND_BROWSER asks for one")
        pytest.skip("no Chromium found: install the chromium package of your system")
    return found

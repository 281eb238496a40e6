"""The hot ends, drives and materials that the physics is tried on."""

import pytest

from feedwright.catalogue.entry import Material
from feedwright.catalogue.hot_ends import Drive, HotEnd, drive_of, hot_end_of
from feedwright.catalogue.load import load_catalogue


@pytest.fixture
def lined() -> HotEnd:
    return hot_end_of("lined")


@pytest.fixture
def all_metal() -> HotEnd:
    return hot_end_of("all_metal")


@pytest.fixture
def remote() -> Drive:
    return drive_of("remote")


@pytest.fixture
def direct() -> Drive:
    return drive_of("direct")


@pytest.fixture
def materials() -> dict[str, Material]:
    return load_catalogue().materials


@pytest.fixture
def pla(materials: dict[str, Material]) -> Material:
    return materials["pla"]

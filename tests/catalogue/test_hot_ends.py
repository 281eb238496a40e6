"""Hot ends, drives and polymers: every entry loads, every fault is refused by file and path."""

from dataclasses import fields
from importlib.resources import files

import pytest

from feedwright.catalogue.entry import Sourced
from feedwright.catalogue.hot_ends import drive_of, hot_end_of, load_hot_ends, parse_hot_ends, polymer_of
from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadEntry, NotFound

NAMES = ("hot_ends.toml", "sources_physics.toml")


def _texts(old: str = "", new: str = "") -> dict[str, bytes]:
    held = {name: files("feedwright.catalogue").joinpath(name).read_text() for name in NAMES}
    held["hot_ends.toml"] = held["hot_ends.toml"].replace(old, new, 1)
    return {name: text.encode() for name, text in held.items()}


def _numbers() -> list[Sourced]:
    kinds = load_hot_ends()
    found: list[Sourced] = []
    for entry in (*kinds.hot_ends.values(), *kinds.drives.values(), *kinds.polymers.values()):
        for field in fields(entry):
            held = getattr(entry, field.name)
            found += [n for n in (held.values() if isinstance(held, dict) else [held]) if isinstance(n, Sourced)]
    return found


def test_every_build_finds_its_hot_end_and_its_drive() -> None:
    """A machine is described by a build; its words must lead to geometry."""
    for build in load_catalogue().builds.values():
        assert hot_end_of(build.hot_end).lined is (build.hot_end == "lined")
        assert drive_of(build.drive).grip_n.value > 0


def test_every_material_finds_its_polymer() -> None:
    """A filled grade softens and flows as the polymer it is made of."""
    for material in load_catalogue().materials.values():
        polymer = polymer_of(material)
        assert polymer.softens_c.value <= polymer.flows_c.value <= material.nozzle_c.low


def test_gear_and_tube_conditions_are_grades_of_those_parts() -> None:
    """A finding of the gear or the tube turns into a grip or a friction."""
    parts = load_catalogue().parts
    for drive in load_hot_ends().drives.values():
        assert set(drive.grip_share) == {grade.id for grade in parts["drive_gear"].grades}
        assert set(drive.friction) == {grade.id for grade in parts["guide_tube"].grades}


def test_every_source_of_its_own_is_used() -> None:
    """A source that no number names is a slip."""
    own = set(load_hot_ends().sources) - set(load_catalogue().sources)
    assert own <= {number.source for number in _numbers()}


def test_a_fault_names_file_and_path() -> None:
    """The sentence leads to the line."""
    texts = _texts("value = 27.5, low = 20", "value = 27.5, low = 200")
    with pytest.raises(BadEntry) as refusal:
        parse_hot_ends(texts, load_catalogue().sources)
    assert refusal.value.subject == "hot_ends.toml"
    assert refusal.value.place == "hot_end.lined.sink_height_mm.low"


def test_broken_toml_is_refused() -> None:
    """What cannot be read is refused by name."""
    texts = _texts() | {"hot_ends.toml": b"[hot_end"}
    with pytest.raises(BadEntry, match="hot_ends"):
        parse_hot_ends(texts, {})


def test_an_unknown_kind_names_the_known_ones() -> None:
    """What to type instead is in the refusal."""
    with pytest.raises(NotFound, match="lined, all_metal"):
        hot_end_of("glass")

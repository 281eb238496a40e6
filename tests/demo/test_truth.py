"""The hidden truth stays hidden, and is another than what the catalogue supposes."""

import ast
from pathlib import Path

import feedwright
from feedwright.catalogue.load import load_catalogue
from feedwright.demo.truth import TRUE_ACTIVATION_EV, Truth

SOURCE = Path(feedwright.__file__).parent


def imports_of(path: Path) -> set[str]:
    """Every module that a file imports, wherever in it."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        if isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def test_nothing_outside_the_demo_imports_the_truth() -> None:
    """And the demo itself is started by the commands alone."""
    for path in SOURCE.rglob("*.py"):
        if path.parent.name == "demo":
            continue
        known = {name for name in imports_of(path) if name.startswith("feedwright.demo")}
        assert not known or path.parent.name == "cli", path
        assert "feedwright.demo.truth" not in known, path


def test_the_truth_follows_the_laws_of_the_catalogue_with_other_numbers() -> None:
    catalogue = load_catalogue()
    truth = Truth(catalogue, 1)
    assert truth.kinds.keys() == catalogue.parts.keys()
    for key, kind in catalogue.parts.items():
        assert truth.kinds[key].exposure.law == kind.exposure.law
    held = truth.kinds["tube_end"].exposure.numbers["activation_ev"].value
    assert held == TRUE_ACTIVATION_EV != catalogue.parts["tube_end"].exposure.numbers["activation_ev"].value
    lives = [truth.of("Elm").part("nozzle", "brass").life for _ in range(2)]
    assert lives[0] == lives[1]  # the same machine, the same stream
    assert truth.of("Fir").part("nozzle", "brass").life != lives[0]


def test_one_machine_wears_its_parts_faster_and_nobody_is_told() -> None:
    """Over many parts, for one draw says nothing: its mean life is a good deal shorter."""
    rowan, elm = (Truth(load_catalogue(), 3).of(name) for name in ("Rowan", "Elm"))
    mean = [sum(one.part("nozzle", "brass").life for _ in range(400)) / 400 for one in (rowan, elm)]
    assert 0.3 < mean[0] / mean[1] < 0.5


def test_a_look_shows_a_failed_part_as_failed_and_a_new_one_as_sound() -> None:
    truth = Truth(load_catalogue(), 3).of("Elm")
    part = truth.part("tube_end", "plain")
    grades = {grade.id: grade for grade in part.kind.grades}
    assert not grades[truth.grade(part)].failed
    part.lived = 1.2 * part.life
    assert grades[truth.grade(part)].failed

"""What holds for every file of the repository."""

import ast
import re
import subprocess
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "src" / "feedwright"
MODULES = sorted(path for path in SOURCE.rglob("*.py") if "versions" not in path.parts)
LONGEST = 400
COMPILED = SOURCE / "toolpath" / "kernel.py"
"""One compiled loop, whose length is its shape."""


def tracked() -> list[Path]:
    """Every file that git knows, or every file outside of hidden folders where there is no git."""
    try:
        listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True).stdout
    except (OSError, subprocess.CalledProcessError):
        return [path for path in ROOT.rglob("*") if path.is_file() and not any(p.startswith(".") for p in path.parts)]
    return [ROOT / name for name in listed.decode().split("\0") if name and (ROOT / name).is_file()]


def text_of(path: Path) -> str:
    """A file's text; empty for what is none."""
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        return ""


def test_every_module_says_what_it_is_for() -> None:
    assert [path for path in MODULES if not ast.get_docstring(ast.parse(text_of(path)))] == []


def test_no_file_is_longer_than_a_person_reads() -> None:
    long = {
        str(path.relative_to(ROOT)): count
        for path in tracked()
        if path.suffix == ".py" and path != COMPILED and (count := len(text_of(path).splitlines())) > LONGEST
    }
    assert long == {}


def test_no_machine_path_and_no_registry_is_written_down() -> None:
    """A checkout works anywhere: it names no folder of the machine it was written on, nor where libraries come from."""
    folders = "|".join(("work", "tmp", "root", "home", "Users", "mnt"))
    hosts = "|".join(("pypi", "pythonhosted", "npmjs", "artifactory"))
    wrong = re.compile(rf"(?<![\w.$}}/<])/(?:{folders})/|--(?:extra-)?index-url|//[\w.-]*(?:{hosts})[\w.-]*/")
    found = [
        f"{path.relative_to(ROOT)}:{number}: {line.strip()[:80]}"
        for path in tracked()
        if "vendor" not in path.parts
        for number, line in enumerate(text_of(path).splitlines(), 1)
        if wrong.search(line)
    ]
    assert found == []


def test_every_dependency_is_named_with_its_reason_and_no_other() -> None:
    """docs/dependencies.md and pyproject.toml tell of the same libraries."""
    told = text_of(ROOT / "docs" / "dependencies.md")
    project = tomllib.loads(text_of(ROOT / "pyproject.toml"))
    wanted = [
        *project["project"]["dependencies"],
        *(one for group in project["dependency-groups"].values() for one in group),
    ]
    names = {re.split(r"[<>=~!\[; ]", one, maxsplit=1)[0].lower() for one in wanted}
    assert {name.lower() for name in re.findall(r"^- `([\w.-]+)`:", told, re.MULTILINE)} == names


@pytest.mark.parametrize(
    "room", sorted(path.parent for path in SOURCE.glob("*/__init__.py")), ids=lambda path: path.name
)
def test_a_rooms_door_holds_its_purpose_alone(room: str) -> None:
    """Re-exports there would import heavy libraries for whoever touches one small module of the room."""
    body = ast.parse(text_of(SOURCE / room / "__init__.py")).body
    assert len(body) == 1
    assert isinstance(body[0], ast.Expr)

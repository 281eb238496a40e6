"""Start-up, exit codes and streams: what holds for every command."""

import contextlib
import re
import signal
import subprocess
import sys
from pathlib import Path

import pytest
import typer
from tests.cli.conftest import Command, Process

from feedwright.cli import main

HEAVY = ("alembic", "fastapi", "numba", "numpy", "rich", "scipy", "sqlalchemy", "uvicorn")


def leaf_commands(command: object = None, path: tuple[str, ...] = ()) -> list[tuple[str, ...]]:
    """The words of every command, groups opened."""
    known = getattr(command or typer.main.get_command(main.app), "commands", None)
    if known is None:
        return [path]
    return [leaf for name, inner in known.items() for leaf in leaf_commands(inner, (*path, name))]


def modules_after(words: list[str]) -> set[str]:
    """The modules that one command imports, in a process of its own."""
    told = f"import sys; from feedwright.cli.main import run; run({words!r}); print(*sys.modules, file=sys.stderr)"
    done = subprocess.run([sys.executable, "-c", told], capture_output=True, text=True, check=True)
    assert done.stdout
    return set(done.stderr.split())


@pytest.mark.parametrize("words", [["--help"], ["bench", "--help"], ["run", "add", "--help"]])
def test_help_starts_without_the_heavy_libraries(words: list[str]) -> None:
    """They cost from 0.1 to over 1 s each; half a second is all that a small command may take."""
    assert not set(HEAVY) & modules_after(words)


def test_a_listing_starts_without_what_it_does_not_need(ash: Command, folder: Path) -> None:
    assert not {"alembic", "fastapi", "numba", "scipy", "uvicorn"} & modules_after(["machine", "list"])


@pytest.mark.parametrize("words", leaf_commands(), ids=" ".join)
def test_each_command_explains_itself_and_speaks_json(words: tuple[str, ...], command: Command) -> None:
    """Its first sentence is short enough for the list of commands to show uncut; --json is on every command."""
    said = command(*words, "--help")
    assert said.code == 0
    assert "--json" in said.out
    above = command(*words[:-1], "--help").out
    line = next(line for line in above.splitlines() if line.split()[:1] == [words[-1]])
    assert not line.endswith("..."), line


def test_without_a_farm_every_listing_says_how_to_begin_one(command: Command, folder: Path) -> None:
    for words in (["bench"], ["machine", "list"], ["run", "list"], ["person", "add", "Ada"], ["backup", "x"]):
        said = command(*words)
        assert (said.code, said.out) == (2, "")
        assert str(folder) in said.err
        assert "feedwright machine add" in said.err
    assert not folder.exists()


@pytest.mark.parametrize("content", [b"", b"no database at all\n" * 50, b"SQLite format 3\0" + bytes(4000)])
def test_a_damaged_farm_is_refused(content: bytes, command: Command, folder: Path) -> None:
    folder.mkdir()
    (folder / "farm.sqlite").write_bytes(content)
    said = command("machine", "show", "Ash")
    assert said.code == 2
    assert said.err.startswith("feedwright: ")


def test_a_fault_of_the_program_asks_for_a_report(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken() -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("feedwright.cli.say.now", broken)
    monkeypatch.setattr("feedwright.catalogue.load.load_catalogue", broken)
    said = command("catalogue", "list")
    assert said.code == 1
    assert "Please report" in said.err


def test_a_reader_that_leaves_early_is_no_fault(process: Process) -> None:
    for words in (["catalogue", "list"], ["catalogue", "show", "nozzle", "--json"]):
        running = process(*words)
        assert running.stdout is not None
        running.stdout.close()
        assert running.wait(20) in (0, 1)
        assert running.stderr is not None
        assert running.stderr.read() == ""


def test_breaking_off_is_quiet(folder: Path, process: Process) -> None:
    """Ctrl-C while the demo is being made: code 130, no farm left that is only half one."""
    running = process("demo", "--farm", str(folder))
    assert running.stderr is not None
    assert "Making the demo farm" in running.stderr.readline()
    with pytest.raises(subprocess.TimeoutExpired):
        running.wait(3)
    for _ in range(20):  # the interpreter drops an interrupt that falls into a callback: as a person would, press again
        running.send_signal(signal.SIGINT)
        with contextlib.suppress(subprocess.TimeoutExpired):
            running.wait(3)
            break
    assert running.returncode == 130
    assert running.communicate()[0] == ""
    assert not folder.exists()


def test_the_version_is_told(command: Command) -> None:
    from feedwright import __version__

    assert command("--version").out == f"feedwright {__version__}\n"


@pytest.mark.parametrize("words", leaf_commands(), ids=" ".join)
def test_each_command_and_option_is_documented(words: tuple[str, ...], command: Command) -> None:
    """docs/commands.md has a section for each, with an example, and every option in it or at the top for all."""
    told = (Path(__file__).parents[2] / "docs" / "commands.md").read_text(encoding="utf-8")
    common, *sections = told.split("\n### ")
    section = next(section for section in sections if section.startswith(f"feedwright {' '.join(words)}\n"))
    assert f"$ feedwright {' '.join(words)}" in section
    options = re.findall(r"^  (--[a-z-]+)", command(*words, "--help").out, re.MULTILINE)
    everywhere = re.findall(r"`(--[a-z-]+)", common)
    assert {option for option in options if f"`{option}`" not in section} <= {"--help", *everywhere}

"""A farm of its own for each test, and commands run as a person would, in this process."""

import json
import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from feedwright.cli.main import run

SAMPLES = Path(__file__).parents[1] / "data" / "toolpaths"
PRINT = SAMPLES / "d20.gcode"
MILLING = SAMPLES / "d02.gcode"


@dataclass(frozen=True)
class Said:
    """What a command came to."""

    code: int
    out: str
    err: str

    @property
    def data(self) -> Any:
        """Its stdout as the JSON it must be."""
        return json.loads(self.out)


Command = Callable[..., Said]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the farm of this test lives; nothing is there yet."""
    where = tmp_path / "farm"
    monkeypatch.setenv("FEEDWRIGHT_FARM", str(where))
    monkeypatch.setenv("COLUMNS", "200")
    return where


@pytest.fixture
def command(folder: Path, capsys: pytest.CaptureFixture[str]) -> Command:
    """Runs one command on that farm; none may ever show a traceback."""

    def command(*words: object) -> Said:
        code = run([str(word) for word in words])
        shown = capsys.readouterr()
        assert "Traceback" not in shown.err
        return Said(code, shown.out, shown.err)

    return command


@pytest.fixture(scope="session")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A farm with one machine, made once and copied for each test."""
    where = tmp_path_factory.mktemp("made") / "farm"
    begun = f"{datetime.now(UTC) - timedelta(days=100):%Y-%m-%d}"
    words = ["machine", "add", "Ash", "moving_bed_remote", "--history", "new", "--at", begun, "--farm", str(where)]
    assert run(words) == 0
    return where


@pytest.fixture
def ash(made_once: Path, folder: Path, command: Command) -> Command:
    """The same with one machine, Ash, in the farm."""
    shutil.copytree(made_once, folder)
    return command


Process = Callable[..., "subprocess.Popen[str]"]


@pytest.fixture
def process(folder: Path) -> Iterator[Process]:
    """Starts a command in a process of its own; whatever still runs at the end of the test is ended."""
    started: list[subprocess.Popen[str]] = []

    def process(*words: str) -> "subprocess.Popen[str]":
        command = [sys.executable, "-m", "feedwright", *words]

        def listening() -> None:
            """A shell's background job ignores Ctrl-C and hands that on; a person's command does not."""
            signal.signal(signal.SIGINT, signal.SIG_DFL)

        pipe, environment = subprocess.PIPE, {**os.environ, "FEEDWRIGHT_FARM": str(folder)}
        started.append(
            subprocess.Popen(
                command,
                env=environment,
                stdin=subprocess.DEVNULL,
                stdout=pipe,
                stderr=pipe,
                encoding="utf-8",
                preexec_fn=listening,  # noqa: PLW1509  this process has no other thread
            )
        )
        return started[-1]

    yield process
    for one in started:
        if one.poll() is None:
            one.kill()
        one.communicate()

"""``serve``, in processes of its own: it answers, and Ctrl-C ends it cleanly."""

import json
import signal
import socket
import urllib.request
from pathlib import Path

import pytest
from tests.cli.conftest import Command, Process

from feedwright.cli.serve import _farm_to_serve
from feedwright.errors import Conflict
from feedwright.farm.ground.house import has_farm, open_farm


def test_serving_prints_the_bench_and_an_address_that_answers_until_ctrl_c(ash: Command, process: Process) -> None:
    running = process("serve", "--with-bench", "--port", "0")
    assert running.stdout is not None
    lines = []
    while not lines or "The pages are at" not in lines[-1]:
        lines.append(running.stdout.readline())
        assert lines[-1], running.communicate()[1]
    assert lines[0].startswith("Bench list")
    address = lines[-1].split()[4]
    with urllib.request.urlopen(address, timeout=20) as answer:
        assert answer.status == 200
    running.send_signal(signal.SIGINT)
    _, err = running.communicate(timeout=20)
    assert (running.returncode, err) == (0, "")


def test_for_programs_it_prints_one_object(ash: Command, process: Process) -> None:
    """A taken port gives way to the next free one."""
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        running = process("serve", "--with-bench", "--json", "--port", str(port))
        assert running.stdout is not None
        text = ""
        while not text.endswith("\n}\n"):
            line = running.stdout.readline()
            assert line, running.communicate()[1]
            text += line
        running.send_signal(signal.SIGINT)
        out, err = running.communicate(timeout=20)
    told = json.loads(text)
    assert told["bench"]["machines"] == 1
    assert told["address"] != f"http://127.0.0.1:{port}/"
    assert (running.returncode, out, err) == (0, "", "")


@pytest.mark.parametrize("words", [["--host", "nowhere.invalid"], ["--farm", "nothing-here"]])
def test_what_cannot_be_served_is_refused(words: list[str], ash: Command) -> None:
    said = ash("serve", *words)
    assert (said.code, said.out) == (2, "")
    assert "what to do:" in said.err


def test_the_demo_is_never_made_over_a_farm(ash: Command, folder: Path) -> None:
    said = ash("demo", "--farm", folder)
    assert (said.code, said.out) == (2, "")
    assert "feedwright serve" in said.err


def test_of_two_starts_at_once_the_slower_serves_what_the_quicker_made(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def outrun(where: Path, **_: object) -> None:
        open_farm(where, create=True).close()
        raise Conflict(str(where), expected="another has made something there meanwhile")

    monkeypatch.setattr("feedwright.demo.workshop.make_demo", outrun)
    demo = folder.parent / "farm-demo"
    assert _farm_to_serve(None, as_json=True) == (demo, folder)
    assert has_farm(demo)

"""``watch``, ``listen``, ``arrival`` and ``notices`` by command."""

import io
import json
import shutil
import signal
from pathlib import Path

import pytest
from tests.cli.conftest import PRINT, Command, Process

from feedwright.farm.ground.house import open_farm
from feedwright.farm.toolpaths.arrivals import take_arrival

pytestmark = pytest.mark.filterwarnings("ignore:.imghdr. is deprecated:DeprecationWarning")


def test_watching_tells_each_file_until_ctrl_c(ash: Command, process: Process, tmp_path: Path) -> None:
    saved = tmp_path / "saved"
    saved.mkdir()
    running = process("watch", str(saved), "--json")
    assert running.stdout is not None
    assert running.stderr is not None
    assert "Watching" in running.stderr.readline()
    shutil.copy(PRINT, saved / "vase.gcode")
    told = json.loads(running.stdout.readline())
    assert (told["name"], told["refused"]) == ("vase.gcode", "")
    running.send_signal(signal.SIGINT)
    _, err = running.communicate(timeout=20)
    assert (running.returncode, err) == (0, "")
    assert [one["arrival"]["name"] for one in ash("arrival", "list", "--json").data["offers"]] == ["vase.gcode"]


def test_the_folder_is_set_down_and_let_go(ash: Command, folder: Path, tmp_path: Path) -> None:
    assert ash("watch").code == 2
    assert ash("watch", "--set").code == 2
    assert ash("watch", tmp_path / "none", "--set").code == 2
    assert ash("watch", folder, "--set").code == 2, "it is the farm itself"
    (tmp_path / "saved").mkdir()
    assert ash("watch", tmp_path / "saved", "--set", "--json").data["watch_folder"].endswith("saved")
    assert ash("watch", "--off", "--json").data == {"watch_folder": None}


def test_a_file_is_listed_and_answered(ash: Command, folder: Path) -> None:
    with open_farm(folder) as store:
        take_arrival(store, PRINT, "vase.gcode")
        take_arrival(store, Path(__file__), "notes.txt")
    listed = ash("arrival", "list").out
    assert "waits" in listed
    assert "refused" in listed
    assert ash("arrival", "answer", 1, "eaten").code == 2
    assert ash("arrival", "answer", 9, "printed").code == 2
    assert "File 1 is put aside" in ash("arrival", "answer", 1, "put_aside").out


def test_the_broker_is_set_down_with_its_password_and_let_go(
    ash: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert ash("listen").code == 2
    assert ash("listen", "--broker", "host:door", "--set").code == 2
    assert ash("listen", "--broker", "mqtt://host", "--set").code == 2
    assert ash("listen", "--broker", "host:²", "--set").code == 2
    (tmp_path / "no text").write_bytes(b"\xff\xfe\x00")
    assert ash("listen", "--broker", "host", "--password-file", tmp_path / "no text", "--set").code == 2
    (tmp_path / "password").write_text("tall-ash\n")
    words = ("listen", "--broker", "host.example", "--tls", "--user", "yard", "--password-file", tmp_path / "password")
    said = ash(*words, "--set", "--json")
    assert (said.data["broker"]["port"], said.data["broker"]["tls"]) == (8883, True)
    assert "tall-ash" not in said.out
    monkeypatch.setenv("FEEDWRIGHT_BROKER_PASSWORD", "other-ash")
    ash("listen", "--broker", "host.example:1884", "--set")
    from feedwright.farm.exchange.ways import broker_password

    with open_farm(tmp_path / "farm") as store:
        assert broker_password(store) == "other-ash"
        ash("listen", "--off")
        assert broker_password(store) == ""


def test_notices_are_set_and_their_addresses_masked(ash: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    assert ash("notices", "set", "--on").code == 2
    assert ash("notices", "test").code == 2
    assert ash("notices", "add", "pigeon://loft/deep-secret").code == 2
    monkeypatch.setattr("sys.stdin", io.StringIO("json://deep-secret@127.0.0.1:1/hook\n"))
    shown = ash("notices", "add", "-", "--json")
    assert "deep-secret" not in shown.out
    said = ash("notices", "set", "--on", "--kind", "fan", "--quiet", "22:00-07:00")
    assert "Notices are on: fan." in said.out
    assert "Quiet from 22:00 until 07:00." in said.out
    assert ash("notices", "set", "--quiet", "late").code == 2
    assert ash("notices", "set", "--kind", "weather").code == 2
    assert ash("notices", "set", "--quiet", "", "--json").data["quiet_from"] == ""
    tested = ash("notices", "test", "--json")
    assert (tested.code, list(tested.data.values())) == (2, [False])
    assert "deep-secret" not in ash("notices", "show", "--json").out
    assert ash("notices", "remove", shown.data["address"]).code == 0
    assert ash("notices", "show", "--json").data["settings"]["addresses"] == []

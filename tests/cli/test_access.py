"""``feedwright access``: the passphrase from a pipe, opening and closing, devices, and what ``serve`` makes of it."""

import io
import json
import re
import signal
import socket
import ssl
import subprocess
import sys
import urllib.error
import urllib.request
from pathlib import Path

import pytest
from tests.cli.conftest import Command, Process

WORDS = "quince anvil harbour moth"


@pytest.fixture
def guarded(ash: Command, monkeypatch: pytest.MonkeyPatch) -> Command:
    """A farm with a passphrase."""
    monkeypatch.setattr(sys, "stdin", io.StringIO(f"{WORDS}\n"))
    assert ash("access", "passphrase").code == 0
    return ash


def test_the_way_from_closed_to_open_and_back(ash: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    assert "No passphrase is set." in ash("access", "show").out
    refused = ash("access", "open")
    assert refused.code == 2
    assert "feedwright access passphrase" in refused.err
    monkeypatch.setattr(sys, "stdin", io.StringIO("too short\n"))
    assert ash("access", "passphrase").code == 2
    monkeypatch.setattr(sys, "stdin", io.StringIO(f"{WORDS}\n"))
    assert ash("access", "passphrase").code == 0
    assert ash("access", "open", "--name", "feed.example", "--json").data["names"] == ["feed.example"]
    assert "Open to the network" in ash("access", "show").out
    assert ash("access", "sign-out", "--json").data == {"ended": 0}
    assert ash("access", "sign-out", "7").code == 2
    assert ash("access", "close").code == 0
    assert ash("access", "show", "--json").data["access"]["open"] is False
    kinds = [line["entry"]["kind"] for line in ash("access", "log", "--json").data]
    assert kinds == ["closed", "signed_out_everywhere", "opened", "passphrase_set"]
    assert WORDS not in ash("access", "log").out + ash("acts").out


def test_a_device_is_made_listed_and_revoked(ash: Command) -> None:
    made = ash("access", "device", "add", "Sensor", "--scope", "read", "--json").data
    assert re.fullmatch(r"fw-[\w-]{43}", made["token"])
    shown = ash("access", "device", "list")
    assert "Sensor" in shown.out
    assert made["token"] not in shown.out
    assert ash("access", "device", "revoke", str(made["number"]), "--reason", "lost").code == 0
    assert ash("access", "device", "list", "--json").data == []
    assert ash("access", "device", "add", "Sensor", "--scope", "all").code == 2


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.1"])
def test_beyond_this_machine_nothing_is_served_unguarded(guarded: Command, host: str) -> None:
    said = guarded("serve", "--host", host, "--port", "0")
    assert (said.code, said.out) == (2, "")
    assert "feedwright access open" in said.err


def test_a_certificate_needs_its_key_and_both_must_be_such(guarded: Command, tmp_path: Path) -> None:
    nothing = tmp_path / "nothing.pem"
    nothing.write_text("nothing")
    for words in (["--key", nothing], ["--certificate", nothing], ["--certificate", nothing, "--key", nothing]):
        said = guarded("serve", "--port", "0", *words)
        assert (said.code, said.out) == (2, "")
        assert "--certificate and --key" in said.err


def address_of(running: "subprocess.Popen[str]") -> str:
    assert running.stdout is not None
    text = ""
    while not text.endswith("\n}\n"):
        line = running.stdout.readline()
        assert line, running.communicate()[1]
        text += line
    return str(json.loads(text)["address"])


def ended(running: "subprocess.Popen[str]") -> str:
    running.send_signal(signal.SIGINT)
    out, err = running.communicate(timeout=30)
    assert running.returncode == 0
    return out + err


def status(address: str, headers: dict[str, str]) -> int:
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    try:
        with opener.open(urllib.request.Request(address, headers=headers), timeout=30) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as refused:
        return refused.code


def test_no_header_makes_a_real_server_take_a_stranger_for_this_machine(guarded: Command, process: Process) -> None:
    """A server in front of ours could be told to believe them: it is not."""
    guarded("access", "open")
    running = process("serve", "--host", "127.0.0.1", "--port", "0", "--json")
    address = address_of(running)
    try:
        assert status(f"{address}api/v1/me", {}) == 200
        assert status(f"{address}api/v1/me", {"X-Forwarded-For": "127.0.0.1"}) == 401
        assert status(f"{address}api/v1/me", {"X-Forwarded-For": "192.0.2.9", "X-Forwarded-Proto": "https"}) == 401
        assert status(f"{address}api/v1/me", {"Forwarded": "for=127.0.0.1"}) == 401
        with urllib.request.build_opener(urllib.request.ProxyHandler({})).open(address, timeout=30) as answer:
            assert "server" not in {name.lower() for name in answer.headers}
    finally:
        ended(running)


def test_opened_it_listens_on_every_address_and_says_what_that_means(guarded: Command, process: Process) -> None:
    guarded("access", "open")
    running = process("serve", "--port", "0", "--json")
    address = address_of(running)
    port = address.rstrip("/").rpartition(":")[2]
    try:
        assert status(f"http://127.0.0.1:{port}/api/v1/me", {}) == 200
        own = socket.gethostbyname(socket.gethostname())
        if not own.startswith("127."):
            assert status(f"http://{own}:{port}/api/v1/me", {}) == 401
    finally:
        said = ended(running)
    assert "asked for the passphrase" in said
    assert "can be read on its way" in said


def test_with_a_certificate_it_serves_https(guarded: Command, process: Process, tmp_path: Path) -> None:
    key, certificate = tmp_path / "key.pem", tmp_path / "certificate.pem"
    made = subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-days", "1",
         "-subj", "/CN=localhost", "-addext", "subjectAltName=DNS:localhost", "-keyout", key, "-out", certificate],
        capture_output=True, check=False,
    )  # fmt: skip
    if made.returncode:
        pytest.skip("no openssl to make a certificate with")
    running = process("serve", "--port", "0", "--json", "--certificate", str(certificate), "--key", str(key))
    address = address_of(running)
    assert address.startswith("https://")
    port = address.rstrip("/").rpartition(":")[2]
    trusting = ssl.create_default_context(cafile=str(certificate))
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}), urllib.request.HTTPSHandler(context=trusting))
    try:
        with opener.open(f"https://localhost:{port}/api/v1/me", timeout=30) as answer:
            assert answer.status == 200
            assert answer.headers["strict-transport-security"].startswith("max-age=")
        with (
            socket.create_connection(("localhost", int(port))) as plain,
            trusting.wrap_socket(plain, server_hostname="localhost") as secured,
        ):
            assert secured.version() in ("TLSv1.2", "TLSv1.3")
    finally:
        ended(running)

"""Archives that other hands made or changed: they bring no way in, no secret, and never a traceback."""

import hashlib
import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from feedwright.errors import BadInput
from feedwright.farm.access.access import access, open_to_network, set_passphrase
from feedwright.farm.exchange.archives import export_farm, import_farm
from feedwright.farm.ground.house import open_farm
from feedwright.farm.prints.runs import add_run
from feedwright.records import archive as archives
from feedwright.records.store import Store

Members = dict[str, bytes]
Manifest = dict[str, Any]
WHEN = "2026-01-01T00:00:00Z"


def put(members: Members, manifest: Manifest, table: str, held: bytes) -> None:
    """A table and its line in the manifest, in agreement."""
    member = f"records/{table}.jsonl"
    members[member] = held
    digest = hashlib.sha256(held).hexdigest()
    manifest["tables"][table] = {"file": member, "rows": held.count(b"\n"), "sha256": digest}


def row(**columns: object) -> bytes:
    return json.dumps(columns, separators=(",", ":")).encode() + b"\n"


def first_changed(members: Members, manifest: Manifest, table: str, **columns: object) -> None:
    lines = members[f"records/{table}.jsonl"].splitlines(keepends=True)
    put(members, manifest, table, row(**(json.loads(lines[0]) | columns)) + b"".join(lines[1:]))


def brings_a_device(members: Members, manifest: Manifest) -> None:
    put(members, manifest, "devices", row(
        id=1, name="mine", scopes="read record manage", token_sha256="a" * 64, made_utc=WHEN, person_id=None, act_id=1,
        void_act_id=None,
    ))  # fmt: skip


def brings_a_passphrase(members: Members, manifest: Manifest) -> None:
    put(members, manifest, "passphrase", row(id=1, secret="mine", set_utc=WHEN))


def brings_a_secret(members: Members, manifest: Manifest) -> None:
    put(members, manifest, "secrets", row(name="notice addresses", value="[]"))


def lacks_a_table(members: Members, manifest: Manifest) -> None:
    del members[manifest["tables"].pop("people")["file"]]


def number_too_large(members: Members, manifest: Manifest) -> None:
    first_changed(members, manifest, "people", id=2**70)


def half_a_letter(members: Members, manifest: Manifest) -> None:
    first_changed(members, manifest, "people", name="\ud800")


def list_for_a_name(members: Members, manifest: Manifest) -> None:
    first_changed(members, manifest, "people", name=["Ines"])


def unknown_part(members: Members, manifest: Manifest) -> None:
    first_changed(members, manifest, "fittings", part_kind="no such part")


def nested_deep(members: Members, manifest: Manifest) -> None:
    put(members, manifest, "people", b"[" * 100_000 + b"\n")


def no_count(_members: Members, manifest: Manifest) -> None:
    del manifest["tables"]["people"]["rows"]


def files_as_a_list(_members: Members, manifest: Manifest) -> None:
    manifest["files"] = sorted(manifest["files"])


def no_schema_of_ours(_members: Members, manifest: Manifest) -> None:
    manifest["schema"] = "0003x"


@pytest.mark.parametrize(
    "change",
    [
        brings_a_device, brings_a_passphrase, brings_a_secret, lacks_a_table, number_too_large, half_a_letter,
        list_for_a_name, unknown_part, nested_deep, no_count, files_as_a_list, no_schema_of_ours,
    ],
    ids=lambda change: change.__name__,
)  # fmt: skip
def test_what_no_export_of_ours_holds_is_refused(
    farm: Store, tmp_path: Path, change: Callable[[Members, Manifest], None]
) -> None:
    export_farm(farm, tmp_path / "farm.zip")
    with zipfile.ZipFile(tmp_path / "farm.zip") as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    manifest = json.loads(members.pop("manifest.json"))
    change(members, manifest)
    with zipfile.ZipFile(tmp_path / "other.zip", "w") as archive:
        for name, held in (*members.items(), ("manifest.json", json.dumps(manifest).encode())):
            archive.writestr(name, held)
    with pytest.raises(BadInput):
        import_farm(tmp_path / "other.zip", tmp_path / "back")
    assert not (tmp_path / "back").exists()


def test_what_unpacks_to_more_than_the_disk_has_is_refused_before_it_is_unpacked(
    farm: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    export_farm(farm, tmp_path / "farm.zip")
    usage = archives.shutil.disk_usage(tmp_path)
    monkeypatch.setattr(archives.shutil, "disk_usage", lambda _path: usage._replace(free=1000))
    with pytest.raises(BadInput, match="are free"):
        import_farm(tmp_path / "farm.zip", tmp_path / "back")


def test_a_farm_that_was_open_to_the_network_comes_back_closed(farm: Store, tmp_path: Path) -> None:
    set_passphrase(farm, "tall ash by the brook")
    open_to_network(farm)
    add_run(farm, "Alder", material="pla", hours=1.0)
    export_farm(farm, tmp_path / "farm.zip")
    import_farm(tmp_path / "farm.zip", tmp_path / "back")
    with open_farm(tmp_path / "back") as store:
        set_passphrase(store, "another tall ash by the brook")
        assert not access(store).open

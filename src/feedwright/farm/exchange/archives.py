"""The whole farm as one archive, and an archive as a farm again, proved by counting."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput
from feedwright.farm.access.access import OPEN
from feedwright.farm.exchange.notices import NOTICES_ON
from feedwright.farm.exchange.ways import BROKER
from feedwright.farm.machines.totals import recount
from feedwright.farm.toolpaths.arrivals import WATCH_FOLDER
from feedwright.records.archive import read_archive, write_archive
from feedwright.records.store import ActInHand, Store
from feedwright.records.values import ExposureTotal, Setting
from feedwright.wear.exposure import law_key

Progress = Callable[[float, float], None]
OFF = {WATCH_FOLDER: "", BROKER: None, NOTICES_ON: False, OPEN: False}
"""Ways in and out that a farm brought back does not take up by itself: the old one may still be at work."""


@dataclass(frozen=True, slots=True)
class ArchiveSheet:
    """What an archive holds."""

    path: str
    made_utc: str
    schema: str
    rows: dict[str, int]
    """Rows of each table that has any."""
    files: int
    recounted: int = 0
    """Fittings whose totals were counted again and came out the same."""


def export_farm(store: Store, path: Path, *, progress: Progress | None = None) -> ArchiveSheet:
    """Write the farm into a new archive; secrets, devices and sign-ins stay behind."""
    return _sheet(path, write_archive(store, path, progress=progress), 0)


def import_farm(path: Path, to_folder: Path, *, progress: Progress | None = None) -> ArchiveSheet:
    """Bring an archive back as a farm in a new or empty folder, every total counted again and found the same."""
    if not path.is_file():
        raise BadInput(str(path), expected="expected an archive", remedy="check the path")
    counted = 0

    def prove(store: Store) -> None:
        nonlocal counted
        with store.act("import farm", reason=f"from {path.name:.200}") as act:
            counted = _recounted(act)
            for name, value in OFF.items():
                if name in act.settings():
                    act.add(Setting(name, json.dumps(value)))

    manifest = read_archive(path, to_folder, prove, progress=progress)
    return _sheet(path, manifest, counted)


def _recounted(act: ActInHand) -> int:
    """Count all totals again; refuses where one kept under the same wear law comes out otherwise. Returns how many."""
    catalogue = load_catalogue()
    laws = {kind.id: law_key(kind, catalogue) for kind in catalogue.parts.values()}
    kept = act.exposures()
    same = 0
    for machine in act.machines():
        recount(act, catalogue, machine.id)
        counted = act.exposures(machine.id)
        for fitting in act.fittings(machine.id):
            law = laws[fitting.part_kind]
            before = kept.get(fitting.id, ExposureTotal(law, 0, 0))
            if before.law_key == law and before != counted[fitting.id]:
                where = f"{fitting.part_kind} {fitting.position} of {machine.name}"
                expected = "counted again, its total is not the one that was kept"
                raise BadInput("archive", place=where, expected=expected, remedy="take another archive")
            same += before.law_key == law
    return same


def _sheet(path: Path, manifest: dict[str, object], recounted: int) -> ArchiveSheet:
    tables: dict[str, dict[str, int]] = manifest["tables"]  # type: ignore[assignment]
    files: dict[str, object] = manifest["files"]  # type: ignore[assignment]
    rows = {name: said["rows"] for name, said in tables.items() if said["rows"]}
    return ArchiveSheet(str(path), str(manifest["made_utc"]), str(manifest["schema"]), rows, len(files), recounted)

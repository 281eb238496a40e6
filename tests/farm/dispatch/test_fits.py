"""A file is held against a machine with the parts that are fitted to it."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from feedwright.errors import BadInput, BadToolpath, NotFound
from feedwright.farm.dispatch.fits import FitReport, fit
from feedwright.farm.ground.house import open_farm
from feedwright.farm.machines.machines import add_machine
from feedwright.farm.parts.findings import add_finding
from feedwright.farm.parts.renewals import renew
from feedwright.farm.prints.runs import add_run
from feedwright.farm.toolpaths.toolpaths import keep_toolpath
from feedwright.records.store import Store

SAMPLES = Path(__file__).parents[2] / "data" / "toolpaths"
PRINT = "M83\nM204 S900\nM109 S{at_c}\nG1 Z0.2 F600\nG1 X10 Y10 F6000\n" + "G1 X110 E{e} F3000\nG1 X10 E{e}\n" * 20


@pytest.fixture
def yard(tmp_path: Path):
    with open_farm(tmp_path / "farm", create=True) as store:
        add_machine(store, "Larch", "moving_bed_remote", history="new", at_utc=datetime.now(UTC) - timedelta(days=1))
        yield store


def write(folder: Path, *, at_c: int = 210, e: float = 4.0, more: str = "") -> Path:
    path = folder / "a.gcode"
    path.write_text(PRINT.format(at_c=at_c, e=e) + more)
    return path


def kinds(report: FitReport) -> set[str]:
    return {trouble.kind for trouble in report.troubles}


def test_a_plain_file_fits(yard: Store, tmp_path: Path) -> None:
    report = fit(yard, "Larch", write(tmp_path), material="pla", spool_g=500)
    assert report.troubles == ()
    assert report.verdict == "yes"


def test_a_flow_that_fits_a_sharp_gear_does_not_fit_a_worn_one_grinding(yard: Store, tmp_path: Path) -> None:
    fast = write(tmp_path, e=16.0)
    report = fit(yard, "Larch", fast, material="pla")
    assert "flow" in kinds(report)
    assert report.verdict == "not as it stands"
    assert report.troubles[0].line > 5
    sharp = max(limit for limit in report.walk.picture.limit_mm3_s if limit is not None)
    add_finding(yard, "Larch", "drive_gear", grade="polished")
    worn = fit(yard, "Larch", fast, material="pla")
    assert max(limit for limit in worn.walk.picture.limit_mm3_s if limit is not None) <= sharp


def test_each_trouble_names_its_cause(yard: Store, tmp_path: Path) -> None:
    assert "liner" in kinds(fit(yard, "Larch", write(tmp_path, at_c=270), material="abs"))
    assert "too cold" in kinds(fit(yard, "Larch", write(tmp_path, at_c=190), material="petg"))
    assert "travel" in kinds(fit(yard, "Larch", write(tmp_path, more="G1 X400 E9\n"), material="pla"))
    assert "spool" in kinds(fit(yard, "Larch", write(tmp_path), material="pla", spool_g=0.1))
    assert "limits" in kinds(fit(yard, "Larch", write(tmp_path, more="M204 S90000\nG1 X50 E1\n"), material="pla"))
    assert "nozzle" in kinds(fit(yard, "Larch", write(tmp_path), material="pla_carbon"))


def test_fitting_the_right_parts_removes_the_trouble(yard: Store, tmp_path: Path) -> None:
    renew(yard, "Larch", "nozzle", product="hardened_steel")
    renew(yard, "Larch", "guide_tube", product="bore_1_9", length_mm=420)
    assert {"bore"} == kinds(fit(yard, "Larch", write(tmp_path), material="pla_carbon")) & {"bore", "nozzle"}


def test_a_part_that_may_not_last_the_print_is_named(yard: Store, tmp_path: Path) -> None:
    fresh = fit(yard, "Larch", write(tmp_path), material="pla")
    assert fresh.spoiled_frac < 0.01
    assert fresh.parts[0].failure_frac >= fresh.parts[-1].failure_frac
    before = datetime.now(UTC) - timedelta(hours=9)
    add_run(yard, "Larch", material="pla", hours=300, nozzle_c=245, started_utc=before)
    worn = fit(yard, "Larch", write(tmp_path, at_c=245, more="G4 S900000\n"), material="pla")
    assert "wear" in kinds(worn)
    assert worn.spoiled_frac > 0.25


def test_a_known_toolpath_is_found_by_name(yard: Store) -> None:
    keep_toolpath(yard, SAMPLES / "d09.gcode.gz", name="lid.gcode")
    report = fit(yard, "Larch", "lid.gcode", material="pla")
    assert report.file == "lid.gcode"
    assert report.duty.moves > 1000


def test_what_cannot_be_held_against_a_machine_is_refused(yard: Store, tmp_path: Path) -> None:
    with pytest.raises(BadToolpath, match="read as"):
        fit(yard, "Larch", SAMPLES / "d10.gcode", material="pla")
    with pytest.raises(NotFound, match="Larch"):
        fit(yard, "Lurch", write(tmp_path), material="pla")
    with pytest.raises(NotFound):
        fit(yard, "Larch", "nothing.gcode", material="pla")
    with pytest.raises(BadInput, match="filament left"):
        fit(yard, "Larch", write(tmp_path), material="pla", spool_g=-1)

"""A run is charged with what was printed of it, and can be told again."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput, BadToolpath, NotFound
from feedwright.farm.desk.sheets import machine_sheet
from feedwright.farm.machines.machines import change_machine, machine_named
from feedwright.farm.parts.events import add_event
from feedwright.farm.parts.findings import add_finding
from feedwright.farm.prints.runs import add_run, add_runs, run_lines, run_receipt
from feedwright.farm.prints.voids import void
from feedwright.farm.toolpaths.toolpaths import reading_for, toolpath_named
from feedwright.records.store import Store
from feedwright.records.values import Run
from feedwright.toolpath.values import Stretch

SAMPLES = Path(__file__).parents[2] / "data" / "toolpaths"
BEGUN = datetime.fromisoformat("2026-03-02T08:00Z")


def test_a_new_file_is_read_kept_and_charged_in_one_act(farm: Store) -> None:
    before = farm.latest_act_id()
    receipt = add_run(farm, "Alder", toolpath=SAMPLES / "d18.gcode", material="pla", started_utc=BEGUN, person="ines")
    assert farm.latest_act_id() == before + 1
    known = toolpath_named(farm, "d18.gcode")
    assert (receipt.run.toolpath_id, known.act_id) == (known.id, receipt.run.act_id)
    duty = reading_for(farm, known, receipt.machine).duty
    assert duty is not None
    whole = duty.whole
    assert whole.nozzle_s == (), "this file leaves the heat to the person"
    hot_s = whole.printing_s + whole.travel_s
    assert receipt.charge == replace(whole, nozzle_s=((load_catalogue().materials["pla"].nozzle_c.value, hot_s),))
    assert "sets no nozzle temperature" in receipt.remarks[-1]
    assert farm.runs() == [receipt.run]
    assert run_lines(farm)[0].toolpath == known
    assert farm.acts(1)[0].person_id == 1
    used = {change.part: change.exposure_after - change.exposure_before for change in receipt.changes}
    assert min(used["Tube end"], used["Nozzle"], used["Sink fan"], used["Drive gear"]) > 0
    assert used["Guide tube"] == pytest.approx(
        (receipt.charge.filament_forward_mm + receipt.charge.filament_back_mm) / 1000, abs=2e-9
    )
    assert run_receipt(farm, receipt.run.id) == receipt


@settings(deadline=None, max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(fraction=st.floats(0, 1), copies=st.integers(1, 5))
def test_a_run_that_was_stopped_is_charged_its_copies_and_its_share_of_the_last(
    farm: Store, fraction: float, copies: int
) -> None:
    duty = reading_for(farm, toolpath_named(farm, "d09.gcode.gz"), machine_named(farm, "Alder")).duty
    assert duty is not None
    receipt = add_run(
        farm, "Alder", toolpath="d09.gcode.gz", material="pla", outcome="stopped", fraction=fraction, copies=copies
    )
    seconds = duty.whole.duration_s * (copies - 1 + fraction)
    assert receipt.charge.duration_s == pytest.approx(seconds, rel=1e-9, abs=1e-6)
    last = duty.share(fraction)
    assert receipt.charge.reversals == pytest.approx(duty.whole.reversals * (copies - 1) + last.reversals)
    # the share holds the slices that were printed in full, and no more than one begun slice besides
    whole_slices = 0.0
    for piece in duty.profile.slices:
        if whole_slices + piece.duration_s > last.duration_s:
            break
        whole_slices += piece.duration_s
    assert 0 <= last.duration_s - whole_slices <= duty.profile.slice_s * (1 + 1e-9)


def test_the_shares_of_a_print_grow_with_the_fraction_in_every_quantity(farm: Store) -> None:
    shares = [
        add_run(farm, "Alder", toolpath="d09.gcode.gz", material="pla", outcome="stopped", fraction=step / 10).charge
        for step in range(11)
    ]
    assert shares[0] == Stretch()
    for less, more in pairwise(shares):
        for quantity in ("duration_s", "filament_forward_mm", "filament_back_mm", "reversals", "travel_x_mm", "hot_s"):
            assert getattr(less, quantity) <= getattr(more, quantity)
    assert shares[-1] == add_run(farm, "Alder", toolpath="d09.gcode.gz", material="pla").charge


def test_hours_without_a_file_are_charged_at_the_usual_figures_and_the_filament_that_was_weighed(farm: Store) -> None:
    receipt = add_run(farm, "Alder", material="petg", hours=3.5, copies=2, filament_g=80.0, nozzle_c=245)
    assert receipt.charge.duration_s == 7 * 3600
    assert receipt.charge.nozzle_s == ((245.0, 7 * 3600.0),)
    assert receipt.charge.nozzle_heat_ups == 2, "each copy is a print of its own"
    assert machine_sheet(farm, "Alder", BEGUN).filament_kg == pytest.approx(0.160), "80 g a copy"


@pytest.mark.parametrize(
    "given",
    [
        {"hours": 10_000, "copies": 11},
        {"hours": 10_000, "copies": 10_000},
        {"hours": 1, "filament_g": 1e5, "copies": 1000},
        {"toolpath": "d09.gcode.gz", "copies": 10**400},
    ],
)
def test_a_run_of_more_than_anybody_prints_is_refused_and_writes_nothing(farm: Store, given: dict[str, Any]) -> None:
    """Totals are whole numbers of 64 bits, and 100 million hours would not fit."""
    before = farm.counts()
    with pytest.raises(BadInput, match=r"of all copies|^copies"):
        add_run(farm, "Alder", material="pla", nozzle_c=500, **given)
    with pytest.raises(BadInput, match="run 1"):
        add_runs(farm, "Alder", [Run(0, BEGUN, "complete", "pla", hours=10_000, copies=10_000)])
    assert farm.counts() == before


def test_weighed_filament_counts_the_same_on_a_machine_with_thicker_filament(farm: Store) -> None:
    from feedwright.farm.machines.machines import add_machine

    add_machine(
        farm, "Yew", "moving_bed_direct", history="new", at_utc=BEGUN, motion_changes={"filament_diameter_mm": 2.85}
    )
    add_run(farm, "Yew", material="petg", hours=3.5, filament_g=80.0, started_utc=BEGUN)
    assert machine_sheet(farm, "Yew", BEGUN).filament_kg == pytest.approx(0.080)


def test_a_nozzle_set_hotter_than_the_file_says_wears_hotter(farm: Store) -> None:
    as_filed = add_run(farm, "Alder", toolpath="d20.gcode", material="pla").charge
    main_c = max(as_filed.nozzle_s, key=lambda level: level[1])[0]
    hotter = add_run(farm, "Alder", toolpath="d20.gcode", material="pla", nozzle_c=main_c + 25).charge
    assert hotter.nozzle_s == tuple((at_c + 25, seconds) for at_c, seconds in as_filed.nozzle_s)
    assert replace(hotter, nozzle_s=as_filed.nozzle_s) == as_filed


BACK_AND_FORTH = "G1 X90 E5\nG1 X5 E5\n"
LEVELS = (
    "G28\nM83\nG1 F600\nM109 S{start}\n" + 3 * BACK_AND_FORTH + "M104 S{main}\n" + 40 * BACK_AND_FORTH + "M104 S0\n"
)
"""Hot or cold at first, then for long at the main temperature."""


def test_a_run_stopped_early_is_shifted_by_the_whole_files_main_temperature(farm: Store, tmp_path: Path) -> None:
    """Set 10 K hotter than the file's 200 °C, its first layer at 240 °C ran at 250 °C, and not at 210 °C."""
    file = tmp_path / "levels.gcode"
    file.write_text(LEVELS.format(start=240, main=200))
    begun = add_run(farm, "Alder", toolpath=file, material="pla", nozzle_c=210, outcome="stopped", fraction=0.16)
    assert [at_c for at_c, _ in begun.charge.nozzle_s] == [250.0]
    whole = add_run(farm, "Alder", toolpath=file, material="pla", nozzle_c=210)
    assert [at_c for at_c, _ in whole.charge.nozzle_s] == [210.0, 250.0]


def test_no_run_is_charged_at_a_temperature_no_nozzle_has(farm: Store, tmp_path: Path) -> None:
    file = tmp_path / "levels.gcode"
    file.write_text(LEVELS.format(start=20, main=300))
    cold = add_run(farm, "Alder", toolpath=file, material="pla", nozzle_c=15)
    assert [at_c for at_c, _ in cold.charge.nozzle_s] == [15.0]
    assert cold.charge.hot_s == pytest.approx(add_run(farm, "Alder", toolpath=file, material="pla").charge.hot_s)
    hot = add_run(farm, "Alder", toolpath=file, material="pla", nozzle_c=500)
    assert [at_c for at_c, _ in hot.charge.nozzle_s] == [220.0, 500.0]
    for nozzle_c in (0, 14.9, 500.1):
        with pytest.raises(BadInput, match="15 to 500 °C"):
            add_run(farm, "Alder", toolpath=file, material="pla", nozzle_c=nozzle_c)
    file.write_text(LEVELS.format(start=20, main=1500))
    with pytest.raises(BadInput, match="hottest nozzle temperature"):
        add_run(farm, "Alder", toolpath=file, material="pla")


@pytest.mark.parametrize("note", ["x" * 2001, "bell \a", "\udcff"])
def test_a_note_that_cannot_be_shown_is_refused_and_writes_nothing(farm: Store, note: str) -> None:
    before = farm.counts()
    for record in (
        lambda: add_run(farm, "Alder", material="pla", hours=1, note=note),
        lambda: add_runs(farm, "Alder", [Run(0, BEGUN, "complete", "pla", hours=2.0, note=note)]),
        lambda: add_event(farm, "Alder", "jam", note=note),
        lambda: add_finding(farm, "Alder", "nozzle", grade="clean", note=note),
        lambda: change_machine(farm, "Alder", {"note": "boxed"}, reason=note),
        lambda: void(farm, "person", 1, note),
    ):
        with pytest.raises(BadInput, match=r"^(note|reason)"):
            record()
    assert farm.counts() == before


def test_a_run_before_the_parts_were_fitted_wears_none_of_them(farm: Store) -> None:
    receipt = add_run(farm, "Alder", material="pla", hours=5, started_utc=BEGUN - timedelta(seconds=1))
    assert receipt.changes == ()
    assert receipt.remarks[-1].startswith("No part is on record as fitted at that time, so none is charged")
    assert "2026-03-02 08:00 UTC" in receipt.remarks[-1]
    assert run_receipt(farm, receipt.run.id) == receipt
    assert farm.exposures() == {}


def test_many_runs_at_once_charge_what_they_would_one_by_one(farm: Store) -> None:
    known = toolpath_named(farm, "d20.gcode")
    week = [
        Run(0, BEGUN, "complete", "pla", known.id, copies=3),
        Run(0, BEGUN + timedelta(hours=9), "spoiled", "petg", known.id, fraction=0.37, nozzle_c=250),
        Run(0, BEGUN + timedelta(days=1), "stopped", "PLA carbon", hours=4.25, fraction=0.5, filament_g=31.0),
        Run(0, BEGUN - timedelta(days=1), "complete", "pla", hours=2.0),
    ]
    numbers = add_runs(farm, "Alder", week, person="Ines")
    assert [run.id for run in farm.runs()] == numbers
    assert len({run.act_id for run in farm.runs()}) == 1
    at_once = farm.exposures()
    for number in numbers:
        void(farm, "run", number, "again, one by one")
    for run in week:
        given = {
            name: getattr(run, name) for name in ("hours", "outcome", "copies", "nozzle_c", "filament_g", "material")
        }
        toolpath = known.sha256[:12] if run.toolpath_id else None
        share = None if run.outcome == "complete" else run.fraction
        add_run(farm, "Alder", toolpath=toolpath, started_utc=run.started_utc, fraction=share, **given)
    assert farm.exposures() == at_once


def test_one_bad_run_among_many_is_named_by_its_row_and_none_is_written(farm: Store) -> None:
    before = farm.counts()
    good = Run(0, BEGUN, "complete", "pla", hours=2.0)
    for bad, place in (
        (replace(good, material="cheese"), "run 2: “cheese”"),
        (replace(good, hours=None), "run 2"),
        (replace(good, toolpath_id=99, hours=None), "run 2"),
        (replace(good, fraction=0.5), "run 2: 0.5"),
        (replace(good, started_utc=datetime(2026, 3, 1)), "run 2: 2026-03-01 00:00:00"),  # noqa: DTZ001
    ):
        with pytest.raises(BadInput) as refused:
            add_runs(farm, "Alder", [good, bad])
        assert refused.value.place == place
        assert refused.value.expected
    assert farm.counts() == before
    assert add_runs(farm, "Alder", []) == []


def test_text_names_a_known_toolpath_and_never_opens_a_file(farm: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    """A form's field goes this way: it must not read what lies on the server."""
    monkeypatch.chdir(SAMPLES)
    for name in ("d18.gcode", str(SAMPLES / "d18.gcode"), "/etc/passwd", "x" * 5000, "\0"):
        with pytest.raises(NotFound):
            add_run(farm, "Alder", toolpath=name, material="pla")


def test_a_refused_file_leaves_neither_record_nor_copy(farm: Store) -> None:
    before, copies = farm.counts(), sorted((farm.folder / "toolpaths").iterdir())
    with pytest.raises(BadToolpath) as refused:
        add_run(farm, "Alder", toolpath=SAMPLES / "d02.gcode", material="pla")
    assert refused.value.subject == "d02.gcode"
    assert "milling" in refused.value.place
    with pytest.raises(BadInput):
        add_run(farm, "Alder", toolpath=SAMPLES / "d18.gcode", material="pla", nozzle_c=2000)
    after = farm.counts()
    assert {name: count for name, count in after.items() if name != "readings"} == {
        name: count for name, count in before.items() if name != "readings"
    }
    assert sorted((farm.folder / "toolpaths").iterdir()) == copies


def test_a_void_run_is_not_told_again(farm: Store) -> None:
    number = add_run(farm, "Alder", material="pla", hours=1).run.id
    void(farm, "run", number, "was not printed")
    for gone in (number, 99, 10**30):
        with pytest.raises(NotFound, match=f"number {gone}"):
            run_receipt(farm, gone)


def test_a_run_is_told_again_though_its_kept_copy_is_gone(farm: Store) -> None:
    from feedwright.farm.machines.machines import change_machine

    receipt = add_run(farm, "Alder", toolpath="d20.gcode", material="pla", started_utc=BEGUN)
    change_machine(farm, "Alder", {"retract_mm": 5.5}, reason="longer tube")
    for copy in (farm.folder / "toolpaths").iterdir():
        copy.unlink()
    assert run_receipt(farm, receipt.run.id).changes == receipt.changes


def test_a_run_that_would_end_later_than_now_is_recorded_with_a_word_of_doubt(farm: Store) -> None:
    told = add_run(farm, "Alder", material="pla", hours=500.0).remarks
    assert any("goes on for 20 d 20 h more" in text for text in told)
    over = add_run(farm, "Alder", material="pla", hours=2.0, started_utc=datetime.now(UTC) - timedelta(hours=2))
    assert not any("goes on" in text for text in over.remarks)

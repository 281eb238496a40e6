"""Files taken in whole or not at all, and what goes out comes in again with the same totals."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from feedwright.errors import BadInput, Conflict, FeedwrightError, NotFound
from feedwright.farm.exchange.csv_columns import KINDS, Reading, guessed_kind, guessed_reading
from feedwright.farm.exchange.csv_in import look_at, naming_row, take_in
from feedwright.farm.exchange.csv_out import csv_lines, lists
from feedwright.farm.exchange.csv_rows import Row, prepare_runs
from feedwright.farm.ground.csv_text import Writing
from feedwright.farm.ground.house import open_farm
from feedwright.farm.ground.settings import set_zone
from feedwright.farm.machines.machines import add_machine, machines
from feedwright.farm.machines.totals import exposures
from feedwright.farm.parts.events import add_event
from feedwright.farm.parts.findings import add_finding
from feedwright.farm.parts.renewals import renew
from feedwright.farm.prints.runs import add_run
from feedwright.farm.stores.stores import add_item
from feedwright.farm.toolpaths.toolpaths import keep_toolpath
from feedwright.records.store import Store
from feedwright.records.values import Setting

SAMPLES = Path(__file__).parents[2] / "data" / "toolpaths"
BEGUN = datetime(2026, 3, 2, 8, tzinfo=UTC)
RUNS = (
    "Printer;Date;Material;Print time (min);Filament (kg);Result;Remark\n"
    "alder;03.03.2026 09:30;PLA;90;0,05;;\n"
    "Beech;23.03.2026;petg;600;;spoiled;'=strings off\n"
)


def csv_of(store: Store, name: str) -> bytes:
    return "".join(csv_lines(store, name)).encode()


def lived(store: Store) -> None:
    """A few weeks of a farm with every kind of record that can come in."""
    day = timedelta(days=1)
    for number in range(6):
        hours = {"hours": 5.5 + number, "filament_g": 80.0, "nozzle_c": 214.5}
        add_run(store, "Alder", material="pla", started_utc=BEGUN + number * day, note=f"=plate {number}", **hours)
    add_run(store, "Beech", material="petg", toolpath="d20.gcode", started_utc=BEGUN + day, copies=3)
    add_run(store, "Beech", material="petg", toolpath="d20.gcode", started_utc=BEGUN + 2 * day, outcome="spoiled",
            fraction=0.37, note='two\nlines, "quoted"; and a comma')  # fmt: skip
    add_finding(store, "Alder", "nozzle", grade="trace", found_utc=BEGUN + day, note="-brown rim")
    add_finding(store, "Beech", "nozzle", reading=0.43, reading_unit="mm", found_utc=BEGUN + 3 * day)
    renew(store, "Alder", "nozzle", reason="worn", grade_found="trace", renewed_utc=BEGUN + 2 * day, minutes=12.5)
    renew(store, "Alder", "guide_tube", renewed_utc=BEGUN + 3 * day, length_mm=640)
    renew(store, "Alder", "tube_end", renewed_utc=BEGUN + 4 * day, trimmed_mm=7.5, note="@bench")
    add_event(store, "Beech", "fan_stall", at_utc=BEGUN + 3 * day, nozzle_c=230.0, minutes=25.0, material="petg")
    add_item(store, "Brass nozzles", ["nozzle:brass"], on_hand=7, pack_count=5, pack_price="4.20", lead_days=6)


def totals(store: Store) -> dict[str, object]:
    known = machines(store)
    used = exposures(store, known)
    by_name = {machine.id: machine.name for machine in known}
    charged = [stretch for _, stretch in store.charged_runs()]
    return {
        "hours": sum(one.duration_s for one in charged),
        "filament": sum(one.filament_net_mm for one in charged),
        "runs": sorted(
            (by_name[run.machine_id], run.started_utc, run.outcome, run.fraction, run.note) for run in store.runs()
        ),
        "fitted": sorted(
            (by_name[one.machine_id], one.part_kind, one.position, one.product, one.history, one.exposure_before,
             one.length_mm, one.fitted_utc, used.get(one.id, 0.0))
            for one in store.fittings(open_only=True)
        ),
        "events": sorted((one.kind, one.at_utc, one.nozzle_c, one.minutes, one.note) for one in store.events()),
        "removals": sorted(
            (one.removed_utc, one.reason, one.trimmed_mm, one.minutes, one.note) for one in store.removals()
        ),
        "findings": sorted((one.found_utc, one.grade, one.reading, one.note) for one in store.findings()),
    }  # fmt: skip


def test_what_goes_out_comes_into_an_empty_farm_with_the_same_totals(farm: Store, tmp_path: Path) -> None:
    add_machine(
        farm, "Elm", "moving_bed_remote", history="used", in_service_since=BEGUN - timedelta(days=200), at_utc=BEGUN,
        product_changes={"nozzle": "hard_tip"},
        motion_changes={"travel_acceleration_mm_s2": 1234.0}, box_mm=(200, 210, 220),
    )  # fmt: skip
    lived(farm)
    with open_farm(tmp_path / "empty", create=True) as empty:
        keep_toolpath(empty, SAMPLES / "d20.gcode")
        for kind in ("machines", "stores", "renewals", "findings", "events", "runs"):
            content = csv_of(farm, kind)
            look = look_at(empty, content, f"{kind}.csv")
            assert (look.reading.kind, look.missing, look.faults, look.refused) == (kind, (), (), "")
            taken = take_in(empty, content, f"{kind}.csv")
            assert (taken.new, taken.known) == (look.new, 0)
        assert totals(empty) == totals(farm)
        assert csv_of(empty, "stores") == csv_of(farm, "stores")
        assert [m.motion for m in machines(empty)] == [m.motion for m in machines(farm)]
        for kind in ("runs", "renewals", "findings", "events", "machines", "stores"):
            with pytest.raises(BadInput, match="on record already"):
                take_in(empty, csv_of(farm, kind), f"{kind}.csv")
        assert totals(empty) == totals(farm)


def test_a_file_of_another_program_is_read_by_its_headings(farm: Store) -> None:
    set_zone(farm, "Europe/Vienna")
    look = look_at(farm, RUNS.encode("cp1252"), "prints.csv")
    assert look.writing.separator == "semicolon"
    assert (look.writing.decimal_comma, look.writing.date_format) == (True, "day_month_year")
    assert look.reading.units == {"hours": "min", "filament_g": "kg"}
    assert (look.missing, look.faults) == ((), ())
    assert "fraction" in look.refused or look.new == 2
    taken = take_in(farm, RUNS.encode(), "prints.csv")
    assert (taken.kind, taken.new) == ("runs", 2)
    first, second = farm.runs()
    assert first.started_utc == datetime(2026, 3, 3, 8, 30, tzinfo=UTC)
    assert (first.hours, first.filament_g, first.outcome) == (1.5, 50.0, "complete")
    assert (second.outcome, second.note) == ("spoiled", "=strings off")
    again = RUNS + "Beech;24.03.2026;petg;60;;;\n"
    assert take_in(farm, again.encode(), "prints.csv").known == 2


@pytest.mark.parametrize(
    ("bad", "row", "column"),
    [
        ("alder;03.03.2026;PLA;soon;;;", 4, "Print time (min)"),
        ("alder;45.03.2026;PLA;5;;;", 4, "Date"),
        (";03.03.2026;PLA;5;;;", 4, "Printer"),
        ("alder;03.03.2026;PLA;1.000,5;;;", 4, "Print time (min)"),
    ],
)
def test_one_bad_cell_is_named_and_nothing_is_taken(farm: Store, bad: str, row: int, column: str) -> None:
    (fault,) = look_at(farm, f"{RUNS}{bad}\n".encode(), "prints.csv").faults
    assert (fault.line, fault.column) == (row, column)
    with pytest.raises(BadInput) as refused:
        take_in(farm, f"{RUNS}{bad}\n".encode(), "prints.csv")
    assert refused.value.place.startswith(f"row {row}, column “{column}”")
    assert farm.runs() == []


@pytest.mark.parametrize(
    "bad", ["nobody;04.03.2026;PLA;5;;;", "alder;04.03.2026;cheese;5;;;", "alder;04.03.2026;PLA;;;;",
            "alder;04.03.2026;PLA;5;;lost;", "alder;04.03.2099;PLA;5;;;", "alder;04.03.2026;PLA;99999999;;;"],
)  # fmt: skip
def test_what_the_records_refuse_is_named_by_its_row_and_nothing_is_taken(farm: Store, bad: str) -> None:
    before = farm.latest_act_id()
    assert "row 4" in look_at(farm, f"{RUNS}{bad}\n".encode(), "prints.csv").refused
    with pytest.raises(FeedwrightError, match="row 4"):
        take_in(farm, f"{RUNS}{bad}\n".encode(), "prints.csv")
    assert farm.runs() == []
    assert farm.latest_act_id() == before


def test_a_renewal_that_cannot_be_leaves_those_before_it_undone(farm: Store) -> None:
    text = (
        "machine,part,renewed\nAlder,nozzle,2026-03-03\nAlder,fan belt,2026-03-04\n",
        "machine,part,renewed,trimmed_mm\nAlder,nozzle,2026-03-03,\nAlder,tube_end,2026-03-04,9999\n",
    )
    for given in text:
        with pytest.raises(FeedwrightError, match="row 3"):
            take_in(farm, given.encode(), "renewals.csv")
    assert farm.removals() == []


def test_what_the_file_lacks_can_be_said_for_every_row(farm: Store) -> None:
    text = b"day,h\n2026-03-03,4\n2026-03-04,5\n"
    headings = {"started": "day", "hours": "h"}
    assert look_at(farm, text, "x.csv", reading=Reading("runs", headings)).missing == ("machine", "material")
    with pytest.raises(BadInput, match="machine"):
        take_in(farm, text, "x.csv", reading=Reading("runs", headings))
    fixed = {"machine": "Hazel", "material": "pla"}
    assert take_in(farm, text, "x.csv", reading=Reading("runs", headings, fixed=fixed)).new == 2


def test_a_wrong_mapping_is_refused(farm: Store) -> None:
    for reading in (
        Reading("runs", {"machine": "nowhere"}), Reading("runs", {"nonsense": "h"}), Reading("nonsense", {}),
        Reading("runs", {"hours": "h"}, {"hours": "kg"}),
    ):  # fmt: skip
        with pytest.raises((BadInput, NotFound)):
            look_at(farm, b"day,h\n2026-03-03,4\n", "x.csv", reading=reading)


def test_trying_leaves_no_trace(farm: Store) -> None:
    before = farm.counts()
    assert look_at(farm, RUNS.encode(), "prints.csv").new == 2
    assert farm.counts() == before


def test_every_kind_is_guessed_from_its_own_headings() -> None:
    for kind in KINDS.values():
        headings = [column.name for column in kind.columns]
        assert guessed_kind(headings) == kind.name
        assert guessed_reading(kind.name, headings).headings == {name: name for name in headings}
        assert guessed_reading(kind.name, headings).units == {}


def test_everything_can_be_had_and_secrets_cannot(farm: Store) -> None:
    lived(farm)
    farm.ways.keep_secret("broker", "tall ash")
    names = [one.name for one in lists()]
    assert {"bench", "outlooks", "table_acts", "table_runs", "table_hot_spells"} <= set(names)
    assert not {"table_devices", "table_secrets", "table_sessions", "table_passphrase"} & set(names)
    for name in names:
        text = "".join(csv_lines(farm, name))
        assert "tall ash" not in text
        assert text.count("\r\n") >= 1
    with pytest.raises(NotFound):
        csv_lines(farm, "table_secrets")
    rows = "".join(csv_lines(farm, "table_runs")).splitlines()
    assert rows[0].startswith("id,machine_id,started_utc")
    assert "2026-03-02T08:00:00Z" in rows[1]
    assert "'=plate 0" in rows[1]


def test_a_decimal_comma_is_told_apart_from_a_point(farm: Store) -> None:
    with pytest.raises(BadInput, match="decimal point"):
        take_in(farm, b"machine,started,material,hours\nAlder,2026-03-03,pla,\"4,5\"\n", "x.csv",
                writing=Writing("comma", False))  # fmt: skip


def test_settings_leave_no_secret_in_the_tables(farm: Store) -> None:
    assert all("password" not in one.name for one in farm.every(Setting))


def test_a_file_that_is_sent_twice_at_once_is_recorded_once(farm: Store) -> None:
    names = ("machine", "material", "toolpath", "outcome", "note")
    values = dict.fromkeys((column.name for column in KINDS["runs"].columns), None) | dict.fromkeys(names, "")
    row = Row(2, values | {"machine": "Alder", "material": "pla", "started": BEGUN, "hours": 2.0})
    first, second = (prepare_runs(farm, [row], naming_row) for _ in range(2))
    with farm.act("csv in") as act:
        assert first(act) == 0
    with pytest.raises(Conflict, match="meanwhile"), farm.act("csv in") as act:
        second(act)
    assert len(farm.runs()) == 1

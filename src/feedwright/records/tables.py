"""The tables, in SQLAlchemy Core: plain rows for frozen values.

Record tables are append-only: each row names the act that wrote it and, once voided, the act that did so.
Derived tables hold what can be computed again from the records, and may be rewritten.
"""

from sqlalchemy import (
    CheckConstraint,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
)

META = MetaData()


def _one_of(table: str, column: str, *words: str) -> CheckConstraint:
    listed = ", ".join(f"'{word}'" for word in words)
    return CheckConstraint(f"{column} IN ({listed})", name=f"ck_{table}_{column}")


def _record(name: str, *columns: Column[object] | CheckConstraint) -> Table:
    """A record table: its number, its own columns, and the acts that wrote and voided the row."""
    return Table(
        name,
        META,
        Column("id", Integer, primary_key=True),
        *columns,
        Column("act_id", Integer, ForeignKey("acts.id", name=f"fk_{name}_act"), nullable=False),
        Column("void_act_id", Integer, ForeignKey("acts.id", name=f"fk_{name}_void_act")),
    )


def _needed(name: str, kind: type, key: str | None = None, table: str = "") -> Column[object]:
    if key:
        return Column(name, kind, ForeignKey(key, name=f"fk_{table}_{name}"), nullable=False)
    return Column(name, kind, nullable=False)


def _optional(name: str, kind: type, key: str | None = None, table: str = "") -> Column[object]:
    if key:
        return Column(name, kind, ForeignKey(key, name=f"fk_{table}_{name}"))
    return Column(name, kind)


acts = Table(
    "acts",
    META,
    Column("id", Integer, primary_key=True),
    _needed("kind", Text),
    _needed("at_utc", Integer),
    _optional("person_id", Integer),
    _needed("reason", Text),
)

people = _record("people", _needed("name", Text))

machines = _record("machines", _needed("name", Text), _needed("registered_utc", Integer))

machine_states = _record(
    "machine_states",
    _needed("machine_id", Integer, "machines.id", "machine_states"),
    _needed("from_utc", Integer),
    _needed("build", Text),
    _needed("drive", Text),
    _needed("hot_end", Text),
    _needed("box_mm", Text),
    _needed("motion", Text),
    _needed("tube_needed_mm", Float),
    _needed("enclosure_c", Float),
    _needed("note", Text),
    _one_of("machine_states", "drive", "remote", "direct"),
    _one_of("machine_states", "hot_end", "lined", "all_metal"),
)

fittings = _record(
    "fittings",
    _needed("machine_id", Integer, "machines.id", "fittings"),
    _needed("part_kind", Text),
    _needed("position", Integer),
    _needed("product", Text),
    _needed("fitted_utc", Integer),
    _needed("history", Text),
    _needed("exposure_before", Float),
    _optional("length_mm", Float),
    _needed("label", Text),
    _one_of("fittings", "history", "new", "used", "unknown"),
)

removals = _record(
    "removals",
    _needed("fitting_id", Integer, "fittings.id", "removals"),
    _needed("removed_utc", Integer),
    _needed("reason", Text),
    _optional("replaced_by", Integer, "fittings.id", "removals"),
    _optional("trimmed_mm", Float),
    _optional("minutes", Float),
    _needed("note", Text),
    _one_of("removals", "reason", "failed", "worn", "sound", "moved", "retired"),
)

toolpaths = _record(
    "toolpaths",
    _needed("sha256", Text),
    _needed("name", Text),
    _needed("bytes_count", Integer),
    _needed("kind", Text),
    _needed("complete", Integer),
    _needed("read_utc", Integer),
)

runs = _record(
    "runs",
    _needed("machine_id", Integer, "machines.id", "runs"),
    _needed("started_utc", Integer),
    _needed("outcome", Text),
    _needed("material", Text),
    _optional("toolpath_id", Integer, "toolpaths.id", "runs"),
    _needed("fraction", Float),
    _needed("copies", Integer),
    _optional("hours", Float),
    _optional("nozzle_c", Float),
    _optional("filament_g", Float),
    _needed("note", Text),
    _one_of("runs", "outcome", "complete", "stopped", "spoiled"),
    CheckConstraint("fraction BETWEEN 0 AND 1", name="ck_runs_fraction"),
    CheckConstraint("copies >= 1", name="ck_runs_copies"),
)

events = _record(
    "events",
    _needed("machine_id", Integer, "machines.id", "events"),
    _needed("kind", Text),
    _needed("at_utc", Integer),
    _optional("nozzle_c", Float),
    _optional("minutes", Float),
    _needed("material", Text),
    _needed("note", Text),
    _optional("stretch", Text),
)

findings = _record(
    "findings",
    _needed("fitting_id", Integer, "fittings.id", "findings"),
    _needed("found_utc", Integer),
    _needed("grade", Text),
    _optional("reading", Float),
    _needed("reading_unit", Text),
    _needed("note", Text),
)

settings = _record("settings", _needed("name", Text), _needed("value", Text))

cases = _record(
    "cases",
    _needed("opened_utc", Integer),
    _needed("label", Text),
    _optional("machine_id", Integer, "machines.id", "cases"),
    _needed("drive", Text),
    _needed("hot_end", Text),
    _needed("material", Text),
    _one_of("cases", "drive", "remote", "direct", ""),
    _one_of("cases", "hot_end", "lined", "all_metal", ""),
)

case_entries = _record(
    "case_entries",
    _needed("case_id", Integer, "cases.id", "case_entries"),
    _needed("told_utc", Integer),
    _needed("kind", Text),
    _needed("name", Text),
    _needed("value", Text),
    _one_of("case_entries", "kind", "fact", "answer", "reading", "tried", "state"),
)

case_endings = _record(
    "case_endings",
    _needed("case_id", Integer, "cases.id", "case_endings"),
    _needed("ended_utc", Integer),
    _needed("cause", Text),
    _needed("cure", Text),
    _needed("note", Text),
)

visits = _record(
    "visits",
    _needed("machine_id", Integer, "machines.id", "visits"),
    _needed("begun_utc", Integer),
    _needed("procedures", Text),
    _needed("material", Text),
    _needed("note", Text),
)

visit_entries = _record(
    "visit_entries",
    _needed("visit_id", Integer, "visits.id", "visit_entries"),
    _needed("entered_utc", Integer),
    _needed("kind", Text),
    _needed("entry_key", Text),
    _needed("step", Text),
    _needed("value", Text),
    _needed("note", Text),
    _one_of("visit_entries", "kind", "cautions", "done", "skipped", "paused", "resumed"),
)

visit_endings = _record(
    "visit_endings",
    _needed("visit_id", Integer, "visits.id", "visit_endings"),
    _needed("ended_utc", Integer),
    _needed("outcome", Text),
    _needed("note", Text),
    _one_of("visit_endings", "outcome", "done", "given_up"),
)

measurements = _record(
    "measurements",
    _needed("machine_id", Integer, "machines.id", "measurements"),
    _needed("measured_utc", Integer),
    _needed("kind", Text),
    _needed("value", Float),
    _needed("unit", Text),
    _needed("detail", Text),
    _optional("visit_id", Integer, "visits.id", "measurements"),
    _needed("note", Text),
)

machine_settings = _record(
    "machine_settings",
    _needed("machine_id", Integer, "machines.id", "machine_settings"),
    _needed("set_utc", Integer),
    _needed("name", Text),
    _needed("value", Float),
    _needed("unit", Text),
    _needed("why", Text),
    _needed("material", Text),
    _optional("measurement_id", Integer, "measurements.id", "machine_settings"),
)

releases = _record(
    "releases",
    _needed("machine_id", Integer, "machines.id", "releases"),
    _needed("visit_id", Integer, "visits.id", "releases"),
    _needed("released_utc", Integer),
    _needed("proofs", Text),
    _needed("override", Text),
)

RECORDS = (
    people,
    machines,
    machine_states,
    fittings,
    removals,
    toolpaths,
    runs,
    events,
    findings,
    settings,
    cases,
    case_entries,
    case_endings,
    visits,
    visit_entries,
    visit_endings,
    measurements,
    machine_settings,
    releases,
)
"""Append-only tables: triggers allow no change but voiding a row once."""

# --- derived ---------------------------------------------------------------------------------------------

readings = Table(
    "readings",
    META,
    Column("sha256", Text, primary_key=True),
    Column("reader_version", Text, primary_key=True),
    Column("limits_key", Text, primary_key=True),
    Column("reading", LargeBinary, nullable=False),
)

charges = Table(
    "charges",
    META,
    Column("run_id", Integer, ForeignKey("runs.id", name="fk_charges_run_id"), primary_key=True),
    Column("reader_version", Text, nullable=False),
    Column("stretch", Text, nullable=False),
)

exposures = Table(
    "exposures",
    META,
    Column("fitting_id", Integer, ForeignKey("fittings.id", name="fk_exposures_fitting_id"), primary_key=True),
    Column("law_key", Text, nullable=False),
    Column("exposure_nano", Integer, nullable=False),
    Column("charges", Integer, nullable=False),
)

Index("ix_runs_machine", runs.c.machine_id, runs.c.started_utc)
Index("ix_fittings_machine", fittings.c.machine_id)
Index("ix_findings_fitting", findings.c.fitting_id)
Index("ix_events_machine", events.c.machine_id, events.c.at_utc)
Index("ix_case_entries_case", case_entries.c.case_id)
Index("ix_visits_machine", visits.c.machine_id)
Index("ix_visit_entries_visit", visit_entries.c.visit_id)
Index("ix_measurements_machine", measurements.c.machine_id, measurements.c.kind)
Index("ix_machine_settings_machine", machine_settings.c.machine_id)
Index("ix_machine_states_machine", machine_states.c.machine_id)
Index("ux_removals_fitting", removals.c.fitting_id, unique=True, sqlite_where=removals.c.void_act_id.is_(None))
Index("ux_machines_name", machines.c.name, unique=True, sqlite_where=machines.c.void_act_id.is_(None))
Index("ux_people_name", people.c.name, unique=True, sqlite_where=people.c.void_act_id.is_(None))
Index("ux_toolpaths_sha256", toolpaths.c.sha256, unique=True, sqlite_where=toolpaths.c.void_act_id.is_(None))
Index("ux_case_endings_case", case_endings.c.case_id, unique=True, sqlite_where=case_endings.c.void_act_id.is_(None))
_LIVE_ENTRY = visit_entries.c.void_act_id.is_(None)
Index(
    "ux_visit_entries_key", visit_entries.c.visit_id, visit_entries.c.entry_key, unique=True, sqlite_where=_LIVE_ENTRY
)
Index(
    "ux_visit_endings_visit", visit_endings.c.visit_id, unique=True, sqlite_where=visit_endings.c.void_act_id.is_(None)
)
Index("ux_releases_visit", releases.c.visit_id, unique=True, sqlite_where=releases.c.void_act_id.is_(None))

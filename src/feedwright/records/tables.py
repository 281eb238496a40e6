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
    Table,
    Text,
)

from feedwright.records import access_tables, exchange_tables, photo_tables, prints_tables, rounds_tables, stores_tables
from feedwright.records.columns import META, index_acts, needed, one_of, optional, record

acts = Table(
    "acts",
    META,
    Column("id", Integer, primary_key=True),
    needed("kind", Text),
    needed("at_utc", Integer),
    optional("person_id", Integer),
    needed("reason", Text),
)

people = record("people", needed("name", Text))

machines = record("machines", needed("name", Text), needed("registered_utc", Integer))

machine_states = record(
    "machine_states",
    needed("machine_id", Integer, "machines.id", "machine_states"),
    needed("from_utc", Integer),
    needed("build", Text),
    needed("drive", Text),
    needed("hot_end", Text),
    needed("box_mm", Text),
    needed("motion", Text),
    needed("tube_needed_mm", Float),
    needed("enclosure_c", Float),
    needed("note", Text),
    one_of("machine_states", "drive", "remote", "direct"),
    one_of("machine_states", "hot_end", "lined", "all_metal"),
)

fittings = record(
    "fittings",
    needed("machine_id", Integer, "machines.id", "fittings"),
    needed("part_kind", Text),
    needed("position", Integer),
    needed("product", Text),
    needed("fitted_utc", Integer),
    needed("history", Text),
    needed("exposure_before", Float),
    optional("length_mm", Float),
    needed("label", Text),
    one_of("fittings", "history", "new", "used", "unknown"),
)

removals = record(
    "removals",
    needed("fitting_id", Integer, "fittings.id", "removals"),
    needed("removed_utc", Integer),
    needed("reason", Text),
    optional("replaced_by", Integer, "fittings.id", "removals"),
    optional("trimmed_mm", Float),
    optional("minutes", Float),
    needed("note", Text),
    one_of("removals", "reason", "failed", "worn", "sound", "moved", "retired"),
)

toolpaths = record(
    "toolpaths",
    needed("sha256", Text),
    needed("name", Text),
    needed("bytes_count", Integer),
    needed("kind", Text),
    needed("complete", Integer),
    needed("read_utc", Integer),
)

runs = record(
    "runs",
    needed("machine_id", Integer, "machines.id", "runs"),
    needed("started_utc", Integer),
    needed("outcome", Text),
    needed("material", Text),
    optional("toolpath_id", Integer, "toolpaths.id", "runs"),
    needed("fraction", Float),
    needed("copies", Integer),
    optional("hours", Float),
    optional("nozzle_c", Float),
    optional("filament_g", Float),
    needed("note", Text),
    one_of("runs", "outcome", "complete", "stopped", "spoiled"),
    CheckConstraint("fraction BETWEEN 0 AND 1", name="ck_runs_fraction"),
    CheckConstraint("copies >= 1", name="ck_runs_copies"),
)

events = record(
    "events",
    needed("machine_id", Integer, "machines.id", "events"),
    needed("kind", Text),
    needed("at_utc", Integer),
    optional("nozzle_c", Float),
    optional("minutes", Float),
    needed("material", Text),
    needed("note", Text),
    optional("stretch", Text),
)

findings = record(
    "findings",
    needed("fitting_id", Integer, "fittings.id", "findings"),
    needed("found_utc", Integer),
    needed("grade", Text),
    optional("reading", Float),
    needed("reading_unit", Text),
    needed("note", Text),
)

settings = record("settings", needed("name", Text), needed("value", Text))

cases = record(
    "cases",
    needed("opened_utc", Integer),
    needed("label", Text),
    optional("machine_id", Integer, "machines.id", "cases"),
    needed("drive", Text),
    needed("hot_end", Text),
    needed("material", Text),
    one_of("cases", "drive", "remote", "direct", ""),
    one_of("cases", "hot_end", "lined", "all_metal", ""),
)

case_entries = record(
    "case_entries",
    needed("case_id", Integer, "cases.id", "case_entries"),
    needed("told_utc", Integer),
    needed("kind", Text),
    needed("name", Text),
    needed("value", Text),
    one_of("case_entries", "kind", "fact", "answer", "reading", "tried", "state"),
)

case_endings = record(
    "case_endings",
    needed("case_id", Integer, "cases.id", "case_endings"),
    needed("ended_utc", Integer),
    needed("cause", Text),
    needed("cure", Text),
    needed("note", Text),
)

visits = record(
    "visits",
    needed("machine_id", Integer, "machines.id", "visits"),
    needed("begun_utc", Integer),
    needed("procedures", Text),
    needed("material", Text),
    needed("note", Text),
)

visit_entries = record(
    "visit_entries",
    needed("visit_id", Integer, "visits.id", "visit_entries"),
    needed("entered_utc", Integer),
    needed("kind", Text),
    needed("entry_key", Text),
    needed("step", Text),
    needed("value", Text),
    needed("note", Text),
    one_of("visit_entries", "kind", "cautions", "done", "skipped", "paused", "resumed"),
)

visit_endings = record(
    "visit_endings",
    needed("visit_id", Integer, "visits.id", "visit_endings"),
    needed("ended_utc", Integer),
    needed("outcome", Text),
    needed("note", Text),
    one_of("visit_endings", "outcome", "done", "given_up"),
)

measurements = record(
    "measurements",
    needed("machine_id", Integer, "machines.id", "measurements"),
    needed("measured_utc", Integer),
    needed("kind", Text),
    needed("value", Float),
    needed("unit", Text),
    needed("detail", Text),
    optional("visit_id", Integer, "visits.id", "measurements"),
    needed("note", Text),
)

machine_settings = record(
    "machine_settings",
    needed("machine_id", Integer, "machines.id", "machine_settings"),
    needed("set_utc", Integer),
    needed("name", Text),
    needed("value", Float),
    needed("unit", Text),
    needed("why", Text),
    needed("material", Text),
    optional("measurement_id", Integer, "measurements.id", "machine_settings"),
)

releases = record(
    "releases",
    needed("machine_id", Integer, "machines.id", "releases"),
    needed("visit_id", Integer, "visits.id", "releases"),
    needed("released_utc", Integer),
    needed("proofs", Text),
    needed("override", Text),
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
    *access_tables.RECORDS,
    *stores_tables.RECORDS,
    *rounds_tables.RECORDS,
    *prints_tables.RECORDS,
    *photo_tables.RECORDS,
    *exchange_tables.RECORDS,
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

for _grown in (runs, findings, fittings, removals, events, visit_entries):
    index_acts(_grown)
Index("ix_runs_started", runs.c.started_utc)
Index("ix_runs_machine", runs.c.machine_id, runs.c.started_utc, sqlite_where=runs.c.void_act_id.is_(None))
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

"""Bringing a machine back true: each measurement is worked out, kept as proof, and may set a working value."""

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import pick_entry
from feedwright.farm.ground.people import person_id
from feedwright.farm.ground.plain import plain
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.machines.plates import plate_of
from feedwright.farm.parts.feed_paths import hot_end_and_drive
from feedwright.farm.service.settings_ledger import set_within, value_now
from feedwright.records.reads import Reads
from feedwright.records.store import ActInHand, Store
from feedwright.records.values import Machine, Measurement, Setting
from feedwright.service import flow as flow_room
from feedwright.service.feed_rate import feed_health, feed_rate
from feedwright.service.heater import ageing, fit_heating, settings_for
from feedwright.service.tramming import drift, tram
from feedwright.service.values import (
    BedReading,
    BedScrews,
    FeedHealth,
    FeedRateSheet,
    FlowSheet,
    HeaterModel,
    HeaterSheet,
    HeatingLog,
    Measured,
    Screw,
    ScrewDrift,
    ScrewTurn,
    Tramming,
    TramSheet,
)

SCREW_INSET_MM = 30.0
"""Where screws are taken to be until they are written down: that far from the edges (assumed)."""
FOUR, THREE = ("front left", "front right", "back right", "back left"), ("front left", "front right", "back")
ONE_SESSION = timedelta(hours=4)
"""Trammings no further apart than this are readings of one session, until the bed is level (assumed)."""
HEATED_BY = ("heater", "temperature_sensor")


def set_screws(store: Store, machine: str, screws: BedScrews, *, person: str | None = None) -> BedScrews:
    """Write down where a machine's bed screws are, their pitch and hand; refuses what cannot be."""
    whose = machine_named(store, machine)
    corners = [BedReading(x, y, 0.0) for x, y in _corners(whose)]
    tram(corners, screws, plate=plate_of(whose))
    with store.act("set", person_id=person_id(store, person)) as act:
        act.add(Setting(_screws_name(whose), json.dumps(plain(screws))))
    return screws


def screws_of(records: Reads, machine: Machine) -> BedScrews:
    """The bed screws as written down; else four M4 screws near the corners, three under a round bed (assumed)."""
    held = records.settings().get(_screws_name(machine))
    if held is None:
        names = THREE if plate_of(machine).is_round else FOUR
        return BedScrews(tuple(Screw(name, x, y) for name, (x, y) in zip(names, _corners(machine), strict=True)), 0.7)
    given: dict[str, Any] = json.loads(held)
    return BedScrews(tuple(Screw(**screw) for screw in given["screws"]), given["pitch_mm"], given["clockwise_lowers"])


def _screws_name(machine: Machine) -> str:
    return f"bed_screws.{machine.id}"


def _corners(machine: Machine) -> tuple[tuple[float, float], ...]:
    """Where the screws are taken to be."""
    plate = plate_of(machine)
    inset = min(SCREW_INSET_MM, plate.x_mm / 4, plate.y_mm / 4)
    if plate.is_round:
        out = plate.radius_mm - inset
        sides, front = round(out * math.sqrt(3) / 2, 1), round(-out / 2, 1)
        return ((-sides, front), (sides, front), (0.0, round(out, 1)))
    far_x, far_y = plate.x_mm - inset, plate.y_mm - inset
    return ((inset, inset), (far_x, inset), (far_x, far_y), (inset, far_y))


def tram_machine(
    store: Store,
    machine: str,
    readings: Sequence[BedReading],
    *,
    tolerance_mm: float = 0.05,
    reference: str = "",
    measured_utc: datetime | None = None,
    person: str | None = None,
) -> TramSheet:
    """Work out the turns for the readings, and keep how far the bed was out as a reading of the proof ``tram``."""
    whose = machine_named(store, machine)
    sheet = tram(
        readings, screws_of(store, whose), plate=plate_of(whose), tolerance_mm=tolerance_mm, reference=reference
    )
    _keep(store, whose, "tram", sheet.worst_before_mm, "mm", sheet, measured_utc, person)
    return sheet


@dataclass(frozen=True, slots=True)
class PastTramming:
    """One tramming on record."""

    measured_utc: datetime
    worst_mm: float
    """How far the bed was out."""
    tramming: Tramming


def trammings(store: Reads, machine: str) -> list[PastTramming]:
    """The trammings of a machine that were worked out here, oldest first."""
    found = []
    for measurement in _kept(store, machine_named(store, machine), "tram"):
        held = json.loads(measurement.detail) if measurement.detail else {}
        turns = tuple(ScrewTurn(**{**turn, "screw": Screw(**turn["screw"])}) for turn in held.get("turns", []))
        if turns:
            found.append(PastTramming(measurement.measured_utc, measurement.value, Tramming(turns, held["within"])))
    return found


def screw_drift(store: Reads, machine: str) -> list[ScrewDrift]:
    """Which corner of a machine's bed wanders, from the trammings on record; those soon after one another are one."""
    sessions: list[list[Tramming]] = []
    last_utc = None
    for past in trammings(store, machine):
        if last_utc is None or past.measured_utc - last_utc > ONE_SESSION:
            sessions.append([])
        sessions[-1].append(past.tramming)
        last_utc = past.measured_utc
    return drift(sessions)


def check_feed(
    store: Store,
    machine: str,
    *,
    commanded_mm: float,
    measured_mm: Sequence[float],
    steps_per_mm: float | None = None,
    division_mm: float = 0.5,
    free: bool = False,
    write: bool = False,
    measured_utc: datetime | None = None,
    person: str | None = None,
) -> FeedRateSheet:
    """Work out a feed test and keep it; ``write`` puts the new steps per mm into the ledger where it is a change.

    ``free`` says that nothing resisted (tube off); a hot test is the proof ``feed_rate``.
    """
    whose = machine_named(store, machine)
    steps = steps_per_mm if steps_per_mm is not None else value_now(store, whose, "steps_per_mm")
    if steps is None:
        raise BadInput(
            "steps per mm", expected=f"nothing is written down for {whose.name}", remedy="give what is set now"
        )
    sheet = feed_rate(steps, commanded_mm, measured_mm, division_mm=division_mm)
    kind = "feed_free" if free else "feed_rate"
    at_utc = moment(measured_utc)
    with store.act("measure", person_id=person_id(store, person)) as act:
        number = act.add(_measurement(whose, kind, sheet.error_frac, "frac", sheet, at_utc))
        if write and sheet.change:
            why = f"{sheet.error_frac:+.2%} at a feed of {commanded_mm:g} mm"
            set_within(
                act, whose, "steps_per_mm", sheet.new_steps_per_mm.value, why=why, set_utc=at_utc,
                measurement_id=number,
            )  # fmt: skip
    return sheet


def feed_health_of(store: Store, machine: str) -> FeedHealth | None:
    """Hot against free feed, from the latest test of each; None where one is missing."""
    whose = machine_named(store, machine)
    sheets = []
    for kind in ("feed_free", "feed_rate"):
        kept = [one for one in _kept(store, whose, kind) if one.detail.startswith("{") and "measured_mm" in one.detail]
        if not kept:
            return None
        held = json.loads(kept[-1].detail)
        sheets.append(feed_rate(held["steps_per_mm"], held["commanded_mm"], [held["measured_mm"]]))
    return feed_health(sheets[0], sheets[1])


def tune_heater(
    store: Store,
    machine: str,
    log: HeatingLog,
    *,
    target_c: float,
    power_frac: float = 1.0,
    write: bool = False,
    measured_utc: datetime | None = None,
    person: str | None = None,
) -> tuple[HeaterSheet, list[str]]:
    """Fit a heating log, find settings that stay under the liner's limit, keep both; and what has aged since the first.

    Fits are compared with those since the heater and its sensor were fitted.
    """
    whose = machine_named(store, machine)
    hot_end, _ = hot_end_and_drive(whose)
    limit_c = hot_end.liner_limit_c.value if hot_end.lined else math.inf
    model = fit_heating(log, power_frac=power_frac)
    sheet = settings_for(model, target_c, limit_c=limit_c)
    at_utc = moment(measured_utc)
    parts = [one for one in store.fittings(whose.id, open_only=True) if one.part_kind in HEATED_BY]
    since = max((one.fitted_utc for one in parts), default=at_utc)
    fits = [_model(one) for one in _kept(store, whose, "heater") if one.measured_utc >= since]
    with store.act("measure", person_id=person_id(store, person)) as act:
        number = act.add(_measurement(whose, "heater", model.slope_c_s, "c_s", sheet, at_utc))
        if write:
            _write_heater(act, whose, sheet, at_utc, number)
    return sheet, [words for _, words in ageing([*fits, model])]


def _write_heater(act: ActInHand, machine: Machine, sheet: HeaterSheet, at_utc: datetime, number: int) -> None:
    held, why = sheet.settings, f"{sheet.settings.rule} for {sheet.target_c:g} °C"
    for name, value in (
        ("heater_gain", held.gain_ratio), ("heater_integral_s", held.integral_s),
        ("heater_derivative_s", held.derivative_s),
    ):  # fmt: skip
        set_within(act, machine, name, value, why=why, set_utc=at_utc, measurement_id=number)


def _model(measurement: Measurement) -> HeaterModel:
    return HeaterModel(**json.loads(measurement.detail)["model"])


def check_flow(
    store: Store,
    machine: str,
    *,
    material: str,
    asked_mm: float | None = None,
    walls_mm: Sequence[float] = (),
    commanded_mm: float | None = None,
    weighed_g: Sequence[float] = (),
    write: bool = False,
    measured_utc: datetime | None = None,
    person: str | None = None,
) -> FlowSheet:
    """Flow from a single wall (``asked_mm``, ``walls_mm``) or from weight (``commanded_mm``, ``weighed_g``)."""
    whose = machine_named(store, machine)
    stuff = pick_entry(load_catalogue().materials, material, "material")
    was = value_now(store, whose, "flow_ratio", stuff.id) or 1.0
    if asked_mm is not None and commanded_mm is None:
        sheet = flow_room.flow_by_wall(asked_mm, walls_mm, was_ratio=was)
    elif commanded_mm is not None and asked_mm is None:
        density, diameter = stuff.density_g_cm3.value, whose.motion.filament_diameter_mm
        sheet = flow_room.flow_by_weight(commanded_mm, weighed_g, density, diameter_mm=diameter, was_ratio=was)
    else:
        raise BadInput(
            "flow", expected="expected a single wall or a weighed length", remedy="give one of the two, not both"
        )
    at_utc = moment(measured_utc)
    with store.act("measure", person_id=person_id(store, person)) as act:
        number = act.add(_measurement(whose, "flow", sheet.flow_ratio.value, "ratio", sheet, at_utc))
        if write and sheet.change:
            set_within(
                act, whose, "flow_ratio", sheet.flow_ratio.value, why=sheet.because[0], set_utc=at_utc,
                material=stuff.id, measurement_id=number,
            )  # fmt: skip
    return sheet


def check_orifice(
    store: Store,
    machine: str,
    *,
    strand_new_g: float,
    strand_now_g: Sequence[float],
    bore_new_mm: float | None = None,
    measured_utc: datetime | None = None,
    person: str | None = None,
) -> Measured:
    """Bore of the nozzle from weighed hanging strands of one length, now and when it was new; kept as a reading."""
    whose = machine_named(store, machine)
    bore_mm = bore_new_mm if bore_new_mm is not None else hot_end_and_drive(whose)[0].orifice_mm.value
    found = flow_room.orifice_by_strand(strand_new_g, strand_now_g, bore_mm)
    _keep(store, whose, "orifice", found.value, "mm", found, measured_utc, person)
    return found


def _keep(
    store: Store, machine: Machine, kind: str, value: float, unit: str, detail: object, at_utc: datetime | None,
    person: str | None,
) -> Measurement:  # fmt: skip
    made = _measurement(machine, kind, value, unit, detail, moment(at_utc))
    with store.act("measure", person_id=person_id(store, person)) as act:
        return replace(made, id=act.add(made), act_id=act.id)


def _measurement(machine: Machine, kind: str, value: float, unit: str, detail: object, at_utc: datetime) -> Measurement:
    return Measurement(machine.id, at_utc, kind, value, unit, json.dumps(plain(detail)))


def _kept(records: Reads, machine: Machine, kind: str) -> list[Measurement]:
    """Measurements of one kind, oldest first."""
    held = [one for one in records.measurements(machine.id) if one.kind == kind]
    return sorted(held, key=lambda one: (one.measured_utc, one.id))

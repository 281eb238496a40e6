"""Test pieces for one machine as it stands: within its box, its parts' limits and what its feed path sustains."""

import json
import math
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

import numpy as np

from feedwright.catalogue.load import load_catalogue
from feedwright.errors import BadInput, Conflict
from feedwright.farm.ground.house import moment
from feedwright.farm.ground.naming import pick_entry, text, within
from feedwright.farm.ground.people import person_id
from feedwright.farm.machines.machines import machine_named
from feedwright.farm.machines.plates import plate_of
from feedwright.farm.parts.feed_paths import feed_path_of
from feedwright.farm.service.releases import add_proof
from feedwright.farm.service.settings_ledger import set_within, value_now
from feedwright.physics.feed_force import force_balance
from feedwright.physics.flow_limit import flow_limit
from feedwright.physics.slack import slack
from feedwright.records.store import Store
from feedwright.records.values import MachineSetting, Measurement
from feedwright.service.piece_writer import PieceBounds
from feedwright.service.pieces import LIMIT_MARGIN_C, Piece, make_piece
from feedwright.units import BY_SUFFIX

USUAL_FLOW_MM3_S = 4.0
"""Flow at which the spring in the filament is reckoned (assumed)."""


def piece_bounds(store: Store, machine: str, material: str) -> PieceBounds:
    """What a test piece must stay within; raises BadInput where the fitted liner does not bear the material."""
    whose = machine_named(store, machine)
    stuff = pick_entry(load_catalogue().materials, material, "material")
    feed = feed_path_of(store, whose)
    limit_c = feed.hot_end.liner_limit_c.value if feed.hot_end.lined else math.inf
    usual, motion = stuff.nozzle_c, whose.motion
    nozzle_c = min(usual.value, limit_c - LIMIT_MARGIN_C)
    if nozzle_c < usual.low:
        raise BadInput(
            "material",
            place=stuff.title,
            expected=f"it wants {usual.low:g} °C at least; the fitted liner bears {limit_c:g} °C",
            remedy="fit an all-metal hot end, or print another material",
        )
    sustained = flow_limit(feed, stuff, ambient_c=whose.enclosure_c).at(np.array([nozzle_c, usual.low]))
    balance = force_balance(feed, stuff, flow_mm3_s=USUAL_FLOW_MM3_S, nozzle_c=usual.value, ambient_c=whose.enclosure_c)
    lost = slack(feed, stuff, push_n=min(balance.needed_n, balance.available_n))
    longest = max(0.2, lost.longest_mm - 0.05)
    return PieceBounds(
        box_mm=whose.box_mm,
        nozzle_c=nozzle_c,
        nozzle_low_c=usual.low,
        nozzle_high_c=usual.high,
        nozzle_limit_c=limit_c,
        bed_c=stuff.bed_c.value,
        flow_mm3_s=float(sustained[0]),
        flow_cold_mm3_s=float(sustained[1]),
        retract_mm=min(max(lost.retraction_mm.mid, 0.2), longest),
        retract_low_mm=min(max(lost.retraction_mm.low, 0.2), longest),
        retract_high_mm=min(max(lost.retraction_mm.high, 0.2), longest),
        speed_mm_s=min(motion.axis_speed_mm_s[:2]),
        filament_mm=feed.filament_mm,
        orifice_mm=feed.hot_end.orifice_mm.value,
        flow_ratio=value_now(store, whose, "flow_ratio", stuff.id) or 1.0,
        bed=plate_of(whose).shape,
    )


def piece_for(store: Store, machine: str, name: str, *, material: str = "pla") -> Piece:
    """A test piece for that machine and material."""
    return make_piece(name, piece_bounds(store, machine, material))


RESULTS = {"retraction": "retract_mm", "temperature": "nozzle_c", "flow": "greatest_flow_mm3_s"}
"""The working value that each piece finds."""
HEALTHY_FRAC = 0.8
"""Below that share of the flow that the path should sustain something resists (assumed)."""


@dataclass(frozen=True, slots=True)
class PieceResult:
    """How a test piece was judged, and what that set."""

    measurement: Measurement
    setting: MachineSetting | None
    because: tuple[str, ...]


def record_piece(
    store: Store,
    machine: str,
    name: str,
    value: float,
    *,
    material: str = "pla",
    note: str = "",
    write: bool = True,
    measured_utc: datetime | None = None,
    person: str | None = None,
) -> PieceResult:
    """Record how a piece was judged: the share of good patches, or the value of the band that was found best.

    Sets the working value that the piece is there to find, unless ``write`` says otherwise. Refuses a value that no
    band of this machine's piece has room for.
    """
    if name == "first_layer":
        proved = add_proof(store, machine, name, value, note=note, measured_utc=measured_utc, person=person)
        return PieceResult(proved, None, ("Kept as the proof of the first layer.",))
    whose, piece = machine_named(store, machine), piece_for(store, machine, name, material=material)
    if name not in RESULTS:
        raise BadInput(
            "test piece", place=piece.title, expected="it is measured", remedy="give it to `feedwright flow`"
        )
    values = [band.value for band in piece.bands]
    within(f"result of the {name} piece", value, min(values), max(values), BY_SUFFIX[piece.bands[0].unit].symbol)
    at_utc, stuff = moment(measured_utc), pick_entry(load_catalogue().materials, material, "material").id
    detail = json.dumps({"material": stuff, "bands": values})
    made = Measurement(
        whose.id, at_utc, f"piece_{name}", value, piece.bands[0].unit, detail, note=text("note", note)
    )  # fmt: skip
    with store.act("measure", person_id=person_id(store, person)) as act:
        made = replace(made, id=act.add(made), act_id=act.id)
        setting = None
        if write:
            setting = set_within(
                act, whose, RESULTS[name], value, why=f"by the {name} piece", set_utc=at_utc, material=stuff,
                measurement_id=made.id,
            )  # fmt: skip
    return PieceResult(made, setting, tuple(_because(name, value, piece)))


def _because(name: str, value: float, piece: Piece) -> list[str]:
    if name != "flow":
        return []
    most = piece.bands[-1].value
    if value < HEALTHY_FRAC * most:
        return [
            f"The path should sustain {most:.1f} mm³/s; it lays {value:.1f} mm³/s well, {value / most:.0%} of that: "
            "look at gear, tube and nozzle, or open a case."
        ]
    return [f"That is {value / most:.0%} of what the path should sustain: in order."]


def save_piece(piece: Piece, to: Path) -> Path:
    """Write the piece's file; refuses to write over one that is there."""
    try:
        with to.open("x", encoding="ascii", newline="\n") as file:
            file.write(piece.text)
    except FileExistsError as error:
        raise Conflict(str(to), expected="there is a file of that name", remedy="choose another name") from error
    return to

"""A machine's feed path as it stands today: its build, its fitted parts and what was last seen of them."""

from collections.abc import Collection
from typing import TYPE_CHECKING

from feedwright.catalogue.hot_ends import Drive, HotEnd, drive_of, hot_end_of
from feedwright.farm.parts.renewals import tube_left_mm
from feedwright.records.store import Store
from feedwright.records.values import Fitting, Machine

if TYPE_CHECKING:
    from feedwright.physics.feed_force import FeedPath

BORES_MM = {"bore_2_0": 2.0, "bore_1_9": 1.9, "higher_temperature": 1.9}
"""Bore of each product of the guide tube."""


def hot_end_and_drive(machine: Machine) -> tuple[HotEnd, Drive]:
    """The catalogue's hot end and drive of a machine's build."""
    return hot_end_of(machine.hot_end), drive_of(machine.drive)


def feed_path_of(store: Store, machine: Machine) -> "FeedPath":
    """The feed path with the length and bore of the tube that is fitted, and tube and gear as last found."""
    from feedwright.physics.feed_force import feed_path

    hot_end, drive = hot_end_and_drive(machine)
    fitted = {fitting.part_kind: fitting for fitting in store.fittings(machine.id, open_only=True)}
    tube = fitted.get("guide_tube")
    return feed_path(
        hot_end,
        drive,
        gear=_grade(store, fitted.get("drive_gear"), drive.grip_share, "sharp"),
        tube=_grade(store, tube, drive.friction, "clean"),
        tube_length_mm=tube_left_mm(store, machine),
        tube_bore_mm=BORES_MM.get(tube.product) if tube else None,
        filament_mm=machine.motion.filament_diameter_mm,
    )


def _grade(store: Store, fitting: Fitting | None, known: Collection[str], usual: str) -> str:
    """The grade last found of a fitting, where the physics knows it."""
    if fitting is None:
        return usual
    found = sorted(store.findings([fitting.id]), key=lambda finding: (finding.found_utc, finding.id))
    graded = [finding.grade for finding in found if finding.grade in known]
    return graded[-1] if graded else usual

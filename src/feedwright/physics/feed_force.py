"""The push that a flow needs at the drive, and the push that drive and filament can bear.

Along the path: the melt resists (melt.py), the bent tube multiplies, the stiff filament rubs, the spool drags.
Against it: what the gear grips, what the motor turns, what the unguided filament bears. docs/models/force.md.
"""

import math
from dataclasses import dataclass

import numpy as np

from feedwright.catalogue.entry import Material
from feedwright.catalogue.hot_ends import Drive, HotEnd, polymer_of
from feedwright.errors import NotFound
from feedwright.physics.air import Floats
from feedwright.physics.hot_end import within
from feedwright.physics.melt import nozzle_pa
from feedwright.physics.melting import still_cold_frac
from feedwright.physics.values import ForceBalance, Limit, Pressure


@dataclass(frozen=True, slots=True)
class FeedPath:
    """One machine's way from drive to bead, as it stands today."""

    hot_end: HotEnd
    drive: Drive
    orifice_mm: float
    tube_length_mm: float
    tube_bend_deg: float
    tube_bore_mm: float
    friction_ratio: float
    grip_n: float
    """Push at which the gear slips in its present condition."""
    filament_mm: float

    @property
    def filament_mm2(self) -> float:
        """Section of the filament."""
        return math.pi / 4 * self.filament_mm**2


def feed_path(
    hot_end: HotEnd,
    drive: Drive,
    *,
    gear: str = "sharp",
    tube: str = "clean",
    orifice_mm: float | None = None,
    tube_length_mm: float | None = None,
    tube_bend_deg: float | None = None,
    tube_bore_mm: float | None = None,
    filament_mm: float = 1.75,
) -> FeedPath:
    """A feed path of catalogue parts in a condition; what is not given is as the catalogue has it.

    ``gear`` and ``tube`` are grades of the parts drive_gear and guide_tube. Raises NotFound for a grade the
    catalogue does not know, OutOfRange for a size that cannot be.
    """
    bore_mm = drive.tube_bore_mm.value if tube_bore_mm is None else tube_bore_mm
    within("filament_mm", filament_mm, 1.0, 3.5)
    within("tube_bore_mm", bore_mm, filament_mm, 6.0, remedy="give a bore wider than the filament, in mm")
    length_mm = drive.tube_length_mm.value if tube_length_mm is None else tube_length_mm
    bend_deg = drive.tube_bend_deg.value if tube_bend_deg is None else tube_bend_deg
    return FeedPath(
        hot_end=hot_end,
        drive=drive,
        orifice_mm=hot_end.orifice_mm.value if orifice_mm is None else orifice_mm,
        tube_length_mm=within("tube_length_mm", length_mm, 0.0, 5000.0),
        tube_bend_deg=within("tube_bend_deg", bend_deg, 0.0, 1800.0),
        tube_bore_mm=bore_mm,
        friction_ratio=_share("grade of the guide tube", tube, {k: v.value for k, v in drive.friction.items()}),
        grip_n=drive.grip_n.value
        * _share("grade of the drive gear", gear, {k: v.value for k, v in drive.grip_share.items()}),
        filament_mm=filament_mm,
    )


def _share(what: str, grade: str, shares: dict[str, float]) -> float:
    if grade not in shares:
        raise NotFound(f"{what} “{grade}”", expected=f"one of {', '.join(shares)}", remedy="name one of these")
    return shares[grade]


def capstan_ratio(friction_ratio: float, bend_deg: float) -> float:
    """How many times a bent tube multiplies a push: ``exp(μ θ)``, Euler–Eytelwein, whatever the bend's radius.

    >>> round(capstan_ratio(0.1, 180), 6)
    1.369108
    """
    return math.exp(friction_ratio * math.radians(bend_deg))


def bending_nmm(modulus_mpa: float, filament_mm: float, radius_mm: float) -> float:
    """Moment that holds a filament in a bend: ``M = E I / R``, ``I = π d⁴/64``.

    >>> round(bending_nmm(3500, 1.75, 100), 4)
    16.1135
    """
    return modulus_mpa * math.pi * filament_mm**4 / 64 / radius_mm


def stiffness_n(path: FeedPath, material: Material) -> float:
    """Push lost because the filament is stiff and the tube bends it: ``4 μ M / l`` with ``l = √(8 R c)``.

    At both ends of the bend a pair of wall forces turns the filament; their lever is the length over which the
    clearance c lets it go straight. An estimate of size, assumed; small beside the rest for radii of 100 mm.
    """
    clearance_mm = path.tube_bore_mm - path.filament_mm
    if path.tube_bend_deg == 0 or clearance_mm <= 0:
        return 0.0
    radius_mm = path.drive.tube_radius_mm.value
    moment = bending_nmm(material.modulus_mpa.value, path.filament_mm, radius_mm)
    return 4 * path.friction_ratio * moment / math.sqrt(8 * radius_mm * clearance_mm)


def column_n(modulus_mpa: float, filament_mm: float, gap_mm: float) -> float:
    """Push at which unguided filament buckles: ``π² E I / L²``, Euler with both ends free to turn.

    >>> round(column_n(3500, 1.75, 10), 3)
    159.034
    """
    return math.pi**2 * modulus_mpa * math.pi * filament_mm**4 / 64 / max(gap_mm, 1e-3) ** 2


def limits_n(path: FeedPath, material: Material) -> tuple[tuple[Limit, float], ...]:
    """What each element bears as a push into the tube, the weakest first; the drive must pull the spool as well."""
    drive = path.drive
    spool_n = drive.spool_pull_n.value
    found: tuple[tuple[Limit, float], ...] = (
        ("drive grip", path.grip_n - spool_n),
        ("motor", drive.motor_torque_nmm.value / drive.gear_radius_mm.value - spool_n),
        ("unsupported gap", column_n(material.modulus_mpa.value, path.filament_mm, drive.gap_mm.value)),
        ("filament strength", polymer_of(material).yield_mpa.value * path.filament_mm2),
    )
    return tuple(sorted(found, key=lambda limit: limit[1]))


def melt_and_core_c(
    path: FeedPath, material: Material, flow_mm3_s: Floats, nozzle_c: Floats, ambient_c: float
) -> tuple[Floats, Floats]:
    """Mean and core temperature of the filament as it leaves the melt zone, having come in at ambient."""
    mean, core = still_cold_frac(path.hot_end, material, flow_mm3_s)
    return nozzle_c - (nozzle_c - ambient_c) * mean, nozzle_c - (nozzle_c - ambient_c) * core


def push_n(path: FeedPath, material: Material, flow_mm3_s: Floats, melt_c: Floats) -> tuple[Floats, Floats]:
    """Push against the melt, and push into the tube at the drive, for arrays of one shape.

    ``F = c ΔP π d²/4 + F₀`` with the catalogue's c and F₀ for what the plain model leaves out; then the tube.
    """
    melt_pa = sum(nozzle_pa(path.hot_end, material, flow_mm3_s, melt_c, path.orifice_mm), np.zeros(1))
    drive = path.drive
    nozzle = drive.force_scale_ratio.value * melt_pa * 1e-6 * path.filament_mm2 + drive.force_offset_n.value
    into_tube = nozzle * capstan_ratio(path.friction_ratio, path.tube_bend_deg) + stiffness_n(path, material)
    return nozzle, into_tube


def force_balance(
    path: FeedPath, material: Material, *, flow_mm3_s: float, nozzle_c: float, ambient_c: float = 22.0
) -> ForceBalance:
    """Push needed and push available for one flow at one nozzle temperature.

    Raises OutOfRange for a flow, a nozzle temperature or an ambient that cannot be.
    """
    within("flow_mm3_s", flow_mm3_s, 0.0, 200.0)
    within("nozzle_c", nozzle_c, 40.0, 450.0)
    within("ambient_c", ambient_c, -20.0, 100.0)
    flow, nozzle = np.array(flow_mm3_s), np.array(nozzle_c)
    melt_c, core_c = melt_and_core_c(path, material, flow, nozzle, ambient_c)
    zones = nozzle_pa(path.hot_end, material, flow, melt_c, path.orifice_mm)
    against_melt, into_tube = (float(push.item()) for push in push_n(path, material, flow, melt_c))
    limits = limits_n(path, material)
    through = float(core_c) >= polymer_of(material).flows_c.value
    return ForceBalance(
        flow_mm3_s=flow_mm3_s,
        nozzle_c=nozzle_c,
        melt_c=float(melt_c),
        core_c=float(core_c),
        pressure=Pressure(*(float(zone) / 1e6 for zone in zones)),
        nozzle_n=against_melt,
        tube_n=into_tube - against_melt,
        spool_n=path.drive.spool_pull_n.value,
        needed_n=into_tube,
        available_n=limits[0][1],
        limits_n=limits,
        limited_by=limits[0][0] if through else "heat into the filament",
        heated_through=through,
    )

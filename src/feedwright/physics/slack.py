"""Motion lost between drive and nozzle when the feed turns round, and the retraction that asks for."""

import math

from feedwright.catalogue.entry import Material
from feedwright.physics.feed_force import FeedPath
from feedwright.physics.hot_end import within
from feedwright.physics.values import Band, Slack

CLOSE_BORE_MM, PLAIN_BORE_MM = 1.9, 2.0
RELIEF_MM = 0.5
"""Beyond the slack, to let the pressure off the melt (assumed)."""
SPREAD = 0.25
"""Of the slack: bends and fits differ (assumed)."""


def clearance_mm(bore_mm: float, filament_mm: float, bend_deg: float) -> float:
    """Length lost because pushed filament lies on the outer wall of a bend and pulled on the inner: ``b = c θ``.

    Independent of the bend's radius; bends in any plane add up. Derived in docs/models/force.md.

    >>> round(clearance_mm(2.0, 1.75, 180), 6)
    0.785398
    """
    return (bore_mm - filament_mm) * math.radians(bend_deg)


def elastic_mm(push_n: float, length_mm: float, modulus_mpa: float, filament_mm: float) -> float:
    """Shortening of filament under a push: ``F L / (E A)``.

    >>> round(elastic_mm(20, 400, 3500, 1.75), 5)
    0.95029
    """
    return push_n * length_mm / (modulus_mpa * math.pi / 4 * filament_mm**2)


def slack(path: FeedPath, material: Material, *, push_n: float) -> Slack:
    """Lost motion of a feed path at a push (such as a force balance gives), and the retraction it asks for.

    Raises OutOfRange for a push below zero or beyond any drive.
    """
    within("push_n", push_n, 0.0, 300.0, remedy="give the push at the drive in newtons")
    clearance = clearance_mm(path.tube_bore_mm, path.filament_mm, path.tube_bend_deg)
    elastic = elastic_mm(push_n, path.tube_length_mm, material.modulus_mpa.value, path.filament_mm)
    play = path.drive.coupler_play_mm.value
    lost = clearance + elastic + play
    longest = _longest_mm(path)
    mid = min(lost + RELIEF_MM, longest)
    band = Band(min(lost * (1 - SPREAD), mid), mid, max(mid, min(lost * (1 + SPREAD) + 2 * RELIEF_MM, longest)))
    reasons = (
        f"{clearance:.2f} mm from side to side of the bore: {path.tube_bore_mm:.2f} mm around "
        f"{path.filament_mm:.2f} mm, over {path.tube_bend_deg:.0f}° of bends.",
        f"{elastic:.2f} mm of springing: {path.tube_length_mm:.0f} mm of {material.title} under {push_n:.0f} N.",
        f"{play:.2f} mm of play where the tube is held; a worn coupler adds directly.",
        f"{RELIEF_MM:.1f} mm more lets the pressure off the melt.",
        _bores(path),
    )
    return Slack(
        clearance_mm=clearance,
        elastic_mm=elastic,
        coupler_mm=play,
        retraction_mm=band,
        longest_mm=longest,
        because=tuple(reason for reason in reasons if reason),
        cautions=_cautions(path, material, lost, longest),
    )


def _longest_mm(path: FeedPath) -> float:
    """From the top of the bare hot bore up to the sink: what is drawn up further freezes in the cold part."""
    hot_end = path.hot_end
    above_block_mm = hot_end.neck_length_mm.value
    bare_mm = hot_end.path_mm - hot_end.liner_reach_mm.value if hot_end.lined else hot_end.block_length_mm.value
    return above_block_mm + max(0.0, hot_end.block_length_mm.value - bare_mm)


def _bores(path: FeedPath) -> str:
    """The close and the plain bore side by side."""
    if path.tube_bend_deg == 0:
        return ""
    close, plain = (clearance_mm(bore, path.filament_mm, path.tube_bend_deg) for bore in (CLOSE_BORE_MM, PLAIN_BORE_MM))
    return (
        f"A {CLOSE_BORE_MM} mm bore would lose {close:.2f} mm in these bends, a {PLAIN_BORE_MM} mm bore {plain:.2f} mm."
    )


def _cautions(path: FeedPath, material: Material, lost_mm: float, longest_mm: float) -> tuple[str, ...]:
    found = []
    if material.filler:
        found.append("Keep the wide bore: filled filament wears and sticks in a close one (common practice).")
    if lost_mm > longest_mm:
        found.append(
            f"The slack of {lost_mm:.1f} mm is more than the {longest_mm:.1f} mm this hot end bears: "
            "no retraction takes it up. Shorten or straighten the tube, use a drive on the carriage, or print slower."
        )
    if not path.hot_end.lined:
        found.append("All-metal: retract no more than is needed; melt drawn up into the neck freezes there.")
    return tuple(found)

"""Who and what is in the invented workshop: its machines, what they print, and the two who keep them."""

from dataclasses import dataclass

from feedwright.records.values import History

DAYS = 304
KEEPERS = ("Ines", "Tobias")
FEED_PATH = ("tube_end", "nozzle", "drive_gear", "sink_fan", "tube_coupler", "part_fan", "idler")
"""What the keepers look at; the rest is renewed when it fails."""


@dataclass(frozen=True, slots=True)
class Keeping:
    """One machine of the workshop and how it is used and kept."""

    name: str
    build: str
    prints_a_day: float
    things: tuple[str, ...]
    history: History = "new"
    products: tuple[tuple[str, str], ...] = ()
    look_every_days: int = 30
    last_look_day: int = DAYS - 75
    """The keepers have been busy lately: most machines were last opened about two months ago."""
    idle_after_day: int = DAYS


MACHINES = (
    Keeping("Alder", "moving_bed_remote", 3.0, ("planter_vase", "drawer_tray", "bird_house_wall"), look_every_days=28),
    Keeping("Beech", "moving_bed_remote", 2.0, ("cable_clips", "lamp_lattice", "bird_house_wall"), look_every_days=45),
    Keeping("Cedar", "moving_bed_remote", 1.9, ("hose_bracket", "rain_gutter_hook", "drawer_tray")),
    Keeping("Elm", "moving_bed_remote", 1.3, ("planter_vase", "cable_clips"), history="unknown", look_every_days=60),
    Keeping("Fir", "crossed_gantry_remote", 2.4, ("bird_house_wall", "drawer_tray", "hose_bracket"),
            products=(("tube_end", "higher_temperature"),)),
    Keeping("Hazel", "crossed_gantry_enclosed", 2.0, ("switch_housing", "gear_cover"), look_every_days=40),
    Keeping("Hornbeam", "moving_bed_all_metal", 1.8, ("bearing_seat", "drone_arm", "hose_bracket"),
            products=(("nozzle", "hardened_steel"),)),
    Keeping("Larch", "moving_bed_direct", 1.6, ("door_wedge", "cable_clips", "planter_vase")),
    Keeping("Maple", "large_remote", 1.6, ("planter_vase", "drawer_tray"), look_every_days=50, idle_after_day=262),
    Keeping("Pine", "three_tower_remote", 1.8, ("tower_vase", "tower_lattice"), look_every_days=35),
    Keeping("Rowan", "moving_bed_remote", 1.8, ("planter_vase", "hose_bracket", "cable_clips")),
    Keeping("Willow", "moving_bed_remote", 1.8, ("bearing_seat", "drone_arm", "cable_clips")),
)  # fmt: skip

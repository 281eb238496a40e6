"""The shapes of the catalogue's entries, as the loader hands them out.

Every number is a :class:`Sourced`: it knows its unit, the band of belief around it and where it is from.
"""

from dataclasses import dataclass, replace
from typing import Literal

SourceKind = Literal["standard", "handbook", "paper", "library", "derived", "practice", "memory", "assumed"]
Distribution = Literal["weibull", "lognormal"]
Place = Literal["spool", "drive", "tube", "hot end", "carriage", "frame", "bed", "electrics"]
Drive = Literal["remote", "direct"]
FitsDrive = Literal["any", "remote", "direct"]
HotEnd = Literal["lined", "all_metal"]
BedShape = Literal["rectangular", "round"]
"""A rectangular bed has its origin at a corner, a round one in its middle."""
Frame = Literal["moving bed", "crossed gantry", "three towers"]
FitsHotEnd = Literal["any", "lined", "all_metal"]
FlowLaw = Literal["power", "cross", "carreau", "cross_wlf"]

EXPOSURE_LAWS: dict[str, tuple[str, ...]] = {
    "arrhenius_hours": ("reference_c", "activation_ev"),
    "abrasive_mass": (),
    "filament_length": ("share_of_abrasive_frac",),
    "reversal_count": (),
    "drive_travel": ("m_per_reversal_m",),
    "warm_fan_hours": ("reference_c", "ratio_per_10k_ratio", "running_c"),
    "part_fan_hours": ("reference_c", "ratio_per_10k_ratio", "running_c"),
    "powered_hours": ("reference_c", "ratio_per_10k_ratio", "running_c"),
    "heat_cycles": ("hours_per_cycle_h",),
    "bed_hours": ("hours_per_print_h",),
    "axis_travel": ("share_x_frac", "share_y_frac", "share_z_frac"),
    "screw_travel": (),
}
"""Every law of :mod:`feedwright.wear.exposure` by name, and the numbers it asks for."""


@dataclass(frozen=True, slots=True)
class Source:
    """One entry of ``sources.toml``."""

    key: str
    kind: SourceKind
    title: str
    year: int | None = None
    identifier: str = ""


@dataclass(frozen=True, slots=True)
class Sourced:
    """A number with its belief: 90 % of it lies between ``low`` and ``high`` (equal where it is exact)."""

    value: float
    low: float
    high: float
    unit: str
    """A suffix of :mod:`feedwright.units`; ``frac``, ``ratio``, ``count``; ``currency``; or ``exposure``,
    the part's own exposure unit."""
    source: str
    """Key of a :class:`Source`."""
    where: str = ""
    """Page, table or section in the source."""
    note: str = ""

    def __float__(self) -> float:
        return self.value

    def times(self, factor: float) -> "Sourced":
        """The number with its belief in another unit or currency."""
        return replace(self, value=self.value * factor, low=self.low * factor, high=self.high * factor)


@dataclass(frozen=True, slots=True)
class Grade:
    """One thing a look at a part can show, and what it says of the life used."""

    id: str
    title: str
    look: str
    """What it looks like, in words a newcomer can match."""
    life_low_frac: float
    """Life used is at least this share of the part's life (0 = no bound) ..."""
    life_high_frac: float
    """... and at most this one; above 1 = it may have failed already."""
    failed: bool
    """True where the part no longer does its job."""
    source: str
    """Key of the :class:`Source` of both shares; 'assumed' where the entry names none."""


@dataclass(frozen=True, slots=True)
class Product:
    """A make of a part that lasts differently: a hardened nozzle, a higher-temperature tube."""

    id: str
    title: str
    life_ratio: Sourced
    """Median life over that of the plain product, all else equal."""
    price: Sourced | None = None
    """Usual price in the catalogue's currency."""
    nozzle_limit_c: Sourced | None = None
    """Highest nozzle temperature it bears for long; None = not limited by it."""


@dataclass(frozen=True, slots=True)
class Failure:
    """A way in which the part fails, and what the print then shows."""

    id: str
    title: str
    shows: str
    hidden: bool = False
    """True where nobody notices until a check or until harm is done (EN 13306: latent fault)."""


@dataclass(frozen=True, slots=True)
class Life:
    """The rule of thumb: median life in the part's own exposure unit, and its spread between like parts."""

    distribution: Distribution
    median: Sourced
    shape: Sourced
    """Weibull shape, or 1 / sigma of log life."""


@dataclass(frozen=True, slots=True)
class Exposure:
    """What wears the part: a law of :mod:`feedwright.wear.exposure` by name, and its numbers."""

    law: str
    unit: str
    """The printed unit: 'equivalent h at 240 °C', 'abrasive kg', 'm'."""
    unit_words: str
    """The same for a sentence: 'hours at the nozzle, reckoned at 240 °C'."""
    numbers: dict[str, Sourced]


@dataclass(frozen=True, slots=True)
class Renewal:
    """What renewing the part takes."""

    title: str
    """The act in two or three words: 'trim the tube end'."""
    minutes: Sourced
    parts_cost: Sourced
    """In the catalogue's currency; 0 where nothing is used up."""
    parts: tuple[str, ...]
    tools: tuple[str, ...]
    heats: bool
    """True where the nozzle must be hot."""
    needs_tram: bool
    """True where the bed must be trammed afterwards."""
    trims_mm: Sourced | None = None
    """Length taken off the guide tube, where the act trims it."""


@dataclass(frozen=True, slots=True)
class PartKind:
    """One kind of part: what wears it, how it fails, how it is renewed, what to look for."""

    id: str
    title: str
    place: Place
    does: str
    """What the part is for, one sentence."""
    drive: FitsDrive
    """Which builds have it."""
    hot_end: FitsHotEnd
    exposure: Exposure
    life: Life
    grades: tuple[Grade, ...]
    products: tuple[Product, ...]
    failures: tuple[Failure, ...]
    renewal: Renewal
    spoils_frac: Sourced
    """Chance that its failure spoils the print that is running."""
    look_for: tuple[str, ...]
    """What to look for when opening it."""
    cautions: tuple[str, ...]

    def product(self, product_id: str) -> Product | None:
        """The product of that id, None where the catalogue does not list it."""
        return next((product for product in self.products if product.id == product_id), None)

    def grade(self, grade_id: str) -> Grade | None:
        """The grade of that id, None where the kind has no such grade."""
        return next((grade for grade in self.grades if grade.id == grade_id), None)

    def grade_title(self, grade_id: str) -> str:
        """What a grade is called; of one that this kind no longer knows, its id."""
        found = self.grade(grade_id)
        return found.title if found else grade_id


@dataclass(frozen=True, slots=True)
class Rheology:
    """A melt-flow law and its constants, by the names its source uses."""

    law: FlowLaw
    at_c: float | None
    """Temperature the constants hold at; None where the law carries temperature itself."""
    constants: dict[str, Sourced]


@dataclass(frozen=True, slots=True)
class Material:
    """A polymer or a filled grade."""

    id: str
    title: str
    polymer: str
    """Id of the plain polymer it is made of; its own id where it is plain."""
    filler: str
    """Empty for a plain polymer."""
    nozzle_c: Sourced
    """Usual nozzle temperature; low and high bound the usual range."""
    bed_c: Sourced
    glass_c: Sourced
    density_g_cm3: Sourced
    abrasive_ratio: Sourced
    """Nozzle wear per kg over that of the plain polymer."""
    modulus_mpa: Sourced
    rheology: Rheology
    enclosure: bool
    """True where it is usually printed in an enclosure."""
    moisture: str
    """How it takes up water and what to do, one sentence."""


@dataclass(frozen=True, slots=True)
class Build:
    """A plain description of a machine that a newcomer can choose: its usual numbers and fitted parts."""

    id: str
    title: str
    frame: Frame
    drive: Drive
    hot_end: HotEnd
    box_mm: tuple[float, float, float]
    tube_length_mm: float
    """0 for a direct drive."""
    tube_needed_mm: float
    """Least tube that still reaches the far corners."""
    enclosure_c: float
    motion: dict[str, object]
    """Fields of :class:`feedwright.toolpath.values.MotionLimits` that differ from their defaults."""
    parts: tuple[tuple[str, str, int], ...]
    """(part kind, product, how many) as it comes."""
    source: str
    bed: BedShape = "rectangular"


@dataclass(frozen=True, slots=True)
class Figures:
    """What things cost where the farm has not said so, and what an hour of printing usually asks."""

    currency: str
    numbers: dict[str, Sourced]


@dataclass(frozen=True, slots=True)
class Catalogue:
    """Everything the program knows before a farm teaches it better."""

    parts: dict[str, PartKind]
    materials: dict[str, Material]
    builds: dict[str, Build]
    figures: Figures
    sources: dict[str, Source]
    digest: str
    """SHA-256 over the files, so that derived numbers know what they were computed from."""

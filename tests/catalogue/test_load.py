"""The shipped catalogue is whole, and a catalogue at fault is refused by file and place."""

import subprocess
import sys
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass
from importlib.resources import files
from time import perf_counter

import pytest

from feedwright.catalogue.entry import Sourced
from feedwright.catalogue.load import EXPOSURE_UNIT, FILES, load_catalogue, parse_catalogue
from feedwright.errors import BadEntry
from feedwright.toolpath.values import MotionLimits
from feedwright.units import BY_SUFFIX, DIMENSIONLESS

KNOWN = load_catalogue()
TEXTS = {name: files("feedwright.catalogue").joinpath(name).read_bytes() for name in FILES}

NEEDED_PARTS = {
    "tube_end", "guide_tube", "tube_coupler", "nozzle", "heat_break", "sink_fan", "part_fan", "drive_gear", "idler",
    "heater", "temperature_sensor", "belt", "guide_wheel", "linear_bearing", "lead_screw", "bed_surface", "supply_fan",
}  # fmt: skip


def numbers(entry: object, path: str = "") -> Iterator[tuple[str, Sourced]]:
    """Every sourced number below an entry, with its path."""
    if isinstance(entry, Sourced):
        yield path, entry
    elif is_dataclass(entry):
        for field in fields(entry):
            yield from numbers(getattr(entry, field.name), f"{path}.{field.name}")
    elif isinstance(entry, dict):
        for key, held in entry.items():
            yield from numbers(held, f"{path}.{key}")
    elif isinstance(entry, (tuple, list)):
        for at, held in enumerate(entry):
            yield from numbers(held, f"{path}.{getattr(held, 'id', at)}")


NUMBERS = dict(numbers(KNOWN))


def test_every_part_kind_asked_for_and_twelve_polymers_are_there() -> None:
    assert set(KNOWN.parts) >= NEEDED_PARTS
    assert len(KNOWN.materials) >= 12
    assert sum(bool(material.filler) for material in KNOWN.materials.values()) >= 4


def test_every_number_carries_value_band_unit_and_source() -> None:
    assert len(NUMBERS) > 300
    allowed = {*BY_SUFFIX, *DIMENSIONLESS, "currency", EXPOSURE_UNIT}
    wrong = [
        path
        for path, held in NUMBERS.items()
        if not held.low <= held.value <= held.high or held.source not in KNOWN.sources or held.unit not in allowed
    ]
    assert wrong == []


def test_a_number_without_a_band_is_a_definition_or_a_choice_of_reckoning() -> None:
    """An assumed or remembered quantity is never exact, so it must own up to a band."""
    bare = {path.rsplit(".", 1)[-1] for path, held in NUMBERS.items() if held.low == held.high}
    assert bare <= {
        "reference_c",
        "share_x_frac",
        "share_y_frac",
        "share_z_frac",
        "life_ratio",
        "abrasive_ratio",
        "price_ratio",
    }
    assert all(held.value == 1 for path, held in NUMBERS.items() if "ratio" in path and held.low == held.high)


def test_every_source_is_used_and_every_reference_resolves() -> None:
    used = {held.source for held in NUMBERS.values()} | {build.source for build in KNOWN.builds.values()}
    assert used == set(KNOWN.sources)


def test_shares_of_one_lie_between_nought_and_one() -> None:
    shares = [held for held in NUMBERS.values() if held.unit == "frac"]
    assert shares
    assert all(held.low >= 0 and held.high <= 1 for held in shares)


@pytest.mark.parametrize("kind", KNOWN.parts.values(), ids=lambda kind: kind.id)
def test_every_part_kind_can_be_looked_at_judged_and_renewed(kind) -> None:  # type: ignore[no-untyped-def]
    assert kind.look_for
    assert kind.cautions
    assert all(failure.shows for failure in kind.failures)
    assert any(grade.failed for grade in kind.grades)
    assert kind.grades[0].life_low_frac == 0
    assert not kind.grades[0].failed
    assert kind.products[0].life_ratio.value == 1, "the first product is the plain one"
    assert any(kind.id == part for build in KNOWN.builds.values() for part, _, _ in build.parts)
    assert kind.life.median.high / kind.life.median.low >= 4, "a rule of thumb is wide on purpose"


@pytest.mark.parametrize("material", KNOWN.materials.values(), ids=lambda material: material.id)
def test_every_material_is_plain_or_filled_and_flows_by_a_law_with_its_constants(material) -> None:  # type: ignore[no-untyped-def]
    asked = {"power": {"k_pa_sn", "n_ratio"}, "cross": {"eta0_pa_s", "lambda_s", "n_ratio"}}
    assert set(material.rheology.constants) == asked[material.rheology.law]
    assert KNOWN.materials[material.polymer].filler == ""
    if material.filler:
        assert material.abrasive_ratio.value > KNOWN.materials[material.polymer].abrasive_ratio.value


@pytest.mark.parametrize("build", KNOWN.builds.values(), ids=lambda build: build.id)
def test_every_build_makes_a_machine_with_limits_and_the_parts_of_its_drive(build) -> None:  # type: ignore[no-untyped-def]
    listed = {name: tuple(held) if isinstance(held, list) else held for name, held in build.motion.items()}
    MotionLimits(**listed)
    parts = {part for part, _, _ in build.parts}
    assert len(parts) == len(build.parts)
    assert ("tube_end" in parts) == (build.hot_end == "lined")
    assert ("guide_tube" in parts) == (build.drive == "remote")
    assert build.tube_length_mm >= build.tube_needed_mm
    assert (build.tube_length_mm > 0) == (build.drive == "remote")
    assert {"nozzle", "sink_fan", "drive_gear", "heater", "bed_surface"} <= parts


def test_hot_parts_moving_parts_and_mains_carry_their_cautions() -> None:
    def cautions(kind: str) -> str:
        return " ".join(KNOWN.parts[kind].cautions).lower()

    assert "fumes" in cautions("tube_end")
    assert "birds" in cautions("tube_end")
    assert "qualified person" in cautions("supply_fan")
    assert "qualified person" in cautions("heater")
    for kind in KNOWN.parts.values():
        if kind.renewal.heats:
            assert "burn" in cautions(kind.id), kind.id
        if "fan" in kind.id and kind.id != "supply_fan":
            assert "blades" in cautions(kind.id), kind.id


def test_no_lined_product_is_called_fit_for_more_than_260_degrees() -> None:
    """Guide to the Safe Handling of Fluoropolymer Resins: continuous service ends at 260 °C."""
    limits = [product.nozzle_limit_c for product in KNOWN.parts["tube_end"].products]
    assert all(limit is not None and limit.high <= 260 for limit in limits)


def test_loading_takes_no_heavy_library() -> None:
    """The commands that only look something up start at once."""
    script = (
        "import sys; from feedwright.catalogue.load import load_catalogue; load_catalogue();"
        "print([m for m in ('numpy', 'scipy', 'numba', 'sqlalchemy') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_loading_takes_little_longer_than_reading_the_bare_files() -> None:
    def quickest(work: Callable[[], object]) -> float:
        def once() -> float:
            start = perf_counter()
            work()
            return perf_counter() - start

        return min(once() for _ in range(7))

    bare = quickest(lambda: [tomllib.loads(text.decode()) for text in TEXTS.values()])
    assert quickest(lambda: parse_catalogue(TEXTS)) < 4 * bare
    assert load_catalogue() is load_catalogue()


def test_any_change_of_a_file_changes_the_digest() -> None:
    changed = parse_catalogue({**TEXTS, "figures.toml": TEXTS["figures.toml"] + b"# looked through\n"})
    assert changed.digest != KNOWN.digest
    assert parse_catalogue(TEXTS).digest == KNOWN.digest


TUBE_SHAPE = "shape = { value = 3.0, low = 1.9, high = 4.7,"
BAD = [
    # file, what stands there, what is put instead, place named, what is said
    ("parts_feed.toml", 'place = "hot end"\n', "", "tube_end.place", "missing"),
    ("parts_feed.toml", 'place = "hot end"\n', 'place = "attic"\n', "tube_end.place", "“attic”"),
    ("parts_feed.toml", 'hot_end = "lined"\n', 'hot_ends = "lined"\n', "tube_end.hot_ends", "no such key"),
    ("parts_feed.toml", "heats = true\n", 'heats = "yes"\n', "tube_end.renewal.heats", "true or false"),
    ("parts_feed.toml", 'law = "arrhenius_hours"', 'law = "witchcraft"', "tube_end.exposure.law", "witchcraft"),
    ("parts_feed.toml", "reference_c = { value = 240,", "zero_c = { value = 240,", "tube_end.exposure.numbers", "asks"),
    ("parts_feed.toml", TUBE_SHAPE, "shape = { value = 3, low = 4, high = 2,", "tube_end.life.shape.low", "low <="),
    ("parts_feed.toml", TUBE_SHAPE, "shape = { value = 3, low = 0, high = 4,", "tube_end.life.shape.low", "above"),
    ("parts_feed.toml", TUBE_SHAPE, "shape = { value = nan,", "tube_end.life.shape.value", "a number"),
    ("parts_feed.toml", TUBE_SHAPE, 'shape = { value = "3",', "tube_end.life.shape.value", "a number"),
    ("parts_feed.toml", TUBE_SHAPE, "shape = { low = 1.9,", "tube_end.life.shape.value", "a number"),
    ("parts_feed.toml", TUBE_SHAPE, "shape = { valu = 3.0,", "tube_end.life.shape.valu", "no such key"),
    ("parts_feed.toml", "life_low_frac = 0.35", "life_low_frac = 1", "tube_end.grades.trace.life_low_frac", "<"),
    ("parts_feed.toml", "parts = []\n", 'parts = "tube"\n', "tube_end.renewal.parts", "expected a list, found text"),
    ("parts_feed.toml", "[guide_tube]\n", "[tube_end]\n", "", "line"),
    ("parts_machine.toml", "[heater]\n", "[heater\n", "", "line 4"),
    ("materials.toml", 'source = "textile_2020" }', 'source = "hearsay" }', "pla.nozzle_c.source", "“hearsay”"),
    ("materials.toml", 'polymer = "pla"', 'polymer = "amber"', "pla.polymer", "“amber”"),
    ("materials.toml", 'law = "cross"', 'law = "syrup"', "pla.rheology.law", "“syrup”"),
    ("materials.toml", "n_ratio = { value = 0.37", "steep = { value = 0.37", "pla.rheology.constants.steep", "unit"),
    ("materials.toml", "enclosure = false", "enclosure = 0", "pla.enclosure", "expected true or false"),
    ("figures.toml", "usual_run_h", "usual_run", "numbers.usual_run", "does not end with a unit"),
    ("figures.toml", 'currency = "EUR"\n', "", "currency", "missing"),
    ("builds.toml", '["tube_end", "plain", 1]', '["tube_end", "gold", 1]', "moving_bed_remote.parts", "“gold”"),
    ("builds.toml", '["tube_end", "plain", 1]', '["tube_end", "plain", 0]', "moving_bed_remote.parts", "how many"),
    ("builds.toml", '["tube_end", "plain", 1]', '["tube_end"]', "moving_bed_remote.parts", "how many"),
    ("builds.toml", 'hot_end = "lined"', 'hot_end = "all_metal"', "moving_bed_remote.parts", "not found on"),
    ("builds.toml", "box_mm = [230.0, 230.0, 240.0]", "box_mm = [230.0]", "moving_bed_remote.box_mm", "three"),
    ("builds.toml", 'source = "assumed"', 'source = "hearsay"', "moving_bed_remote.source", "“hearsay”"),
    ("builds.toml", "enclosure_c = 22.0", "enclosed = 22.0", "moving_bed_remote.enclosed", "no such key"),
    ("sources.toml", 'kind = "practice"\n', "", "practice.kind", "missing"),
    ("sources.toml", 'kind = "practice"', 'kind = "rumour"', "practice.kind", "“rumour”"),
    ("sources.toml", "[practice]\n", "[practice.more]\n", "practice.more", "no such key"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("file", "stands", "instead", "place", "said"), BAD, ids=[f"{b[0]}-{b[3]}-{b[4]}" for b in BAD]
)
def test_a_bad_entry_is_refused_with_its_file_and_path(
    file: str, stands: str, instead: str, place: str, said: str
) -> None:
    text = TEXTS[file].decode()
    assert stands in text
    with pytest.raises(BadEntry) as caught:
        parse_catalogue({**TEXTS, file: text.replace(stands, instead, 1).encode()})
    assert caught.value.subject == file
    assert caught.value.place == place
    assert said in caught.value.expected
    assert caught.value.remedy


def test_two_part_kinds_of_one_id_are_refused_even_across_files() -> None:
    machine = TEXTS["parts_machine.toml"].replace(b"[heater", b"[nozzle")
    with pytest.raises(BadEntry, match=r"parts_machine\.toml, nozzle: .* there already"):
        parse_catalogue({**TEXTS, "parts_machine.toml": machine})


def test_a_file_that_is_not_text_is_refused_by_name() -> None:
    with pytest.raises(BadEntry, match=r"figures\.toml"):
        parse_catalogue({**TEXTS, "figures.toml": b"\xff\xfe"})

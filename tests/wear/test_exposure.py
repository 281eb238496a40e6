"""Each law on cases worked by hand, and what all laws share: they add up, scale and never run backwards."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedwright.catalogue.entry import EXPOSURE_LAWS, Material, PartKind, Sourced
from feedwright.catalogue.load import load_catalogue
from feedwright.toolpath.values import ADDITIVE, Stretch
from feedwright.wear.exposure import LAWS, arrhenius_factor, drivers_of, exposure_of, law_key
from feedwright.wear.values import Surroundings

KNOWN = load_catalogue()
ROOM = Surroundings("test")


def number(value: float, unit: str = "ratio") -> Sourced:
    return Sourced(value, value, value, unit, "assumed")


FILLED = replace(
    KNOWN.materials["pla"],
    title="test polymer",
    density_g_cm3=number(2.0, "g_cm3"),
    abrasive_ratio=number(11.0),
)
DAY = Stretch(
    printing_s=7200,
    travel_s=3600,
    heating_s=360,
    idle_s=840,
    filament_forward_mm=12_000,
    filament_back_mm=2_000,
    reversals=500,
    travel_x_mm=3e6,
    travel_y_mm=2e6,
    travel_z_mm=10_000,
    part_fan_s=1800,
    nozzle_heat_ups=2,
    bed_heat_ups=1,
    nozzle_s=((240.0, 3600.0), (260.0, 1800.0)),
    bed_s=((60.0, 7200.0),),
)
FAN = {"reference_c": 40.0, "ratio_per_10k_ratio": 1.5, "running_c": 50.0}
BY_HAND: list[tuple[str, Mapping[str, float], float]] = [
    # 1 h at the reference, half an hour at 260 °C where 0.8 eV ages 1.971238 times as fast (physics by hand)
    ("arrhenius_hours", {"reference_c": 240.0, "activation_ev": 0.8}, 1 + 0.5 * 1.971238),
    # 10 m net of 1.75 mm is 24.05282 cm³, so 48.10564 g, each worth 11
    ("abrasive_mass", {}, 0.04810564 * 11),
    ("filament_length", {"share_of_abrasive_frac": 0.1}, 14 * (1 + 0.1 * 10)),
    ("reversal_count", {}, 500),
    ("drive_travel", {"m_per_reversal_m": 0.02}, 14 + 500 * 0.02),
    # 5400 s hot and 360 s heating are 1.6 h; air 10 K over the reference counts 1.5 times
    ("warm_fan_hours", FAN, 1.6 * 1.5),
    ("part_fan_hours", FAN, 0.5 * 1.5),
    ("powered_hours", FAN, 12_000 / 3600 * 1.5),
    ("heat_cycles", {"hours_per_cycle_h": 3.0}, 1.6 + 2 * 3),
    ("bed_hours", {"hours_per_print_h": 4.0}, 2 + 2 * 4),
    ("axis_travel", {"share_x_frac": 1.0, "share_y_frac": 0.5, "share_z_frac": 0.0}, 3 + 1),
    ("screw_travel", {}, 10),
]


class Asked(dict[str, float]):
    """Numbers that remember which of them were asked for."""

    def __init__(self, held: Mapping[str, float]) -> None:
        super().__init__(held)
        self.asked: set[str] = set()

    def __getitem__(self, key: str) -> float:
        self.asked.add(key)
        return super().__getitem__(key)


@pytest.mark.parametrize(("law", "numbers", "expected"), BY_HAND, ids=[row[0] for row in BY_HAND])
def test_each_law_gives_what_a_pencil_gives_and_asks_for_just_its_numbers(
    law: str, numbers: Mapping[str, float], expected: float
) -> None:
    asked = Asked(numbers)
    causes = LAWS[law](DAY, asked, ROOM, FILLED)
    assert sum(cause.exposure for cause in causes) == pytest.approx(expected, rel=1e-6)
    assert asked.asked == set(EXPOSURE_LAWS[law])


def test_every_law_of_the_catalogue_is_written_and_worked_by_hand() -> None:
    assert set(LAWS) == set(EXPOSURE_LAWS) == {row[0] for row in BY_HAND}


def test_a_fan_ages_faster_in_a_warm_enclosure_but_gets_no_credit_for_a_cold_shop() -> None:
    def hours(ambient_c: float) -> float:
        causes = LAWS["warm_fan_hours"](DAY, FAN, Surroundings("", ambient_c), FILLED)
        return sum(cause.exposure for cause in causes)

    assert hours(32.0) == pytest.approx(1.6 * 1.5**2)
    assert hours(12.0) == hours(22.0) == pytest.approx(1.6 * 1.5)


def test_thicker_filament_is_weighed_by_its_own_section() -> None:
    thin, thick = (
        sum(cause.exposure for cause in LAWS["abrasive_mass"](DAY, {}, Surroundings("", 22.0, mm), FILLED))
        for mm in (1.75, 2.85)
    )
    assert thick / thin == pytest.approx((2.85 / 1.75) ** 2)


amounts = st.floats(min_value=0.0, max_value=1e6)
levels = st.dictionaries(st.sampled_from([0.0, 180.0, 205.0, 240.0, 275.0]), amounts, max_size=4)


@st.composite
def stretches(draw: st.DrawFn) -> Stretch:
    held = {name: draw(amounts) for name in ADDITIVE}
    held["filament_forward_mm"] += held["filament_back_mm"]
    return Stretch(
        **held,
        nozzle_s=tuple(sorted(draw(levels).items())),
        bed_s=tuple(sorted(draw(levels).items())),
    )


kinds = st.sampled_from(list(KNOWN.parts.values()))
materials = st.sampled_from(list(KNOWN.materials.values()))


@given(kinds, materials, stretches(), stretches())
def test_two_stretches_wear_what_both_together_wear(
    kind: PartKind, material: Material, one: Stretch, other: Stretch
) -> None:
    apart = exposure_of(kind, one, ROOM, material) + exposure_of(kind, other, ROOM, material)
    assert exposure_of(kind, one + other, ROOM, material) == pytest.approx(apart, rel=1e-9, abs=1e-9)


@given(kinds, materials, stretches(), st.floats(min_value=0.0, max_value=50.0))
def test_a_share_or_copies_of_a_stretch_wear_in_proportion(
    kind: PartKind, material: Material, stretch: Stretch, times: float
) -> None:
    whole = exposure_of(kind, stretch, ROOM, material)
    assert exposure_of(kind, stretch.times(times), ROOM, material) == pytest.approx(times * whole, rel=1e-9, abs=1e-9)


@given(kinds, materials, stretches())
def test_no_stretch_that_uses_filament_makes_a_part_younger(
    kind: PartKind, material: Material, stretch: Stretch
) -> None:
    assert exposure_of(kind, stretch, ROOM, material) >= 0


def test_pulling_back_what_went_forward_leaves_no_mass_behind() -> None:
    """Slices of a print may end amid a retraction, and must still add up to the whole."""
    nozzle = KNOWN.parts["nozzle"]
    back, forward = Stretch(filament_back_mm=5.0), Stretch(filament_forward_mm=5.0)
    assert exposure_of(nozzle, back, ROOM, FILLED) == -exposure_of(nozzle, forward, ROOM, FILLED)


def test_hotter_printing_and_more_abrasive_filament_wear_more() -> None:
    def tube(at_c: float) -> float:
        return exposure_of(KNOWN.parts["tube_end"], Stretch(nozzle_s=((at_c, 3600.0),)), ROOM, FILLED)

    assert tube(240.0) == pytest.approx(1.0)
    assert tube(205.0) < tube(240.0) < tube(255.0)
    kilogram = Stretch(filament_forward_mm=330_000)
    plain, filled = (
        exposure_of(KNOWN.parts["nozzle"], kilogram, ROOM, KNOWN.materials[name]) for name in ("pla", "pla_carbon")
    )
    assert filled > 10 * plain


@given(st.floats(100.0, 300.0), st.floats(100.0, 300.0), st.floats(100.0, 300.0), st.floats(0.3, 1.5))
def test_ageing_factors_chain_and_turn_round(a_c: float, b_c: float, c_c: float, ev: float) -> None:
    chained = arrhenius_factor(a_c, b_c, ev) * arrhenius_factor(b_c, c_c, ev)
    assert chained == pytest.approx(arrhenius_factor(a_c, c_c, ev), rel=1e-9)


@given(kinds, stretches(), stretches())
def test_drivers_account_for_the_exposure_largest_first(kind: PartKind, one: Stretch, other: Stretch) -> None:
    charges = {"pla": one, "petg": other}
    total = sum(exposure_of(kind, stretch, ROOM, KNOWN.materials[m]) for m, stretch in charges.items())
    drivers = drivers_of(kind, charges, ROOM, KNOWN.materials)
    assert [share.exposure for share in drivers] == sorted((share.exposure for share in drivers), reverse=True)
    assert sum(share.share_frac for share in drivers) <= 1 + 1e-9
    if total > 0:
        assert sum(share.exposure for share in drivers) >= 0.75 * total
        assert len({share.words for share in drivers}) == len(drivers)


def test_like_causes_are_said_once_with_their_sum() -> None:
    charges = {
        "pla": Stretch(nozzle_s=((240.0, 3 * 3600.0),)),
        "abs": Stretch(nozzle_s=((240.2, 4 * 3600.0), (250.0, 1800.0))),
    }
    drivers = drivers_of(KNOWN.parts["tube_end"], charges, ROOM, KNOWN.materials)
    assert [share.words for share in drivers] == ["7 h at 240 °C", "0.5 h at 250 °C"]


def test_nothing_printed_has_no_drivers() -> None:
    assert drivers_of(KNOWN.parts["nozzle"], {"pla": Stretch()}, ROOM, KNOWN.materials) == ()
    assert drivers_of(KNOWN.parts["nozzle"], {"pla": Stretch(filament_back_mm=9.0)}, ROOM, KNOWN.materials) == ()


def test_a_kept_total_is_known_by_all_it_was_reckoned_from() -> None:
    kind = KNOWN.parts["tube_end"]
    key = law_key(kind, KNOWN)
    assert key == law_key(replace(kind, title="otherwise called"), KNOWN)
    hotter = {**kind.exposure.numbers, "activation_ev": number(0.9, "ev")}
    assert key != law_key(replace(kind, exposure=replace(kind.exposure, numbers=hotter)), KNOWN)
    assert key != law_key(replace(kind, exposure=replace(kind.exposure, law="heat_cycles")), KNOWN)
    grittier = {**KNOWN.materials, "pla": replace(KNOWN.materials["pla"], abrasive_ratio=number(2.0))}
    assert key != law_key(kind, replace(KNOWN, materials=grittier))


def test_every_law_and_its_parts_are_explained_to_the_reader() -> None:
    page = (Path(__file__).parents[2] / "docs" / "models" / "wear.md").read_text()
    for law in LAWS:
        row = next(line for line in page.splitlines() if line.startswith(f"| `{law}` |"))
        for kind in KNOWN.parts.values():
            assert kind.exposure.law != law or kind.title.lower().removeprefix("drive ") in row.lower()

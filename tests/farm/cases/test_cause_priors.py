"""What the records say of a trouble before any symptom."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from feedwright.catalogue.network import load_network
from feedwright.farm.cases.cause_priors import known_of, spent_frac, traits
from feedwright.farm.ground.house import open_farm
from feedwright.farm.machines.machines import add_machine
from feedwright.farm.outlook.forecasts import fitted_parts
from feedwright.farm.parts.findings import add_finding
from feedwright.farm.parts.renewals import renew
from feedwright.farm.prints.runs import add_run
from feedwright.wear.values import Interval

NOW = datetime.now(UTC).replace(microsecond=0)
NETWORK = load_network()


def test_the_chance_that_a_life_is_over_follows_the_bands(tmp_path: Path) -> None:
    """At the median life one half; at a third of it with a band of a factor 2 hardly any; at nought none."""
    with open_farm(tmp_path / "farm", create=True) as store:
        add_machine(store, "Alder", "moving_bed_remote", history="new", at_utc=NOW - timedelta(days=9))
        outlook = fitted_parts(store, NOW)[0].outlook
    at = {
        used: replace(outlook, life=Interval(50, 100, 200), exposure=Interval(used, used, used))
        for used in (0, 33, 100, 300)
    }
    assert spent_frac(at[0]) == 0
    assert spent_frac(at[33]) == pytest.approx(0.02, abs=0.01)
    assert spent_frac(at[100]) == pytest.approx(0.5)
    assert spent_frac(at[300]) > 0.97
    unsure = replace(at[33], exposure=Interval(5, 33, 200))
    assert spent_frac(unsure) > spent_frac(at[33])


@pytest.mark.parametrize(
    ("material", "has"),
    [
        ("pla", set()),
        ("pla_carbon", {"abrasive"}),
        ("tpu_95a", {"thirsty", "flexible"}),
        ("pa6", {"thirsty", "shrinking", "hot_material"}),
    ],
)
def test_a_material_answers_its_circumstances(material: str, has: set[str]) -> None:
    held = traits(NETWORK, material)
    assert {name for name, there in held.items() if there} == has
    assert set(held) == {one.id for one in NETWORK.circumstances.values() if one.material}


def test_an_unknown_material_answers_nothing() -> None:
    assert traits(NETWORK, "") == {}


def test_looks_and_renewals_of_late_are_known_and_old_ones_are_not(tmp_path: Path) -> None:
    with open_farm(tmp_path / "farm", create=True) as store:
        machine = add_machine(store, "Alder", "moving_bed_remote", history="new", at_utc=NOW - timedelta(days=90))
        for day in range(80, 0, -5):
            add_run(store, "Alder", material="pla", hours=30.0, started_utc=NOW - timedelta(days=day))
        renew(store, "Alder", "nozzle", renewed_utc=NOW - timedelta(days=60))
        before = known_of(store, NETWORK, machine, "pla", NOW)
        assert "serviced_hot_end" not in before.situation.circumstances
        assert "tube_end" not in before.situation.part_sound
        add_finding(store, "Alder", "tube_end", grade="clean", found_utc=NOW - timedelta(days=2))
        renew(store, "Alder", "nozzle", renewed_utc=NOW - timedelta(days=3))
        after = known_of(store, NETWORK, machine, "pla", NOW)
        assert after.situation.circumstances["serviced_hot_end"]
        assert "tube_end" in after.situation.part_sound
        assert any("work on the hot end" in said for said in after.because)

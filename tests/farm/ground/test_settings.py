"""The farm's own name, zone, figures, people and folder."""

from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest

from feedwright.catalogue.load import load_catalogue
from feedwright.catalogue.network import load_network
from feedwright.errors import BadInput, Conflict, NotFound
from feedwright.farm.ground import settings
from feedwright.farm.ground.house import demo_folder, farm_folder, has_farm, moment
from feedwright.farm.ground.people import add_person, people, person_named
from feedwright.farm.outlook.costs import in_money_of_farm
from feedwright.farm.outlook.forecasts import costs_of_machines
from feedwright.records.store import Store


def test_the_catalogues_figures_hold_until_the_farm_sets_its_own(farm: Store) -> None:
    assert settings.figures(farm) == load_catalogue().figures
    settings.set_figure(farm, "Labour per-h", 31.5, person="Ines")
    settings.set_figure(farm, "labour_per_h", 32.0)
    own = settings.figures(farm).numbers["labour_per_h"]
    assert (own.value, own.low, own.high, own.source) == (32.0, 32.0, 32.0, settings.OWN_FIGURE)
    others = {name: number for name, number in settings.figures(farm).numbers.items() if name != "labour_per_h"}
    assert others.items() <= load_catalogue().figures.numbers.items()


def test_name_zone_and_currency_are_the_farms_own(farm: Store) -> None:
    assert (settings.farm_name(farm), str(settings.zone(farm))) == ("My farm", "UTC")
    settings.set_farm_name(farm, " Larkspur Yard ")
    settings.set_zone(farm, "Europe/Vienna")
    settings.set_currency(farm, "chf", price_ratio=0.94)
    assert settings.farm_name(farm) == "Larkspur Yard"
    summer = datetime(2026, 7, 1, 12, tzinfo=UTC).astimezone(settings.zone(farm))
    assert summer.hour == 14
    assert settings.figures(farm).currency == "CHF"


@pytest.mark.parametrize(
    ("setter", "given"),
    [
        (settings.set_figure, ("labor_per_h", 3.0)),
        (settings.set_figure, ("labour_per_h", float("nan"))),
        (settings.set_figure, ("labour_per_h", -1.0)),
        (settings.set_zone, ("Vienna",)),
        (settings.set_zone, ("../../etc/passwd",)),
        (settings.set_figure, ("usual_part_fan_frac", 1.01)),
        (settings.set_figure, ("usual_hours_per_day_h", 24.5)),
        (settings.set_figure, ("price_ratio", 2.0)),
        (settings.set_currency, ("EURO",)),
        (settings.set_currency, ("€€€",)),
        (settings.set_currency, ("XXX",)),
        (settings.set_currency, ("DEM",)),
        (settings.set_currency, ("CHF",)),
        (settings.set_farm_name, (" ",)),
        (settings.set_farm_name, ("two\nlines",)),
        (settings.set_farm_name, ("x" * 61,)),
        (add_person, ("Ada\u202e",)),
        (add_person, ("A" * 61,)),
    ],
)
def test_a_bad_setting_is_refused_and_writes_nothing(farm: Store, setter: Any, given: tuple[Any, ...]) -> None:
    before = farm.counts()
    with pytest.raises(BadInput) as refused:
        setter(farm, *given)
    assert refused.value.expected
    assert refused.value.remedy
    assert farm.counts() == before


def test_another_currency_brings_its_prices_and_not_its_name_alone(farm: Store) -> None:
    """At 160 to one, all money of the catalogue is 160 times as many; what the farm had set itself too."""
    settings.set_figure(farm, "labour_per_h", 30.0)
    (alder,) = (machine for machine in farm.machines() if machine.name == "Alder")
    listed = load_catalogue().figures
    kind = load_catalogue().parts["nozzle"]
    now = datetime.now(UTC)
    euro = costs_of_machines(farm, now)[alder.id].of(kind)
    settings.set_currency(farm, "JPY", price_ratio=160)
    numbers = settings.figures(farm).numbers
    assert numbers["labour_per_h"].value == 4800
    assert numbers["filament_per_kg"].value == 160 * listed.numbers["filament_per_kg"].value
    assert numbers["look_minutes"] == listed.numbers["look_minutes"]
    yen = costs_of_machines(farm, now)[alder.id].of(kind)
    assert yen.currency == "JPY"
    for name in ("planned", "failure", "look", "shared"):
        assert getattr(yen, name) == pytest.approx(160 * getattr(euro, name))
    steps, priced = load_network(), in_money_of_farm(load_network(), settings.figures(farm))
    for listed_step, step in zip(steps.repairs.values(), priced.repairs.values(), strict=True):
        if listed_step.parts_cost and step.parts_cost:
            assert step.parts_cost.value == 160 * listed_step.parts_cost.value
    settings.set_figure(farm, "price_ratio", 170)
    assert settings.figures(farm).numbers["labour_per_h"].value == 4800, "the farm's own money stays"
    settings.set_currency(farm, "eur")
    assert settings.figures(farm).numbers["price_ratio"].value == 1
    assert settings.figures(farm).numbers["labour_per_h"].value == pytest.approx(4800 / 170)


def test_every_figure_of_the_catalogue_lies_within_what_a_farm_may_set() -> None:
    for name, number in load_catalogue().figures.numbers.items():
        assert settings.LEAST_OF.get(name, 0) <= number.low
        assert number.high <= settings.MOST_OF.get(name, settings.MOST[number.unit]), name


def test_people_are_known_once_by_whatever_letter_case(farm: Store) -> None:
    made = add_person(farm, "  Ada ")
    assert made == person_named(farm, "ada")
    assert [person.name for person in people(farm)] == ["Ada", "Ines", "Tobias"]
    before = farm.counts()
    with pytest.raises(Conflict, match="known already"):
        add_person(farm, "ADA")
    with pytest.raises(BadInput):
        add_person(farm, " ")
    with pytest.raises(NotFound, match="did you mean Tobias"):
        person_named(farm, "Tobia")
    assert farm.counts() == before


def test_the_farms_folder_is_the_given_one_or_the_environments(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("FEEDWRIGHT_FARM", str(tmp_path / "named"))
    assert farm_folder(tmp_path) == tmp_path
    assert farm_folder() == tmp_path / "named"
    assert demo_folder() == tmp_path / "named-demo"
    monkeypatch.setenv("FEEDWRIGHT_FARM", f"{tmp_path}/named/")
    assert demo_folder() == tmp_path / "named-demo", "beside the farm, never in it"
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FEEDWRIGHT_FARM", ".")
    assert demo_folder() == tmp_path.parent / f"{tmp_path.name}-demo"
    monkeypatch.delenv("FEEDWRIGHT_FARM")
    assert farm_folder() != demo_folder()
    assert not has_farm(tmp_path)


def test_a_moment_is_aware_and_whole(farm: Store) -> None:
    assert has_farm(farm.folder)
    assert moment(datetime.fromisoformat("2026-03-02T09:30:15.75+01:00")) == datetime(2026, 3, 2, 8, 30, 15, tzinfo=UTC)
    assert moment(None).microsecond == 0
    soon = datetime.now(UTC) + timedelta(minutes=4)
    assert moment(soon) == soon.replace(microsecond=0), "clocks differ by some minutes"
    first = datetime.min.replace(tzinfo=timezone(timedelta(hours=14)))
    no_zone = datetime(2026, 3, 2)  # noqa: DTZ001
    last_century, too_soon = datetime(1999, 12, 31, tzinfo=UTC), soon + timedelta(minutes=2)
    for bad in (no_zone, datetime.max.replace(tzinfo=UTC), first, last_century, too_soon):
        with pytest.raises(BadInput, match=r"^--at"):
            moment(bad, "--at")


def test_settings_made_together_are_all_recorded_or_none(farm: Store) -> None:
    with pytest.raises(BadInput, match="IANA zone"):
        settings.set_together(farm, {"name": "Yard", "zone": "Mars/Base"}, {"labour_per_h": 31})
    assert settings.farm_name(farm) == "My farm"
    settings.set_together(farm, {"name": "Yard", "currency": "CHF"}, {"price_ratio": 0.94, "labour_per_h": 31})
    own = settings.figures(farm)
    assert (settings.farm_name(farm), own.currency) == ("Yard", "CHF")
    assert (own.numbers["price_ratio"].value, own.numbers["labour_per_h"].value) == (0.94, 31)
    assert [act.kind for act in farm.acts(limit=9)].count("set") == 1

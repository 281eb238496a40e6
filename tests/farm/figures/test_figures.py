"""Figures from the records: what happened together counts once, and each number is the sum of what is behind it."""

from datetime import timedelta

import pytest
from tests.farm.conftest import BEGUN

from feedwright.errors import BadInput, NotFound
from feedwright.farm.cases.cases import close_case, open_case
from feedwright.farm.figures.figures import as_csv, behind, farm_figures
from feedwright.farm.figures.savings import savings, savings_words
from feedwright.farm.ground.settings import set_zone
from feedwright.farm.parts.events import add_event
from feedwright.farm.parts.findings import add_finding
from feedwright.farm.parts.renewals import renew
from feedwright.farm.prints.runs import add_run, add_runs
from feedwright.farm.prints.voids import void
from feedwright.farm.service.service_visits import begin_visit, end_visit, enter, visit_sheet
from feedwright.farm.stores.stores import add_item
from feedwright.records.store import Store
from feedwright.records.values import Run

NOW = BEGUN + timedelta(days=40)
SINCE = "2026-03-01"


def print_days(farm: Store, days: range, machine: str = "Alder") -> None:
    add_runs(farm, machine, [Run(0, BEGUN + timedelta(days=d), "complete", "pla", hours=10.0) for d in days])


def test_a_failed_part_and_the_print_it_spoiled_cost_what_the_farms_figures_say(farm: Store) -> None:
    print_days(farm, range(10))
    at = BEGUN + timedelta(days=10)
    add_run(farm, "Alder", material="pla", hours=5.0, filament_g=50.0, outcome="spoiled", copies=5,
            started_utc=at)  # fmt: skip
    add_event(farm, "Alder", "jam", at_utc=at + timedelta(hours=26))
    renew(farm, "Alder", "nozzle", reason="failed", minutes=30, renewed_utc=at + timedelta(hours=27))
    print_days(farm, range(12, 14))
    made = farm_figures(farm, NOW, since=SINCE)
    (alder, *_others) = made.machines
    assert (alder.printed.runs, alder.printed.spoiled, alder.failures) == (13, 1, 1)
    assert alder.printed.busy_h == pytest.approx(145.0)
    assert alder.time_between_h.mid == pytest.approx(145.0)
    (cause,) = made.costs["cause"]
    assert (cause.name, cause.incidents, cause.spoiled) == ("Nozzle failed", 1, 1)
    # 30 minutes and 20 of clearing up at 25.50 an hour, a nozzle at 1.50, five hours at 1.50 and 50 g at 24 a kg
    assert cause.cost == pytest.approx(50 / 60 * 25.5 + 1.5 + 5 * 1.5 + 0.05 * 24)
    assert cause.cost_per_h
    assert cause.cost_per_h.mid == pytest.approx(cause.cost / 145)
    assert alder.service_h == pytest.approx(50 / 60)
    assert alder.availability_frac
    assert alder.availability_frac.mid == pytest.approx(145 / (145 + 50 / 60))
    found = behind(made, "cause", "Nozzle failed")
    assert [one.record.split()[0] for one in found] == ["renewal", "event", "run"]
    assert sum(one.cost for one in found) == pytest.approx(cause.cost)


def test_work_of_one_evening_counts_together_where_the_day_in_utc_turns_within_it(farm: Store) -> None:
    set_zone(farm, "America/Los_Angeles")
    print_days(farm, range(5))
    for hour, part in ((23.5, "nozzle"), (24.5, "belt")):  # 15:30 and 16:30 on the wall
        renew(farm, "Alder", part, minutes=10, renewed_utc=BEGUN.replace(hour=0) + timedelta(days=6, hours=hour))
    made = farm_figures(farm, NOW, since=SINCE)
    assert made.total.incidents == 1


def test_what_a_renewal_took_from_the_stores_costs_what_was_paid_for_it(farm: Store) -> None:
    print_days(farm, range(5))
    add_item(farm, "Brass nozzle", ["nozzle:brass"], pack_count=25, pack_price="20.00", on_hand=25, at_utc=BEGUN)
    renew(farm, "Alder", "nozzle", minutes=10, renewed_utc=BEGUN + timedelta(days=6))
    renew(farm, "Hazel", "nozzle", minutes=10, renewed_utc=BEGUN + timedelta(days=6), from_stores=False)
    own, catalogue = sorted(farm_figures(farm, NOW, since=SINCE).work, key=lambda one: one.machine)
    assert (own.parts_cost, own.reckoned) == (0.8, "")
    assert (catalogue.parts_cost, catalogue.reckoned) == (1.5, "price by the catalogue")


def test_a_case_gives_its_cause_to_what_it_looked_into_and_voiding_takes_it_back(farm: Store) -> None:
    print_days(farm, range(5))
    at = BEGUN + timedelta(days=5)
    run = add_run(farm, "Alder", material="pla", hours=4.0, outcome="spoiled", fraction=0.3, started_utc=at).run
    case = open_case(farm, machine="Alder", answers={"strings": "yes"}, opened_utc=at + timedelta(hours=2))
    close_case(farm, case.id, cause="liner_gap", cure="trim_tube_end", ended_utc=at + timedelta(hours=3))
    elsewhere = open_case(farm, answers={"strings": "yes"}, opened_utc=at)
    close_case(farm, elsewhere.id, cause="liner_gap", ended_utc=at + timedelta(hours=1))
    made = farm_figures(farm, NOW, since=SINCE)
    (cause,) = made.costs["cause"]
    assert cause.name == "The tube end does not sit tight on the nozzle"
    assert (cause.incidents, cause.spoiled, made.cases_elsewhere) == (1, 1, 1)
    assert [line.name for line in made.costs["part"]] == ["Tube end"]
    void(farm, "run", run.id, "entered twice")
    assert farm_figures(farm, NOW, since=SINCE).whole.printed.spoiled == 0


def test_time_at_a_visit_is_shared_by_what_it_renewed_and_pauses_do_not_count(farm: Store) -> None:
    print_days(farm, range(5))
    at = BEGUN + timedelta(days=6)
    visit = begin_visit(farm, "Alder", ["renew_nozzle"], begun_utc=at)
    enter(farm, visit.id, "", kind="paused", entry_key="p", entered_utc=at + timedelta(minutes=5))
    enter(farm, visit.id, "", kind="resumed", entry_key="r", entered_utc=at + timedelta(minutes=65))
    for number, screen in enumerate(visit_sheet(farm, visit.id).screens):
        record = screen.step.record
        value = {"finding": {"grade": "trace"}, "renewal": {}}.get(record.kind if record else "", {})
        if record is not None and record.kind == "proof":
            value = {"value": 0.0 if record.proof != "first_layer" else 1.0}
        enter(farm, visit.id, screen.step.id, entry_key=str(number), value=value, cautions_read=True,
              entered_utc=at + timedelta(minutes=70, seconds=number))  # fmt: skip
    end_visit(farm, visit.id, ended_utc=at + timedelta(minutes=90))
    made = farm_figures(farm, NOW, since=SINCE)
    assert made.machines[0].service_h == pytest.approx(0.5)
    (work,) = [one for one in made.work if one.record.startswith("renewal")]
    assert (work.minutes, work.reckoned) == (30.0, "price by the catalogue")
    assert made.machines[0].failures == 0
    assert made.costs["cause"] == ()
    assert made.machines[0].held_h == pytest.approx((made.period.until_utc - at) / timedelta(hours=1))


def test_looks_count_by_the_figures_and_only_what_lies_in_the_period(farm: Store) -> None:
    print_days(farm, range(20))
    add_finding(farm, "Alder", "nozzle", grade="trace", found_utc=BEGUN + timedelta(days=3))
    add_finding(farm, "Alder", "nozzle", grade="trace", found_utc=BEGUN + timedelta(days=12))
    made = farm_figures(farm, NOW, since="2026-03-12", until="2026-03-31")
    assert made.whole.printed.runs == 10
    assert [one.minutes for one in made.work] == [6.0]
    assert made.work[0].reckoned
    last = farm_figures(farm, NOW, days=30)
    assert last.period.days == 30
    assert last.whole.printed.runs == 9


def test_an_empty_farm_has_figures_that_claim_nothing(farm: Store) -> None:
    made = farm_figures(farm, NOW)
    assert made.total.cost == 0
    assert made.whole.availability_frac is None
    assert made.whole.time_between_h.low == 0
    assert savings(farm, BEGUN + timedelta(weeks=20)) is None
    assert as_csv(made, "served").count("\r\n") == 5


@pytest.mark.parametrize(
    ("given", "names"),
    [
        ({"since": "yesterday"}, "since"),
        ({"since": "2026-04-02", "until": "2026-04-01"}, "since"),
        ({"until": "2199-01-01"}, "until"),
        ({"days": 0}, "days"),
        ({"days": 30, "since": "2026-03-01"}, "days"),
    ],
)
def test_a_period_that_cannot_be_is_refused(farm: Store, given: dict[str, object], names: str) -> None:
    with pytest.raises(BadInput, match=names):
        farm_figures(farm, NOW, **given)  # type: ignore[arg-type]
    made = farm_figures(farm, NOW)
    with pytest.raises(NotFound, match="nothing on record"):
        behind(made, "part", "Nozle")
    with pytest.raises(BadInput, match="one of"):
        behind(made, "colour", "x")
    with pytest.raises(BadInput, match="weeks are on record"):
        savings(farm, NOW, days=20)


def test_a_table_as_csv_names_currency_and_units(farm: Store) -> None:
    print_days(farm, range(10))
    renew(farm, "Alder", "nozzle", reason="failed", minutes=30, renewed_utc=BEGUN + timedelta(days=9, hours=20))
    head, line, end = as_csv(farm_figures(farm, NOW, since=SINCE), "part").split("\r\n")
    assert head.startswith("part,incidents,failures,spoiled,service_h,parts_cost_eur,time_cost_eur")
    assert line.startswith("Nozzle,1,1,0,0.833333,1.5,21.25,0.0,22.75,1.0,1.0,100.0,")
    assert end == ""


def test_savings_are_told_against_the_cheapest_calendar_and_the_real_part_keeps_its_life(farm: Store) -> None:
    """One machine that prints evenly; what was done is priced as the calendars are."""
    print_days(farm, range(120))
    renew(farm, "Alder", "nozzle", reason="failed", minutes=30, renewed_utc=BEGUN + timedelta(days=60, hours=20))
    add_finding(farm, "Alder", "nozzle", grade="trace", found_utc=BEGUN + timedelta(days=90, hours=20))
    made = savings(farm, BEGUN + timedelta(days=120), since="2026-03-01")
    assert made
    assert (made.done.failures, made.done.renewals, made.done.looks) == (1, 0, 1)
    assert made.machines == 1
    assert {one.every_weeks for one in made.instead} == {8, 13, float("inf")}
    costs = [one.cost.mid for one in made.instead]
    assert costs == sorted(costs)
    for one in made.instead:
        assert one.saved.mid == pytest.approx(one.cost.mid - made.done.cost)
        assert one.cost.low <= one.cost.mid <= one.cost.high
    assert made.to_failure.renewals.high == 0
    assert made.to_failure.failures.low >= 1  # the nozzle that failed fails whatever else is drawn
    assert "the cheapest of the calendars" in savings_words(made)[0]
    assert made.calendar.every_weeks in (8, 13)

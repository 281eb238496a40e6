"""Figures told line by line: what happened together counts once, and every sum is that of its records."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from feedwright.errors import OutOfRange
from feedwright.planning.intervals import expected_count, share
from feedwright.planning.keeping import Printed, Work, cost_lines, machine_line

AT = datetime(2026, 5, 1, 12, tzinfo=UTC)
FAILED = Work(AT, "nozzle renewed: failed", "Alder", "Nozzle", "Nozzle failed", "Alder 4", True, False, 30.0, 2.0, 12.0,
              0.0, "", "renewal 1", 8)  # fmt: skip
SPOILED = replace(FAILED, what="print spoiled", failure=False, spoiled=True, minutes=0.0, parts_cost=0.0, time_cost=0.0,
                  spoiled_cost=4.0, record="run 4")  # fmt: skip
PLANNED = replace(FAILED, what="idler renewed: worn", part="Idler", cause="", incident="Alder, 1 May", failure=False,
                  record="renewal 2")  # fmt: skip
PRINTED = Printed(100.0, 2.0, 10, 1)


def test_a_failed_part_and_the_print_it_spoiled_are_one_incident() -> None:
    line = machine_line("Alder", [FAILED, SPOILED, PLANNED], PRINTED, 1.5)
    assert line.failures == 1
    assert line.spoiled_frac.mid == 0.1
    assert line.service_h == 1.0
    assert line.held_h == 1.5
    nozzle, idler = cost_lines([FAILED, SPOILED, PLANNED], lambda one: one.part, lambda _: PRINTED)
    assert (nozzle.name, nozzle.incidents, nozzle.failures, nozzle.spoiled, nozzle.cost) == ("Nozzle", 1, 1, 1, 18.0)
    assert idler.failures == 0
    assert (nozzle.share_frac, nozzle.cumulative_frac, idler.cumulative_frac) == (18 / 32, 18 / 32, 1.0)
    assert nozzle.cost_per_h
    assert nozzle.cost_per_kg
    assert (nozzle.cost_per_h.mid, nozzle.cost_per_kg.mid) == (0.18, 9.0)
    assert nozzle.cost_per_h.low < 0.18 < nozzle.cost_per_h.high


def test_where_nothing_was_printed_there_is_no_cost_for_each_hour_and_no_availability() -> None:
    (line,) = cost_lines([PLANNED], lambda one: one.part, lambda _: Printed())
    assert (line.cost_per_h, line.cost_per_kg) == (None, None)
    assert machine_line("Alder", [PLANNED], Printed(), 0.0).availability_frac is None
    assert cost_lines([], lambda one: one.part, lambda _: PRINTED) == ()


def test_nothing_seen_still_has_a_bound_and_nonsense_is_refused() -> None:
    assert expected_count(0).low == 0 < expected_count(0).high
    assert (share(0, 0).low, share(0, 0).high) == (0.0, 1.0)
    with pytest.raises(OutOfRange):
        share(3, 2)
    with pytest.raises(OutOfRange):
        expected_count(-1)
    with pytest.raises(OutOfRange):
        expected_count(1, 1.0)

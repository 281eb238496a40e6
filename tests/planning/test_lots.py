"""Lots: trouble that follows the lot is told from trouble that stays with a machine."""

from feedwright.planning.lots import LotRuns, Tally, judge_lots


def judged(own: dict[str, tuple[int, int]], others: dict[str, tuple[int, int]]) -> object:
    lot = LotRuns("L-7", {k: Tally(*v) for k, v in own.items()}, {k: Tally(*v) for k, v in others.items()})
    (verdict,) = judge_lots([lot])
    return verdict


def test_a_lot_that_goes_wrong_on_several_machines_is_suspect() -> None:
    verdict = judged({"a": (6, 4), "b": (5, 3), "c": (4, 2)}, {"a": (40, 2), "b": (35, 1), "c": (50, 2)})
    assert verdict.suspect  # type: ignore[attr-defined]
    assert verdict.machines_wrong == ("a", "b", "c")  # type: ignore[attr-defined]
    assert verdict.own_share_frac.low > verdict.others_share_frac.high  # type: ignore[attr-defined]


def test_a_machine_that_has_trouble_with_every_lot_is_no_proof_against_one() -> None:
    """All of the lot's trouble is on the bad machine, which spoils as many of the others."""
    verdict = judged({"bad": (10, 6), "good": (10, 0)}, {"bad": (40, 24), "good": (200, 1)})
    assert not verdict.suspect  # type: ignore[attr-defined]
    assert verdict.by_chance_frac > 0.3  # type: ignore[attr-defined]


def test_trouble_on_one_machine_alone_is_not_called_the_lots() -> None:
    verdict = judged({"a": (10, 9), "b": (10, 0)}, {"a": (60, 1), "b": (60, 1)})
    assert verdict.by_chance_frac < 1e-6  # type: ignore[attr-defined]
    assert not verdict.suspect  # type: ignore[attr-defined]


def test_where_its_machines_printed_no_other_lot_that_is_said() -> None:
    verdict = judged({"a": (10, 4), "b": (8, 4)}, {"c": (60, 1)})
    assert not verdict.told_from_machines  # type: ignore[attr-defined]
    assert any("cannot be told apart" in text for text in verdict.because)  # type: ignore[attr-defined]


def test_looking_at_many_lots_raises_the_bar() -> None:
    """Holm: the least of many chances counts times their number."""
    quiet = [LotRuns(f"Q-{at}", {"a": Tally(20, 1)}, {"a": Tally(100, 5)}) for at in range(9)]
    loud = LotRuns("L-7", {"a": Tally(6, 2), "b": Tally(6, 2)}, {"a": Tally(60, 3), "b": Tally(60, 3)})
    (alone,) = judge_lots([loud])
    among = next(one for one in judge_lots([loud, *quiet]) if one.lot == "L-7")
    assert among.over_all_lots_frac == 10 * among.by_chance_frac
    assert alone.over_all_lots_frac == alone.by_chance_frac == among.by_chance_frac
    chances = [one.over_all_lots_frac for one in judge_lots([loud, *quiet])]
    assert chances == sorted(chances)

"""Stores: what is on hand is the sum of what moved; renewals take from it, and give back when voided."""

from datetime import timedelta
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.farm.conftest import BEGUN
from tests.farm.service.test_service_visits import begun, do

from feedwright.errors import BadInput, Conflict, NotFound
from feedwright.farm.ground.settings import set_currency, set_figure
from feedwright.farm.parts.renewals import renew
from feedwright.farm.prints.voids import void
from feedwright.farm.service.service_visits import end_visit
from feedwright.farm.stores.stock import stock_of
from feedwright.farm.stores.stores import (
    add_item,
    cancel_order,
    count_item,
    item_named,
    item_sheet,
    items,
    order_items,
    receive,
    set_terms,
    use_item,
)
from feedwright.records.store import Store
from feedwright.records.stores_values import Movement

LATER = BEGUN + timedelta(days=10)


def brass(farm: Store, on_hand: int | None = 6) -> str:
    return add_item(farm, "brass nozzle 0.4", ["nozzle:brass"], pack_count=5, on_hand=on_hand, at_utc=BEGUN).item.name


def test_what_nobody_said_is_the_catalogues_and_says_so(farm: Store) -> None:
    sheet = add_item(farm, "brass nozzle 0.4", ["nozzle:brass"], pack_count=5)
    assert str(sheet.terms.pack_price) == "7.50 EUR"  # five at the catalogue's 1.50
    assert sheet.terms.pack_price_source == "catalogue, assumed"
    assert (sheet.terms.lead_days, sheet.terms.lead_source) == (7.0, "catalogue, assumed")
    set_figure(farm, "usual_lead_days", 12)
    assert item_sheet(farm, "brass nozzle 0.4").terms.lead_source == "own figure"
    said = set_terms(farm, "brass nozzle 0.4", pack_count=25, pack_price="9,90", delivery_price=4.9, lead_days=3,
                     breaks=[(4, 8.9), (10, "8.2")], supplier="shop round the corner")  # fmt: skip
    assert (said.terms.pack_price.amount, said.terms.pack_price_source) == (Decimal("9.90"), "said")
    assert str(said.terms.piece_price) == "0.40 EUR"
    assert [(packs, str(cost)) for packs, cost in said.terms.breaks] == [(4, "8.90 EUR"), (10, "8.20 EUR")]
    set_currency(farm, "JPY", price_ratio=160)
    assert str(item_sheet(farm, "brass nozzle 0.4").terms.pack_price) == "6,000.00 JPY"  # 25 at 1.50 x 160


@pytest.mark.parametrize(
    ("fits", "more"),
    [
        ([], {}),
        (["nozzel"], {}),
        (["nozzle:gold"], {}),
        (["nozzle:brass:two"], {}),
        (["nozzle:brass:0"], {}),
        (["nozzle"], {"pack_count": 0}),
        (["nozzle"], {"pack_price": "nine"}),
        (["nozzle"], {"pack_price": "-1"}),
        (["nozzle"], {"pack_price": "NaN"}),
        (["nozzle"], {"lead_days": -1}),
        (["nozzle"], {"breaks": [(5, "8"), (10, "9")]}),
        (["nozzle"], {"breaks": [(5, "8"), (5, "7")]}),
        (["nozzle"], {"on_hand": -1}),
    ],
)
def test_a_wrong_item_is_refused_and_writes_nothing(farm: Store, fits: list[str], more: dict[str, object]) -> None:
    before = farm.counts()
    with pytest.raises(BadInput) as refused:
        add_item(farm, "brass nozzle", fits, **more)  # type: ignore[arg-type]
    assert refused.value.expected
    assert refused.value.remedy
    assert farm.counts() == before


def test_what_was_ordered_arrives_oldest_first_and_the_rest_may_be_cancelled(farm: Store) -> None:
    name = brass(farm)
    first, second = (order_items(farm, [(name, 2)], at_utc=BEGUN + timedelta(days=at))[0] for at in (1, 2))
    assert second.stock.on_order == 20
    came = receive(farm, name, 13, at_utc=LATER)
    assert [(one.kind, one.count, one.order_id) for one in came.movements] == [
        ("arrived", 10, first.movements[0].id), ("arrived", 3, second.movements[0].id)
    ]  # fmt: skip
    assert (came.stock.on_hand, came.stock.on_order) == (19, 7)
    with pytest.raises(Conflict, match="what arrived of it"):
        void(farm, "movement", second.movements[0].id, "a slip")
    assert cancel_order(farm, second.movements[0].id).stock.on_order == 0
    with pytest.raises(Conflict):
        cancel_order(farm, second.movements[0].id)
    with pytest.raises(NotFound):
        cancel_order(farm, came.movements[0].id)
    assert receive(farm, name, 2).movements[0].kind == "in"


def test_a_count_that_differs_says_why_and_holds_against_what_is_entered_late(farm: Store) -> None:
    name = brass(farm)
    use_item(farm, name, at_utc=BEGUN + timedelta(days=1))
    assert count_item(farm, name, 5, at_utc=BEGUN + timedelta(days=2)).stock.on_hand == 5
    with pytest.raises(BadInput, match="says why"):
        count_item(farm, name, 3, at_utc=LATER)
    assert count_item(farm, name, 3, reason="two were bent", at_utc=LATER).stock.on_hand == 3
    late = use_item(farm, name, 2, at_utc=LATER - timedelta(days=1))
    assert late.stock.on_hand == 3, "the count saw what was there after it"
    assert use_item(farm, name, 4).remarks, "one more was used than came in: count it"


def test_nothing_moves_before_an_item_is_kept(farm: Store) -> None:
    name = brass(farm)
    before = farm.counts()
    with pytest.raises(Conflict, match="kept only since"):
        use_item(farm, name, at_utc=BEGUN - timedelta(days=1))
    assert farm.counts() == before


def test_a_renewal_takes_its_part_and_gives_it_back_when_void(farm: Store) -> None:
    name = brass(farm)
    receipt = renew(farm, "Alder", "nozzle", renewed_utc=LATER)
    assert "1 of brass nozzle 0.4; 5 left" in receipt.also[-1]
    (used,) = farm.every(Movement, removal_id=receipt.removal.id)
    assert (used.kind, used.count, used.act_id) == ("used", 1, receipt.removal.act_id), "in the renewal's own act"
    void(farm, "renewal", receipt.removal.id, "the wrong machine")
    assert item_sheet(farm, name).stock.on_hand == 6
    assert farm.every(Movement, removal_id=receipt.removal.id) == []


def test_a_renewal_takes_what_fits_that_product_and_is_on_hand(farm: Store) -> None:
    brass(farm)
    add_item(farm, "any nozzle", ["nozzle"], on_hand=3, at_utc=BEGUN)
    add_item(farm, "belts", ["belt:plain:2"], on_hand=5, at_utc=BEGUN)
    add_item(farm, "hard nozzle", ["nozzle:hardened_steel"], on_hand=0, at_utc=BEGUN)
    renew(farm, "Alder", "nozzle", renewed_utc=LATER)
    renew(farm, "Beech", "nozzle", product="hardened_steel", renewed_utc=LATER)  # none on hand: the plainer item
    renew(farm, "Hazel", "nozzle", renewed_utc=LATER, from_stores=False)
    renew(farm, "Alder", "belt", renewed_utc=LATER)
    renew(farm, "Alder", "part_fan", renewed_utc=LATER)  # nothing kept for it
    on_hand = {item.name: item_sheet(farm, item.name).stock.on_hand for item in items(farm)}
    assert on_hand == {"brass nozzle 0.4": 5, "any nozzle": 2, "belts": 3, "hard nozzle": 0}


def test_a_renewal_from_before_an_item_was_kept_takes_nothing(farm: Store) -> None:
    add_item(farm, "brass nozzle", ["nozzle:brass"], on_hand=3, at_utc=LATER)
    renew(farm, "Alder", "nozzle", renewed_utc=LATER - timedelta(days=1))
    assert item_sheet(farm, "brass nozzle").stock.on_hand == 3


def test_a_visit_takes_its_parts_in_the_act_that_ends_it(farm: Store) -> None:
    """Hardened steel is fitted at the visit: that is what is taken, at the moment it was screwed in."""
    brass(farm)
    add_item(farm, "hard nozzle", ["nozzle:hardened_steel"], on_hand=2, at_utc=BEGUN)
    sheet = begun(farm)
    do(farm, sheet)
    before = farm.latest_act_id()
    end_visit(farm, sheet.visit.id)
    assert item_sheet(farm, "hard nozzle").stock.on_hand == 1
    assert item_sheet(farm, "brass nozzle 0.4").stock.on_hand == 6
    (used,) = [one for one in farm.every(Movement) if one.kind == "used"]
    assert used.act_id == before + 1 == farm.latest_act_id()
    void(farm, "renewal", used.removal_id or 0, "put back")
    assert item_sheet(farm, "hard nozzle").stock.on_hand == 2


def test_an_item_is_void_with_all_that_moved(farm: Store) -> None:
    name = brass(farm)
    order_items(farm, [(name, 1)], at_utc=BEGUN)
    receive(farm, name, 3)
    renew(farm, "Alder", "nozzle")
    void(farm, "item", item_named(farm, name).id, "kept elsewhere")
    assert items(farm) == []
    assert farm.every(Movement) == []
    brass(farm)


def test_the_same_order_sent_twice_counts_once(farm: Store) -> None:
    name = brass(farm)
    order_items(farm, [(name, 2)])
    before = farm.counts()
    with pytest.raises(Conflict, match="less than a minute before"):
        order_items(farm, [(name, 2)])
    assert farm.counts() == before
    assert order_items(farm, [(name, 3)])[0].stock.on_order == 25


def test_terms_hold_from_their_moment_whenever_they_are_entered(farm: Store) -> None:
    name = brass(farm)
    set_terms(farm, name, pack_price=5, at_utc=LATER)
    set_terms(farm, name, pack_price=9, at_utc=LATER - timedelta(days=1))
    assert item_sheet(farm, name).terms.pack_price.amount == Decimal(5)


moves = st.lists(
    st.tuples(st.sampled_from(["in", "used", "counted", "ordered"]), st.integers(0, 40), st.integers(0, 30)),
    max_size=14,
)


@settings(deadline=None, max_examples=200)
@given(moves, st.randoms())
def test_the_sum_does_not_hang_on_the_order_of_entry_and_starts_at_the_latest_count(
    moves: list[tuple[str, int, int]], chance: object
) -> None:
    """Against a plain walk over the moments, whatever order the movements were entered in."""
    made = [
        Movement(1, BEGUN + timedelta(hours=hour), kind, count, id=number)  # type: ignore[arg-type]
        for number, (kind, count, hour) in enumerate(moves, start=1)
    ]
    walked = 0
    for one in sorted(made, key=lambda one: (one.moved_utc, one.id)):
        walked = {"in": walked + one.count, "used": walked - one.count, "counted": one.count}.get(one.kind, walked)
    shuffled = made[:]
    chance.shuffle(shuffled)  # type: ignore[attr-defined]
    assert stock_of(shuffled).on_hand == walked
    assert stock_of(shuffled).on_order == sum(one.count for one in made if one.kind == "ordered")


@settings(deadline=None, max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.sampled_from(["receive", "use", "void"]), st.integers(1, 9)), max_size=8))
def test_voiding_takes_back_exactly_what_it_wrote(farm: Store, steps: list[tuple[str, int]]) -> None:
    name = f"item {len(items(farm))}"
    add_item(farm, name, ["nozzle"], on_hand=0, at_utc=BEGUN)
    live: list[tuple[int, int]] = []
    for what, count in steps:
        if what == "receive":
            live.append((receive(farm, name, count).movements[0].id, count))
        elif what == "use":
            live.append((use_item(farm, name, count).movements[0].id, -count))
        elif live:
            number, _ = live.pop(count % len(live))
            void(farm, "movement", number, "a slip")
        assert item_sheet(farm, name).stock.on_hand == sum(change for _, change in live)

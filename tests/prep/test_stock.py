"""Counts of the log: their units, what they cover of a day, and what is then left to buy."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

import prep_samples as s
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.menu.model import Menu
from buildsheets.prep import buying
from buildsheets.prep.batches import figure_batch
from buildsheets.prep.dayplan import plan_day
from buildsheets.prep.log import Entry, LogBroken, begin, in_use, read_log
from buildsheets.prep.makings import Demand
from buildsheets.prep.stock import (
    OnHand,
    batches_g,
    counted,
    moment_of,
    not_on_hand,
    stock,
    used_first,
)

MADRID = ZoneInfo("Europe/Madrid")
MORNING = datetime(2025, 6, 7, 8, 0, tzinfo=MADRID)
CLOSING = datetime(2025, 6, 7, 22, 0, tzinfo=MADRID)


def count(id: str, amount: str, at: datetime = MORNING) -> Entry:
    return Entry(at, "counted", id, amount=amount)


def kitchen() -> Menu:
    """Milk of 1.03 g/ml in litres, ginger a fifth of which is peel, leaf without a density, a syrup
    of 1.2 g/ml, beans that are poured as a heap of 0.6 g/ml, and mint, a heap of 0.1 g/ml."""
    milk = s.ingredient("milk", density_g_ml=1.03, pack=s.pack(1000, "ml", "1.10"))
    ginger = s.ingredient("ginger", pack=s.pack(500, price="2.00", usable=0.8))
    leaf = s.ingredient("leaf", density_g_ml=None, pack=s.pack(1000))
    loose = s.ingredient("loose", density_g_ml=None)
    syrup = s.batch("syrup", [s.part(s.ingredient("sugar", density_g_ml=1.2), 1200)])
    beans = s.batch("beans", [s.part(s.ingredient("dry", density_g_ml=1.2), 500)])
    top = s.component("beans", beans, behaves="settled", bulk_density_g_ml=0.6)
    mint = s.ingredient("mint", density_g_ml=None, pack=s.pack(100))
    leaves = s.component("mint", mint, behaves="swimming", bulk_density_g_ml=0.1)
    sugar = s.ingredient("sugar", density_g_ml=1.588, pack=s.pack(1000))
    dry = s.ingredient("dry", density_g_ml=1.3)
    honey = s.ingredient("honey", density_g_ml=1.42, pack=s.pack(1000))
    return s.menu(
        ingredients=[milk, ginger, leaf, loose, sugar, dry, honey, mint],
        batches=[syrup],
        components=[top, s.component("honey", honey), leaves],
    )


@pytest.mark.parametrize(
    ("id", "written", "amount", "unit"),
    [
        ("milk", "12 l", 12_000, "ml"),
        ("milk", "3 packs", 3_000, "ml"),
        ("milk", "1 carton", 1_000, "ml"),
        ("milk", "2.06 kg", 2_000, "ml"),  # of 1.03 g/ml
        ("ginger", "1 1/2 kg", 1_500, "g"),
        ("leaf", "2 bags", 2_000, "g"),
        ("syrup", "2 l", 2_400, "g"),  # of 1.2 g/ml
        ("beans", "1.5 l", 900, "g"),  # a heap of 0.6 g/ml, gaps and all
        ("mint", "2 l", 200, "g"),  # a heap of 0.1 g/ml that swims in the drink
        ("milk", "0 l", 0, "ml"),
        ("honey", "2 l", 2_840, "g"),  # bought by weight and poured as a liquid of 1.42 g/ml
        ("sugar", "2 packs", 2_000, "g"),
    ],
)
def test_any_unit_that_can_be_the_items_own(
    id: str, written: str, amount: float, unit: str
) -> None:
    have = counted(kitchen(), count(id, written))
    assert (have.amount, have.unit) == (pytest.approx(amount), unit)
    assert have.written == written


@pytest.mark.parametrize(
    ("id", "written", "works"),
    [
        ("leaf", "1 l", "'1 l' of leaf: its density is not known; count it in g or kg, packs"),
        ("loose", "2 packs", "loose says no pack, so '2 packs' is no amount; count it in g or kg"),
        ("syrup", "3 bottles", "syrup says no pack"),
        ("milk", "12", "count it in g or kg, ml or l, packs"),
        ("milk", "5 min", "is a time"),
        ("milk", "1,5 l", "write 1.5 l"),
        ("milk", "some", "no fixed amount"),
        ("sugar", "3 l", "with the gaps of a heap, is not known; count it in g or kg, packs"),
        ("dry", "3 l", "with the gaps of a heap, is not known; count it in g or kg$"),
        ("nobody", "1 l", "nothing in the menu is called 'nobody'"),
        ("honey", "3", "g or kg, ml or l, packs"),  # bought by weight, and poured
    ],
)
def test_what_cannot_be_is_refused_with_what_works(id: str, written: str, works: str) -> None:
    with pytest.raises(ValueError, match=works):
        counted(kitchen(), count(id, written))


def test_the_latest_count_is_what_is_on_hand() -> None:
    later = MORNING.replace(hour=12)
    found = stock(kitchen(), [count("milk", "2 l", later), count("milk", "9 l")])
    assert found["milk"].amount == pytest.approx(2000)
    assert found["milk"].counted_at == later


def test_a_count_is_read_as_written_and_puts_nothing_in_use() -> None:
    entry = count("milk", "1 1/2 l")
    assert read_log(entry.line()) == [entry]
    assert in_use(kitchen(), [entry]) == []
    for broken in ("counted milk", "made milk 3 l"):
        with pytest.raises(LogBroken):
            read_log(f"2025-06-07T08:00+02:00 {broken}\n")


def test_a_batch_counts_while_the_oldest_of_it_keeps() -> None:
    # Made on Thursday and kept for 3 days it ends with Saturday, at midnight.
    menu, made = kitchen(), Entry(MORNING.replace(day=5), "made", "syrup")
    have = stock(menu, [made, count("syrup", "2 l")])
    assert batches_g(have, CLOSING) == {"syrup": pytest.approx(2400)}
    assert batches_g(have, CLOSING.replace(day=8)) == {}
    older = Entry(MORNING.replace(day=4), "made", "syrup")
    assert batches_g(stock(menu, [older, made, count("syrup", "2 l")]), CLOSING) == {}
    gone = Entry(MORNING.replace(day=5, hour=9), "gone", "syrup")
    found = stock(menu, [older, gone, made, count("syrup", "2 l")])
    assert batches_g(found, CLOSING) == {"syrup": pytest.approx(2400)}


def test_a_batch_the_log_does_not_know_as_made_is_not_counted_on() -> None:
    found = stock(kitchen(), [count("syrup", "2 l")])
    assert reasons(found["syrup"], MORNING) == [("undated", 2400)]
    assert batches_g(found, MORNING) == {}


def reasons(have: OnHand, moment: datetime) -> list[tuple[str, float]]:
    return [(end.why, pytest.approx(end.amount)) for end in have.up_to(moment).left_out]


def opened(id: str, at: datetime, use_by: date | None = None) -> Entry:
    return Entry(at, "opened", id, use_by)


def test_an_opened_pack_is_left_out_from_when_it_has_to_be_gone() -> None:
    # 2.5 l counted, a carton of them opened and good to the end of Saturday.
    day = MORNING.date()
    found = stock(kitchen(), [opened("milk", MORNING, day), count("milk", "2.5 l")])["milk"]
    assert found.up_to(CLOSING).amount == pytest.approx(2500)
    sunday = CLOSING.replace(day=8)
    assert found.up_to(sunday).amount == pytest.approx(1500)
    assert reasons(found, sunday) == [("opened", 1000)]
    two = [opened("milk", MORNING, day)] * 2
    for amount, left in (("2.5 l", 500), ("1.5 l", 0)):
        have = stock(kitchen(), [*two, count("milk", amount)])["milk"]
        assert have.up_to(sunday).amount == pytest.approx(left)


def test_of_what_says_no_pack_nobody_knows_how_much_was_opened() -> None:
    menu = kitchen()
    entries = [opened("loose", MORNING, MORNING.date()), count("loose", "3 kg")]
    have = stock(menu, entries)["loose"]
    assert have.up_to(CLOSING).amount == pytest.approx(3000)
    assert have.up_to(CLOSING.replace(day=8)).amount == 0


@pytest.mark.parametrize("event", ["made", "gone"])
def test_a_batch_made_or_gone_after_its_count_is_counted_again(event: Any) -> None:
    # Two are in use, the older out of date: once that is gone the count did not come back.
    menu, noon = kitchen(), MORNING.replace(hour=12)
    made = [Entry(MORNING.replace(day=day), "made", "syrup") for day in (1, 6)]
    counts = [*made, count("syrup", "4 l")]
    assert batches_g(stock(menu, counts), CLOSING) == {}
    since = stock(menu, [*counts, Entry(noon, event, "syrup")])
    assert batches_g(since, CLOSING) == {}
    assert reasons(since["syrup"], CLOSING) == [(f"recount-{event}", 4800)]
    again = stock(menu, [*counts, Entry(noon, "gone", "syrup"), count("syrup", "3 l", noon)])
    assert batches_g(again, CLOSING) == {"syrup": pytest.approx(3600)}


def test_a_pack_that_went_after_the_count_is_one_less() -> None:
    noon = MORNING.replace(hour=12)
    entries = [count("milk", "5 packs"), opened("milk", MORNING, noon.date())]
    assert stock(kitchen(), entries)["milk"].up_to(CLOSING).amount == pytest.approx(5000)
    have = stock(kitchen(), [*entries, Entry(noon, "gone", "milk")])["milk"]
    assert have.up_to(CLOSING).amount == pytest.approx(4000)
    assert reasons(have, CLOSING) == [("pack-gone", 1000)]


def test_what_is_in_the_freezer_is_not_at_hand() -> None:
    made, frozen = (Entry(MORNING, event, "syrup") for event in ("made", "frozen"))
    have = stock(kitchen(), [made, frozen, count("syrup", "2 l")])["syrup"]
    assert reasons(have, CLOSING) == [("frozen", 2400)]


def test_a_day_past_midnight_closes_on_the_next() -> None:
    assert moment_of(kitchen(), date(2025, 6, 7), 26 * 60) == CLOSING.replace(day=8, hour=2)


def tea(**given: Any) -> Any:
    """A tea of 1000 g a batch that goes 100 g into a cup, and its day of 40 from 10:00 to 22:00."""
    leaf = s.ingredient("leaf", pack=s.pack(100, price="1.00"))
    batch = s.batch("tea", [s.part(leaf, 1000)], **{"scales": {}, **given})
    drink = s.drink("tea", [s.add_step(s.component("tea", batch), {"regular": s.amount(100)})])
    used = [type("Used", (), {"component": drink.steps[0].component, "mass_g": 100.0,
                              "volume_ml": 100.0})]  # fmt: skip
    serving = type("Serving", (), {"used": used})
    return s.menu(drinks=[drink]), s.day([s.sold(drink, 40)]), {("tea", "regular"): serving}


def test_what_is_on_hand_comes_off_the_start_of_the_day() -> None:
    # 4 batches are sold evenly over 12 h. One on hand serves the first 3 h, so at 13:00 more is
    # wanted; 3 batches, and leaf for 3 instead of 4.
    made = plan_day(*tea(), {"tea": 1000.0})
    (plan,) = made.batches
    (making,) = plan.makings
    assert making.share == pytest.approx(3.0)
    assert making.ready_min == pytest.approx(13 * 60)
    assert (plan.share, plan.from_stock) == (pytest.approx(4.0), pytest.approx(1.0))
    assert made.purchases[0].mass_g == pytest.approx(3000.0)


def test_a_batch_that_keeps_hours_is_made_again_from_when_the_stock_is_used_up() -> None:
    made = plan_day(*tea(keeps_for=s.keeps(hours=4, at_c=21.0)), {"tea": 1000.0})
    assert [m.ready_min for m in made.batches[0].makings] == pytest.approx([780, 960, 1140])
    assert made.batches[0].ready(made.opens_min) == pytest.approx(1.0)


@pytest.mark.parametrize("grams", [4000.0, 9000.0])
def test_enough_on_hand_makes_nothing(grams: float) -> None:
    made = plan_day(*tea(), {"tea": grams})
    assert made.makings == ()
    assert made.purchases == ()
    assert made.batches[0].from_stock == pytest.approx(4.0)


def test_nothing_on_hand_changes_nothing() -> None:
    assert plan_day(*tea(), {}) == plan_day(*tea()) == plan_day(*tea(), {"tea": 0.0})


# Needs last whole minutes, as hours of a day are written, or are all at one moment.
needs = st.lists(
    st.tuples(st.floats(0, 1440), st.integers(0, 600), st.floats(0.01, 5)), min_size=1, max_size=6
).map(lambda found: [Demand(start, start + width, share) for start, width, share in found])


@given(needs, st.floats(0.001, 20))
def test_stock_is_used_up_by_the_clock_and_no_need_grows(needs: list[Demand], share: float) -> None:
    left, used = used_first(needs, share)
    total = sum(need.share for need in needs)
    assert used == pytest.approx(min(share, total))
    assert sum(need.share for need in left) == pytest.approx(total - used, abs=1e-6 * total)
    if not left:
        return
    begins = min(need.from_min for need in left)
    before = sum(need.between(0.0, begins, last=False) for need in needs)
    assert before <= used + 1e-6 * total  # none is held back while an earlier need waits


# What to buy


def milk_need(ml: float) -> buying.Purchase:
    milk = kitchen().ingredients["milk"]
    return buying.purchases(
        s.menu(ingredients=[milk]), {"milk": [buying.Use(ml * 1.03, ml)]}
    )[0]  # fmt: skip


def test_packs_to_buy_are_of_what_the_stock_falls_short() -> None:
    # 12.3 l needed, 10.5 l there: 1.8 l short are two cartons, and 0.2 l are left.
    have = stock(kitchen(), [count("milk", "10.5 l")])
    (one,) = buying.less_stock([milk_need(12_300)], have, CLOSING)
    assert one.packs is not None
    assert (one.packs.count, one.packs.left_over) == (2, pytest.approx(200.0))
    assert one.cost == Decimal("2.20")
    assert not one.enough
    (plenty,) = buying.less_stock(
        [milk_need(12_300)], stock(kitchen(), [count("milk", "13 packs")]), CLOSING
    )
    assert plenty.packs is not None
    assert (plenty.packs.count, plenty.enough) == (0, True)
    assert plenty.packs.left_over == pytest.approx(700.0)


def test_more_than_is_needed_of_what_has_no_pack_is_not_bought() -> None:
    leaf = s.ingredient("leaf")
    menu = s.menu(ingredients=[leaf])
    need = buying.purchases(menu, {"leaf": [buying.Use(300.0, None)]})
    for there, short in (("400 g", 0.0), ("100 g", 200.0)):
        (one,) = buying.less_stock(need, stock(menu, [count("leaf", there)]), CLOSING)
        assert (one.short, one.enough, len(buying.orders([one]))) == (short, not short, bool(short))
        assert one.weighed_g == 300.0


def test_peel_is_in_what_was_counted_too() -> None:
    # 1000 g peeled; 1 kg counted gives 800 g, so 200 g are short: one bag with 400 g to use.
    ginger = kitchen().ingredients["ginger"]
    need = buying.purchases(
        s.menu(ingredients=[ginger]), {"ginger": [buying.Use(1000.0, None)]}
    )  # fmt: skip
    have = stock(kitchen(), [count("ginger", "1 kg")])
    (one,) = buying.less_stock(need, have, CLOSING)
    assert one.packs is not None
    assert (one.packs.count, one.packs.left_over) == (1, pytest.approx(200.0))


def test_what_is_past_its_date_at_closing_does_not_count() -> None:
    menu = kitchen()
    old = replace(menu.ingredients["milk"], use_by=date(2025, 6, 6))
    menu = replace(menu, ingredients={**menu.ingredients, "milk": old})
    (one,) = buying.less_stock([milk_need(900)], stock(menu, [count("milk", "9 l")]), CLOSING)
    assert one.have is not None
    assert one.have.usable == 0.0
    assert [end.why for end in one.have.left_out] == ["use-by"]
    assert one.packs is not None
    assert one.packs.count == 1


def test_days_are_summed_before_packs_are_rounded() -> None:
    # 0.6 l on each of three days are 1.8 l: two cartons, not three.
    (one,) = buying.together([[milk_need(600)]] * 3)
    assert one.packs is not None
    assert (one.packs.count, one.packs.need) == (2, pytest.approx(1800))
    assert one.mass_g == pytest.approx(1854)


def test_orders_are_by_supplier_and_no_supplier_comes_last() -> None:
    def need(id: str, supplier: str, price: str | None) -> buying.Purchase:
        item = s.ingredient(id, supplier=supplier, pack=s.pack(100, price=price))
        return buying.purchases(s.menu(ingredients=[item]), {id: [buying.Use(250.0, 250.0)]})[0]

    found = buying.orders(
        [need("a", "", "9.00"), need("b", "dairy", "1.00"), need("c", "market", None),
         need("d", "dairy", "2.00")]
    )  # fmt: skip
    assert [one.supplier for one in found] == ["dairy", "market", ""]
    assert [one.cost for one in found] == [Decimal("9.00"), Decimal(0), Decimal("27.00")]
    assert [item.id for item in found[1].unpriced] == ["c"]


@given(st.floats(1, 50_000), st.floats(0, 50_000))
def test_stock_and_packs_cover_the_need_and_no_pack_is_too_many(need: float, there: float) -> None:
    have = stock(kitchen(), [count("milk", f"{there:.3f} ml")])
    (one,) = buying.less_stock([milk_need(need)], have, CLOSING)
    assert one.packs is not None
    bought = have["milk"].usable + one.packs.count * 1000.0
    assert bought >= need * (1 - 1e-8)
    assert one.packs.count == 0 or bought - 1000.0 < need * (1 + 1e-8)


def test_ice_of_the_shops_own_water_is_not_bought_and_bought_ice_is() -> None:
    bag = s.ingredient("ice-bag", density_g_ml=0.917, pack=s.pack(2000, price="1.50"))
    own = s.component("cubes", None, role="ice", behaves="ice", packing=0.55)
    for ice, wanted in ((own, []), (replace(own, source=bag), ["ice-bag"])):
        drink = s.drink("cold", [s.add_step(ice, {"regular": s.amount(120)})])
        used = [type("Used", (), {"component": ice, "mass_g": 120.0, "volume_ml": 238.0})]
        serving: Any = type("Serving", (), {"used": used})
        menu = s.menu(drinks=[drink])
        made = plan_day(menu, s.day([s.sold(drink, 50)]), {("cold", "regular"): serving})
        assert [one.ingredient.id for one in made.purchases] == wanted
    # 50 x 120 g are three bags of 2 kg
    assert made.purchases[0].packs is not None
    assert made.purchases[0].packs.count == 3


def test_the_share_of_a_batch_is_of_its_yield() -> None:
    syrup = kitchen().batches["syrup"]
    assert figure_batch(syrup).share_of(2400.0, None) == pytest.approx(2.0)


def test_counts_that_are_no_amount_of_the_menu_are_told_until_they_are_gone() -> None:
    menu = kitchen()
    counts = [count("juice", "2 l"), count("cups", "0 pieces"), count("loose", "2 packs")]
    assert [(one.id, why.partition(",")[0]) for one, why in not_on_hand(menu, counts)] == [
        ("juice", "no longer on the menu"), ("loose", "loose says no pack")
    ]  # fmt: skip
    opened = Entry(MORNING, "opened", "juice")
    gone = Entry(CLOSING, "gone", "juice")
    told = [one.id for one, _ in not_on_hand(menu, [opened, *counts, gone])]
    assert told == ["loose"]
    two_open = [opened, opened, *counts, gone]
    assert [one.id for one, _ in not_on_hand(menu, two_open)] == ["juice", "loose"]
    assert begin(menu, counts, gone) is None

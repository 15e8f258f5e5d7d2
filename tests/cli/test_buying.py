"""Counting stock and ordering on the command line, over a copy of the demo menu."""

from __future__ import annotations

import csv
import io
import re
from datetime import timedelta
from pathlib import Path

import menu_samples as m
import pypdfium2
import pytest
from command_samples import demo_copy, run
from menu_samples import check_once

from buildsheets.cli import kitchen_log
from buildsheets.cli.kitchen_log import FILE, clock, entries
from buildsheets.menu.model import Menu

Capture = pytest.CaptureFixture[str]


def menu_of(shop: Path) -> Menu:
    menu = check_once(shop).menu
    assert menu is not None
    return menu


def test_several_counts_in_one_go_are_written_and_told(shop: Path, capsys: Capture) -> None:
    told = run(
        capsys, "log", "counted", "whole-milk", "12", "l", "oat-drink", "3", "packs",
        "--menu", shop,
    )  # fmt: skip
    assert told.code == 0
    assert "whole-milk: 12 l on hand" in told.out
    assert [(one.id, one.amount) for one in entries(shop / FILE)] == [
        ("whole-milk", "12 l"), ("oat-drink", "3 packs"),
    ]  # fmt: skip
    listed = run(capsys, "log", "--menu", shop).out
    assert "counted  whole-milk" in listed
    assert "3 packs" in listed


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("black-tea-leaf", "1", "l"), "its density is not known; count it in g or kg, packs"),
        (("cane-syrup", "2", "packs"), "says no pack"),
        (("dry-pearls", "3", "l"), "with the gaps of a heap, is not known; count it in g or kg, p"),
        (("whole-milk", "2", "l", "whole-milk", "3", "l"), "whole-milk is counted twice"),
        (("whole-milk",), "say how much there is: whole-milk 12 l"),
        (("flat-lid",), "say how much there is: flat-lid 12 pieces"),
        (("flat-lid", "2", "kg"), "count it in pieces or packs"),
        (("whole-mlik", "2", "l"), "did you mean whole-milk"),
        (("whole-milk", "2", "l", "oat-drnk", "3", "l"), "more than one number"),
    ],
)
def test_a_count_that_cannot_be_writes_nothing(
    shop: Path, capsys: Capture, words: tuple[str, ...], said: str
) -> None:
    told = run(capsys, "log", "counted", *words, "--menu", shop)
    assert told.code == 2
    assert said in told.err
    assert not (shop / FILE).exists()


def test_a_batch_without_a_date_is_told_and_not_counted_on(shop: Path, capsys: Capture) -> None:
    told = run(capsys, "log", "counted", "cane-syrup", "2", "l", "--menu", shop)
    assert (
        "cane-syrup: no plan counts on 2 l of it: not in the log as made "
        "(buildsheets log made cane-syrup --at 09:30)"
    ) in told.out
    before = run(capsys, "plan", "saturday", "--format", "json", "--menu", shop).result
    syrup = next(one for one in before["batches"] if one["batch"] == "cane-syrup")
    assert syrup["from_stock_batches"] == 0
    earlier = (clock(menu_of(shop)) - timedelta(hours=2)).isoformat()
    run(capsys, "log", "made", "cane-syrup", "--at", earlier, "--menu", shop)
    after = run(capsys, "plan", "saturday", "--format", "json", "--menu", shop).result
    syrup = next(one for one in after["batches"] if one["batch"] == "cane-syrup")
    # 2 l of a full batch of 1800 g: 1000 g / 1.588 + 800 g / 0.998 = 1431.3 ml
    assert syrup["from_stock_batches"] == pytest.approx(2000 / 1431.32, abs=1e-4)

    def sugar(plan: object) -> float:
        bought = plan["purchases"]  # type: ignore[index]
        return float(next(one["mass_g"] for one in bought if one["ingredient"] == "white-sugar"))

    assert sugar(after) < sugar(before)


def test_without_counts_the_plan_says_so_and_is_else_the_same(shop: Path, capsys: Capture) -> None:
    plan = run(capsys, "plan", "saturday", "--menu", shop).out
    assert "Stock was not counted" in plan
    assert "On hand" not in plan
    run(capsys, "log", "counted", "dark-sugar", "9", "kg", "--menu", shop)
    counted = run(capsys, "plan", "saturday", "--menu", shop).out
    day = clock(menu_of(shop))
    assert f"On hand: as counted {day:%a, %b} {day.day}, {day.year}" in counted
    (row,) = [line for line in counted.splitlines() if line.startswith("Dark brown sugar")]
    assert row.split() == [
        "Dark",
        "brown",
        "sugar",
        "4800",
        "g",
        "9000",
        "g",
        "0",
        "×",
        "1000",
        "g",
        "4200",
        "g",
        "€0.00",
    ]


def test_an_order_is_by_supplier_less_what_is_there(shop: Path, capsys: Capture) -> None:
    run(capsys, "log", "counted", "whole-milk", "12", "l", "dark-sugar", "20", "kg", "--menu", shop)
    text = run(capsys, "buy", "saturday", "saturday", "--menu", shop).out
    dairy = text.partition("\ndairy\n")[2].partition("\n\n")[0]
    # A day of 22.64 l less the milk of 12 guests who swap it, 3 x 60, 6 x 80 and 3 x 120 ml, is
    # 21.62 l; two less 12 l are 31.24 l: 32 cartons at 1.05
    assert "43.24 l         12 l  32 × 1 l     760 ml  €33.60" in dairy
    assert dairy.splitlines()[-1] == "Sum: €92.70."  # 33.60, 40.70 and 18.40
    enough = text.partition("Enough on hand\n")[2]
    assert "Dark brown sugar" in enough
    assert "Water" not in text
    assert "Ice" not in text
    table = run(capsys, "buy", "saturday", "saturday", "--format", "csv", "--menu", shop).out
    rows = {row["ingredient"]: row for row in csv.DictReader(io.StringIO(table))}
    milk = rows["whole-milk"]
    assert (milk["supplier"], milk["packs"], milk["cost_EUR"]) == ("dairy", "32", "33.60")
    assert (milk["on_hand"], milk["unit"], milk["pack_holds"]) == ("12000.0", "ml", "1000")
    assert rows["dark-sugar"]["packs"] == "0"
    data = run(capsys, "buy", "saturday", "saturday", "--format", "json", "--menu", shop).result
    by_name = {one["supplier"]: one for one in data["orders"]}
    costs = [float(line["cost"]) for line in by_name["dairy"]["lines"]]
    assert float(by_name["dairy"]["cost"]) == pytest.approx(sum(costs))
    assert [one["ingredient"] for one in data["enough"]] == ["dark-sugar"]


def test_stock_of_a_batch_is_used_once_over_several_days(tmp_path: Path, capsys: Capture) -> None:
    # 20 l of syrup that keeps for 7 days serve three days of 6.36 l, and the fourth in part. The
    # demo's Saturday by another name, so that each is on the day after the one before.
    shop = demo_copy(
        tmp_path / "menu",
        ("  saturday:\n    name: {en: Saturday, es: Sábado}", "  busy:\n    name: Busy day"),
    )
    run(capsys, "log", "made", "cane-syrup", "--menu", shop)
    run(capsys, "log", "counted", "cane-syrup", "20", "l", "--menu", shop)

    def sugar(days: int) -> float:
        wanted = ["busy"] * days
        data = run(capsys, "buy", *wanted, "--format", "json", "--menu", shop).result
        lines = [line for one in data["orders"] for line in one["lines"]]
        return sum(one["mass_g"] for one in lines if one["ingredient"] == "white-sugar")

    assert [sugar(days) > 0 for days in (1, 2, 3, 4)] == [False, False, False, True]


def test_an_order_in_print(shop: Path, capsys: Capture, tmp_path: Path) -> None:
    out = tmp_path / "out"
    told = run(capsys, "buy", "saturday", "--format", "pdf", "--language", "es", "--out", out,
               "--menu", shop)  # fmt: skip
    assert told.code == 0
    document = pypdfium2.PdfDocument(out / "W26" / "owner" / "order-saturday.pdf")
    text = "\n".join(page.get_textpage().get_text_range() for page in document)
    document.close()
    assert "Pedido para Sábado" in text
    assert "dairy" in text
    assert "Leche entera" in text


def test_ice_that_is_bought_is_an_ingredient_of_its_own() -> None:
    bag = "  ice-bag: {name: Ice, contains: [], pack: {quantity: 2 kg, price: 1.50}}\n"
    text = m.swapped(m.SMALL, "ingredients:\n", f"ingredients:\n{bag}")
    text = m.swapped(text, "cubes: {name: Cubes,", "cubes: {name: Cubes, from: ice-bag,")
    checked = m.check_texts(text)
    assert checked.menu is not None
    assert {one.code for one in checked.findings} <= {"NUT01"}, m.said(checked.findings)
    ice = checked.menu.components["cubes"].source
    assert ice is not None
    assert ice.id == "ice-bag"
    lost = m.check_texts(m.swapped(m.SMALL, "{name: Cubes,", "{name: Cubes, from: ice-bg,"))
    assert "REF01" in {one.code for one in lost.findings}


def test_lids_are_counted_and_ordered_and_never_opened(shop: Path, capsys: Capture) -> None:
    told = run(capsys, "log", "counted", "flat-lid", "1", "pack", "straw", "90", "--menu", shop)
    assert told.code == 0
    order = run(capsys, "buy", "saturday", "--menu", shop).out
    _, _, enough = order.partition("Enough on hand")
    assert "flat lid" in enough  # a thousand are there
    (straw,) = [line for line in order.splitlines() if line.startswith("straw ")]
    assert re.search(r"90 pieces +1 × 500 pieces", straw)
    refused = run(capsys, "log", "opened", "straw", "--menu", shop)
    assert refused.code == 2
    assert "there is no batch or ingredient 'straw'" in refused.err


def test_an_order_says_for_what_nothing_is_ordered(shop: Path, capsys: Capture) -> None:
    order = run(capsys, "buy", "saturday", "--on", "2027-01-16", "--menu", shop).out
    assert "Nothing is ordered for what is not sold: Honey Lantern (until January 6)." in order
    before = run(capsys, "buy", "saturday", "--on", "2026-12-12", "--menu", shop).out
    assert "Nothing is ordered" not in before


def on_hand(text: str, name: str) -> str:
    """The cell of the row of a thing, under "On hand"."""
    row = next(line for line in text.splitlines() if line.startswith(f"{name} "))
    return re.split(r"  +", row)[2]


def test_a_carton_out_of_date_on_the_day_is_not_on_hand(shop: Path, capsys: Capture) -> None:
    today = clock(menu_of(shop)).date()
    tomorrow, after = (today + timedelta(days=days) for days in (1, 2))
    run(capsys, "log", "opened", "whipping-cream", "--use-by", tomorrow, "--menu", shop)
    run(capsys, "log", "counted", "whipping-cream", "2", "l", "--menu", shop)
    for verb in ("buy", "plan"):
        then = run(capsys, verb, "saturday", "--on", tomorrow, "--menu", shop).out
        assert on_hand(then, "Whipping cream") == "2 l"
        assert "not counted on" not in then
        later = run(capsys, verb, "saturday", "--on", after, "--menu", shop).out
        assert on_hand(later, "Whipping cream") == "1 l"
        (note,) = [line for line in later.splitlines() if line.startswith("Counted, but")]
        assert note.startswith("Counted, but not counted on: Whipping cream 1 l (opened ")
        assert f"good to the end of {tomorrow:%a, %b} {tomorrow.day})." in note.replace(
            "\u00a0", " "
        )
        data = run(
            capsys, verb, "saturday", "--on", after, "--format", "json", "--menu", shop
        ).result
        (out,) = data["left_out"]
        assert (out["id"], out["amount"], out["unit"], out["why"]) == (
            "whipping-cream", 1000, "ml", "opened",
        )  # fmt: skip


def test_a_count_before_it_was_made_or_gone_is_not_trusted(shop: Path, capsys: Capture) -> None:
    run(capsys, "log", "made", "cane-syrup", "--menu", shop)
    run(capsys, "log", "counted", "cane-syrup", "4", "l", "--menu", shop)
    assert "not counted on" not in run(capsys, "plan", "saturday", "--menu", shop).out
    for event in ("made", "gone"):
        run(capsys, "log", event, "cane-syrup", "--menu", shop)
        plan = run(capsys, "plan", "saturday", "--menu", shop).out
        (note,) = [line for line in plan.splitlines() if line.startswith("Counted, but")]
        assert note.startswith(f"Counted, but not counted on: Plain syrup 4 l ({event} ")
        assert note.endswith(", after the count: count again).")
        ready = plan.partition("To have ready")[2].splitlines()
        (row,) = [line for line in ready if line.startswith("Plain syrup ")][:1]
        assert row.endswith("  0 ml")
        listed = run(capsys, "log", "--menu", shop).out.splitlines()[-1]
        assert listed.startswith("counted  cane-syrup  4 l")
        assert listed.endswith("after the count: count again")


def test_an_older_count_says_that_the_newer_stands(shop: Path, capsys: Capture) -> None:
    told = run(capsys, "log", "counted", "whole-milk", "3", "pack", "--menu", shop).out
    assert "whole-milk: 3 packs on hand" in told
    run(capsys, "log", "counted", "whole-milk", "12", "l", "--menu", shop)
    old = (clock(menu_of(shop)) - timedelta(hours=3)).isoformat()
    told = run(capsys, "log", "counted", "whole-milk", "5", "l", "--at", old, "--menu", shop).out
    assert "whole-milk: a newer count is in the log and stands: 12 l at " in told


def test_the_date_is_of_the_days_weekday_and_on_the_head(
    shop: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    thursday = clock(menu_of(shop)).replace(year=2026, month=11, day=26)
    monkeypatch.setattr(kitchen_log, "clock", lambda _: thursday)
    for verb in ("plan", "buy"):
        told = run(capsys, verb, "saturday", "--menu", shop)
        assert "Sat, Nov 28, 2026" in told.out.splitlines()[0]
        assert told.err == ""
        data = run(capsys, verb, "saturday", "--format", "json", "--menu", shop).result
        assert data["on"] == ("2026-11-28" if verb == "plan" else ["2026-11-28"])
        other = run(capsys, verb, "saturday", "--on", "2026-12-11", "--menu", shop)
        assert other.code == 0
        assert "Fri, Dec 11, 2026" in other.out.splitlines()[0]
        assert other.err == "note: 2026-12-11 is a Friday, and planned as saturday\n"


def test_what_is_sold_on_some_dates_follows_the_day(shop: Path, capsys: Capture) -> None:
    # Honey Lantern is sold until January 6; an order of its two first Saturdays has it.
    first = run(capsys, "buy", "saturday", "saturday", "--on", "2026-12-26", "--menu", shop).out
    assert "Nothing is ordered for" not in first
    assert "Sat, Dec 26, 2026 · Sat, Jan 2, 2027" in first.splitlines()[0]
    later = run(capsys, "buy", "saturday", "saturday", "--on", "2027-01-02", "--menu", shop).out
    assert "Nothing is ordered for what is not sold: Honey Lantern" in later


def test_counts_within_an_hour_are_one_count(shop: Path, capsys: Capture) -> None:
    now = clock(menu_of(shop))

    def counted(id: str, minutes_ago: int) -> None:
        at = (now - timedelta(minutes=minutes_ago)).isoformat()
        run(capsys, "log", "counted", id, "12", "l", "--at", at, "--menu", shop)

    def said() -> str:
        order = run(capsys, "buy", "saturday", "--menu", shop).out
        return next(line for line in order.splitlines() if line.startswith("On hand: as"))

    counted("oat-drink", 0)
    counted("whole-milk", 50)
    first = now - timedelta(minutes=50)
    assert f"as counted {first:%a, %b} {first.day}, {first.year}, {first:%H:%M}, where" in said()
    counted("lemon-juice", 200)
    assert "as counted from " in said()


def test_a_pack_in_pounds_is_bought_as_it_is_written(tmp_path: Path, capsys: Capture) -> None:
    """As the supplier's list and the bag say it; what is needed and left is weighed in grams."""
    sugar = "pack: {quantity: 1 kg, price: 1.10}"
    shop = demo_copy(tmp_path / "menu")
    text = next(path for path in shop.glob("*.yaml") if "  white-sugar:" in path.read_text())
    before, found, after = text.read_text().partition("  white-sugar:")
    assert sugar in after
    text.write_text(before + found + after.replace(sugar, "pack: {quantity: 5 lb, price: 2.90}", 1))
    order = run(capsys, "buy", "saturday", "--menu", shop).out
    (row,) = [line for line in order.splitlines() if line.startswith("White sugar ")]
    assert "× 5 lb" in row


def test_what_comes_from_the_tap_is_asked_no_price(tmp_path: Path, capsys: Capture) -> None:
    shop = demo_copy(tmp_path / "menu")
    for path in shop.glob("*.yaml"):
        head, found, after = path.read_text().partition("\n  water:\n")
        if found:
            entry, *rest = re.split(r"(?=\n  \S)", after, maxsplit=1)
            assert "on_tap: yes" in entry
            kept = [line for line in entry.splitlines() if "pack:" not in line]
            assert len(kept) < len(entry.splitlines())
            path.write_text("".join((head, found, "\n".join(kept), *rest)))
    told = run(capsys, "check", "--menu", shop)
    assert "COST01" not in told.out
    dear = run(capsys, "costs", "--format", "csv", "--menu", shop)
    rows = list(csv.DictReader(io.StringIO(dear.out)))
    assert all(row["cost_EUR"] for row in rows)

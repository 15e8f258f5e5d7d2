"""The prep commands over the demo menu and small menus: every form, every way to ask."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pikepdf
import pypdfium2
import pytest
from menu_samples import check_once

from buildsheets.cli import prep_commands as pc
from buildsheets.cli.plain_data import told
from buildsheets.cup.scan import choices, figure
from buildsheets.findings.finding import Severity
from buildsheets.menu.model import Batch, Ingredient, Menu
from buildsheets.prep.log import Entry, in_use
from buildsheets.prep.nutrition import facts_of

MENU = Path(__file__).parents[2] / "menu"
JSON, PDF = pc.How("json"), pc.How("pdf")
MORNING = datetime(2026, 12, 5, 8, 0)


@lru_cache(maxsize=1)
def demo() -> tuple[Menu, tuple[Any, ...]]:
    checked = check_once(MENU)
    assert checked.menu is not None
    return checked.menu, checked.servings


def text_of(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    text = "\n".join(page.get_textpage().get_text_range() for page in document)
    document.close()
    return text


def sound(made: pc.Answer) -> bytes:
    assert made.pdf.startswith(b"%PDF")
    assert not [f.message for f in made.findings if f.severity is Severity.ERROR]
    with pikepdf.open(io.BytesIO(made.pdf)) as document:
        assert document.Root.ViewerPreferences.PrintScaling == "/None"
    return made.pdf


# plan


def test_plan_as_json_conserves_the_days_sales() -> None:
    menu, servings = demo()
    data = told(pc.plan(menu, servings, "saturday", how=JSON).data)
    day = menu.days["saturday"]
    first = {(s.drink.id, s.cup.id): s for s in reversed(servings)}
    grams: dict[str, float] = {}
    for line in day.lines:
        for used in first[line.drink.id, line.cup.id].used:
            grams[used.component.id] = grams.get(used.component.id, 0) + used.mass_g * line.count
        usual = first[line.drink.id, line.cup.id]
        for swap, times in line.swaps:
            for one, sign in ((usual, -1), (usual.with_swap(swap), 1)):
                for used in one.used:
                    known = grams.get(used.component.id, 0)
                    grams[used.component.id] = known + sign * times * used.mass_g
        for add_on, times in line.add_ons:
            mass = add_on.amounts[line.cup.id].mass_g * times
            grams[add_on.component.id] = grams.get(add_on.component.id, 0) + mass
    planned = {one["component"]: one["mass_g"] for one in data["components"]}
    for id_, mass in planned.items():
        assert mass == pytest.approx(grams[id_])
    assert data["unknown"] == []
    assert data["not_planned"] == []
    for run in data["runs"]:
        assert run["factor"] >= run["needed_batches"] * (1 - 1e-8)


def test_plan_buys_what_the_runs_weigh_out() -> None:
    menu, servings = demo()
    data = told(pc.plan(menu, servings, "saturday", how=JSON).data)
    weighed: dict[str, float] = {}
    for run in data["runs"]:
        for part in menu.batches[run["batch"]].parts:
            if isinstance(part.item, Ingredient) and not part.item.on_tap:
                mass = part.mass_g * run["factor"]
                weighed[part.item.id] = weighed.get(part.item.id, 0.0) + mass
    for need in data["components"]:
        source = menu.components[need["component"]].source
        if isinstance(source, Ingredient) and not source.on_tap:
            weighed[source.id] = weighed.get(source.id, 0.0) + need["mass_g"]
    # packaging is counted in pieces
    food = [one for one in data["purchases"] if one["pieces"] is None]
    bought = {one["ingredient"]: one["mass_g"] for one in food}
    assert bought.keys() == weighed.keys()
    for id_, mass in weighed.items():
        assert bought[id_] == pytest.approx(mass)


def test_no_batch_is_served_longer_than_it_keeps() -> None:
    menu, servings = demo()
    data = told(pc.plan(menu, servings, "saturday", how=JSON).data)

    for run in data["runs"]:
        keeps = menu.batches[run["batch"]].keeps_for
        if keeps is not None and keeps.hours is not None:
            assert run["until_min"] - run["ready_min"] <= keeps.hours * 60


def test_a_plan_of_a_date_leaves_out_what_is_not_sold_then() -> None:
    # The demo sells Honey Lantern until January 6, and 14 of it on a Saturday.
    menu, servings = demo()
    before = pc.plan(menu, servings, "saturday", on=date(2027, 1, 6)).text
    later = pc.plan(menu, servings, "saturday", on=date(2027, 1, 7)).text
    assert "Not sold" not in before
    assert "Not sold: Honey Lantern (until January 6)." in later
    assert "Thu, Jan 7, 2027 · Open 10:00 to 20:00" in later.splitlines()[0]
    counts = [int(re.findall(r"(\d+) drinks", text)[0]) for text in (before, later)]
    assert counts[0] - counts[1] == 14
    undated = pc.plan(menu, servings, "saturday").text
    assert "planned since this day has no date: Honey Lantern (until January 6)." in undated
    data = told(pc.plan(menu, servings, "saturday", how=JSON, on=date(2027, 1, 7)).data)
    assert data["on"] == "2027-01-07"
    assert data["not_sold"] == [{"id": "honey-lantern", "why": "dates", "because": []}]
    assert data["any_date"] == []


def test_plan_as_text_and_pdf_in_two_languages() -> None:
    menu, servings = demo()
    english = pc.plan(menu, servings, "saturday").text
    assert english.startswith("Prep for Saturday · Open 10:00 to 20:00")
    assert "Tapioca pearls" in english
    pdf = text_of(sound(pc.plan(menu, servings, "saturday", how=pc.How("pdf", "es"))))
    assert "Perlas de tapioca" in pdf
    assert "Sacar del almacén o comprar" in pdf


def test_unknown_names_get_a_suggestion() -> None:
    menu, servings = demo()
    with pytest.raises(ValueError, match="did you mean saturday"):
        pc.plan(menu, servings, "saturdy")
    with pytest.raises(ValueError, match="did you mean parsnip-cream"):
        pc.scale_batch(menu, "parsnip-creme", pc.Wish())
    with pytest.raises(ValueError, match="there is no ingredient"):
        pc.costs(menu, servings, what_if=("unobtainium", Decimal(1)))


# labels


def test_labels_in_every_form() -> None:
    menu, _ = demo()
    copies = {"parsnip-cream": 2, "cooked-pearls": 1}
    text = pc.labels(menu, copies, MORNING).text
    assert text.count("Parsnip cream") == 2
    assert "Throw out at 12:00, Sat, Dec 5" in text
    data = told(pc.labels(menu, copies, MORNING, how=JSON).data)
    assert data["labels"][1]["discard_at"] == "2026-12-05T12:00:00+01:00"
    calendar = pc.labels(menu, copies, MORNING, by_day=True).text
    assert calendar.index("Tapioca pearls") < calendar.index("Parsnip cream")


def test_labels_stand_in_their_places_on_the_sheet() -> None:
    menu, _ = demo()
    sheet = menu.shop.label_sheet
    assert sheet is not None
    made = pc.labels(menu, {"parsnip-cream": 4}, MORNING, skip=2, how=PDF)
    document = pypdfium2.PdfDocument(made.pdf)
    page = document[0]
    scale = 25.4 / 72
    assert page.get_width() * scale == pytest.approx(sheet.width_mm, abs=0.05)
    assert page.get_height() * scale == pytest.approx(sheet.height_mm, abs=0.05)
    text = page.get_textpage()
    wanted = [(2, 0), (0, 1), (1, 1), (2, 1)]  # column and row of places 3 to 6
    search = text.search("Parsnip cream")
    for column, row in wanted:
        found = search.get_next()
        assert found is not None
        boxes = [text.get_charbox(found[0] + n) for n in range(found[1])]
        left = min(b[0] for b in boxes) * scale
        top = (page.get_height() - max(b[3] for b in boxes)) * scale
        x = sheet.left_mm + column * sheet.pitch_x_mm
        y = sheet.top_mm + row * sheet.pitch_y_mm
        assert x < left < x + 4
        assert y < top < y + 6
    assert search.get_next() is None
    document.close()


def test_labels_follow_opened_packs() -> None:
    menu, _ = demo()
    at = datetime(2026, 12, 3, 9, tzinfo=ZoneInfo("Europe/Madrid"))
    using = in_use(menu, [Entry(at, "opened", "whole-milk")])
    data = told(pc.labels(menu, {"parsnip-cream": 1}, MORNING, using=using, how=JSON).data)
    assert data["labels"][0]["last_day"] == "2026-12-05"
    assert data["labels"][0]["limits"][0]["because"] == "opened"


def test_printed_labels_need_a_measured_sheet_and_text_needs_none() -> None:
    menu, _ = demo()
    bare = replace(menu, shop=replace(menu.shop, label_sheet=None))
    with pytest.raises(ValueError, match=r"label_sheet: \{width: 210 mm") as told:
        pc.labels(bare, {"parsnip-cream": 1}, MORNING, how=PDF)
    assert "as text, labels need no sheet" in str(told.value)
    assert pc.labels(bare, {"parsnip-cream": 1}, MORNING).text.startswith(
        "Parsnip cream\nUse until"
    )


def test_a_label_that_is_too_small_is_refused_not_clipped() -> None:
    menu, _ = demo()
    sheet = menu.shop.label_sheet
    assert sheet is not None
    tiny = replace(sheet, label_height_mm=14.0)
    menu = replace(menu, shop=replace(menu.shop, label_sheet=tiny))
    made = pc.labels(menu, {"parsnip-cream": 1}, MORNING, how=PDF)
    assert made.pdf == b""
    assert [f.code for f in made.findings] == ["CARD03"]


# costs


def test_costs_csv_has_a_row_a_serving_and_sums_right() -> None:
    menu, servings = demo()
    rows = list(csv.DictReader(io.StringIO(pc.costs(menu, servings, how=pc.How("csv")).text)))
    swapped = sum(len(serving.choices.swapped) for serving in servings)
    assert len(rows) == len(servings) + swapped
    assert sum(bool(row["swaps"]) for row in rows) == swapped > 0
    for row in rows:
        assert Decimal(row["net_price_EUR"]) - Decimal(row["cost_EUR"]) == Decimal(
            row["margin_EUR"]
        )
        gross = Decimal(row["net_price_EUR"]) * Decimal("1.10")  # the demo's prices hold 10 %
        assert gross == pytest.approx(Decimal(row["price_EUR"]), abs=Decimal("0.01"))
        assert row["missing_prices"] == ""


def test_what_if_a_pack_of_packaging_cost_more() -> None:
    menu, servings = demo()
    (row,) = [
        one
        for one in told(
            pc.costs(menu, servings, how=JSON, what_if=("flat-lid", Decimal("131.00"))).data
        )["servings"]
        if (one["now"]["drink"], one["now"]["cup"], one["now"]["swaps"])
        == ("marsh-milk-tea", "medium", [])
    ]
    # A thousand lids at 131.00 in place of 31.00: ten cents more each.
    assert row["then"]["packaging"] - row["now"]["packaging"] == pytest.approx(0.10)
    assert (
        "If a pack of flat lid cost"
        in pc.costs(menu, servings, what_if=("flat-lid", Decimal("131.00"))).text
    )


def test_packaging_is_nothing_to_label_or_open() -> None:
    menu, _ = demo()
    assert "flat-lid" in menu.packaging
    with pytest.raises(ValueError, match="there is no batch or ingredient 'flat-lid'"):
        pc.named_item(menu, "flat-lid")


def test_costs_of_every_choice() -> None:
    menu, _ = demo()
    drink = menu.drinks["boathouse-pearl"]
    cup = drink.cups[0]
    every = [figure(drink, cup, choice) for choice in list(choices(drink, cup))[:40]]
    rows = told(pc.costs(menu, every, how=JSON).data)
    rows = [row["now"] for row in rows["servings"]]
    assert len({(r["sweetness_share"], r["ice"], (*r["add_ons"],)) for r in rows}) == len(every)
    for row in rows:
        parts = sum(p["cost"] for p in row["parts"]) + row["packaging"]
        assert parts == pytest.approx(row["cost"], abs=0.05)


def test_what_if_a_pack_cost_more() -> None:
    menu, servings = demo()
    rows = told(pc.costs(menu, servings, what_if=("whole-milk", Decimal("2.10")), how=JSON).data)
    assert rows["what_if"] == {"id": "whole-milk", "pack_price": 2.1}
    rows = [(row["now"], row["then"]) for row in rows["servings"]]
    milk = [(r, s) for r, s in rows if r["drink"] == "boathouse-pearl" and not r["swaps"]]
    assert milk
    assert all(then["cost"] > now["cost"] for now, then in milk)
    dry = [(r, s) for r, s in rows if r["drink"] == "frost-lemon"]
    assert dry
    assert all(then["cost"] == now["cost"] for now, then in dry)
    text = pc.costs(menu, servings, what_if=("whole-milk", Decimal("2.10"))).text
    assert "If a pack of Whole milk cost €2.10 (now €1.05)" in text


def test_what_if_reaches_add_ons_swaps_batches_and_packaging() -> None:
    """Oat drink is dearer by what milk no longer costs less: its swap's margin grows by that."""
    menu, servings = demo()
    milk = pc.costs(menu, servings, what_if=("whole-milk", Decimal("2.10"))).text
    (header,) = {line for line in milk.splitlines() if line.startswith("Add-ons  ")}
    assert header.split()[-5:] == ["Cost", "then", "More", "Margin", "then"]
    swap = next(line for line in milk.splitlines() if line.startswith("Oat drink instead of"))
    cost, margin, cost_then, more, margin_then = (
        Decimal(cell.replace("€", ""))
        for at, cell in enumerate(swap.split()[-7:])
        if at not in (1, 2)
    )
    assert more == cost_then - cost < 0
    assert margin_then == margin - more
    lids = pc.costs(menu, servings, what_if=("flat-lid", Decimal("131.00"))).text
    assert "€0.10" in next(line for line in lids.splitlines() if line.startswith("Medium   500"))


def test_cost_sheet_as_pdf() -> None:
    menu, servings = demo()
    text = text_of(sound(pc.costs(menu, servings, how=PDF)))
    assert "Costs and margins" in text
    assert text.count("Marsh Milk Tea") == 6 + 2  # and where to look, on both cards
    assert text.count("Marsh Milk Tea with Oat drink") == 3


# facts


def test_facts_in_every_form() -> None:
    menu, servings = demo()
    rows = told(pc.facts(menu, servings, how=JSON).data)["servings"]
    by_hand = facts_of(servings[0])
    assert rows[0]["amounts"]["sugars_g"]["value"] == pytest.approx(by_hand["sugars_g"].value)
    text = text_of(sound(pc.facts(menu, servings, how=PDF)))
    assert "EU label rules" in text
    assert "High caffeine content" in text
    assert "Marsh Milk Tea: High caffeine" not in text  # its name says tea
    assert "Oat Mist Oolong: High caffeine" in text  # its name does not


def test_us_rules_show_calories_and_sodium() -> None:
    menu, servings = demo()
    american = replace(menu, shop=replace(menu.shop, label_rules="us"))
    text = pc.facts(american, servings[:1]).text
    assert "Sodium" in text
    assert "kJ" not in text
    assert "High caffeine content" not in text


def test_missing_nutrition_is_not_computed_and_named() -> None:
    menu, servings = demo()
    serving = servings[0]

    def bare(item: Any) -> Any:
        if isinstance(item, Batch):
            parts = tuple(replace(part, item=bare(part.item)) for part in item.parts)
            return replace(item, parts=parts)
        return replace(item, nutrition=None) if item.id == "whole-milk" else item

    steps = tuple(
        step
        if step.used is None or step.used.component.source is None
        else step._replace(
            used=replace(
                step.used,
                component=replace(step.used.component, source=bare(step.used.component.source)),
            ),
        )
        for step in serving.steps
    )
    text = pc.facts(menu, [replace(serving, steps=steps)]).text
    assert "not computed" in text
    assert "figures missing for: Whole milk" in text


# allergens


def test_allergens_in_every_form() -> None:
    menu, _ = demo()
    data = told(pc.allergens(menu, how=JSON).data)
    rows = {(one["id"], *one["swaps"]): one for one in data["sold"]}
    swapped = {(drink.id, swap.id) for drink in menu.drinks.values() for swap in drink.swaps}
    assert swapped
    assert set(rows) == {(id_,) for id_ in (*menu.drinks, *menu.add_ons)} | swapped
    ways = rows["boathouse-pearl",]["contains"]["milk"]
    assert all(way["path"][0] == "boathouse-pearl" for way in ways)
    assert rows["add-cap",]["kind"] == "add-on"
    text = pc.allergens(menu).text
    assert "None declared, ask" in text
    pdf = text_of(sound(pc.allergens(menu, how=pc.How("pdf", "es"))))
    assert "Alérgenos" in pdf
    assert "altramuces" in re.sub("\ufffe\\s*", "", pdf)  # hyphens at line ends


# scale


@pytest.mark.parametrize(
    ("wish", "factor"),
    [
        (pc.Wish(), 1.0),
        (pc.Wish(factor=1.5), 1.5),
        (pc.Wish(scale="full"), 1.0),
        (pc.Wish(packs=3), 3.0),
        (pc.Wish(stock_g={"whipping-cream": 2515.0, "parsnip": 1000.0}), 2.0),  # 2.5 packs
    ],
)
def test_ways_to_ask_for_a_batch(wish: pc.Wish, factor: float) -> None:
    menu, servings = demo()
    data = told(pc.scale_batch(menu, "parsnip-cream", wish, servings=servings, how=JSON).data)
    assert data["factor"] == pytest.approx(factor)


def test_portions_and_containers_give_what_was_asked() -> None:
    menu, servings = demo()
    asked = pc.Wish(portions={"small": 30})
    data = told(pc.scale_batch(menu, "parsnip-cream", asked, servings=servings, how=JSON).data)
    smalls = [p for p in data["portions"] if p["cup"] == "small"]
    assert smalls[0]["count"] >= 30
    assert data["factor"] == 1.0  # the cream goes in by whole packs
    held = pc.Wish(containers=2, container_ml=1000.0)
    data = told(pc.scale_batch(menu, "parsnip-cream", held, how=JSON).data)
    assert data["yield"]["volume_ml"] == pytest.approx(2000.0)
    assert data["containers"] == {"count": 2, "last_ml": pytest.approx(1000.0)}
    short = pc.Wish(stock_g={"whipping-cream": 1503.0})
    data = told(pc.scale_batch(menu, "parsnip-cream", short, how=JSON).data)
    assert data["limited_by"] == "whipping-cream"


def test_wishes_that_cannot_be_met() -> None:
    menu, _ = demo()
    with pytest.raises(ValueError, match="not 'half'"):
        pc.scale_batch(menu, "parsnip-cream", pc.Wish(scale="half"))
    with pytest.raises(ValueError, match="no portion 'bucket'"):
        pc.scale_batch(menu, "parsnip-cream", pc.Wish(portions={"bucket": 1}))
    with pytest.raises(ValueError, match="container"):
        pc.scale_batch(menu, "parsnip-cream", pc.Wish(containers=1))


def test_portions_poured_to_a_line_are_counted_from_servings() -> None:
    menu, servings = demo()
    plain = told(pc.scale_batch(menu, "black-tea-brew", pc.Wish(), how=JSON).data)
    poured = told(
        pc.scale_batch(menu, "black-tea-brew", pc.Wish(), servings=servings, how=JSON).data
    )
    assert len(poured["portions"]) >= len(plain["portions"])


def test_batch_card_as_text_and_pdf() -> None:
    menu, servings = demo()
    text = pc.scale_batch(menu, "parsnip-cream", pc.Wish(packs=2), servings=servings).text
    assert text.startswith("Parsnip cream · × 2")
    assert "2 packs · whole packs only" in text
    pdf = sound(pc.scale_batch(menu, "cooked-pearls", pc.Wish(scale="half"), how=PDF))
    assert "half × 0.5" in text_of(pdf)


def test_an_american_shop_reads_fahrenheit_first() -> None:
    # 5 degC are 41 degF, as in the Food Code 3-501.16(A)(2).
    menu, servings = demo()
    shop = replace(menu, shop=replace(menu.shop, measures="us_customary"))
    at = datetime(2026, 11, 26, 9, 0)
    assert "Keep at 41 °F (5 °C) or colder" in pc.labels(shop, {"whole-milk": 1}, at).text
    assert "Keep at 5 °C or colder" in pc.labels(menu, {"whole-milk": 1}, at).text
    card = pc.scale_batch(shop, "cooked-pearls", pc.Wish()).text
    assert "212 °F (100 °C)" in card
    assert "(212 °F (100 °C))" in pc.plan(shop, servings, "saturday").text

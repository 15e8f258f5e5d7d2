"""Faults planted in what composes the cards: the law of the wall must notice every one.

Each is a slip that somebody could make in a composer, and did or nearly did.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

import pytest
import wall_pages
from wall_cards import Wall, orders
from wall_law import breaks

from buildsheets.menu.components import Component
from buildsheets.menu.volumes import VolumeUnit
from buildsheets.pipeline import Checked, check
from buildsheets.print.layouts import Layouts
from buildsheets.views import addons, build, gauge, rounding, station
from buildsheets.views.types import (
    AddOnView,
    AmountRow,
    AmountTable,
    BuildCardView,
    GaugeStripView,
    SheetView,
    StationCardView,
    StationRow,
    StepView,
)

CORNER = Path(__file__).parent / "menus" / "corner.yaml"
SWAPS = Path(__file__).parent / "menus" / "swaps.yaml"
HOT_AND_ICED = Path(__file__).parent / "menus" / "hot-and-iced.yaml"
BLENDED = Path(__file__).parent / "menus" / "blended.yaml"
WORDS = Layouts().words("es")
LINE = WORDS("ml_line")
FOAM = "Espuma"

T = TypeVar("T")
Plant = Callable[[pytest.MonkeyPatch], None]


@pytest.fixture(scope="module")
def corner() -> Checked:
    checked = check(CORNER)
    assert not checked.stopped
    return checked


def broken(checked: Checked) -> str:
    """The first thing that a card says otherwise than was figured; "" if none does."""
    wall = Wall.of(checked)
    found = (one for s in wall.servings for choice in orders(s) for one in breaks(wall, s, choice))
    return next(found, "")


# how faults are planted -------------------------------------------------------------------------


def wrong(module: Any, name: str, change: Callable[[Any], Any]) -> Plant:
    """What a function composes, changed."""
    right = getattr(module, name)

    def composed(*given: Any, **named: Any) -> Any:
        made = right(*given, **named)
        return None if made is None else change(made)

    return lambda patch: patch.setattr(module, name, composed)


def build_card(change: Callable[[BuildCardView], BuildCardView]) -> Plant:
    return wrong(build, "build_view", change)


def station_row(change: Callable[[StationRow], StationRow]) -> Plant:
    def changed(card: StationCardView) -> StationCardView:
        return replace(card, rows=tuple(map(change, card.rows)))

    return wrong(station, "station_view", changed)


def tables(change: Callable[[AmountTable], AmountTable]) -> Plant:
    """The tables of the build cards."""
    return build_card(lambda card: replace(card, amounts=tuple(map(change, card.amounts))))


def rows(change: Callable[[tuple[AmountRow, ...]], Iterable[AmountRow]]) -> Plant:
    return tables(lambda table: replace(table, rows=tuple(change(table.rows))))


def steps(change: Callable[[StepView], StepView]) -> Plant:
    return build_card(lambda card: replace(card, steps=tuple(map(change, card.steps))))


def extras(change: Callable[[AddOnView], AddOnView]) -> Plant:
    return build_card(lambda card: replace(card, add_ons=tuple(map(change, card.add_ons))))


def moved(text: str, by: int) -> str:
    """A text with its number moved."""
    return re.sub(r"\d+", lambda found: str(int(found[0]) + by), text, count=1)


def on_lines(by: int) -> Callable[[AmountTable], AmountTable]:
    """The lines of a table moved."""

    def change(table: AmountTable) -> AmountTable:
        if table.unit != LINE:
            return table
        cells = (
            replace(row, amounts=tuple(moved(cell, by) for cell in row.amounts))
            for row in table.rows
        )
        return replace(table, rows=tuple(cells))

    return change


def without_column(table: AmountTable) -> AmountTable:
    if not table.header:
        return table
    cut = (replace(row, amounts=row.amounts[1:]) for row in table.rows)
    return replace(table, header=table.header[1:], rows=tuple(cut))


def columns_exchanged(table: AmountTable) -> AmountTable:
    return replace(table, header=table.header[::-1])


def ices_exchanged(found: tuple[AmountRow, ...]) -> list[AmountRow]:
    ices = [row.ice for row in found][::-1]
    return [replace(row, ice=ice) for row, ice in zip(found, ices, strict=True)]


def without_a_set(found: tuple[AmountRow, ...]) -> list[AmountRow]:
    named = [row.add_ons for row in found if row.add_ons]
    return [row for row in found if row.add_ons not in named[-1:]]


def sets_exchanged(found: tuple[AmountRow, ...]) -> list[AmountRow]:
    sets = [row.add_ons for row in found]
    return [
        replace(row, add_ons=names) for row, names in zip(found, sets[3:] + sets[:3], strict=True)
    ]


def if_line(change: Callable[[StepView], StepView]) -> Callable[[StepView], StepView]:
    return lambda step: change(step) if step.kind == "line" else step


def if_named(
    name: str, change: Callable[[AddOnView], AddOnView]
) -> Callable[[AddOnView], AddOnView]:
    return lambda one: change(one) if one.name == name else one


def shaker_word_lost(step: StepView) -> StepView:
    return replace(step, vessel="")


def shaker_levels_up(row: StationRow) -> StationRow:
    """Shaker levels to the nearest ten, as another card might round them."""

    def up(text: str) -> str:
        return re.sub(
            r"(?<=coctelera )\d+", lambda n: str(10 * math.ceil(int(n[0]) / 10 + 0.1)), text
        )

    return replace(row, arrives_at=up(row.arrives_at), leaves_at=up(row.leaves_at))


def always_said(row: StationRow) -> StationRow:
    """What is usual told as if it held for every order."""

    def plain(text: str) -> str:
        return text.replace(WORDS("usually", state=""), "")

    return replace(row, arrives_at=plain(row.arrives_at), leaves_at=plain(row.leaves_at))


def arriving(now: str, then: str) -> Callable[[StationRow], StationRow]:
    """A fixed word in the place of another where a cup arrives."""
    return lambda row: replace(row, arrives_at=row.arrives_at.replace(WORDS(now), WORDS(then)))


def without_cautions(card: StationCardView) -> StationCardView:
    silent = tuple(replace(row, check="") for row in card.rows)
    return replace(card, rows=silent, cautions=())


def first_two_exchanged(row: StationRow) -> StationRow:
    first = row.adds[1::-1]
    return replace(row, adds=(*first, *row.adds[2:]))


def last_step_lost(row: StationRow) -> StationRow:
    return replace(row, adds=row.adds[:-1]) if len(row.adds) > 1 else row


def without_marks(strip: GaugeStripView) -> GaugeStripView:
    """The gauge of the drinks as nobody asked to change them."""
    return replace(strip, rows=strip.rows[2:])


def from_the_inner_floor(strip: GaugeStripView) -> GaugeStripView:
    down = strip.gauge_floor_mm
    return replace(
        strip,
        rows=tuple(
            replace(row, line=replace(row.line, height_mm=row.line.height_mm - down))
            for row in strip.rows
        ),
    )


def card_cells(change: Callable[[str], str]) -> Plant:
    """The cells of the add-on card."""

    def changed(sheet: SheetView) -> SheetView:
        def row(cells: tuple[str, ...]) -> tuple[str, ...]:
            return (cells[0], *map(change, cells[1:-1]), cells[-1])

        return replace(
            sheet,
            tables=tuple(replace(t, rows=tuple(map(row, t.rows))) for t in sheet.tables),
        )

    return wrong(addons, "addons_view", changed)


def page_without(name: str) -> Plant:
    """Phone pages that lack a field of the card."""
    return wrong(
        wall_pages,
        "card_texts",
        lambda texts: {key: held for key, held in texts.items() if key != name},
    )


FAULTS: dict[str, Plant] = {
    "build card: lines of the matrix 5 ml higher": tables(on_lines(5)),
    "build card: lines of the matrix 5 ml lower": tables(on_lines(-5)),
    "build card: the printed line 5 ml higher": build_card(
        lambda card: replace(
            card,
            steps=tuple(
                if_line(lambda s: replace(s, amount=moved(s.amount, 5)))(s) for s in card.steps
            ),
            amounts=tuple(t for t in card.amounts if t.unit != LINE),
        )
    ),
    "all cards: lines rounded to 10 ml": lambda patch: patch.setattr(
        VolumeUnit, "line", lambda unit, ml: int(ml // 10 * 10)
    ),
    "all cards: lines rounded up": lambda patch: patch.setattr(
        VolumeUnit, "line", lambda unit, ml: 5 * (int(ml // 5) + 1)
    ),
    "all cards: counts rounded up": lambda patch: patch.setattr(
        rounding, "count", lambda words, value: str(math.ceil(value))
    ),
    "all cards: a decimal point where there are commas": lambda patch: patch.setattr(
        rounding, "amount", lambda words, value: f"{value:.1f}"
    ),
    "build card: a set of add-ons is not in the matrix": rows(without_a_set),
    "build card: the rows of two sets exchanged": rows(sets_exchanged),
    "build card: the columns of sweetness exchanged": tables(columns_exchanged),
    "build card: the rows of the ices exchanged": rows(ices_exchanged),
    "build card: no column for 0 %": tables(without_column),
    "build card: no row for no ice": rows(
        lambda found: [row for row in found if row.ice != "Sin hielo"]
    ),
    "build card: a table under the number of the next step": tables(
        lambda table: replace(table, step=table.step + 1)
    ),
    "build card: another unit over the amounts": tables(lambda table: replace(table, unit="g")),
    "build card: a step lost": build_card(lambda card: replace(card, steps=card.steps[1:])),
    "build card: the shaker is not named": steps(shaker_word_lost),
    "build card: an add-on after the step before": extras(
        lambda one: replace(one, place=moved(one.place, -1))
    ),
    "build card: the cap before the stir": extras(
        if_named(FOAM, lambda one: replace(one, place="tras el paso 4"))
    ),
    "build card: the cap after the lid": extras(
        if_named(FOAM, lambda one: replace(one, place="tras el paso 6"))
    ),
    "build card: an add-on at another station": extras(lambda one: replace(one, station="B")),
    "build card: an add-on lost": build_card(lambda card: replace(card, add_ons=card.add_ons[1:])),
    "build card: an add-on's amount of another size": extras(
        lambda one: replace(one, amount=moved(one.amount, 1))
    ),
    "station card: lines of the matrix 5 ml higher": station_row(
        lambda row: replace(row, amounts=tuple(map(on_lines(5), row.amounts)))
    ),
    "station card: no matrix": station_row(lambda row: replace(row, amounts=())),
    "station card: two steps exchanged": station_row(first_two_exchanged),
    "station card: a step lost": station_row(last_step_lost),
    "station card: its add-ons lost": station_row(lambda row: replace(row, add_ons=())),
    "station card: an add-on first that goes in later": station_row(
        lambda row: replace(
            row, add_ons=tuple(replace(one, place="primero") for one in row.add_ons)
        )
    ),
    "station card: the cup sent to another station": station_row(
        lambda row: replace(row, goes_to="T")
    ),
    "station card: shaker levels rounded up": station_row(shaker_levels_up),
    "station card: what is usual said of every order": station_row(always_said),
    "station card: an empty cup taken while one with an add-on stands there": station_row(
        arriving("take_that_cup", "take_cup")
    ),
    "station card: nothing of the cup that comes with an empty shaker": station_row(
        arriving("shaker_and_cup", "empty_shaker")
    ),
    "station card: whoever hands over reads no caution": wrong(
        station, "station_view", without_cautions
    ),
    "gauge: marks lost": wrong(gauge, "gauge_view", without_marks),
    "gauge: measured from the inner floor": wrong(gauge, "gauge_view", from_the_inner_floor),
    "build card: marks of its edge lost": build_card(
        lambda card: replace(card, gauge=card.gauge[1:])
    ),
    "station card: marks of its edge lost": wrong(
        station, "station_view", lambda card: replace(card, gauge=card.gauge[1:])
    ),
    "add-on card: lines 5 ml higher": card_cells(
        lambda cell: moved(cell, 5) if cell.endswith(LINE) else cell
    ),
    "add-on card: counts one higher": card_cells(
        lambda cell: moved(cell, 1) if re.fullmatch(r"\d", cell) else cell
    ),
    "station card: the straw of an add-on not told": station_row(
        lambda row: replace(row, adds=tuple(replace(step, note="") for step in row.adds))
    ),
    "station card: a drink's own straw not told": station_row(
        lambda row: replace(
            row,
            adds=tuple(
                replace(one, note=one.note.replace("pajita cuchara", "")) for one in row.adds
            ),
        )
    ),
    "station card: not told when a drink is sold": station_row(lambda row: replace(row, sold="")),
    "all cards: hours that could be those of the station": wrong(
        build, "sold_when", lambda text: text.removeprefix("se vende ")
    ),
    "build card: another hour told": build_card(
        lambda card: replace(card, sold=card.sold.replace("12", "13"))
    ),
    "add-on card: the add-ons of another size": wrong(
        addons,
        "addons_view",
        lambda sheet: replace(
            sheet,
            tables=tuple(
                replace(t, rows=tuple((moved(row[0], 1), *row[1:]) for row in t.rows))
                for t in sheet.tables
            ),
        ),
    ),
    "phone page: no matrix": page_without("amounts"),
    "phone page: no add-ons": page_without("add_ons"),
}
"""What is planted, by what a reader would see."""


# blends -----------------------------------------------------------------------------------------

ENGLISH = Layouts().words("en")


def shaken_instead(step: StepView) -> StepView:
    """A blended drink that its card has shaken: the ice would stand in it."""
    blend = step.what.startswith("Blend")
    return replace(step, what=ENGLISH("do_shake_dumped_for", s=25)) if blend else step


def in_shaker_instead(step: StepView) -> StepView:
    return replace(step, vessel=step.vessel and ENGLISH("shaker"))


BLEND_FAULTS = {
    "build card: shaken instead of blended": steps(shaken_instead),
    "build card: into the shaker": steps(in_shaker_instead),
    "station card: the shaker is empty": station_row(
        lambda row: replace(row, arrives_at=row.arrives_at.replace("blender", "shaker"))
    ),
}


@pytest.mark.parametrize("fault", BLEND_FAULTS)
def test_the_law_notices_a_blended_drink_told_otherwise(
    fault: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    checked = check(BLENDED)
    assert not checked.stopped
    BLEND_FAULTS[fault](monkeypatch)
    assert broken(checked)


# swaps ------------------------------------------------------------------------------------------

GERMAN = Layouts().words("de")


def swap_texts(change: Callable[[str], str]) -> Plant:
    """What the build cards say that swaps bring and take away."""
    return build_card(
        lambda card: replace(
            card,
            swaps=tuple(replace(one, allergens=change(one.allergens)) for one in card.swaps),
        )
    )


def swaps_moved(card: BuildCardView) -> BuildCardView:
    """What a guest may have instead stands at the next step."""
    offered = [step.swaps for step in card.steps]
    moved_on = zip(card.steps, [(), *offered[:-1]], strict=True)
    return replace(card, steps=tuple(replace(step, swaps=swaps) for step, swaps in moved_on))


def swap_amounts_lost(card: BuildCardView) -> BuildCardView:
    """As much goes in of a swap as of what it replaces, counted with another pump or not."""

    def plain(step: StepView) -> StepView:
        return replace(step, swaps=tuple(replace(one, amount="", unit="") for one in step.swaps))

    names = {one.name for step in card.steps for one in step.swaps}
    tables = tuple(table for table in card.amounts if table.what not in names)
    return replace(card, steps=tuple(map(plain, card.steps)), amounts=tables)


def said_gone(text: str) -> str:
    """What is in the drink through its foam is said to be taken away."""
    still = GERMAN("still_contains", allergen="Milch", names="Milchschaum")
    taken = GERMAN("takes_away", list="Milch")
    return text.replace(still[:1].upper() + still[1:], taken[:1].upper() + taken[1:])


SWAP_FAULTS: dict[str, Plant] = {
    "build card: what a swap contains is forgotten": swap_texts(
        lambda text: text.partition(". ")[2] or "."
    ),
    "build card: what a swap may contain is forgotten": swap_texts(
        lambda text: re.sub("; kann Soja enthalten", "", text)
    ),
    "build card: milk said gone though the foam has it": swap_texts(said_gone),
    "build card: not said that an add-on brings milk again": swap_texts(
        lambda text: text.replace(" Wieder Milch mit Milchschaum.", "")
    ),
    "build card: a swap at the wrong step": build_card(swaps_moved),
    "build card: a swap lost": steps(lambda step: replace(step, swaps=step.swaps[1:])),
    "build card: a swap's amounts lost": build_card(swap_amounts_lost),
    "build card: sets with a swap not in the matrix": rows(
        lambda found: [row for row in found if not any("Kokos" in name for name in row.add_ons)]
    ),
    "station card: a swap lost": station_row(
        lambda row: replace(row, adds=tuple(replace(step, swaps=()) for step in row.adds))
    ),
    "build card: nothing of the jug that milk goes into too": swap_texts(
        lambda text: text.replace("; gleiches Gerät (Messkanne): vorher waschen", "")
    ),
    "build card: its frame says nothing of swaps and add-ons": build_card(
        lambda card: replace(card, allergens=replace(card.allergens, others=""))
    ),
    "build card: its frame forgets what a swap brings": build_card(
        lambda card: replace(
            card,
            allergens=replace(
                card.allergens, others=card.allergens.others.replace("Gluten (Hafer)", "Hafer")
            ),
        )
    ),
    "build card: its frame forgets who brings back what a swap takes": build_card(
        lambda card: replace(
            card,
            allergens=replace(
                card.allergens,
                others=card.allergens.others.replace("; wieder Milch mit Milchschaum", ""),
            ),
        )
    ),
    "station card: no word of who brings more than its row says": station_row(
        lambda row: replace(row, allergens=row.allergens.split(". ")[0])
    ),
    "station card: what a swap brings not told": station_row(lambda row: replace(row, swaps=())),
    "phone page: swaps lost": wrong(
        wall_pages,
        "card_texts",
        lambda texts: (
            texts
            | {
                "steps": [
                    {name: held for name, held in step.items() if name != "swaps"}
                    for step in texts.get("steps", ())
                ]
            }
        ),
    ),
}


@pytest.fixture(scope="module")
def shop_with_swaps() -> Checked:
    checked = check(SWAPS)
    assert not checked.stopped
    return checked


@pytest.mark.parametrize("fault", SWAP_FAULTS)
def test_every_fault_of_a_swap_is_noticed(
    fault: str, shop_with_swaps: Checked, monkeypatch: pytest.MonkeyPatch
) -> None:
    SWAP_FAULTS[fault](monkeypatch)
    assert broken(shop_with_swaps) != "", fault


def test_slices_that_are_not_told_where_they_go_are_noticed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    checked = check(Path(__file__).parent / "menus" / "promenade.yaml")
    patch = steps(lambda step: replace(step, note=step.note.replace("pressed to the wall", "")))
    patch(monkeypatch)
    assert "pieces: Lime" in broken(checked)


@pytest.mark.parametrize("fault", FAULTS)
def test_every_planted_fault_is_noticed(
    fault: str, corner: Checked, monkeypatch: pytest.MonkeyPatch
) -> None:
    FAULTS[fault](monkeypatch)
    assert broken(corner) != "", fault


OUNCES = CORNER.with_name("ounces.yaml")
OUNCE_FAULTS: dict[str, Plant] = {
    "all cards: lines to whole ounces": lambda patch: patch.setattr(
        VolumeUnit, "line", lambda unit, ml: float(ml // unit.ml)
    ),
    "all cards: amounts to the next quarter": lambda patch: patch.setattr(
        rounding,
        "volume",
        lambda words, ml, unit: rounding.count(words, math.ceil(ml / unit.step_ml) / 4 + 0.25),
    ),
    "all cards: amounts in ml beside fl oz": lambda patch: patch.setattr(
        rounding, "volume", lambda words, ml, unit: rounding.amount(words, ml)
    ),
    "build card: ounces called ml": steps(
        lambda step: replace(step, unit=step.unit.replace("fl oz", "ml"))
    ),
    "station card: ounces called ml": station_row(
        lambda row: replace(row, arrives_at=row.arrives_at.replace("fl oz", "ml"))
    ),
}


def test_the_law_notices_ounces_told_otherwise(monkeypatch: pytest.MonkeyPatch) -> None:
    checked = check(OUNCES)
    for fault, plant in OUNCE_FAULTS.items():
        with monkeypatch.context() as patch:
            plant(patch)
            assert broken(checked) != "", fault


WEIGHED = CORNER.with_name("weighed.yaml")
WEIGHED_FAULTS: dict[str, Plant] = {
    "all cards: a liquid on a scale in ml": lambda patch: patch.setattr(
        Component, "by_volume", lambda component, tool: component.behaves == "liquid"
    ),
    "all cards: tenths of a gram left out": lambda patch: patch.setattr(
        rounding, "grams", lambda words, g: rounding.amount(words, g)
    ),
    "build card: grams called ml": steps(
        lambda step: replace(step, unit="ml" if step.unit == "g" else step.unit)
    ),
}


def test_the_law_notices_what_is_weighed_told_otherwise(monkeypatch: pytest.MonkeyPatch) -> None:
    assert broken(check(WEIGHED)) == ""
    for fault, plant in WEIGHED_FAULTS.items():
        with monkeypatch.context() as patch:
            plant(patch)
            assert broken(check(WEIGHED)) != "", fault  # anew: what tables say is kept


def other_build(card: BuildCardView) -> BuildCardView:
    """An iced card with the hot step, and a hot one with the iced step."""
    hot, iced = "Heißer Tee", "Tee"
    other = {hot: iced, iced: hot}
    steps = (replace(step, what=other.get(step.what, step.what)) for step in card.steps)
    return replace(card, steps=tuple(steps))


def ice_when_hot(card: BuildCardView) -> BuildCardView:
    """A hot card with a step more, its first once again: as of an iced build."""
    if "heiß" not in card.subtitle:
        return card
    return replace(card, steps=(card.steps[0], *card.steps))


BUILD_FAULTS: dict[str, Plant] = {
    "the step of the other build on a build card": build_card(other_build),
    "a step too many on a hot card": build_card(ice_when_hot),
    "the step of the other build on a station card": station_row(
        lambda row: replace(
            row,
            adds=tuple(
                replace(add, what="Heißer Tee") if add.what == "Tee" else add for add in row.adds
            ),
        )
    ),
}


@pytest.mark.parametrize("fault", BUILD_FAULTS)
def test_every_fault_between_hot_and_iced_is_noticed(
    fault: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    checked = check(HOT_AND_ICED)
    assert not checked.stopped
    BUILD_FAULTS[fault](monkeypatch)
    assert broken(checked) != "", fault

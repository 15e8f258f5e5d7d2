"""A checked menu, one cup and its servings go in; its add-on card and gauge strip come out."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations

from buildsheets.cup.serving import Choice, Serving
from buildsheets.menu.model import AddOn, AddStep, CupSize, Menu
from buildsheets.views import rounding
from buildsheets.views.compose import NO_FOOT, cautions_with, gauge_lines
from buildsheets.views.compose_options import (
    add_on_views,
    base_name,
    left_out,
    pours_to_line,
    too_much,
)
from buildsheets.views.cup_views import GaugeStripView, RackLine
from buildsheets.views.paper import SERIES
from buildsheets.views.prep_views import SheetTable, SheetView
from buildsheets.views.prep_words import allergen_line, allergens
from buildsheets.views.views import AddOnView
from buildsheets.views.words import Words

STRIP_HEADROOM_MM = 6.0
"""Above the rim's mark on a gauge strip, so that its label keeps clear of the edge."""


def cup_cards(
    menu: Menu, servings: Sequence[Serving], words: Words
) -> tuple[tuple[str, str, SheetView | GaugeStripView], ...]:
    """The add-on card and the gauge strip of every cup in use: (kind, cup id, view)."""
    found: list[tuple[str, str, SheetView | GaugeStripView]] = []
    for size in menu.cups.values():
        views = (
            addons_view(menu, size, servings, words),
            gauge_view(menu, size, servings, words),
        )
        found += [(view.kind, size.id, view) for view in views if view is not None]
    return tuple(found)


def addons_view(
    menu: Menu, size: CupSize, servings: Sequence[Serving], words: Words
) -> SheetView | None:
    """Add-ons and options of every drink in a cup; ``None`` when none has any.

    For each add-on the drinks are grouped by what it asks of them: nothing, some base left out,
    a lower line, or that it does not fit; what is left out is enough for every sweetness and ice.
    """
    here = [serving for serving in servings if serving.cup.id == size.id]
    tables = [*_add_ons(menu, here, words), *_together(here, words), *_options(here, words)]
    if not tables:
        return None
    offered = {a.id: a for serving in here for a in serving.offered}
    return SheetView(
        kind="addons",
        language=words.language,
        code="",
        title=words("addons_title"),
        subtitle=words(
            "cup_of",
            name=size.name.in_language(words.language),
            ml=rounding.level_ml(here[0].final.cup.brimful_ml),
        ),
        tables=tuple(tables),
        notes=_notes(here, list(offered.values()), words),
        foot=NO_FOOT,
        reading_distance_mm=max(s.reading_distance_mm for s in menu.stations.values()),
        width_mm=menu.shop.card_width_mm,
        height_mm=menu.shop.card_height_mm,
        size_name=size.name.in_language(words.language),
    )


def _notes(servings: Sequence[Serving], offered: Sequence[AddOn], words: Words) -> tuple[str, ...]:
    """How many add-ons go into one cup, and the cautions: the usual ones, and what an add-on
    itself brings by its name."""
    most = {s.drink.add_ons_at_most for s in servings if s.offered}
    limit = (words("addons_at_most", count=most.pop()),) if len(most) == 1 else ()
    return (*limit, *cautions_with((), offered, words))


def _table(
    title: str, header: tuple[str, ...], rows: Sequence[tuple[str, ...]], *weights: float
) -> SheetTable:
    return SheetTable(title, header, tuple(rows), "l" * len(header), weights, strong=(0,))


def _add_ons(menu: Menu, servings: Sequence[Serving], words: Words) -> Iterator[SheetTable]:
    """Each add-on, what to do with it, and for which drinks."""
    groups: dict[tuple[str, str, str], list[str]] = {}
    for serving in servings:
        for add_on, view in zip(serving.offered, add_on_views(menu, serving, words), strict=True):
            brings = allergen_line(words, allergens(words, menu, serving.allergens(add_on)))
            row = (f"{view.name}: {view.amount}", brings, _asked(view, words))
            drinks = groups.setdefault(row, [])
            drinks.append(serving.drink.name.in_language(words.language))
    order = [add_on.name.in_language(words.language) for add_on in menu.add_ons.values()]
    rows = sorted(groups, key=lambda row: order.index(row[0].partition(": ")[0]))
    if rows:
        header = (words("add_ons"), words("addons_allergens"), words("addons_do"),
                  words("addons_drinks"))  # fmt: skip
        cells = [(*row, " · ".join(groups[row])) for row in rows]
        yield _table("", header, cells, 0.8, 0.8, 0.8, 1.6)


def _asked(view: AddOnView, words: Words) -> str:
    """What an add-on asks of a drink."""
    if not view.fits:
        return f"{words('does_not_fit')}: {view.verdict}"
    if view.hold_back:
        return words("hold_back", amount=view.hold_back)
    return view.line or words("addons_as_written")


def _together(servings: Sequence[Serving], words: Words) -> Iterator[SheetTable]:
    """Several add-ons at once, where together they ask for more than each alone.

    Larger combinations are left out where a smaller one within them does not fit already.
    """
    groups: dict[tuple[str, str], list[str]] = {}
    for serving in servings:
        for chosen, asked in _combined(serving, words):
            names = " + ".join(add_on.name.in_language(words.language) for add_on in chosen)
            drink = serving.drink.name.in_language(words.language)
            groups.setdefault((names, asked), []).append(drink)
    if groups:
        rows = [(names, asked, " · ".join(drinks)) for (names, asked), drinks in groups.items()]
        header = (words("add_ons"), words("addons_do"), words("addons_drinks"))
        yield _table(words("addons_together"), header, rows, 1.2, 1.2, 1.6)


def _combined(serving: Serving, words: Words) -> Iterator[tuple[tuple[AddOn, ...], str]]:
    asked_of: dict[frozenset[str], str] = {}
    impossible: list[frozenset[str]] = []
    for count in range(1, serving.drink.add_ons_at_most + 1):
        for chosen in combinations(serving.offered, count):
            ids = tuple(add_on.id for add_on in chosen)
            keys = frozenset(ids)
            if any(known <= keys for known in impossible):
                continue
            fullest = serving.choices.fullest(ids)
            asked = ""
            if fullest.verdict == "too-much":
                impossible.append(keys)
                asked = f"{words('does_not_fit')}: {too_much(fullest, words)}"
            elif fullest.held_back_ml > 0.0:
                asked = _held_back(fullest, words)
            known_already = any(part < keys and told == asked for part, told in asked_of.items())
            asked_of[keys] = asked
            if count > 1 and asked and not known_already:
                yield chosen, asked


def _held_back(serving: Serving, words: Words) -> str:
    """What a serving asks: a lower line where it is poured to one, else base left out."""
    used = serving.body.used
    if used is None or used.to_line_ml is None:
        return words("hold_back", amount=left_out(serving, words))
    to_level = words("to_level", level=rounding.level(words, used.to_line_ml))
    return f"{base_name(serving, words)} {to_level}"


def _base(serving: Serving, words: Words) -> str:
    """How much of the base a choice takes, or the line it reaches."""
    if serving.verdict == "too-much":
        return words("does_not_fit")
    level = words("level_ml", ml=rounding.base_ml(serving.body))
    return words("to_level", level=level) if pours_to_line(serving) else level


def _options(servings: Sequence[Serving], words: Words) -> Iterator[SheetTable]:
    """Sweetness and ice, drinks that do the same in one row."""
    sweet: _Groups = {}
    ice: _Groups = {}
    for serving in servings:
        drink, chosen = serving.drink, serving.choice
        if drink.sweetness is not None:
            choices = [serving.choices[Choice(s, chosen.ice)] for s in drink.sweetness.levels]
            header = tuple(words.percent(s) for s in drink.sweetness.levels)
            _group(sweet.setdefault(header, {}), serving, choices, "sweetener", words)
        if drink.ice is not None:
            levels = drink.ice
            choices = [serving.choices[Choice(chosen.sweetness, i)] for i in levels.levels]
            header = tuple(levels.names[i].in_language(words.language) for i in levels.levels)
            _group(ice.setdefault(header, {}), serving, choices, "ice", words)
    for title, tables in (("sweetness", sweet), ("addons_ice", ice)):
        for header, groups in tables.items():
            rows = [(what, *cells, " · ".join(drinks)) for (what, *cells), drinks in groups.items()]
            heads = ("", *header, words("addons_drinks"))
            width = 0.5 if len(header) > 3 else 0.8
            yield _table(words(title), heads, rows, 1.2, *(width for _ in header), 1.6)


_Groups = dict[tuple[str, ...], dict[tuple[str, ...], list[str]]]


def _group(
    groups: dict[tuple[str, ...], list[str]], serving: Serving, choices: Sequence[Serving],
    role: str, words: Words,
) -> None:  # fmt: skip
    """Add a drink to the row that says what it does for each choice.

    A cell has the count or amount; where the base changes with it, that as well.
    """
    bases = [_base(one, words) for one in choices]
    for index, figure in enumerate(serving.steps):
        step = figure.step
        if not isinstance(step, AddStep) or step.component.role != role:
            continue
        amounts = [rounding.measured(one.steps[index], words) for one in choices]
        what = words(
            "counts_of",
            what=step.component.name.in_language(words.language),
            unit=rounding.counted_in(figure, words) or amounts[-1][1],
        )
        cells = [amount for amount, _, _ in amounts]
        if len(set(bases)) > 1:
            what += f" · {base_name(serving, words)}"
            cells = [f"{cell} · {base}" for cell, base in zip(cells, bases, strict=True)]
        name = serving.drink.name.in_language(words.language)
        groups.setdefault((what, *cells), []).append(name)


def gauge_view(
    menu: Menu, size: CupSize, servings: Sequence[Serving], words: Words
) -> GaugeStripView | None:
    """Every line that drinks in a cup are poured to, at 1:1; ``None`` when there is no drink.

    The strip is on the smallest stock of the shop's series that is high enough for the rim.
    """
    drinks: dict[tuple[str, str, float], list[str]] = {}
    lines = {}
    for serving in servings:
        if serving.cup.id != size.id:
            continue
        for line in gauge_lines(serving, words):
            key = (line.kind, line.label, line.height_mm)
            if line.kind in ("line", "working", "rim"):
                lines[key] = line
                name = serving.drink.name.in_language(words.language)
                if line.kind == "line" and name not in drinks.setdefault(key, []):
                    drinks[key].append(name)
    if not lines:
        return None
    rows = [
        RackLine(line, words("step_height", mm=math.floor(line.height_mm)),
                 tuple(drinks.get(key, ())))
        for key, line in sorted(lines.items(), key=lambda item: item[1].height_mm)
    ]  # fmt: skip
    width, height = _strip_size(menu, rows[-1].line.height_mm)
    return GaugeStripView(
        kind="gauge",
        language=words.language,
        code="",
        title=words("gauge_title"),
        size_name=size.name.in_language(words.language),
        subtitle=words("gauge_strip"),
        rows=tuple(rows),
        gauge_floor_mm=size.floor_mm,
        foot=NO_FOOT,
        reading_distance_mm=max(s.reading_distance_mm for s in menu.stations.values()),
        width_mm=width,
        height_mm=height,
    )


def _strip_size(menu: Menu, rim_mm: float) -> tuple[float, float]:
    """The smallest upright stock, of the series of the shop's cards, that reaches over the rim."""
    card = {menu.shop.card_width_mm, menu.shop.card_height_mm}
    for series in SERIES.values():
        if any({stock.width_mm, stock.height_mm} == card for stock in series):
            # Room beside the gauge for the 50 mm proof bar and its words takes 100 mm.
            for stock in series:
                if stock.width_mm >= 100 and stock.height_mm >= rim_mm + STRIP_HEADROOM_MM:
                    return stock.width_mm, stock.height_mm
    return menu.shop.card_width_mm, menu.shop.card_height_mm

"""Servings of a cup go in; what each add-on asks of a drink, and the add-on card, come out."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations

from buildsheets.cup.allergens import AllergenReport
from buildsheets.cup.serving import Choice, Serving
from buildsheets.menu.model import AddOn, AddStep, CupSize, Menu
from buildsheets.views import rounding
from buildsheets.views.allergens import allergen_line, allergens, cautions_with
from buildsheets.views.rounding import measured
from buildsheets.views.types import AddOnView, SheetTable, SheetView
from buildsheets.views.words import Words

Labelled = tuple[str, Choice]


def add_on_views(menu: Menu, serving: Serving, words: Words) -> tuple[AddOnView, ...]:
    """Each add-on alone on the drink: where and how much it goes in, what is left out so that it
    fits with every sweetness and ice, what it contains, or that it does not fit."""
    return tuple(_add_on_view(menu, serving, add_on, words) for add_on in serving.offered)


def _add_on_view(menu: Menu, serving: Serving, add_on: AddOn, words: Words) -> AddOnView:
    with_it = serving.choices.fullest((add_on.id,))
    figure = next(f for f in with_it.steps if f.add_on is not None)
    amount, unit, measure = measured(figure, words)
    fits = with_it.verdict != "too-much"
    hold_back, line = _room_made(serving, with_it, words) if fits else ("", "")
    before = figure.number - 1  # the printed step it stands after
    place = words("addon_after", step=before) if before else words("addon_first")
    return AddOnView(
        name=words.name(add_on),
        amount=words("with_grams", amount=f"{amount} {unit}", measure=measure),
        hold_back=hold_back,
        line=line,
        fits=fits,
        verdict="" if fits else too_much(with_it, words),
        allergens=_add_on_allergens(menu, serving.allergens(add_on), words),
        place=f"{place}, {words('addon_in')}",
    )


def too_much(serving: Serving, words: Words) -> str:
    """By how much a choice does not fit."""
    return words("too_much", ml=rounding.left_out_ml(serving.over_ml))


def left_out(serving: Serving, words: Words) -> str:
    """How much of the base is left out."""
    ml = rounding.left_out_ml(serving.held_back_ml)
    return words("hold_back_of", ml=ml, what=base_name(serving, words))


def _room_made(serving: Serving, with_it: Serving, words: Words) -> tuple[str, str]:
    """(base left out, lower line): how the base makes room for an add-on."""
    if with_it.held_back_ml <= 0.0:
        return "", ""
    used, written = with_it.body.used, serving.body.used
    assert used is not None
    assert written is not None
    if used.to_line_ml is None:
        return left_out(with_it, words), ""
    level = rounding.level(words, used.to_line_ml)
    lower = math.ceil((written.to_line_mm or 0.0) - (used.to_line_mm or 0.0))
    return "", words("line_lower", what=base_name(with_it, words), level=level, mm=lower)


def _add_on_allergens(menu: Menu, report: AllergenReport, words: Words) -> str:
    """What it contains and may contain; never blank."""
    if not report.contains and not report.may_contain and not report.undeclared:
        return words("no_allergen")
    return allergen_line(words, allergens(words, menu, report))


def base_name(serving: Serving, words: Words) -> str:
    """What the base of a drink is called."""
    step = serving.body.step
    assert isinstance(step, AddStep)
    return words.name(step.component)


def choices_of(serving: Serving, words: Words) -> tuple[list[Labelled], list[Labelled]]:
    """Each sweetness with the usual ice, and each ice with the usual sweetness, by its name."""
    usual, sweetness, ice = serving.choice, serving.drink.sweetness, serving.drink.ice
    sweets = sweetness.levels if sweetness else ()
    ices = [(i, words.text(ice.names[i])) for i in ice.levels] if ice else []
    return (
        [(words.percent(s), Choice(s, usual.ice)) for s in sweets],
        [(name, Choice(usual.sweetness, i)) for i, name in ices],
    )


def pours_to_line(serving: Serving) -> bool:
    """Whether the base is poured to a line."""
    used = serving.body.used
    return used is not None and used.to_line_ml is not None


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
    most = {s.drink.add_ons_at_most for s in here if s.offered}
    limit = (words("addons_at_most", count=most.pop()),) if len(most) == 1 else ()
    brimful_ml = rounding.level_ml(here[0].final.cup.brimful_ml)
    return SheetView(
        kind="addons",
        language=words.language,
        title=words("addons_title"),
        subtitle=words("cup_of", name=words.name(size), ml=brimful_ml),
        tables=tuple(tables),
        notes=(*limit, *cautions_with((), list(offered.values()), words)),
        reading_distance_mm=max(s.reading_distance_mm for s in menu.stations.values()),
        width_mm=menu.shop.card_width_mm,
        height_mm=menu.shop.card_height_mm,
        size_name=words.name(size),
    )


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
            groups.setdefault(row, []).append(words.name(serving.drink))
    order = [words.name(add_on) for add_on in menu.add_ons.values()]
    rows = sorted(groups, key=lambda row: order.index(row[0].partition(": ")[0]))
    if rows:
        keys = ("add_ons", "addons_allergens", "addons_do", "addons_drinks")
        cells = [(*row, " · ".join(groups[row])) for row in rows]
        yield _table("", tuple(map(words, keys)), cells, 0.8, 0.8, 0.8, 1.6)


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
            names = " + ".join(map(words.name, chosen))
            groups.setdefault((names, asked), []).append(words.name(serving.drink))
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
    for place, (title, role) in enumerate((("sweetness", "sweetener"), ("addons_ice", "ice"))):
        tables: _Groups = {}
        for serving in servings:
            if choices := choices_of(serving, words)[place]:
                made = [serving.choices[choice] for _, choice in choices]
                groups = tables.setdefault(tuple(label for label, _ in choices), {})
                _group(groups, serving, made, role, words)
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
        unit = rounding.counted_in(figure, words) or amounts[-1][1]
        what = words("counts_of", what=words.name(step.component), unit=unit)
        cells = [amount for amount, _, _ in amounts]
        if len(set(bases)) > 1:
            what += f" · {base_name(serving, words)}"
            cells = [f"{cell} · {base}" for cell, base in zip(cells, bases, strict=True)]
        groups.setdefault((what, *cells), []).append(words.name(serving.drink))

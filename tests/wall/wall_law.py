"""The law of the wall: whoever does what the cards say gets the cup that was figured.

A checked menu goes in; what the cards of one language say otherwise, as sentences, comes out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import groupby
from typing import TypeVar

from wall_allergens import wrong_of_allergens
from wall_cards import Wall
from wall_counter import LIDS, wrong_at_the_counter
from wall_grids import BETWEEN, Grid, cells_for, lists
from wall_pages import Section, told_by_page
from wall_states import Seen, seen

from buildsheets.cup.serving import Choice, Serving, StepFigure
from buildsheets.menu.model import AddStep, DoStep, LineTo
from buildsheets.menu.packaging import straw_of
from buildsheets.menu.volumes import ML
from buildsheets.menu.when import clock
from buildsheets.views.types import (
    BuildCardView,
)
from buildsheets.views.words import Words
from buildsheets.wall.reading import (
    LINE_WORD,
    TOGETHER,
    NotMade,
    Told,
    Visit,
    Wish,
    build_card,
    names_of,
    visits,
)
from buildsheets.wall.strings import number, said

T = TypeVar("T")

HALF_STEP = {"mls": 2.5, "fl_ozs": 0.125}
"""Lines are printed to the nearest 5 ml or quarter of a fluid ounce: finer marks do not stand on a
cup."""
MARK_MM = 0.5
"""A mark is drawn by a line of about this width."""
NEAR_MM = 1.5
"""Lines so near to each other may share a mark, at the lowest of them."""


def breaks(wall: Wall, serving: Serving, choice: Choice) -> list[str]:
    """Where the cards say something else than was figured for an order."""
    made, wish = serving.choices[choice], wall.wish(serving, choice)
    chosen = (*wish.swaps, *wish.add_ons)
    about = f"{serving.drink.id} in {serving.cup.id}, {wish.sweetness} {wish.ice} {chosen}: "
    try:
        return [about + one for one in _breaks(wall, made, wish)]
    except ValueError as unreadable:
        return [about + (str(unreadable) or repr(unreadable))]


def _breaks(wall: Wall, made: Serving, wish: Wish) -> Iterator[str]:
    """Raises ``ValueError`` for a card that cannot be read."""
    words, size = wall.words, made.cup.id
    card = wall.build[made.drink.id, size]
    told = _read(lambda: build_card(card, wish, words))
    passed = _read(lambda: visits(wall.station[size], wish, words))
    fits = made.verdict != "too-much"
    if (told is not None, passed is not None) != (fits, fits):
        yield f"figured {made.verdict}, build card {told}, stations {passed}"
    if told is None or passed is None:
        return
    if wrong := _against(told, made, words):
        yield from (f"build card: {one}" for one in wrong)
        return
    at_stations = [step for visit in passed for step in visit.steps]
    alike = [_without_check(step, words) for step in told]
    if in_turn(at_stations) != in_turn(alike):
        yield f"stations: {_first_difference(at_stations, alike)}"
    elif at_stations == alike:
        yield from _states(passed, made, words)
    for one in _on_phone(wall, card, told, passed, wish):
        yield f"phone page: {one}"
    for one in _on_add_on_card(wall, card, told, made, wish):
        yield f"add-on card: {one}"
    for one in _straws(passed, made, words):
        yield f"straw: {one}"
    for one in _when(passed, card, made, words):
        yield f"when: {one}"
    for one in _where_pieces_go(passed, card, made, words):
        yield f"pieces: {one}"
    for one in _cautions(passed, card, words):
        yield f"caution: {one}"
    for one in wrong_of_allergens(wall.menu, card, passed, made, wish, words):
        yield f"allergens: {one}"
    for one in _gauges(wall, told, passed, made, wish):
        yield f"gauge strip: {one}"
    for one in wrong_at_the_counter(told, made, words):
        yield f"at the counter: {one}"


def _without_check(told: Told, words: Words) -> Told:
    """A step of a build card as a station's card has it: only a line to pour to has its level."""
    return told if told.unit == words(LINE_WORD) else replace(told, level_ml=None)


def _first_difference(theirs: Sequence[Told], ours: Sequence[Told]) -> str:
    for their, our in zip(theirs, ours, strict=False):
        if their != our:
            return f"{their} where the build card says {our}"
    return f"{len(theirs)} steps, build card: {len(ours)}"


def in_turn(told: Sequence[Told]) -> list[Told]:
    """The steps, add-ons that follow on each other by name: which of two toppings that are added
    at two stations one after the other goes in first makes no other drink."""
    found: list[Told] = []
    for extra, group in groupby(told, lambda one: one.step == 0):
        steps = list(group)
        found += sorted(steps, key=lambda one: one.thing) if extra else steps
    return found


def _read(read: Callable[[], T]) -> T | None:
    """What a card tells; ``None`` where it says that the order is not made."""
    try:
        return read()
    except NotMade:
        return None


def done(made: Serving) -> list[StepFigure]:
    """The engine's steps, without a swirl of syrup where none goes in: it moves nothing; nor a
    chill where the guest's ice level leaves none in the cup."""
    found: list[StepFigure] = []
    for figure in made.steps:
        used = found[-1].used if found else None
        no_syrup = used is not None and used.component.role == "sweetener" and used.mass_g == 0.0
        swirl = isinstance(figure.step, DoStep) and figure.step.action == "swirl"
        chill = isinstance(figure.step, DoStep) and figure.step.action == "chill"
        less_ice = made.drink.ice and made.drink.ice.levels[made.choice.ice or ""] < 1.0
        no_ice = less_ice and not (found and found[-1].state.contents.has_ice)
        if not (swirl and no_syrup) and not (chill and no_ice):
            found.append(figure)
    return found


def _against(told: Sequence[Told], made: Serving, words: Words) -> list[str]:
    """Where the steps told are not those that were figured, in their order."""
    figures = done(made)
    if len(told) != len(figures):
        return [f"{len(told)} steps told, {len(figures)} figured"]
    return [
        f"step {figure.number} is figured as {wrong}, told as {one}"
        for one, figure in zip(told, figures, strict=True)
        if (wrong := _differs(one, figure, made.cup.lid, words))
    ]


def _differs(told: Told, figure: StepFigure, lid: str, words: Words) -> str:
    """What was figured otherwise of one step; "" if nothing was."""
    step, used = figure.step, figure.used
    letter = step.station.letter if step.station else ""
    if told.station != letter:
        return f"at station '{letter}'"
    if isinstance(step, DoStep):
        keys = {
            "lid": [f"lid_on_{lid}"],
            "shake": [f"do_shake_{step.pour}", f"do_shake_{step.pour}_for"],
            "blend": ["do_blend", "do_blend_for"],
        }.get(step.action, [f"do_{step.action}"])
        named = any(said(told.thing, key, words) is not None for key in keys)
        return "" if named and told.amount is None else str(step.action)
    assert used is not None
    thing = words.name(figure.add_on or step.swap or step.component)
    if told.thing != thing or told.amount is None:
        return thing
    if told.vessel != ("" if step.into == "cup" else words(step.into)):
        return f"into the {step.into}"
    return _amount_differs(told, figure, words) or _level_differs(told, figure, words)


def _amount_differs(told: Told, figure: StepFigure, words: Words) -> str:
    step, used = figure.step, figure.used
    assert isinstance(step, AddStep)
    assert used is not None
    assert told.amount is not None
    if told.unit == words("ml_line"):
        line = used.to_line_ml
        by_ruler = any(isinstance(one, LineTo) and one.line_mm for one in step.amounts.values())
        exact = words.volumes is not ML and not by_ruler  # ounces are poured as they are figured
        near = 0.0 if exact else half_step_ml(words)
        right = line is not None and abs(line - told.amount * words.volumes.ml) <= near + 1e-6
        return "" if right else f"to the line {line}"
    if told.unit in ("ml", "g", "fl oz"):
        amount = used.mass_g if told.unit == "g" else used.volume_ml
        near = 0.5 if amount >= 10.0 else 0.05
        if told.unit == "fl oz":
            amount, near = amount / words.volumes.ml, 1e-6 if step.tool else 0.005
        shown = step.tool.unit if step.tool else ""
        if shown in ("ml", "g") and (shown == "g") != (told.unit == "g"):
            return f"in {shown}, as its tool shows it"
        if shown == "g" and step.tool:
            near = min(near, step.tool.step / 2)
        right = used.to_line_ml is None and used.count is None
    else:
        tool, amount, near = step.tool, used.count or 0.0, 0.005
        forms = (tool.one or tool.name, tool.many or tool.one or tool.name) if tool else ()
        unit = (said(told.unit, "each_of", words) or {"one": told.unit})["one"]
        right = used.count is not None and unit in map(words.text, forms)
    right = right and abs(amount - told.amount) <= near + 1e-9
    return "" if right else f"{amount:g} ({used.count} counts, {used.volume_ml:.1f} ml)"


def half_step_ml(words: Words) -> float:
    """Half of what a line is read to."""
    return HALF_STEP[words.volumes.word] * words.volumes.ml


def _level_differs(told: Told, figure: StepFigure, words: Words) -> str:
    assert figure.used is not None
    if told.level_ml is None or figure.used.to_line_ml is not None:
        return ""
    return _off(told.level_ml, figure.state.seen_ml, "the drink", words)


def _off(printed_ml: float, figured_ml: float, what: str, words: Words) -> str:
    """Where a printed level is not the figured one, to the nearest line."""
    if abs(figured_ml - printed_ml) <= half_step_ml(words) + 1e-6:
        return ""
    return f"{what} at {figured_ml:.1f} ml, not {printed_ml:g}"


def _states(passed: Sequence[Visit], made: Serving, words: Words) -> list[str]:
    """Where a station card says that a cup arrives or leaves otherwise than it does."""
    figures, usual, found, at = done(made), made.choice == made.choices.default, [], 0
    for visit in passed:
        before = figures[at - 1] if at else None
        at += len(visit.steps)
        texts = [(visit.row.arrives_at, before)] if visit.first else []
        texts += [(visit.row.leaves_at, figures[at - 1])] if visit.last else []
        for text, figure in texts:
            state = seen(text, words)
            if wrong := _cup_forgotten(state, figure):
                found.append(f"station {visit.card.station.letter} says '{text}': {wrong}")
            if usual or not state.usually:
                found += [
                    f"station {visit.card.station.letter} says '{text}': {wrong}"
                    for wrong in _state_differs(state, figure, words)
                ]
    return found


def _cup_forgotten(state: Seen, figure: StepFigure | None) -> str:
    """Where a cup with an add-on stands beside the shaker and the card has an empty one taken, or
    says nothing of it; usual or not."""
    if figure is None or figure.state.top_ml <= 0.0:
        return ""
    if state.new_cup:
        return "a cup that is filled is left standing"
    empty = 0.0 in (state.shaker_ml, state.blender_ml)
    return "a cup comes too" if empty and not state.any_cup else ""


def _holds_ml(figure: StepFigure | None, vessel: str) -> float:
    return figure.shaker_ml if figure and figure.vessel == vessel else 0.0


def _state_differs(state: Seen, figure: StepFigure | None, words: Words) -> list[str]:
    cup = figure.state if figure else None
    figured = (
        (state.cup_ml, cup.seen_ml if cup else 0.0, "the drink"),
        (state.bed_ml, cup.bed_top_ml if cup else 0.0, "the topping"),
        (state.shaker_ml, _holds_ml(figure, "shaker"), "the shaker"),
        (state.blender_ml, _holds_ml(figure, "blender"), "the blender"),
    )
    found = [_off(said_ml, ml, what, words) for said_ml, ml, what in figured if said_ml is not None]
    if state.ice_only and (cup is None or cup.ice_regime != "rests"):
        found.append("no ice resting in the cup")
    if state.over_rim != (cup is not None and cup.in_dome_mm > 0.0) and state.cup_ml is not None:
        found.append("foam over the rim is not told of, or told of where there is none")
    if state.over_rim and (cup is None or cup.seen_ml <= cup.cup.brimful_ml):
        found.append("nothing stands over the rim")
    if state.empty and cup is not None and cup.top_ml > 0.0:
        found.append(f"the cup is filled to {cup.top_ml:.1f} ml")
    return [one for one in found if one]


def _on_phone(
    wall: Wall, card: BuildCardView, told: Sequence[Told], passed: Sequence[Visit], wish: Wish
) -> Iterator[str]:
    """Where the phone page of the build card or of a station card tells something else."""
    names = [one.name for one in (*card.add_ons, *card.swaps)]
    pages: list[tuple[Section, Sequence[Told]]] = [(wall.page(card)[0], told)]
    for visit in passed:
        sections, rows = wall.page(visit.card), visit.card.rows
        if [one.title for one in sections] != [row.drink for row in rows]:
            yield f"rows {[one.title for one in sections]}"
        elif visit.first:
            stays = [stay.steps for stay in passed if stay.row is visit.row]
            pages.append(
                (sections[rows.index(visit.row)], [step for steps in stays for step in steps])
            )
    for section, steps in pages:
        ours = [(one.thing, one.amount) for one in steps]
        theirs = told_by_page(section, wish, names, wall.words)
        if ours != theirs:
            yield f"{theirs} where the card says {ours}"


def _on_add_on_card(
    wall: Wall, card: BuildCardView, told: Sequence[Told], made: Serving, wish: Wish
) -> Iterator[str]:
    """Where the add-on card has another amount for a step, or for an add-on."""
    sheet, words = wall.add_ons[made.cup.id], wall.words
    tables = [
        Grid(table.header[:-1], tuple(row[:-1] for row in table.rows if _is_for(row, wish)))
        for table in (sheet.tables if sheet else ())
    ]
    first = {cells[0] for grid in tables for cells in grid.rows if len(cells) == 2}
    names = [one.name for one in (*card.add_ons, *card.swaps)]
    options = [grid for grid in tables if {wish.sweetness, wish.ice} & {*grid.header[1:]}]
    steps = {step.number: step for step in card.steps}
    for one, figure in zip(told, done(made), strict=False):
        if one.amount is None:
            continue
        step = steps.get(one.step)
        here = [swap for swap in step.swaps if swap.name == one.thing] if step else []
        beside = replace(wish, swaps=tuple(w for w in wish.swaps if not here or w != one.thing))
        amounts = cells_for(options, beside, names, words)
        # A swap that the card says nothing of by name takes what the step it stands at takes.
        own = any(what == one.thing for what, _ in amounts) or any(
            one.thing == row[0] or row[1].startswith(one.thing + ": ")
            for grid in tables for row in grid.rows if len(row) == 2
        )  # fmt: skip
        what = step.what if step and here and not own else one.thing
        printed = ((here[0].amount if here else "") or step.amount) if step else ""
        if not one.step:
            (view,) = [each for each in card.add_ons if each.name == one.thing]
            amount = words("with_grams", amount=f"{view.amount} {view.unit}", measure=view.tool)
            if not any(text.startswith(f"{one.thing}: {amount}") for text in first):
                yield f"nowhere '{one.thing}: {amount}'"
        elif isinstance(figure.step, AddStep) and figure.step.makes_room:
            base, only_here = replace(one, thing=what), tuple(swap.name for swap in here)
            alone = _alone(card, replace(wish, swaps=only_here), one, words)
            yield from _room_made(tables, base, alone, beside, words)
            cells = [cell for (thing, _), cell in amounts.items() if thing == what]
            plain = number(cells[0] if cells else printed, words)
            if alone not in (None, plain) and not _pointed_at(tables, base, words):
                yield f"{plain} of {one.thing} without add-ons, build card: {alone:g}"
        else:
            cells = [cell for (thing, _), cell in amounts.items() if thing == what]
            cell = cells[0] if cells else printed
            if number(cell, words) != one.amount:
                yield f"{cell} of {one.thing}, build card: {one.amount:g}"


def _is_for(row: tuple[str, ...], wish: Wish) -> bool:
    return wish.drink in row[-1].split(BETWEEN)


def _alone(card: BuildCardView, wish: Wish, step: Told, words: Words) -> float | None:
    """The amount of a step in the same order without add-ons; ``None`` where that is not made."""
    told = _read(lambda: build_card(card, replace(wish, add_ons=()), words))
    return next((one.amount for one in told or () if one.step == step.step), None)


def _room_made(
    tables: Sequence[Grid], base: Told, alone: float | None, wish: Wish, words: Words
) -> Iterator[str]:
    """Where the table of what add-ons change has another amount of the base; it says that what it
    does not name changes nothing."""
    pairs = [row for grid in tables for row in grid.rows if len(row) == 2]
    anything = words("any_add_on"), words("any_add_on_or_swap")
    pointer = f"{base.thing}: {words('see_build_card')}"
    if any(whose in anything and done == pointer for whose, done in pairs):
        return
    named = names_of(wish, words) if wish.add_ons or wish.swaps else set()
    says = [done for sets, done in pairs if any(lists(sets, name) for name in named)]
    says = [text for text in says if text.startswith(base.thing + ": ")]
    start, end = f"{base.thing}: ", f" {base.unit}"
    lines = [text.removeprefix(start).removesuffix(end) for text in says if text.endswith(end)]
    if says and [number(line, words) for line in lines] != [base.amount]:
        yield f"{says} where the build card says {base.amount} of {base.thing}"
    if not says and base.amount != alone:
        yield f"nothing of {base.thing} {base.amount}, which is {alone} without add-ons"


def _pointed_at(tables: Sequence[Grid], base: Told, words: Words) -> bool:
    """Whether the card sends its reader to the build card for the base."""
    pointer = f"{base.thing}: {words('see_build_card')}"
    rows = [row for grid in tables for row in grid.rows if len(row) == 2]
    return any(pointer in (row[1], ": ".join(row)) for row in rows)


def _straws(passed: Sequence[Visit], made: Serving, words: Words) -> Iterator[str]:
    """Straws that a drink or an add-on asks for and that no one is told of who closes the cup, nor,
    where nobody closes it, whoever makes the drink or adds it."""
    chosen = [add_on for add_on in made.drink.add_ons if add_on.id in made.choice.add_ons]
    closing = [
        step.note
        for visit in passed
        for step in visit.row.adds
        if any(said(step.what, key, words) is not None for key in LIDS)
    ]
    named = straw_of(made.drink.packaging)
    every = [step.note for visit in passed for step in visit.row.adds]
    if named and not any(words.text(named) in note for note in closing or every):
        yield f"'{words.text(named)}' with the drink: {closing or every}"
    for add_on in chosen:
        straw = words.text(add_on.straw) if add_on.straw else ""
        adding = [o.finish for v in passed for o in v.row.add_ons if o.name == words.name(add_on)]
        if straw and not any(straw in note for note in closing or adding):
            yield f"'{straw}' with {words.name(add_on)}: {closing or adding}"


def _when(
    passed: Sequence[Visit], card: BuildCardView, made: Serving, words: Words
) -> Iterator[str]:
    """Hours in which a drink is sold that its card does not name, and rows that say otherwise."""
    if bool(card.sold) != bool(said(card.sold, "sold", words)):
        yield f"'{card.sold}' does not say that it is when the drink is sold"
    for minutes in (minute for hours in made.drink.hours for minute in hours):
        if clock(minutes)[0] not in card.sold:
            yield f"{clock(minutes)[0]} is not in '{card.sold}'"
    for visit in passed:
        if visit.row.sold != card.sold:
            yield f"station {visit.card.station.letter} says '{visit.row.sold}', not '{card.sold}'"


def _where_pieces_go(
    passed: Sequence[Visit], card: BuildCardView, made: Serving, words: Words
) -> Iterator[str]:
    """Slices whose steps do not say that they are pressed to the wall, or that they swim."""
    adds = [(f.add_on, f.step) for f in made.steps if isinstance(f.step, AddStep)]
    keys = {"on-wall": "on_wall", "swimming": "swims"}
    ways = {
        words.name(add_on or step.component): words(keys[step.component.behaves])
        for add_on, step in adds if step.component.behaves in keys
    }  # fmt: skip
    rows = [visit.row for visit in passed]
    told = [
        (step.what, step.note) for step in (*card.steps, *(s for row in rows for s in row.adds))
    ]
    extras = (*card.add_ons, *(one for row in rows for one in row.add_ons))
    told += [(one.name, one.note) for one in extras if one.amount]
    for what, note in told:
        if what in ways and ways[what] not in note.split(", "):
            yield f"{what} has the note '{note}', not '{ways[what]}'"


def _cautions(passed: Sequence[Visit], card: BuildCardView, words: Words) -> Iterator[str]:
    """Cautions of the build card that whoever hands the drink over does not read."""
    last = passed[-1]
    for caution in card.cautions:
        of_some = words("caution_of_some", caution=caution)
        if not ({caution, of_some} & {*last.card.cautions} or caution in last.row.check):
            yield f"station {last.card.station.letter} says nothing of '{caution}'"


def _gauges(
    wall: Wall, told: Sequence[Told], passed: Sequence[Visit], made: Serving, wish: Wish
) -> Iterator[str]:
    """Lines poured to that have no mark on the cup's gauge, or one at another height."""
    cup, floor_mm, strip = made.final.cup, made.cup.floor_mm, wall.gauge[made.cup.id]
    marks = [(row, _levels(row.line.label, wall.words)) for row in (strip.rows if strip else ())]
    for one, figure in zip(told, done(made), strict=False):
        line_ml = figure.used.to_line_ml if figure.used else None
        if line_ml is None:
            edge, seen_ml = wall.build[made.drink.id, made.cup.id].gauge, figure.state.seen_ml
            if one.step and one.level_ml and seen_ml <= cup.brimful_ml:
                up_mm = cup.height_mm(seen_ml) + floor_mm
                own = [m.height_mm for m in edge if one.level_ml in _levels(m.label, wall.words)]
                if not any(abs(up_mm - mark) <= NEAR_MM + MARK_MM for mark in own):
                    yield f"edge: the level {one.level_ml:g} ml is {up_mm:.1f} mm up, not {own}"
            continue
        height_mm = cup.height_mm(line_ml) + floor_mm
        found = [
            row.line.height_mm
            for row, levels in marks
            if one.level_ml in levels
            and any(_serves(whom, wish, wall.words) for whom in row.drinks)
        ]
        if not any(-MARK_MM <= height_mm - mark <= NEAR_MM + MARK_MM for mark in found):
            yield f"{one.level_ml:g} ml is {height_mm:.1f} mm up, marked at {found}"
        edges = [wall.build[made.drink.id, made.cup.id].gauge]
        edges += [v.card.gauge for v in passed if one in v.steps]
        for edge in edges:
            own = [m.height_mm for m in edge if one.level_ml in _levels(m.label, wall.words)]
            if not any(-MARK_MM <= height_mm - mark <= NEAR_MM + MARK_MM for mark in own):
                yield f"edge: {one.level_ml:g} ml is {height_mm:.1f} mm up, marked at {own}"


def _levels(label: str, words: Words) -> list[float]:
    """The levels of a mark: "415 / 420 ml"."""
    unit = words.volumes
    found = said(label, unit.word, words)
    return [number(one, words) * unit.ml for one in found["n"].split(" / ")] if found else []


def _serves(whom: str, wish: Wish, words: Words) -> bool:
    """Whether a mark's "Marsh Milk Tea + Coconut jelly" speaks to whoever makes an order."""
    name = (said(whom, "some_choices", words) or {"drink": whom})["drink"]
    drink, *with_it = name.split(TOGETHER)
    return drink == wish.drink and {*with_it} <= {*wish.add_ons, *wish.swaps}

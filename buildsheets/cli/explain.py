"""A drink, a cup and a choice go in; the whole calculation, each number with its origin, comes out,
and what the cards on the wall say for that order.

It is rounded for reading; :mod:`buildsheets.cli.explain_results` has it at full precision.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from buildsheets.cli.told import CardTold, Wall
from buildsheets.cup.fill import PROUD_MM, FillState
from buildsheets.cup.scan import figure
from buildsheets.cup.serving import Choice, Serving, StepFigure, Used
from buildsheets.cup.tolerance import Spread
from buildsheets.findings.finding import Span
from buildsheets.menu.model import AddOn, AddStep, Component, CupSize, DoStep, Drink, LineTo
from buildsheets.menu.volumes import VolumeUnit
from buildsheets.prep.sales import not_sold_now
from buildsheets.views import rounding
from buildsheets.views.allergens import allergens_of_order
from buildsheets.views.when import not_sold, sold_when
from buildsheets.wall.reading import LINE_WORD, Told

Row = Sequence[str]


def solid_ml(used: Used) -> float:
    """The material alone, without the gaps of a bed or the air of a cap."""
    return used.mass_g / used.component.density_g_ml


def origin_of(component: Component) -> str:
    source = getattr(component.source, "density_source", "")
    return component.density_origin + (f" ({source})" if source else "")


def place_of(figure: StepFigure, size: CupSize) -> Span:
    step = figure.step
    if isinstance(step, AddStep) and size.id in step.amounts:
        return step.amounts[size.id].written.span
    return step.span


def written_as(step: AddStep, size: CupSize) -> str:
    written = step.amounts.get(size.id)
    if written is None:
        return ""
    return f"to {written.written.text}" if isinstance(written, LineTo) else written.written.text


def explain_text(drink: Drink, size: CupSize, choice: Choice, wall: Wall) -> str:
    """The calculation as short tables: cup, steps, verdict, spread, where figures come from, and
    what the cards say."""
    serving = figure(drink, size, choice)
    spread, state = serving.choices.spread(choice), serving.final
    headspace, unit = size.written("headspace"), size.volumes
    working, less = unit.text(serving.working_ml, 1), f"less {headspace.text}"
    cup = [
        ("cup", size.shape_written.text, "", str(size.shape_written.span)),
        ("to the rim", unit.text(state.cup.brimful_ml, 1), "V(H) of that inside", ""),
        ("may be filled", working, less, str(headspace.span)),
    ]
    if state.dome is not None:
        dome, origin = size.written("dome"), "measured"
        if size.dome_mm is not None:
            hole = f", hole {size.dome_hole_mm:g} mm" if size.dome_hole_mm else ""
            origin = f"spherical segment {dome.text} high over the rim{hole}"
        volume = unit.text(state.dome.volume_ml, 1)
        cup.append(("foam, in the dome", volume, origin, str(dome.span)))
    afloat = "ice" if not state.contents.swims_bulk_ml else "afloat"
    columns = ("step", "written", "makes", "how", "drink to", "bed", afloat, "cap", "top", "at")
    verdict = [
        _verdict_words(serving),
        f"sum of true volumes {unit.text(state.sum_ml, 1)}; highest "
        f"{unit.text(state.top_ml, 1)} ({_highest(state)}); {_rule_words(state)}",
    ]
    proud = state.ice_proud_mm
    if proud is not None and proud > PROUD_MM:
        what = "what floats" if state.contents.swims_bulk_ml else "ice"
        verdict.append(f"{what} stands {proud:.0f} mm above the drink")
    if drink.layered and state.contents.strata:
        layers = ", ".join(
            f"{unit.text(one.ml)} of {one.density_g_ml:.3f} g/ml" for one in state.contents.strata
        )
        ice = "; the ice floats in the upper ones" if state.ice_regime == "floats" else ""
        verdict.append(f"in layers, from the lowest: {layers}{ice}")
    # Twice the deviation of one evenly spread tolerance would lie beyond its bound.
    usual_ml = min(spread.expanded_ml, spread.worst_ml)
    verdict.append(
        f"your tools' spread: ± {unit.text(usual_ml)} usual, ± {unit.text(spread.worst_ml)} worst; "
        f"about {100 * (spread.p_over or 0.0):.1f} % of cups pass "
        f"{_limits(serving, spread)}; "
        f"{spread.largest or 'nothing'} strays most"
    )
    lines = [
        _choice_words(drink, size, choice),
        "",
        *_table(cup, ()),
        "",
        *_table([_step_row(figure, size) for figure in serving.steps], columns),
        "",
        *verdict,
        "",
        *_table(_for_guests(serving, wall), ()),
        "",
        "where the figures come from",
        *_table(_origins(serving), ()),
        "",
        "on the cards",
        *_table([row for card in wall.cards(serving) for row in _card_rows(card, wall)], ()),
    ]
    return "\n".join(lines) + "\n"


def _for_guests(serving: Serving, wall: Wall) -> list[tuple[str, str]]:
    """Allergens of the order, where add-ons bring some of what each part does, and when it is
    sold."""
    menu, words, drink = wall.menu, wall.words, serving.drink
    line, parts = allergens_of_order(menu, serving, words)
    rows = [("allergens", line)]
    rows += [
        (f"with {one.id}" if isinstance(one, AddOn) else "in the drink", told)
        for one, told in parts
    ]
    sold = sold_when(menu, drink, words)
    out = (one for one in not_sold_now(menu) if one.what in (drink, *drink.swapped, *serving.added))
    rows += [("sold", sold)] if sold else []
    return [*rows, *(("not sold now", not_sold(menu, one, words)) for one in out)]


def _limits(serving: Serving, spread: Spread) -> str:
    """What cups pass, with the share that pass the rim; of foam under a dome, what that holds."""
    if serving.choices.fit(serving.choice).in_dome:
        return "what the dome holds"
    over_rim = spread.share_over(serving.final.cup.brimful_ml)
    return f"the fill limit, {100 * over_rim:.1f} % the rim"


def _choice_words(drink: Drink, size: CupSize, choice: Choice) -> str:
    parts = [f"{drink.id} in {size.id}"]
    if choice.sweetness is not None:
        parts.append(f"sweetness {100 * choice.sweetness:.0f} %")
    if choice.ice is not None:
        parts.append(f"ice {choice.ice}")
    return " · ".join([*parts, *choice.swaps, *choice.add_ons])


def _verdict_words(serving: Serving) -> str:
    fit, ml = serving.choices.fit(serving.choice), serving.cup.volumes.text
    hands = f", {ml(fit.hands_ml)} of it room for what the tools stray" if fit.hands_ml else ""
    if serving.verdict == "too-much":
        over_rim_ml = serving.steps[serving.worst_step - 1].state.overflow_ml
        if fit.foam_ml:
            foam = f"its foam reaches {ml(fit.foam_ml, 1)} while it is poured"
            return f"TOO MUCH by {ml(serving.over_ml, 1)} at step {serving.worst_step}: {foam}"
        if serving.choices.passed_ml(serving.choice) > 0.0:
            passed = "its line is passed before anything is poured to it"
            return f"TOO MUCH by {ml(serving.over_ml, 1)} at step {serving.worst_step}: {passed}"
        rim = f"{ml(over_rim_ml, 1)} over the rim" if over_rim_ml > 0.0 else "under the rim"
        at = f"after step {serving.worst_step}"
        return f"TOO MUCH by {ml(serving.over_ml, 1)} {at}{hands}; {rim}"
    lined = serving.body.used is not None and serving.body.used.to_line_ml is not None
    less = "with the line {} lower" if lined else "with {} less of the base"
    held = f", {less.format(ml(fit.taken))}" if fit.taken else ""
    if serving.verdict == "lid-pressed":
        return f"fits with the lid pressed{held}"
    return f"fits, {ml(serving.final.room_ml)} of room left{hands}{held}"


def _highest(state: FillState) -> str:
    swims = state.limiting == "ice" and state.contents.swims_bulk_ml
    return "what floats" if swims else state.limiting


def _rule_words(state: FillState) -> str:
    if state.simple_rule_fits == state.fits:
        return "the plain sum says the same"
    plain = "fits" if state.simple_rule_fits else "does not fit"
    return f"the plain sum would say it {plain}"


def _step_row(figure: StepFigure, size: CupSize) -> Row:
    unit = size.volumes
    step, used, state, chilled = figure.step, figure.used, figure.state, figure.chilled
    makes = how = ""
    if isinstance(step, DoStep):
        name, written = str(step.action), str(step.pour)
        if chilled is not None:
            makes, how = f"{chilled.temperature_c:.0f} °C", f"{chilled.melted_g:.0f} g ice melts"
        if figure.idle:
            how = "left out for this order"
        if step.air_share is not None:
            how = f"all ice in it, {100.0 * step.air_share:.0f} % air"
    else:
        assert used is not None
        swap = f" for {step.swap.replaced.id}" if step.swap else ""
        name = f"{step.component.id}{swap}{'' if step.into == 'cup' else f' ({step.into})'}"
        written = written_as(step, size) + _instead(step, used, size)
        makes, how = _makes(used, unit)
        how += {"on-wall": "; on the wall", "swimming": "; swims"}.get(step.component.behaves, "")
        how += f"; its foam up to {unit.text(figure.head_top_ml)}" if figure.head_top_ml else ""
    ice = _level(unit, state.ice_top_ml, state.ice_top_mm)
    return (
        f"{figure.number} {name}",
        written,
        makes,
        how,
        _level(unit, state.liquid_level_ml, state.liquid_level_mm) if state.liquid_ml else "",
        _level(unit, state.bed_top_ml, state.bed_top_mm) if state.bed_top_ml else "",
        f"{ice} {state.ice_regime}" if ice else "",
        _level(unit, state.cap_top_ml, state.cap_top_mm, state.in_dome_mm),
        unit.text(state.top_ml),
        str(place_of(figure, size)),
    )


def _instead(step: AddStep, used: Used, size: CupSize) -> str:
    """What this choice takes instead of the written amount, where it differs."""
    written = step.amounts.get(size.id)
    if isinstance(written, LineTo):
        line = used.to_line_ml
        if line is None or written.line_ml is None or math.isclose(line, written.line_ml):
            return ""
        return f", here {size.volumes.text(line)}"
    if written is None or abs(used.mass_g - written.mass_g) < 1e-9:
        return ""
    if used.count is not None:
        return f", here {used.count:g}"
    if not used.component.by_volume(step.tool):
        return f", here {used.mass_g:g} g"
    return f", here {size.volumes.text(used.volume_ml)}"


def _makes(used: Used, unit: VolumeUnit) -> tuple[str, str]:
    component = used.component
    volume = unit.text(used.volume_ml, 1)
    how = f"{used.mass_g:.1f} g / {component.density_g_ml:.4g} g/ml"
    if used.to_line_ml is not None:
        return volume, "poured until the drink stands at the line"
    if component.behaves in ("settled", "swimming", "ice"):
        within = unit.text(used.volume_ml, 1).removesuffix(f" {unit.name}")
        return f"{unit.text(solid_ml(used), 1)} in {within}", how
    if component.behaves == "floated":
        return volume, f"{how} × {1 + component.overrun_pct / 100:.2f}"
    if component.behaves == "dusted":
        return f"{used.mass_g:g} g", "takes no room"
    return volume, how


def _level(
    unit: VolumeUnit, reading_ml: float | None, height_mm: float | None, in_dome_mm: float = 0.0
) -> str:
    if reading_ml is None:
        return ""
    if in_dome_mm:
        return f"{unit.text(reading_ml)}, {in_dome_mm:.0f} mm over the rim"
    return unit.text(reading_ml) + (f" {height_mm:.0f} mm" if height_mm is not None else " (over)")


def _origins(serving: Serving) -> list[Row]:
    rows: list[Row] = []
    for component in {used.component.id: used.component for used in serving.used}.values():
        extra = []
        if component.bulk_density_g_ml is not None:
            extra.append(f"bulk {component.bulk_density_g_ml:.4g} g/ml")
        if component.packing is not None:
            extra.append(f"packing {component.packing:.2f}")
        if component.overrun_pct:
            extra.append(f"overrun {component.overrun_pct:.0f} %")
        density = f"{component.density_g_ml:.4g} g/ml"
        origin, place = origin_of(component), str(component.span)
        rows.append((component.id, density, ", ".join(extra), origin, place))
    return rows


def _card_rows(card: CardTold, wall: Wall) -> list[Row]:
    name = f"{card.kind} {card.station}".rstrip()
    words = wall.words
    rows: list[Row] = [(card.code, name, "", "", card.instead)] if card.instead else []
    for told in card.steps:
        amount = "" if told.amount is None else _amount(told, told.amount, wall)
        level = ""
        if told.level_ml is not None and told.unit != words(LINE_WORD):
            level = words("to_level", level=rounding.level(words, told.level_ml))
        rows.append((card.code, name, amount, told.thing, level))
    return [row if not i else ("", "", *row[2:]) for i, row in enumerate(rows)]


def _amount(told: Told, number: float, wall: Wall) -> str:
    """As cards print it: ½ pump, 4½ pumps, 0 pumps."""
    unit = wall.one.get(told.unit, told.unit) if rounding.is_one(wall.words, number) else told.unit
    return f"{told.amount_printed} {unit}"


def _table(rows: Sequence[Row], header: Row) -> list[str]:
    """Left-aligned columns two spaces apart; empty columns are left out."""
    every = [header, *rows] if header else list(rows)
    width = max((len(row) for row in every), default=0)
    full = [[*row, *[""] * (width - len(row))] for row in every]
    used = [i for i in range(width) if any(row[i] for row in full[bool(header) :])]
    widths = {i: max(len(row[i]) for row in full) for i in used}
    return ["  ".join(row[i].ljust(widths[i]) for i in used).rstrip() for row in full]

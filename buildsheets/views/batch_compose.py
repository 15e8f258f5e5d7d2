"""A menu and a batch at a scale go in; the batch card's view comes out."""

from __future__ import annotations

import re
from collections.abc import Mapping

from buildsheets.menu.model import Batch, BatchStep, Menu
from buildsheets.prep.allergens import of_batch, ordered
from buildsheets.prep.batches import (
    BatchFigure,
    PartFigure,
    bowl_check,
    brew_ratio,
    brix_of,
    figure_batch,
    portions,
    scale_step_g,
)
from buildsheets.prep.keeping import (
    cooling_steps,
    kept_at_c,
    outlived,
    temperature_band,
    time_control_h,
)
from buildsheets.views import prep_words as shown
from buildsheets.views.prep_views import BatchCardView, PartView, PrepStepView
from buildsheets.views.views import Table
from buildsheets.views.words import Words

BENCH_DISTANCE_MM = 500.0
"""From the eye to a card on the prep bench; common practice, no source."""

_VOLUME = re.compile(
    r"(?:\d|\s)(?:ml|cl|dl|l|tsp|tbsp|cups?|fl ?oz|pints?|quarts?)\b", re.IGNORECASE
)

Poured = Mapping[tuple[str, str, str], float]


def batch_cards(
    menu: Menu, words: Words, poured_g: Poured | None = None
) -> tuple[tuple[str, str, BatchCardView], ...]:
    """Every batch at every scale it is made at: (batch id, scale name, view)."""
    return tuple(
        (batch.id, name, batch_card(menu, batch, name, factor, words, poured_g))
        for batch in menu.batches.values()
        for name, factor in batch.scales.items()
    )


def batch_card(
    menu: Menu,
    batch: Batch,
    scale: str,
    factor: float,
    words: Words,
    poured_g: Poured | None = None,
    code: str = "",
) -> BatchCardView:
    """The card of one batch at one factor; ``scale`` is what the shop calls it."""
    figure = figure_batch(batch, factor, scale_step_g(menu))
    report = of_batch(batch)
    scale_key = f"prep_scale_{scale}"
    return BatchCardView(
        kind="batch",
        language=words.language,
        code=code,
        title=batch.name.in_language(words.language),
        scale=words(scale_key) if scale_key in words.catalogue else scale,
        factor=shown.factor(words, factor),
        parts=tuple(_part(one, batch, words) for one in figure.parts),
        steps=tuple(
            PrepStepView(number, step.text.in_language(words.language), _setting(step, words))
            for number, step in enumerate(batch.steps, 1)
        ),
        gives=shown.amount(words, figure.yield_g, figure.yield_ml),
        figures=tuple(_figures(figure, words)),
        portions=_portions(menu, figure, words, poured_g),
        scaling=_scaling(menu, batch, words),
        equipment=tuple(_equipment(figure, words)),
        allergens=shown.allergens(words, menu, report),
        paths=tuple(
            f"{shown.allergen_name(words, menu, one)}: "
            + ", ".join(dict.fromkeys(way.words(words.language) for way in report.contains[one]))
            for one in ordered(report.contains, menu.shop)
        ),
        cautions=_cautions(batch, words),
        keeps=tuple(_keeps(menu, batch, words)),
        foot=shown.office_foot(words, menu, code),
        reading_distance_mm=BENCH_DISTANCE_MM,
        width_mm=menu.shop.card_width_mm,
        height_mm=menu.shop.card_height_mm,
    )


def _part(one: PartFigure, batch: Batch, words: Words) -> PartView:
    notes = []
    part = one.part
    if part.packs is not None:
        count = float(part.packs) * (one.exact_g / part.mass_g if part.mass_g else 1.0)
        notes.append(words("prep_packs", n=words.number(round(count, 2)), count=round(count, 2)))
    if one.volume_ml is not None and _VOLUME.search(part.written("amount").text):
        notes.append(shown.millilitres(words, one.volume_ml))
    if batch.lead is not None and part.item.id == batch.lead.id:
        notes.append(words("prep_lead"))
    return PartView(
        shown.grams(words, one.weigh_g),
        words("prep_g"),
        part.item.name.in_language(words.language),
        " · ".join(notes),
    )


def _setting(step: BatchStep, words: Words) -> str:
    shown_parts = []
    if step.time_s is not None:
        shown_parts.append(shown.seconds(words, step.time_s))
    if step.temperature_c is not None:
        shown_parts.append(shown.celsius(words, step.temperature_c))
    if step.speed:
        key = f"prep_speed_{step.speed}"
        shown_parts.append(words(key) if key in words.catalogue else step.speed)
    if step.tool is not None:
        shown_parts.append(step.tool.name.in_language(words.language))
    return " · ".join(shown_parts)


def _figures(figure: BatchFigure, words: Words) -> list[str]:
    lines = [words(f"prep_basis_{figure.basis}")]
    loss = figure.loss_g
    if loss is not None and abs(loss) >= 1:
        key = "prep_loss" if loss > 0 else "prep_gain"
        share = abs(loss) / figure.parts_g if figure.parts_g else 0.0
        lines.append(words(key, g=shown.whole_grams(words, abs(loss)), share=words.percent(share)))
    if figure.missing:
        names = ", ".join(item.name.in_language(words.language) for item in figure.missing)
        lines.append(words("prep_no_density", names=names))
    ratio = brew_ratio(figure.batch)
    if ratio is not None:
        lines.append(words("prep_ratio", ratio=words.number(round(ratio, 1 if ratio < 10 else 0))))
    brix = brix_of(figure.batch)
    if brix is not None and brix >= 1:
        lines.append(words("prep_brix", brix=words.number(round(brix))))
    if figure.batch.overrun_pct > 0:
        lines.append(words("prep_overrun", share=words.percent(figure.batch.overrun_pct / 100)))
    return lines


def _portions(
    menu: Menu, figure: BatchFigure, words: Words, poured_g: Poured | None
) -> Table | None:
    found = portions(menu, figure, poured_g)
    if not found:
        return None
    order = [cup.name.in_language(words.language) for cup in menu.cups.values()]
    grouped: dict[str, tuple[str, str, list[str]]] = {}
    for one in sorted(found, key=lambda portion: portion.mass_g):
        mass = f"{shown.grams(words, round(one.mass_g, 1))} {words('prep_g')}"
        left = "" if one.left_over_g is None else shown.whole_grams(words, one.left_over_g)
        sizes = grouped.setdefault(mass, (str(one.count), left, []))[2]
        size = one.cup.name.in_language(words.language)
        if size not in sizes:
            sizes.append(size)
    return Table(
        words("prep_portions"),
        (words("prep_portion"), words("prep_count"), words("prep_left")),
        tuple(
            (f"{mass} · {', '.join(sorted(sizes, key=order.index))}", n, left)
            for mass, (n, left, sizes) in grouped.items()
        ),
    )


def _scaling(menu: Menu, batch: Batch, words: Words) -> Table | None:
    if len(batch.scales) < 2:
        return None
    step = scale_step_g(menu)
    figures = [figure_batch(batch, factor, step) for factor in batch.scales.values()]
    names = [
        words(f"prep_scale_{n}") if f"prep_scale_{n}" in words.catalogue else n
        for n in batch.scales
    ]
    rows = [
        (
            part.item.name.in_language(words.language),
            *(shown.grams(words, f.parts[index].weigh_g) for f in figures),
        )
        for index, part in enumerate(batch.parts)
    ]
    rows.append(
        (
            words("prep_gives"),
            *(
                shown.whole_grams(words, f.yield_g)
                if f.yield_g is not None
                else shown.amount(words, None, f.yield_ml)
                for f in figures
            ),
        )
    )
    return Table(words("prep_scaling"), ("", *names), tuple(rows))


def _equipment(figure: BatchFigure, words: Words) -> list[str]:
    tools = [
        s.tool.name.in_language(words.language) for s in figure.batch.steps if s.tool is not None
    ]
    lines = list(dict.fromkeys(tools))
    check, bowl = bowl_check(figure), figure.batch.bowl_ml
    if bowl is not None:
        size = shown.millilitres(words, bowl)
        if check is None:
            lines.append(words("prep_bowl", bowl=size))
        elif check.fits:
            lines.append(
                words("prep_bowl_fits", bowl=size, ml=shown.millilitres(words, check.whipped_ml))
            )
        else:
            lines.append(words("prep_bowl_loads", bowl=size, loads=check.loads))
    return lines


def _cautions(batch: Batch, words: Words) -> tuple[str, ...]:
    keys = [f"caution_{one}" for one in shown.caution_ids(batch)]
    if batch.cross_contact:
        keys.append("prep_caution_cross")
    return tuple(words(key) for key in keys if key in words.catalogue)


def _keeps(menu: Menu, batch: Batch, words: Words) -> list[str]:
    keeps, shop = batch.keeps_for, menu.shop
    if keeps is None:
        return [words("prep_keeps_rule", count=shop.rule_days)]
    time = shown.keeps(words, keeps)
    band = temperature_band(shop, keeps.at_c)
    at_c = kept_at_c(shop, batch)
    lines = []
    if at_c is None:
        lines.append(words("prep_keeps_plain", time=time))
    else:
        lines.append(words(f"prep_keeps_{band}", time=time, at=shown.celsius(words, at_c)))
    if keeps.days is not None:
        lines.append(words("prep_day_one"))
    control = time_control_h(shop, batch)
    if control is not None:
        lines.append(words("prep_time_control", h=words.number(control)))
    for path in outlived(batch)[:2]:
        inner = path[-1].keeps_for
        if inner is not None:
            name = path[-1].name.in_language(words.language)
            lines.append(words("prep_earlier", name=name, time=shown.keeps(words, inner)))
    lines += [
        words(
            "prep_cool_soon" if step.within_h is None else "prep_cool",
            start=shown.celsius(words, step.from_c),
            end=shown.celsius(words, step.to_c),
            h=words.number(step.within_h or 0),
        )
        for step in cooling_steps(shop, batch)
    ]
    return lines

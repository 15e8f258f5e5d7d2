"""A batch figured at a scale goes in; the batch card's view comes out."""

from __future__ import annotations

import re
from collections.abc import Iterator

from buildsheets.menu.model import Batch, BatchStep, KeepsFor, Menu
from buildsheets.prep.batch_card import BatchFigures
from buildsheets.prep.batches import PartFigure
from buildsheets.views import rounding
from buildsheets.views.allergens import allergen_name, allergens, caution_ids
from buildsheets.views.card import office_foot
from buildsheets.views.paper import BENCH_MM
from buildsheets.views.types import BatchCardView, PartView, PrepStepView, Table
from buildsheets.views.words import Words

_VOLUME = re.compile(
    r"(?:\d|\s)(?:ml|cl|dl|l|tsp|tbsp|cups?|fl ?oz|pt|pints?|qt|quarts?|gal|gallons?)\b",
    re.IGNORECASE,
)


def batch_card(
    menu: Menu, one: BatchFigures, scale: str, words: Words, code: str = ""
) -> BatchCardView:
    """The card of one batch at one factor; ``scale`` is what the shop calls it."""
    batch, figure, report = one.batch, one.figure, one.allergens
    return BatchCardView(
        kind="batch",
        language=words.language,
        code=code,
        title=words.name(batch),
        scale=words.get(f"prep_scale_{scale}", scale),
        factor=rounding.factor(words, figure.factor),
        parts=tuple(_part(part, batch, words) for part in figure.parts),
        steps=tuple(
            PrepStepView(number, words.text(step.text), _setting(step, figure.factor, words))
            for number, step in enumerate(batch.steps, 1)
        ),
        gives=rounding.yield_amount(words, one.gives(figure)),
        figures=tuple(_figures(one, words)),
        portions=_portions(menu, one, words),
        scaling=_scaling(one, words),
        equipment=tuple(_equipment(one, words)),
        allergens=allergens(words, menu, report),
        paths=tuple(
            f"{allergen_name(words, menu, id_)}: "
            + ", ".join(dict.fromkeys(way.words(words.language) for way in report.contains[id_]))
            for id_ in menu.shop.in_order(report.contains)
        ),
        cautions=_cautions(batch, words),
        keeps=tuple(_keeps(menu, one, words)),
        foot=office_foot(words, menu, code),
        reading_distance_mm=BENCH_MM,
        width_mm=menu.shop.card_width_mm,
        height_mm=menu.shop.card_height_mm,
    )


def _part(one: PartFigure, batch: Batch, words: Words) -> PartView:
    part, notes = one.part, []
    if one.packs is not None:
        notes.append(words("prep_packs", n=one.packs, count=one.packs))
    if one.volume_ml is not None and _VOLUME.search(part.written("amount").text):
        up = one.rounding == "up"
        notes.append(rounding.prep_volume(words, one.volume_ml, up=up))
    if batch.lead is not None and part.item.id == batch.lead.id:
        notes.append(words("prep_lead"))
    grams, what = rounding.grams(words, one.weigh_g), words.name(part.item)
    return PartView(grams, words("prep_g"), what, " · ".join(notes))


def _setting(step: BatchStep, factor: float, words: Words) -> str:
    water_ml = None if step.water_ml is None else step.water_ml * factor
    parts = (
        None
        if water_ml is None
        else words("prep_water", amount=rounding.prep_volume(words, water_ml, up=True)),
        None if step.time_s is None else rounding.seconds(words, step.time_s),
        None if step.temperature_c is None else rounding.celsius(words, step.temperature_c),
        step.speed and words.get(f"prep_speed_{step.speed}", step.speed),
        step.tool and words.name(step.tool),
    )
    return " · ".join(part for part in parts if part)


def _figures(one: BatchFigures, words: Words) -> Iterator[str]:
    figure = one.figure
    yield words(f"prep_basis_{figure.basis}")
    loss = figure.loss_g
    if loss is not None and abs(loss) >= 1:
        share = words.percent(abs(figure.loss_share))
        key = "prep_loss" if loss > 0 else "prep_gain"
        yield words(key, g=rounding.whole_grams(words, abs(loss)), share=share)
    if figure.missing:
        unit = words(words.volumes.word, n="").strip()
        yield words("prep_no_density", unit=unit, names=words.names(figure.missing))
    if one.brew_ratio is not None:
        yield words("prep_ratio", ratio=round(one.brew_ratio, 1 if one.brew_ratio < 10 else 0))
    if one.brix is not None and one.brix >= 1:
        yield words("prep_brix", brix=round(one.brix))
    if one.batch.overrun_pct > 0:
        yield words("prep_overrun", share=words.percent(one.batch.overrun_pct / 100))


MOST_AMOUNTS = 16
"""Portions of more amounts than these, of a menu of many drinks, are told a size at a time, from
the lightest to the heaviest: so many rows have room on a card. Common practice, no source."""


def _portions(menu: Menu, one: BatchFigures, words: Words) -> Table | None:
    """One row an amount, with the sizes it is for in the order of the menu; of many, one row a
    size."""
    sizes: dict[str, set[str]] = {}
    figures: dict[str, tuple[str, str]] = {}
    for portion in sorted(one.portions, key=lambda portion: portion.mass_g):
        amount = " ".join(rounding.portion(words, portion))
        left = portion.left_over_g
        left_over = "" if left is None else rounding.whole_grams(words, left)
        figures[amount] = str(portion.count), left_over  # of the heavier of two that print alike
        sizes.setdefault(amount, set()).add(portion.cup.id)
    rows = []
    for amount, cups in sizes.items():
        fitting = [cup for id_, cup in menu.cups.items() if id_ in cups]
        rows.append((f"{amount} · {words.names(fitting)}", *figures[amount]))
    if len(rows) > MOST_AMOUNTS:
        rows = list(_portions_of_sizes(menu, one, words))
    header = (words("prep_portion"), words("prep_count"), words("prep_left"))
    return Table(words("prep_portions"), header, tuple(rows)) if rows else None


def _portions_of_sizes(
    menu: Menu, one: BatchFigures, words: Words
) -> Iterator[tuple[str, str, str]]:
    for cup in menu.cups.values():
        here = sorted(
            (p for p in one.portions if p.cup.id == cup.id), key=lambda portion: portion.mass_g
        )
        if here:
            ends = here[0], here[-1]
            lightest, heaviest = (rounding.portion(words, end) for end in ends)
            most, fewest = (end.count for end in ends)
            if lightest != heaviest:
                alike = lightest[1] == heaviest[1]  # 40 – 60 ml, and 1 ladle – 60 ml
                start = lightest[0] if alike else " ".join(lightest)
                heaviest = f"{start} – {heaviest[0]}", heaviest[1]
            count = f"{most}" if most == fewest else f"{fewest} – {most}"
            yield f"{' '.join(heaviest)} · {words.name(cup)}", count, ""


def _scaling(one: BatchFigures, words: Words) -> Table | None:
    if len(one.scales) < 2:
        return None
    figures = list(one.scales.values())
    rows = []
    for index, part in enumerate(one.batch.parts):
        grams = [rounding.grams(words, figure.parts[index].weigh_g) for figure in figures]
        rows.append((words.name(part.item), *grams))
    gives = (
        rounding.yield_amount(words, one.gives(figure))  # ml where the grams are not known
        if figure.yield_g is None
        else rounding.whole_grams(words, figure.yield_g)
        for figure in figures
    )
    rows.append((words("prep_gives"), *gives))
    names = (words.get(f"prep_scale_{scale}", scale) for scale in one.scales)
    return Table(words("prep_scaling"), ("", *names), tuple(rows))


def _equipment(one: BatchFigures, words: Words) -> Iterator[str]:
    yield from dict.fromkeys(words.name(s.tool) for s in one.batch.steps if s.tool is not None)
    if one.batch.bowl_ml is None:
        return
    size, bowl = rounding.prep_volume(words, one.batch.bowl_ml), one.bowl
    if bowl is None:
        yield words("prep_bowl", bowl=size)
    elif bowl.fits:
        yield words("prep_bowl_fits", bowl=size, ml=rounding.prep_volume(words, bowl.whipped_ml))
    else:
        yield words("prep_bowl_loads", bowl=size, loads=bowl.loads)


def _cautions(batch: Batch, words: Words) -> tuple[str, ...]:
    keys = [f"caution_{one}" for one in caution_ids(batch)]
    if batch.cross_contact:
        keys.append("prep_caution_cross")
    return tuple(words(key) for key in keys if key in words.catalogue)


def _keeps(menu: Menu, one: BatchFigures, words: Words) -> Iterator[str]:
    keeps = one.batch.keeps_for
    if keeps is None:
        key = "prep_keeps_rule" if menu.shop.has_statutory_days else "prep_keeps_shop"
        yield words(key, count=menu.shop.rule_days)
    else:
        yield from _keeps_as_said(one, keeps, words)
    yield from _held_hot(one, words)
    for step in one.cooling:
        heated = "prep_chill" if step.from_c is None else "prep_cool"
        yield words(
            f"{heated}_soon" if step.within_h is None else heated,
            start="" if step.from_c is None else rounding.celsius(words, step.from_c),
            end=rounding.celsius(words, step.to_c),
            h=step.within_h or 0,
        )


def _keeps_as_said(one: BatchFigures, keeps: KeepsFor, words: Words) -> Iterator[str]:
    time = rounding.keeps(words, keeps)
    if one.kept_at_c is None:
        yield words("prep_keeps_plain", time=time)
    else:
        yield words(f"prep_keeps_{one.band}", time=time, at=rounding.celsius(words, one.kept_at_c))
    if keeps.days is not None:
        yield words("prep_day_one")
    if one.time_control_h is not None:
        hours = min(one.time_control_h, keeps.hours or one.time_control_h)
        yield words("prep_time_control", h=words.number(hours))
    for *_, item in one.outlived[:2]:
        if item.keeps_for is not None:
            sooner = rounding.keeps(words, item.keeps_for)
            yield words("prep_earlier", name=words.name(item), time=sooner)


def _held_hot(one: BatchFigures, words: Words) -> Iterator[str]:
    held = one.hot
    if held is None:
        return
    if held.reheat_c is not None:
        reheat = rounding.celsius(words, held.reheat_c)
        yield words("prep_hot_reheat", at=reheat, h=words.number(held.reheat_within_h))
    at, once_h = rounding.celsius(words, held.at_c), held.once_below_h
    if once_h is None:
        yield words("prep_hot_never", at=at)
    else:
        yield words("prep_hot_once", at=at, h=words.number(once_h))

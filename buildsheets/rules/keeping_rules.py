"""Rules about how long a batch keeps; a menu in, findings out."""

from __future__ import annotations

from collections.abc import Iterator

from buildsheets.findings.finding import Finding, Fix, Label, Severity
from buildsheets.findings.spelling import count_of
from buildsheets.menu.model import Batch, Ingredient, KeepsFor, Menu
from buildsheets.prep.keeping import kept_at_c, outlived, time_control_h
from buildsheets.prep.keeping_dates import TIME_CONTROL_H
from buildsheets.rules.amounts import degrees
from buildsheets.rules.registry import each_batch, each_ingredient, found, rule


@rule("KEEP03", "keeps-longer-than-rules", Severity.ERROR, each_batch)
def keeps_longer_than_rules(menu: Menu, batch: Batch) -> Iterator[Finding]:
    """A batch says it keeps longer than the days that the shop's rule set allows.

    At the counter: the label would print a day on which the food may no longer be sold. A batch
    may be stricter than the rules, never looser.

    Trips it::

        batches:
          tea-brew: {keeps_for: 9 days, keeps_at: 5 °C}

    Fixed::

        batches:
          tea-brew: {keeps_for: 7 days, keeps_at: 5 °C}

    Source: FDA Food Code 2022, 3-501.17: 7 days at 5 °C, preparation day is Day 1; else the shop's
    own rule_days.
    """
    keeps, limit = batch.keeps_for, menu.shop.rule_days
    if keeps is not None and keeps.in_hours > 24.0 * limit:
        whose = (
            "the FDA Food Code allows" if menu.shop.has_statutory_days else "the shop's limit is"
        )
        yield found(
            keeps.written.span,
            f"'{batch.id}' is said to keep {_time(keeps)}; {whose} {count_of(limit, 'day')}",
            "England names no days; without rule_days of your own, 7 stands, the FDA Food Code's"
            if menu.shop.shelf_rules == "england"
            else "",
            fixes=(_keep_it(keeps, count_of(limit, "day")),),
        )


@rule("KEEP04", "kept-warm-too-long", Severity.ERROR, each_batch)
def kept_warm_too_long(menu: Menu, batch: Batch) -> Iterator[Finding]:
    """A batch kept neither cold nor hot is said to keep longer than the time rule allows.

    At the counter: between the cold and the hot limit bacteria grow; time is then the only
    control, the batch is marked with its time and thrown out when it is up.

    Trips it::

        batches:
          tea-brew: {keeps_for: 8 h, keeps_at: 20 °C}

    Fixed::

        batches:
          tea-brew: {keeps_for: 4 h, keeps_at: 20 °C}

    Source: FDA Food Code 2022, 3-501.19(B): 4 h; Food Safety and Hygiene (England) Regulations
    2013, Schedule 4: one period under 4 h above 8 °C (5(1)), under 2 h below 63 °C for what is
    served hot (7(2)).
    """
    keeps, limit = batch.keeps_for, time_control_h(menu.shop, batch)
    if keeps is not None and limit is not None and keeps.in_hours > limit:
        shop, at_c = menu.shop, kept_at_c(menu.shop, batch)
        where = "at no temperature said"
        if at_c is not None:
            where = f"at {degrees(at_c, shop)}, neither cold nor hot"
        cold = f"{degrees(shop.cold_limit_c, shop)} or colder"
        hot = f"{degrees(shop.hot_limit_c, shop)} or hotter"
        yield found(
            keeps.written.span,
            f"'{batch.id}' is kept {_time(keeps)} {where}; it may be used for {limit:g} h",
            fixes=(_keep_it(keeps, f"{limit:g} h"), Fix(f"keep it at {cold}, or at {hot}")),
        )


@rule("KEEP05", "outlives-its-parts", Severity.WARNING, each_batch)
def outlives_its_parts(menu: Menu, batch: Batch) -> Iterator[Finding]:
    """A batch is said to keep longer than something in it does once opened or made.

    At the counter: the earliest date wins, so the card promises days the label will never give.

    Trips it::

        ingredients:
          milk: {keeps_for: 2 days, keeps_at: 5 °C}
        batches:
          tea-brew: {keeps_for: 5 days, keeps_at: 5 °C}

    Fixed::

        ingredients:
          milk: {keeps_for: 2 days, keeps_at: 5 °C}
        batches:
          tea-brew: {keeps_for: 2 days, keeps_at: 5 °C}

    Source: FDA Food Code 2022, 3-501.17: combined foods keep the earliest date.
    """
    keeps = batch.keeps_for
    shorter = [(own, path) for path in outlived(batch) if (own := path[-1].keeps_for)]
    if keeps is not None and shorter:
        least, path = min(shorter, key=lambda one: one[0].in_hours)
        way = " <- ".join(entry.id for entry in path)
        yield found(
            keeps.written.span,
            f"'{batch.id}' is said to keep {_time(keeps)}, but {path[-1].id} in it keeps "
            f"{_time(least)}",
            labels=(Label(least.written.span, f"{_time(least)}: {way}"),),
            fixes=(_keep_it(keeps, _time(least)),),
        )


@rule("KEEP06", "keeping-unsaid", Severity.WARNING, each_batch)
def keeping_unsaid(menu: Menu, batch: Batch) -> Iterator[Finding]:
    """A batch does not say how long it keeps.

    At the counter: its label then shows only the outer bound of the rule set, which nobody
    judged for it.

    Trips it::

        batches:
          lemon-mix: {name: Lemon mix, parts: [{use: water, amount: 1 kg}]}

    Fixed::

        batches:
          lemon-mix:
            name: Lemon mix
            parts: [{use: water, amount: 1 kg}]
            keeps_for: 2 days
            keeps_at: 5 °C

    Source: common practice, no source.
    """
    if batch.keeps_for is None:
        yield found(
            batch.span,
            f"'{batch.id}' does not say how long it keeps; labels fall back on "
            f"{count_of(menu.shop.rule_days, 'day')}",
            "add keeps_for: 4 h, or days with keeps_at:",
        )


@rule("KEEP07", "use-by-before-season", Severity.WARNING, each_ingredient)
def use_by_before_season(menu: Menu, item: Ingredient) -> Iterator[Finding]:
    """An ingredient's use-by lies before the edition begins.

    At the counter: nothing may be made of it in this season; its labels would be refused.

    Trips it::

        ingredients:
          milk: {use_by: 2026-02-20}

    Fixed::

        ingredients:
          milk: {use_by: 2026-04-20}

    Source: FDA Food Code 2022, 3-501.17(B): never beyond the maker's date.
    """
    begins = menu.edition.valid_from
    if item.use_by is not None and item.use_by < begins:
        yield found(
            item.span,
            f"'{item.id}' is to be used by {item.use_by}, before the edition begins on {begins}",
        )


@rule("KEEP08", "keeping-place-unsaid", Severity.NOTE, each_batch)
def keeping_place_unsaid(menu: Menu, batch: Batch) -> Iterator[Finding]:
    """A batch that keeps longer than 4 h does not say at what temperature.

    At the counter: the time only holds cold; the label will say the shop's cold limit, which
    the barista has to know.

    Trips it::

        batches:
          lemon-mix: {name: Lemon mix, parts: [{use: water, amount: 1 kg}], keeps_for: 6 h}

    Fixed::

        batches:
          lemon-mix:
            name: Lemon mix
            parts: [{use: water, amount: 1 kg}]
            keeps_for: 6 h
            keeps_at: 5 °C

    Source: FDA Food Code 2022, 3-501.16 and 3-501.19.
    """
    keeps = batch.keeps_for
    if keeps is not None and keeps.at_c is None and keeps.in_hours > TIME_CONTROL_H:
        yield found(
            keeps.written.span,
            f"'{batch.id}' keeps {_time(keeps)}, at no temperature said; it is taken to be at "
            f"{degrees(menu.shop.cold_limit_c, menu.shop)} or colder",
        )


def _keep_it(keeps: KeepsFor, time: str) -> Fix:
    return Fix(f"keep it {time}", keeps.written.span, time)


def _time(keeps: KeepsFor) -> str:
    return f"{keeps.hours:g} h" if keeps.days is None else count_of(keeps.days, "day")

"""Rules about how long a batch keeps; a menu in, findings out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from buildsheets.cup.serving import Serving
from buildsheets.findings.catalogue import finding
from buildsheets.findings.finding import Finding, Fix, Label, Severity
from buildsheets.findings.spelling import count_of
from buildsheets.menu.model import KeepsFor, Menu
from buildsheets.prep.keeping import TIME_CONTROL_H, hours_kept, outlived, time_control_h
from buildsheets.rules.registry import rule


@rule("KEEP03", "keeps-longer-than-rules", Severity.ERROR)
def keeps_longer_than_rules(menu: Menu, servings: Sequence[Serving]) -> Iterator[Finding]:
    """A batch says it keeps more days than the shop's rule set allows.

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
    limit = menu.shop.rule_days
    most = count_of(limit, "day")
    for batch in menu.batches.values():
        keeps = batch.keeps_for
        if keeps is None or keeps.days is None or keeps.days <= limit:
            continue
        yield finding(
            "KEEP03",
            keeps.written.span,
            f"'{batch.id}' is said to keep {keeps.days} days; "
            f"{menu.shop.shelf_rules} allows {limit}",
            subject=(batch.id,),
            fixes=(Fix(f"keep it {most}", keeps.written.span, most),),
        )


@rule("KEEP04", "kept-warm-too-long", Severity.ERROR)
def kept_warm_too_long(menu: Menu, servings: Sequence[Serving]) -> Iterator[Finding]:
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
    2013, Schedule 4: one period under 4 h above 8 °C, under 2 h below 63 °C.
    """
    for batch in menu.batches.values():
        keeps, limit = batch.keeps_for, time_control_h(menu.shop, batch)
        if keeps is None or limit is None or (hours_kept(keeps) or 0.0) <= limit:
            continue
        yield finding(
            "KEEP04",
            keeps.written.span,
            f"'{batch.id}' is kept {_time(keeps)} at {keeps.at_c:g} °C, neither cold nor hot; "
            f"it may be used for {limit:g} h",
            subject=(batch.id,),
            fixes=(
                Fix(f"keep it {limit:g} h", keeps.written.span, f"{limit:g} h"),
                Fix(f"keep it at {menu.shop.cold_limit_c:g} °C or colder"),
            ),
        )


@rule("KEEP05", "outlives-its-parts", Severity.WARNING)
def outlives_its_parts(menu: Menu, servings: Sequence[Serving]) -> Iterator[Finding]:
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
    for batch in menu.batches.values():
        path = min(outlived(batch), key=lambda p: hours_kept(p[-1].keeps_for) or 0.0, default=())
        keeps, least = batch.keeps_for, path[-1].keeps_for if path else None
        if keeps is None or least is None:
            continue
        way = " <- ".join(entry.id for entry in path)
        yield finding(
            "KEEP05",
            keeps.written.span,
            f"'{batch.id}' is said to keep {_time(keeps)}, but {path[-1].id} in it keeps "
            f"{_time(least)}",
            subject=(batch.id,),
            labels=(Label(least.written.span, f"{_time(least)}: {way}"),),
            fixes=(Fix(f"keep it {_time(least)}", keeps.written.span, _time(least)),),
        )


@rule("KEEP06", "keeping-unsaid", Severity.WARNING)
def keeping_unsaid(menu: Menu, servings: Sequence[Serving]) -> Iterator[Finding]:
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
    for batch in menu.batches.values():
        if batch.keeps_for is None:
            yield finding(
                "KEEP06",
                batch.span,
                f"'{batch.id}' does not say how long it keeps; labels fall back on "
                f"{count_of(menu.shop.rule_days, 'day')}",
                subject=(batch.id,),
                hint="add keeps_for: 4 h, or days with keeps_at:",
            )


@rule("KEEP07", "use-by-before-season", Severity.WARNING)
def use_by_before_season(menu: Menu, servings: Sequence[Serving]) -> Iterator[Finding]:
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
    for item in menu.ingredients.values():
        if item.use_by is not None and item.use_by < menu.edition.valid_from:
            yield finding(
                "KEEP07",
                item.span,
                f"'{item.id}' is to be used by {item.use_by}, before the edition begins on "
                f"{menu.edition.valid_from}",
                subject=(item.id,),
            )


@rule("KEEP08", "keeping-place-unsaid", Severity.NOTE)
def keeping_place_unsaid(menu: Menu, servings: Sequence[Serving]) -> Iterator[Finding]:
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
    for batch in menu.batches.values():
        keeps = batch.keeps_for
        if keeps is None or keeps.at_c is not None or (hours_kept(keeps) or 0.0) <= TIME_CONTROL_H:
            continue
        yield finding(
            "KEEP08",
            keeps.written.span,
            f"'{batch.id}' keeps {_time(keeps)}, at no temperature said; it is taken to be at "
            f"{menu.shop.cold_limit_c:g} °C or colder",
            subject=(batch.id,),
        )


def _time(keeps: KeepsFor) -> str:
    return f"{keeps.hours:g} h" if keeps.days is None else count_of(keeps.days, "day")

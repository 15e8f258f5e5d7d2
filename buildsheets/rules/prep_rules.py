"""Rules about batches and what drinks cost; a menu and servings in, findings out."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

from buildsheets.cup.serving import Serving
from buildsheets.findings.finding import Finding, Fix, Label, Severity, SumLine
from buildsheets.findings.spelling import listed
from buildsheets.menu.model import Batch, Menu
from buildsheets.prep.batches import bowl_check, figure_batch, heap_g_ml, put_in_ml, scale_step_g
from buildsheets.prep.cost import Prices
from buildsheets.prep.loads import step_times, vessels
from buildsheets.prep.nutrition import brix_of, sucrose_density
from buildsheets.rules.amounts import with_chosen
from buildsheets.rules.registry import all_servings, all_ways, each_batch, found, rule

PLAUSIBLE_DENSITY_SHARE = 0.10
"""How far a mixed density may lie under a sugar solution's of the same Brix before it is doubted:
cream with sugar stays within 5 %, a heap of dry sugar taken for its volume is 30 % off."""

HEAP_DIFFERS_SHARE = 0.05
"""A batch's density so near to that of its heap is the heap's own: jugs of one heap weigh so much
more or less (common practice, no source)."""


@rule("BAT06", "bowl-too-small", Severity.WARNING, each_batch)
def bowl_too_small(menu: Menu, batch: Batch) -> Iterator[Finding]:
    """A named scale of a batch does not fit its bowl or pot at its fullest, with the room it keeps.

    At the counter: cream doubles in the bowl, and a pot holds the cooking water beside the pearls;
    what fits before runs over then.

    Trips it::

        batches:
          tea-brew: {bowl: 1 l, bowl_fill: 80 %}

    Fixed::

        batches:
          tea-brew: {bowl: 2 l, bowl_fill: 80 %}

    Source: arithmetic, fill model section 6: the whipped volume, or what goes in with its cooking
    water, against bowl times fill share.
    """
    said = menu.shop.volumes.text
    for name, factor in batch.scales.items():
        figure = figure_batch(batch, factor)
        check, unwhipped_ml = bowl_check(figure), figure.unaerated_ml
        if check is None or check.fits or unwhipped_ml is None:
            continue
        put_in = put_in_ml(figure)
        whipped = check.whipped_ml > put_in
        air_ml = check.whipped_ml - unwhipped_ml
        most = math.floor(check.largest_scale * 100 + 1e-9) / 100
        yield found(
            batch.span,
            f"'{batch.id}' at {name} {'swells to' if whipped else 'takes'} "
            f"{said(check.whipped_ml)} and the bowl has room for {said(check.usable_ml)}: "
            f"{check.loads} loads",
            sums=(
                SumLine("unwhipped", "", said(unwhipped_ml)),
                SumLine("air", f"{batch.overrun_pct:g} %", said(air_ml), "overrun"),
                SumLine("total", "", said(check.whipped_ml)),
            )
            if whipped
            else (SumLine("all parts, with cooking water", "", said(put_in)),),
            fixes=(Fix(f"make at most {most:g} of a full batch at once"),),
        )
    largest = max(batch.scales.values(), default=1.0)
    by_fill = sorted(vessels(batch), key=lambda vessel: vessel.full_ml)
    for one in {vessel.thing.id: vessel for vessel in by_fill}.values():
        if largest > one.largest * (1 + 1e-9):
            most = math.floor(one.largest * 100 + 1e-9) / 100
            yield found(
                one.step.span,
                f"'{batch.id}' takes {said(largest * one.full_ml)} at its largest scale and "
                f"'{one.thing.id}' has room for {said(one.room_ml)}",
                labels=(Label(one.thing.span, "its room"),),
                fixes=(Fix(f"make at most {most:g} of a full batch at once"),),
            )


@rule("BAT13", "step-without-time", Severity.WARNING, each_batch)
def step_without_time(menu: Menu, batch: Batch) -> Iterator[Finding]:
    """A step of a batch has no time and none can be figured, while the menu has days to plan.

    At the counter: the plan takes it as done at once, and what should be ready at opening is not.
    A step says its time, or a temperature and a thing of the kitchen whose power brings it there.

    Trips it::

        batches:
          tea-brew: {steps: [{do: Heat the water, temperature: 95 °C}]}
        days:
          friday: {name: Friday, opens: "10:00", closes: "20:00", sales: []}

    Fixed::

        kitchen:
          burner: {name: burner, power: 1800 W}
        batches:
          tea-brew: {steps: [{do: Heat the water, temperature: 95 °C, on: burner}]}
        days:
          friday: {name: Friday, opens: "10:00", closes: "20:00", sales: []}

    Source: arithmetic: heat is mass times specific heat times degrees, time is heat over power.
    """
    untimed = [one.step for one in step_times(batch) if not one.known]
    if menu.days and untimed:
        steps = listed(f"“{one.text.in_language(menu.shop.languages[0])}”" for one in untimed)
        yield found(
            untimed[0].span,
            f"'{batch.id}' does not say how long {steps} takes, so its plan is too short",
            "add time: 5 min, with hands_on: 0 min where nobody has to stand by; or temperature: "
            "and on: a thing of the kitchen that has a power",
            labels=tuple(Label(one.span, "no time") for one in untimed[1:]),
        )


@rule("DEN05", "litres-of-a-heap", Severity.ERROR, each_batch)
def litres_of_a_heap(menu: Menu, batch: Batch) -> Iterator[Finding]:
    """What settles or swims in the cup is measured in ml, and is figured as if without gaps.

    At the counter: a jug of pearls is two fifths air. Taken for a jug of solid pearls, it gives
    too many portions on paper and too few in the shop.

    Trips it::

        batches:
          tea-brew: {density: 1.1 g/ml, measured_yield: 1 l}
        toppings:
          pearls:
            {from: tea-brew, behaves: settled, density: 1.1 g/ml, bulk_density: 0.65 g/ml,
             tool: jug, station: bar}

    Fixed::

        batches:
          tea-brew: {density: 1.1 g/ml, measured_yield: 650 g}
        toppings:
          pearls:
            {from: tea-brew, behaves: settled, density: 1.1 g/ml, bulk_density: 0.65 g/ml,
             tool: jug, station: bar}

    Source: arithmetic: ml of a heap times its bulk density.
    """
    measured = [(part.item, part.written("amount"), part.amount) for part in batch.parts]
    measured_ml = [
        (item, written, amount.value)
        for item, written, amount in measured
        if amount is not None and amount.kind == "volume"
    ]
    if batch.measured_yield_ml is not None:
        measured_ml.append((batch, batch.written("measured_yield"), batch.measured_yield_ml))
    for item, written, ml in measured_ml:
        heap, density = heap_g_ml(menu.components.values(), item), item.density_g_ml
        if heap is None or density is None or abs(density - heap) <= HEAP_DIFFERS_SHARE * heap:
            continue
        grams = f"{round(ml * heap)} g"
        yield found(
            written.span,
            f"{written.text} of '{item.id}' is figured as {ml * density:.0f} g, without gaps; "
            f"a heap of it at {heap:g} g/ml weighs {grams}",
            fixes=(Fix(f"weigh it, or write {grams}", written.span, grams),),
        )


@rule("BAT07", "yield-unknown", Severity.WARNING, each_batch)
def yield_unknown(menu: Menu, batch: Batch) -> Iterator[Finding]:
    """A batch's volume cannot be figured because a density is missing.

    At the counter: without it there are no ml of yield and no check of the bowl; nothing is
    guessed.

    Trips it::

        ingredients:
          leaf: {name: Leaf, contains: []}
        batches:
          lemon-mix:
            name: Lemon mix
            parts: [{use: water, amount: 1 kg}, {use: leaf, amount: 20 g}]
            keeps_for: 2 days

    Fixed::

        ingredients:
          leaf: {name: Leaf, contains: []}
        batches:
          lemon-mix:
            name: Lemon mix
            parts: [{use: water, amount: 1 kg}, {use: leaf, amount: 20 g}]
            density: 1.0 g/ml
            keeps_for: 2 days

    Source: arithmetic.
    """
    figure = figure_batch(batch)
    if figure.yield_ml is None or figure.yield_g is None:
        who = ", ".join(item.id for item in figure.missing) or batch.id
        what = "grams" if figure.yield_g is None else menu.shop.volumes.name
        yield found(
            batch.span,
            f"how many {what} '{batch.id}' gives is not known: no density for {who}",
            "give the batch a density, or measure its yield",
            labels=tuple(Label(item.span, "no density") for item in figure.missing),
        )


@rule("BAT08", "density-doubtful", Severity.WARNING, each_batch)
def density_doubtful(menu: Menu, batch: Batch) -> Iterator[Finding]:
    """A batch's density is far below that of a sugar solution of the same Brix.

    At the counter: dry sugar poured into a cup takes up air; dissolved it takes two thirds of
    that. A density mixed from heaps makes a syrup of 1.2 look like one of 0.9, and every line
    in every cup that holds it is wrong.

    Trips it::

        ingredients:
          sugar:
            {name: Sugar, contains: [], density: 0.85 g/ml, density_source: cup, brix: 100 °Bx}
        batches:
          syrup:
            name: Syrup
            parts: [{use: sugar, amount: 500 g}, {use: water, amount: 500 g}]
            keeps_for: 5 days

    Fixed::

        ingredients:
          sugar:
            {name: Sugar, contains: [], density: 0.85 g/ml, density_source: cup, brix: 100 °Bx}
        batches:
          syrup:
            name: Syrup
            parts: [{use: sugar, amount: 500 g}, {use: water, amount: 500 g}]
            density: 1.23 g/ml
            keeps_for: 5 days

    Source: sucrose solutions at 20 °C, Bubnik et al., Sugar Technologists Manual (1995): 50 °Bx
    is 1.2297 g/ml.
    """
    density, brix = figure_batch(batch).density_g_ml, brix_of(batch)
    if density is None or brix is None or not 0.0 < brix <= 100.0:
        return
    solution = sucrose_density(brix)
    if density < solution * (1.0 - PLAUSIBLE_DENSITY_SHARE):
        yield found(
            batch.span,
            f"'{batch.id}' would weigh {density:.2f} g/ml; a sugar solution of its "
            f"{brix:.0f} °Bx weighs {solution:.2f}",
            fixes=(Fix(f"weigh it and write density: (about {solution:.2f} g/ml)"),),
        )


@rule("BAT09", "scale-too-coarse", Severity.WARNING, each_batch)
def scale_too_coarse(menu: Menu, batch: Batch) -> Iterator[Finding]:
    """At a named scale of a batch, a part cannot be weighed well enough on the shop's scale.

    At the counter: a quarter of 3 g of salt on a scale that shows whole grams is a third too
    much.

    Trips it::

        batches:
          tea-brew:
            parts: [{use: water, amount: 1 kg}, {use: milk, amount: 3 g}]
            scales: {full: 1, quarter: 0.25}

    Fixed::

        batches:
          tea-brew:
            parts: [{use: water, amount: 1 kg}, {use: milk, amount: 4 g}]
            scales: {full: 1, quarter: 0.25}

    Source: arithmetic; the share that counts is the shop's warn_rounding.
    """
    step = scale_step_g(menu)
    for name, factor in batch.scales.items():
        for part in figure_batch(batch, factor, step).parts:
            off = abs(part.error_share)
            if off > menu.shop.round_error_warn_share + 1e-9:
                yield found(
                    batch.span,
                    f"'{batch.id}' at {name} needs {part.exact_g:.3g} g {part.part.item.id}; the "
                    f"scale weighs {part.weigh_g:g} g, {off:.0%} off",
                    "weigh it on a finer scale, or leave out this scale of the batch",
                    labels=(Label(part.part.written("amount").span, "the full batch"),),
                )


@rule("BAT10", "batch-unused", Severity.NOTE, all_servings, whole=True)
def batch_unused(menu: Menu, servings: Sequence[Serving]) -> Iterator[Finding]:
    """A batch goes into no drink, no add-on and no other batch.

    At the counter: it is never planned and its card is never needed, or a name is wrong
    somewhere.

    Trips it::

        batches:
          lemon-mix:
            name: Lemon mix
            parts: [{use: water, amount: 1 kg}]
            keeps_for: 2 days

    Fixed::

        batches:
          tea-brew:
            keeps_for: 2 days

    Source: common practice, no source.
    """
    used = [component.kept for component in menu.components.values()]
    used += [part.item for batch in menu.batches.values() for part in batch.parts]
    used_ids = {item.id for item in used if isinstance(item, Batch)}
    for id, batch in menu.batches.items():
        if id not in used_ids:
            yield found(batch.span, f"'{id}' goes into nothing that is sold", subject=(id,))


@rule("COST01", "price-missing", Severity.WARNING, all_ways)
def price_missing(menu: Menu, servings: Iterable[Serving]) -> Iterator[Finding]:
    """An ingredient that drinks are made of, or packaging they go out in, has no pack price.

    At the counter: the cost of everything made with it is unknown; it is never taken as free,
    unless it comes from the tap (on_tap: yes).

    Trips it::

        ingredients:
          milk: {pack: {quantity: 1 l}}

    Fixed::

        ingredients:
          milk: {pack: {quantity: 1 l, price: 1.05}}

    Source: common practice, no source.
    """
    prices = Prices()
    lacking: dict[str, dict[str, None]] = {}
    for serving in servings:
        for id in prices.drink(serving).cost.missing:
            lacking.setdefault(id, {})[serving.drink.id] = None
    for id, drinks in lacking.items():
        known = (menu.ingredients, menu.packaging, menu.components, menu.batches)
        entry = next((section[id] for section in known if id in section), None)
        first = next(iter(drinks))
        whose = first if len(drinks) == 1 else f"{len(drinks)} drinks (first: {first})"
        message = f"'{id}' has no price to count with, so the cost of {whose} is unknown"
        hint = "add pack: {quantity: ..., price: ...}"
        yield found(entry.span if entry is not None else None, message, hint, subject=(id,))


@rule("COST02", "sold-at-a-loss", Severity.WARNING, all_ways)
def sold_at_a_loss(menu: Menu, servings: Iterable[Serving]) -> Iterator[Finding]:
    """A drink and its packaging cost more than the shop keeps of its price once tax is off.

    At the counter: every cup sold loses money; a price, a pack size or an amount is wrong.

    Trips it::

        ingredients:
          milk: {pack: {quantity: 1 l, price: 40.00}}

    Fixed::

        ingredients:
          milk: {pack: {quantity: 1 l, price: 1.00}}

    Source: arithmetic, fill model section 7.
    """
    prices = Prices()
    for serving in servings:
        drink, cost = serving.drink, prices.drink(serving)
        if cost.margin is None or cost.margin >= 0:
            continue
        total = cost.cost.rounded
        parts = (
            SumLine(part.component.id, f"{part.mass_g:.0f} g", str(part.cost.rounded))
            for part in cost.parts
        )
        packed = cost.packaging.rounded
        packaging = [SumLine("packaging", "", str(packed))] if packed else []
        taxed = f", of which {cost.net_price} is left without tax" if cost.tax_in_price else ""
        yield found(
            drink.span,
            f"'{drink.id}' in {serving.cup.id}{with_chosen(serving)} costs {total} and sells at "
            f"{cost.price}{taxed}",
            subject=(drink.id, serving.cup.id),
            sums=(*parts, *packaging, SumLine("total", "", str(total))),
            fixes=(Fix(f"sell it at {cost.price_without_loss} or more"),),
        )

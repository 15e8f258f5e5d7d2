"""Rules of figures that are odd, though there may be such a thing: often a slip of the pen."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

from buildsheets.cup.serving import Serving
from buildsheets.cup.steps import cup_of
from buildsheets.findings.finding import Finding, Fix, Severity, Span
from buildsheets.menu.components import HEAPED
from buildsheets.menu.likely import USUAL_FLOOR_MM, likely_mm
from buildsheets.menu.model import Batch, Component, CupSize, Ingredient, Menu
from buildsheets.prep.batches import heap_g_ml
from buildsheets.rules.amounts import percent, volume
from buildsheets.rules.prep_rules import HEAP_DIFFERS_SHARE
from buildsheets.rules.registry import all_servings, each_component, each_ingredient, found, rule

MOST_ML = 2000.0
MOST_LEAN_DEG = 30.0
MOST_BASE_OF_RIM = 1.2
LEAST_BASE_OF_RIM = 0.2
MOST_OVERRUN_PCT = 400.0
MOST_TAX = 0.5
"""A cup for one guest, how far its wall leans from upright, its base against its rim, the air in
foam (whipped cream 100 %, foam of a siphon 300 %), a tax on food; common practice, no source."""


def each_cup(menu: Menu, servings: Sequence[Serving]) -> Iterable[CupSize]:
    return menu.cups.values()


@rule("CUP08", "cup-shape-odd", Severity.WARNING, each_cup)
def cup_shape_odd(menu: Menu, cup: CupSize) -> Iterator[Finding]:
    """A cup is seldom wider at its base than at its rim, pointed, flat as a bowl or above 2 l.

    Looks for a base above 120 % or under 20 % of the rim, a wall that leans more than 30 degrees,
    and more than 2 l up to the rim. Accept it for a cup that is so.

    At the counter: a base and a rim exchanged, or one digit lost, move each line on the card.

    Trips it::

        cups:
          medium: {base: 91 mm, rim: 58 mm}

    Fixed::

        cups:
          medium: {base: 58 mm, rim: 91 mm}

    Source: common practice, no source.
    """
    at = cup.written("base").span if cup.shape.frustum else cup.shape_written.span
    brimful_ml = cup_of(cup.shape).brimful_ml
    (low, base_mm), *_, (high, rim_mm) = cup.outline_mm
    lean_deg = math.degrees(math.atan2((rim_mm - base_mm) / 2, high - low))
    message = hint = ""
    if base_mm > MOST_BASE_OF_RIM * rim_mm:
        message = f"is {base_mm:.0f} mm wide at its base and {rim_mm:.0f} mm at its rim"
        hint = "a cup is mostly wider at the rim; are the two exchanged?"
    elif cup.shape.frustum and base_mm < LEAST_BASE_OF_RIM * rim_mm:
        meant = likely_mm(base_mm, cup.written("base").text)
        message = f"is {base_mm:g} mm wide at its base and {rim_mm:.0f} mm at its rim"
        hint = "a base is mostly half as wide as the rim or more"
        hint += f"; did you mean {meant}?" if meant else ""
    elif cup.shape.frustum and lean_deg > MOST_LEAN_DEG:
        message = f"has a wall that leans {lean_deg:.0f}° from upright"
        hint = f"usual is up to {MOST_LEAN_DEG:.0f}°; measure base, rim and height again"
    elif brimful_ml > MOST_ML:
        message = f"holds {volume(brimful_ml, cup.volumes)}"
        hint = "a cup for one guest holds up to 1 l; measure it again, or pour water on a scale"
    if message:
        yield found(at, f"cup {cup.id} {message}", hint)


@rule("CUP09", "floor-thick", Severity.WARNING, each_cup)
def floor_thick(menu: Menu, cup: CupSize) -> Iterator[Finding]:
    """The floor of a cup is mostly not thicker than 12 mm, from the counter to the drink.

    Accept it for a glass on a foot.

    At the counter: the edge of the card stands on the counter beside the cup; every line on it is
    as much too high as the floor is written too thick.

    Trips it::

        cups:
          medium: {floor: 30 mm}

    Fixed::

        cups:
          medium: {floor: 3 mm}

    Source: common practice, no source.
    """
    most_mm = USUAL_FLOOR_MM[1]
    if cup.floor_mm > most_mm:
        written = cup.written("floor")
        meant = likely_mm(cup.floor_mm, written.text, USUAL_FLOOR_MM)
        yield found(
            written.span,
            f"the floor of cup {cup.id} is {written.text} thick; usual is up to {most_mm:.0f} mm",
            "measure the cup outside and inside: the floor is the difference of the heights"
            + (f"; did you mean {meant}?" if meant else ""),
        )


@rule("DEN07", "overrun-odd", Severity.WARNING, each_component)
def overrun_odd(menu: Menu, component: Component) -> Iterator[Finding]:
    """Foam seldom takes up more than 400 % of air.

    At the counter: at 1000 % a spoon of cream fills half the cup in the figures; the lines under it
    are all too low.

    Trips it::

        toppings:
          foam: {from: milk, behaves: floated, overrun: 1000 %, tool: jug, station: bar}

    Fixed::

        toppings:
          foam: {from: milk, behaves: floated, overrun: 100 %, tool: jug, station: bar}

    Source: common practice, no source.
    """
    if component.overrun_pct <= MOST_OVERRUN_PCT:
        return
    own, source = component.says("overrun"), component.source
    holder = source if isinstance(source, Batch) and not own else component
    yield found(
        holder.written("overrun").span,
        f"the overrun of {holder.id} is {component.overrun_pct:.0f} %: "
        f"{1 + component.overrun_pct / 100:.0f} times what it was before whipping",
        "whipped cream has about 100 %, a siphon's foam up to 300 %; did you mean "
        f"{component.overrun_pct / 10:.0f} %?",
        subject=(holder.id,),
    )


@rule("DEN08", "pack-of-solid-pieces", Severity.WARNING, each_ingredient)
def pack_of_solid_pieces(menu: Menu, item: Ingredient) -> Iterator[Finding]:
    """What is bought by the litre and poured as loose pieces has the density of a piece.

    At the counter: a litre bag of pearls holds 650 g of them, not the 1.1 kg of a solid litre; too
    few bags are bought, and what a cup costs is too low.

    Trips it::

        ingredients:
          pearls:
            {name: Pearls, contains: [], density: 1.1 g/ml, density_source: weighed,
             cautions: [choking], pack: {quantity: 1 l}}
        toppings:
          pearls-top:
            {from: pearls, behaves: settled, density: 1.1 g/ml, bulk_density: 0.65 g/ml,
             tool: jug, station: bar}

    Fixed::

        ingredients:
          pearls:
            {name: Pearls, contains: [], density: 0.65 g/ml, density_source: weighed,
             cautions: [choking], pack: {quantity: 1 l}}
        toppings:
          pearls-top:
            {from: pearls, behaves: settled, density: 1.1 g/ml, bulk_density: 0.65 g/ml,
             tool: jug, station: bar}

    Source: arithmetic: ml of a heap times its bulk density.
    """
    pack, density = item.pack, item.density_g_ml
    if pack is None or pack.unit != "ml" or pack.usable_share < 1 or density is None:
        return
    heap = heap_g_ml(menu.components.values(), item)
    if heap is None or abs(density - heap) <= HEAP_DIFFERS_SHARE * heap:
        return
    pieces = (c for c in menu.components.values() if c.source is item and c.behaves in HEAPED)
    if any(abs(density - c.density_g_ml) <= HEAP_DIFFERS_SHARE * density for c in pieces):
        own, write = item.written("density"), f"{heap:g} g/ml"
        yield found(
            own.span,
            f"{pack.written('quantity').text} of '{item.id}' is bought as {density:g} g/ml, as a "
            f"piece of it weighs; its heap weighs {write}",
            "where syrup fills the gaps, add usable: to its pack, the share that is left when it "
            "is drained",
            fixes=(Fix(f"write density: {write}", own.span, write),)
            if own.text
            else (Fix(f"add density: {write}"),),
        )


@rule("COST03", "tax-odd", Severity.WARNING, all_servings)
def tax_odd(menu: Menu, servings: Sequence[Serving]) -> Iterator[Finding]:
    """A rate of tax above 50 % is mostly a slip.

    At the counter: nothing; but the margin of each drink comes out far too small.

    Trips it::

        shop: {tax: 100 %}

    Fixed::

        shop: {tax: 10 %}

    Source: common practice, no source; no country of the EU has a rate above 27 % (Hungary's
    standard rate, Council Directive 2006/112/EC; from memory).
    """
    places: list[tuple[str, float | None, Span]] = [
        ("shop", menu.shop.tax, menu.shop.written("tax").span)
    ]
    places += [(one.id, one.tax, one.written("tax").span) for one in menu.drinks.values()]
    for id, tax, span in places:
        if tax is not None and tax > MOST_TAX:
            message = f"the tax of {id} is {percent(tax)}; usual is from 0 to 27 %"
            yield found(span, message, "write the rate: 10 %", subject=(id,))

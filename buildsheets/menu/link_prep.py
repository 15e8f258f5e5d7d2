"""Ingredients and batches linked: written entries in, entries with grams and densities out."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from buildsheets.findings.finding import At, Label
from buildsheets.findings.spelling import listed
from buildsheets.menu.linking import Linker, text, value, written
from buildsheets.menu.model import (
    Batch,
    BatchPart,
    BatchStep,
    Declared,
    Ingredient,
    KeepsFor,
    Nutrition,
    Pack,
    Shop,
    Tool,
)
from buildsheets.menu.quantity import Quantity
from buildsheets.menu.shapes import Lost, Named
from buildsheets.menu.tables import WATER_DENSITY_G_ML, sucrose_density_g_ml
from buildsheets.menu.written import (
    WrittenBatch,
    WrittenIngredient,
    WrittenNutrition,
    WrittenPack,
    WrittenPart,
)

DAY_S = 86_400.0


def ingredients(
    link: Linker, section: Named[WrittenIngredient], shop: Shop
) -> dict[str, Ingredient]:
    """What is bought, with a density from its own figure or from its Brix."""
    found: dict[str, Ingredient] = {}
    for key, w in section.items.items():
        density = link.positive(w.density, "the density")
        source = w.density_source.value if w.density_source else ""
        brix = link.within(w.brix, "the Brix", 0.0, 100.0, "from 0 to 100")
        if density is not None and not source:
            link.error(
                "DEN01",
                w.at("density"),
                f"the density of '{key}' does not say where it comes from",
                hint="add density_source: the label, a table by name, or 'weighed here'",
            )
        if (w.density and density is None) or (w.brix and brix is None):
            continue
        if density is None and brix is not None:
            density, source = (
                sucrose_density_g_ml(brix),
                "sucrose solution at 20 °C (Bubnik 1995)",
            )
        found[key] = Ingredient(
            id=key,
            name=text(w.name),
            density_g_ml=density,
            density_source=source,
            brix=brix,
            declared=Declared(
                link.allergens(w.contains, shop.allergens),
                link.allergens(w.may_contain, shop.allergens),
                w.at("contains"),
            ),
            nutrition=_nutrition(link, w.nutrition) if w.nutrition else None,
            pack=_pack(link, w.pack) if w.pack else None,
            keeps_for=keeps_for(link, w.keeps_for, w.keeps_at),
            use_by=w.use_by.value if w.use_by else None,
            cautions=tuple(caution.value for caution in w.cautions),
            span=w.span,
        )
    return found


def keeps_for(link: Linker, time: At[Quantity] | None, at: At[Quantity] | None) -> KeepsFor | None:
    """Whole days count from preparation as Day 1; anything written in hours counts hours."""
    seconds = link.positive(time, "the keeping time")
    if time is None or seconds is None:
        return None
    in_days = time.value.unit.startswith(("d", "week", "w"))
    days = seconds / DAY_S
    if in_days and days != int(days):
        link.error(
            "RNG01",
            time.span,
            f"'{time.raw}' is not a whole number of days",
            hint="write hours for shorter times",
        )
        return None
    return KeepsFor(
        days=int(days) if in_days else None,
        hours=None if in_days else seconds / 3600.0,
        at_c=at.value.value if at else None,
        written=written(time),
    )


def _nutrition(link: Linker, w: WrittenNutrition) -> Nutrition:
    def figure(name: str) -> float | None:
        leaf: At[Decimal] | None = getattr(w, name)
        if leaf is None:
            return None
        if leaf.value < 0:
            link.error("RNG01", leaf.span, f"{name} is {leaf.raw}, below 0")
            return None
        return float(leaf.value)

    return Nutrition(
        per=w.per.value.removeprefix("100 "),
        energy_kcal=figure("energy_kcal"),
        fat_g=figure("fat_g"),
        saturates_g=figure("saturates_g"),
        carbohydrate_g=figure("carbohydrate_g"),
        sugars_g=figure("sugars_g"),
        protein_g=figure("protein_g"),
        salt_g=figure("salt_g"),
        fibre_g=figure("fibre_g"),
        polyols_g=figure("polyols_g"),
        alcohol_g=figure("alcohol_g"),
        caffeine_mg=figure("caffeine_mg"),
    )


def _pack(link: Linker, w: WrittenPack) -> Pack | None:
    quantity = link.positive(w.quantity, "the pack")
    usable = 1.0
    if w.usable is not None:
        share = link.within(w.usable, "the usable share", 1e-6, 1.0, "above 0 and up to 100 %")
        usable = share if share is not None else 1.0
    link.positive(w.price, "the price", zero=True)
    if quantity is None:
        return None
    return Pack(
        quantity=quantity,
        unit="ml" if w.quantity.value.kind == "volume" else "g",
        price=w.price.value if w.price else None,
        usable_share=usable,
        written=written(w.quantity),
    )


def batches(
    link: Linker,
    section: Named[WrittenBatch],
    bought: Mapping[str, Ingredient],
    bought_lost: Lost,
    tools: Mapping[str, Tool],
    tools_lost: Lost,
    shop: Shop,
) -> dict[str, Batch]:
    """Batches, each after the batches it uses; a batch that needs itself is refused.

    A batch with any fault is left out, and so, without a finding, is what is made with it.
    """
    found: dict[str, Batch] = {}
    known: dict[str, Ingredient | Batch] = dict(bought)
    waiting = dict(section.items)
    for key in [key for key in waiting if key in bought]:
        link.error(
            "REF02",
            section.key_spans[key],
            f"'{key}' is the name of an ingredient too",
            labels=(Label(bought[key].span, "the ingredient"),),
        )
        del waiting[key]
    lost = bought_lost | section.lost()
    while waiting:
        ready = [
            key
            for key, w in waiting.items()
            if not any(part.use.value in waiting for part in w.parts)
        ]
        if not ready:
            _report_cycle(link, section, waiting)
            break
        for key in ready:
            before = len(link.findings)
            batch = _batch(link, key, waiting.pop(key), known, lost, tools, tools_lost, shop)
            if batch is None or len(link.findings) > before:
                lost |= Lost(frozenset({key}))
            else:
                found[key] = known[key] = batch
    return {key: found[key] for key in section.items if key in found}


def _report_cycle(
    link: Linker, section: Named[WrittenBatch], waiting: Mapping[str, WrittenBatch]
) -> None:
    """Name one ring of batches that need each other, from the first written one in it."""
    path = [next(iter(waiting))]
    while True:
        step = next(part.use.value for part in waiting[path[-1]].parts if part.use.value in waiting)
        if step in path:
            ring = [*path[path.index(step) :], step]
            break
        path.append(step)
    link.error(
        "BAT01",
        section.key_spans[ring[0]],
        f"batch '{ring[0]}' cannot be made: {' needs '.join(ring)}",
        hint="take one of them out of the other's parts",
        labels=tuple(Label(section.key_spans[key], "in the ring") for key in ring[1:-1]),
    )


def _batch(
    link: Linker,
    key: str,
    w: WrittenBatch,
    known: Mapping[str, Ingredient | Batch],
    lost: Lost,
    tools: Mapping[str, Tool],
    tools_lost: Lost,
    shop: Shop,
) -> Batch | None:
    parts = [_part(link, part, known, lost) for part in w.parts]
    if not parts:
        link.error("BAT02", w.span, f"batch '{key}' has no parts")
    lead = link.find(w.lead, known, "ingredient or batch", lost)
    brew = link.find(w.brew, known, "ingredient or batch", lost)
    used = {part.use.value for part in w.parts}
    for leaf, what in ((w.lead, "lead"), (w.brew, "brew")):
        if leaf is not None and leaf.value in known and leaf.value not in used:
            link.error(
                "BAT03",
                leaf.span,
                f"{what} is '{leaf.value}', which is not among the parts",
                hint=f"parts: {listed(sorted(used))}",
            )
    density = link.positive(w.density, "the density")
    measured = w.measured_yield.value if w.measured_yield else None
    link.positive(w.measured_yield, "the measured yield")
    link.positive(w.bowl, "the bowl")
    link.within(w.bowl_fill, "the fill of the bowl", 0.01, 1.0, "from 1 to 100 %")
    link.within(w.loss, "the loss", 0.0, 0.99, "from 0 to 99 %")
    link.positive(w.yield_factor, "the yield factor")
    for scale in w.scales.items.values() if w.scales else ():
        link.positive(scale, "the scale")
    if w.yield_factor is not None and measured is not None:
        link.error(
            "BAT04",
            w.at("yield_factor"),
            "the yield is both measured and given as a factor; keep the measured one",
            labels=(Label(w.at("measured_yield"), "measured here"),),
        )
    steps = tuple(
        BatchStep(
            text=text(step.do),
            time_s=step.time.value.value if step.time else None,
            temperature_c=step.temperature.value.value if step.temperature else None,
            speed=step.speed.value if step.speed else "",
            tool=link.find(step.tool, tools, "tool", tools_lost),
            span=step.span,
        )
        for step in w.steps
    )
    real = tuple(part for part in parts if part is not None)
    if len(real) < len(w.parts) or not real:
        return None
    factor = float(w.yield_factor.value) if w.yield_factor else 1.0
    basis = "measured" if measured else "factor" if w.yield_factor else "none"
    scales = {k: float(v.value) for k, v in w.scales.items.items()} if w.scales else {"full": 1.0}
    return Batch(
        id=key,
        name=text(w.name),
        parts=real,
        steps=steps,
        density_g_ml=density if density is not None else _mixed_density(real, factor),
        overrun_pct=100.0 * value(w.overrun, 0.0),
        loss_share=value(w.loss, 0.0),
        yield_factor=factor,
        yield_basis=basis,
        measured_yield_g=measured.value if measured and measured.kind == "mass" else None,
        measured_yield_ml=measured.value if measured and measured.kind == "volume" else None,
        keeps_for=keeps_for(link, w.keeps_for, w.keeps_at),
        bowl_ml=w.bowl.value.value if w.bowl else None,
        bowl_fill_share=value(w.bowl_fill, 1.0),
        scales=scales,
        lead=lead,
        cautions=tuple(caution.value for caution in w.cautions),
        cross_contact=link.allergens(w.cross_contact, shop.allergens),
        serves_at_c=w.served_at.value.value if w.served_at else None,
        span=w.span,
        brew=brew,
    )


def _mixed_density(parts: tuple[BatchPart, ...], yield_factor: float) -> float | None:
    """Finished mass over finished volume, volumes taken as additive; unknown if any part's is.

    What a factor adds is water taken up, what it takes away is water boiled off.
    """
    volumes = [part.volume_ml for part in parts]
    if any(volume is None for volume in volumes):
        return None
    parts_g = sum(part.mass_g for part in parts)
    finished_g = parts_g * yield_factor
    water_ml = (finished_g - parts_g) / WATER_DENSITY_G_ML
    finished_ml = sum(volume for volume in volumes if volume is not None) + water_ml
    return finished_g / finished_ml if finished_ml > 0.0 else None


def _part(
    link: Linker,
    w: WrittenPart,
    known: Mapping[str, Ingredient | Batch],
    lost: Lost,
) -> BatchPart | None:
    item = link.find(w.use, known, "ingredient or batch", lost)
    if item is None or link.positive(w.amount, "the amount") is None:
        return None
    quantity, density = w.amount.value, item.density_g_ml
    packs: Decimal | None = None
    amount, unit = quantity.value, "g" if quantity.kind == "mass" else "ml"
    if quantity.kind == "tool":
        pack = item.pack if isinstance(item, Ingredient) else None
        if pack is None:
            link.error(
                "BAT05",
                w.amount.span,
                f"'{w.amount.raw}' of '{item.id}', which does not say what one pack holds",
                hint="add pack: {quantity: 397 g} to the ingredient, or write grams",
            )
            return None
        packs, unit = quantity.magnitude, pack.unit
        amount = float(packs) * pack.quantity
    if unit == "g":
        return BatchPart(
            item, amount, amount / density if density else None, packs, written(w.amount)
        )
    if density is None:
        link.lacks_density(
            item,
            w.amount.span,
            f"'{w.amount.raw}' of '{item.id}' is a volume, and its density is not known",
            "write grams, or give the item, or what it is made of, a density with its source",
        )
        return None
    return BatchPart(item, amount * density, amount, packs, written(w.amount))

"""Servings go in; their sheet of nutrition, sugar and caffeine by the shop's label rules out."""

from __future__ import annotations

from collections.abc import Sequence

from buildsheets.cup.serving import Serving
from buildsheets.menu.model import Menu
from buildsheets.prep.facts import (
    Facts,
    Figure,
    facts_of,
    needs_high_caffeine_words,
    over_single_dose,
    sodium_mg,
    sugar_band,
)
from buildsheets.prep.facts import shown as label
from buildsheets.views import prep_words as shown
from buildsheets.views.prep_compose import A4_MM, HAND_MM
from buildsheets.views.prep_views import SheetTable, SheetView
from buildsheets.views.words import Words

_SHOWN = (
    "energy_kcal", "fat_g", "saturates_g", "carbohydrate_g", "sugars_g", "protein_g", "salt_g",
    "caffeine_mg",
)  # fmt: skip

_SUGAR_MARKS = {"over-10-percent": " **", "over-5-percent": " *", "": ""}


def facts_sheet(menu: Menu, servings: Sequence[Serving], words: Words) -> SheetView:
    """Each drink and cup as made when nobody asks to change it; what is missing is named."""
    rules = menu.shop.label_rules
    salt = "prep_sodium" if rules == "us" else "prep_salt"
    keys = (
        "prep_drink", "prep_size", "prep_energy", "prep_fat", "prep_saturates",
        "prep_carbohydrate", "prep_sugars", "prep_protein", salt, "prep_caffeine",
    )  # fmt: skip
    facts = [(serving, facts_of(serving)) for serving in servings]
    table = SheetTable(
        title="",
        header=tuple(words(key) for key in keys),
        rows=tuple(_row(serving, one, rules, words) for serving, one in facts),
        align="ll" + "r" * (len(keys) - 2),
        weights=(5.4, 2.2, 4.0, 2.2, 2.6, 3.2, 2.6, 2.4, 2.2, 2.4),
        strong=(0, 6),
    )
    return SheetView(
        kind="facts",
        language=words.language,
        code="facts",
        title=words("prep_facts_title"),
        subtitle=words("prep_facts_per", rules=words(f"prep_rules_{rules}")),
        tables=(table,),
        notes=tuple(_notes(menu, facts, table, words)),
        foot=shown.office_foot(words, menu, "facts"),
        reading_distance_mm=HAND_MM,
        width_mm=A4_MM[1],
        height_mm=A4_MM[0],
    )


def _row(serving: Serving, facts: Facts, rules: str, words: Words) -> tuple[str, ...]:
    sugars, caffeine = facts["sugars_g"].value, facts["caffeine_mg"].value
    mark = "" if sugars is None else _SUGAR_MARKS[sugar_band(sugars)]
    dose = " !" if caffeine is not None and over_single_dose(caffeine) else ""
    return (
        serving.drink.name.in_language(words.language),
        serving.cup.name.in_language(words.language),
        _energy(facts, rules, words),
        *(_gram(facts, name, rules, words) for name in ("fat_g", "saturates_g", "carbohydrate_g")),
        _gram(facts, "sugars_g", rules, words) + mark,
        _gram(facts, "protein_g", rules, words),
        _salt(facts["salt_g"], rules, words),
        _one(facts["caffeine_mg"], "caffeine_mg", "prep_mg", "mg", rules, words) + dose,
    )


def _energy(facts: Facts, rules: str, words: Words) -> str:
    kcal = _one(facts["energy_kcal"], "energy_kcal", "prep_kcal", "kcal", rules, words)
    if rules == "us":
        return kcal
    kj = _one(facts["energy_kj"], "energy_kj", "prep_kj", "kj", rules, words)
    return kcal if facts["energy_kj"].value is None else f"{kj} · {kcal}"


def _gram(facts: Facts, nutrient: str, rules: str, words: Words) -> str:
    return _one(facts[nutrient], nutrient, "prep_grams", "g", rules, words)


def _salt(figure: Figure, rules: str, words: Words) -> str:
    if rules != "us" or figure.value is None:
        return _one(figure, "salt_g", "prep_grams", "g", rules, words)
    sodium = Figure(sodium_mg(figure.value))
    return _one(sodium, "sodium_mg", "prep_mg", "mg", rules, words)


def _one(figure: Figure, nutrient: str, key: str, unit: str, rules: str, words: Words) -> str:
    if figure.value is None:
        return words("prep_unknown")
    rounded = label(nutrient, figure.value, rules)
    amount = words(key, **{unit: words.number(rounded.amount)})
    return words("prep_less_than", amount=amount) if rounded.less_than else amount


def _notes(
    menu: Menu, facts: Sequence[tuple[Serving, Facts]], table: SheetTable, words: Words
) -> list[str]:
    notes = []
    cells = [cell for row in table.rows for cell in row]
    if any(cell.endswith((" *", "**")) for cell in cells):
        notes.append(words("prep_sugar_mark"))
    if any(cell.endswith(" !") for cell in cells):
        notes.append(words("prep_dose_mark"))
    missing: dict[str, None] = {}
    strongest: dict[str, tuple[Serving, float]] = {}
    for serving, one in facts:
        for nutrient in _SHOWN:
            missing.update(dict.fromkeys(one[nutrient].missing))
        strength = one.caffeine_mg_per_l.value
        if strength is None or menu.shop.label_rules != "eu":
            continue
        if needs_high_caffeine_words(serving.drink, strength, words.language):
            before = strongest.get(serving.drink.id)
            if before is None or before[1] < strength:
                strongest[serving.drink.id] = (serving, strength)
    for serving, strength in strongest.values():
        notes.append(
            words(
                "prep_high_caffeine",
                drink=serving.drink.name.in_language(words.language),
                mg=words.number(round(strength / 10)),
            )
        )
    if missing:
        named = {
            id_: entry.name
            for section in (menu.components, menu.batches, menu.ingredients)
            for id_, entry in section.items()
        }
        names = [named[id_].in_language(words.language) for id_ in missing if id_ in named]
        notes.append(words("prep_missing", names=", ".join(names)))
    return notes

"""Facts of servings go in; their sheet of nutrition, sugar and caffeine by the shop's rules out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from buildsheets.cup.serving import Serving
from buildsheets.menu.model import Menu
from buildsheets.prep.food_labels import LabelAmount
from buildsheets.prep.nutrition import Facts
from buildsheets.views import prep_words as text
from buildsheets.views.prep_compose import HAND_MM
from buildsheets.views.prep_views import SheetView
from buildsheets.views.prep_words import name
from buildsheets.views.words import Words

_COLUMNS = {
    "energy_kcal": "prep_energy",
    "fat_g": "prep_fat",
    "saturates_g": "prep_saturates",
    "carbohydrate_g": "prep_carbohydrate",
    "sugars_g": "prep_sugars",
    "protein_g": "prep_protein",
    "salt_g": "prep_salt",
    "caffeine_mg": "prep_caffeine",
}

_SUGAR_MARKS = {"over-10-percent": " **", "over-5-percent": " *", "": ""}


def facts_sheet(menu: Menu, facts: Sequence[tuple[Serving, Facts]], words: Words) -> SheetView:
    """Each drink and cup as made when nobody asks to change it; what is missing is named."""
    rules = menu.shop.label_rules
    columns = dict(_COLUMNS)
    if rules == "us":  # sodium takes the place of salt
        columns = {
            ("sodium_mg" if nutrient == "salt_g" else nutrient): key
            for nutrient, key in (_COLUMNS | {"salt_g": "prep_sodium"}).items()
        }
    rows = (_row(serving, one, columns, rules, words) for serving, one in facts)
    keys = ("prep_drink", "prep_size", *columns.values())
    weights = (5.4, 2.2, 4.0, 2.2, 2.6, 3.2, 2.6, 2.4, 2.2, 2.4)
    table = text.table(words, "", keys, rows, "ll" + "r" * len(columns), weights, (0, 6))
    return text.sheet(
        menu,
        words,
        "facts",
        "facts",
        words("prep_facts_title"),
        [table],
        _notes(menu, facts, words),
        HAND_MM,
        subtitle=words("prep_facts_per", rules=words(f"prep_rules_{rules}")),
        landscape=True,
    )


def _row(
    serving: Serving, facts: Facts, columns: Mapping[str, str], rules: str, words: Words
) -> tuple[str, ...]:
    label = facts.label(rules)
    cells = {nutrient: _amount(label[nutrient], nutrient, words) for nutrient in columns}
    if rules == "eu" and label["energy_kj"] is not None:
        kj = _amount(label["energy_kj"], "energy_kj", words)
        cells["energy_kcal"] = f"{kj} · {cells['energy_kcal']}"
    cells["sugars_g"] += _SUGAR_MARKS[facts.sugar_band]
    cells["caffeine_mg"] += " !" if facts.over_single_dose else ""
    return (name(words, serving.drink), name(words, serving.cup), *cells.values())


def _amount(rounded: LabelAmount | None, nutrient: str, words: Words) -> str:
    if rounded is None:
        return words("prep_unknown")
    unit = nutrient.rpartition("_")[2]
    key = "prep_grams" if unit == "g" else f"prep_{unit}"
    amount = words(key, **{unit: words.number(rounded.amount)})
    return words("prep_less_than", amount=amount) if rounded.less_than else amount


def _notes(menu: Menu, facts: Sequence[tuple[Serving, Facts]], words: Words) -> Iterator[str]:
    if any(one.sugar_band for _, one in facts):
        yield words("prep_sugar_mark")
    if any(one.over_single_dose for _, one in facts):
        yield words("prep_dose_mark")
    strongest: dict[str, tuple[float, Serving]] = {}
    for serving, one in facts:
        drink, mg_per_l = serving.drink, one.caffeine_mg_per_l.value
        by_rule = menu.shop.label_rules == "eu" and one.needs_caffeine_words(drink, words.language)
        if mg_per_l is None or not by_rule:
            continue
        if drink.id not in strongest or strongest[drink.id][0] < mg_per_l:
            strongest[drink.id] = (mg_per_l, serving)
    for mg_per_l, serving in strongest.values():
        mg = words.number(round(mg_per_l / 10))
        yield words("prep_high_caffeine", drink=name(words, serving.drink), mg=mg)
    missing = dict.fromkeys(id_ for _, one in facts for n in _COLUMNS for id_ in one[n].missing)
    if missing:
        named: dict[str, text.Named] = {**menu.components, **menu.batches, **menu.ingredients}
        entries = [named[id_] for id_ in missing if id_ in named]
        yield words("prep_missing", names=text.names(words, entries))

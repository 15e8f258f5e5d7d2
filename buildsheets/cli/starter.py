"""What an owner says of the shop goes in; the files of a new menu, or of the demo, come out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from importlib import resources
from pathlib import Path

from buildsheets.cli.measure_words import measure_box
from buildsheets.cli.spreadsheet import Imported, quoted
from buildsheets.menu.json_schema import schema_text
from buildsheets.menu.model import Menu
from buildsheets.menu.shop import LANGUAGES

TEMPLATES = Path(__file__).with_name("starter")
SEASON = timedelta(days=90)
SECTIONS = {"bases": "base", "sweeteners": "sweetener", "toppings": "topping", "ice": "ice"}
BOX = {"metric": ("91mm", "114mm", "505ml"), "us": ("91mm", "114mm", "480ml")}
"""A 16 oz cup as its box tells it: width at the rim, height, brimful; invented."""


@dataclass(frozen=True, slots=True)
class Cup:
    """A cup of the new menu; ``known`` is whether there are figures of one to start from."""

    id: str
    name: str
    known: bool = True


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the owner says of the shop: ``units`` are "metric" or "us"; ``cups`` is how they know
    the inside of a cup: by "ruler", by "pouring" or from its "box"."""

    name: str
    languages: tuple[str, ...]
    units: str
    cups: str
    currency: str
    time_zone: str


def new_menu(
    wanted: Wanted, today: date, folder: str, drinks: Imported | None = None, file: str = ""
) -> dict[str, str]:
    """The files of a menu by name: with one drink that prints, or with the drinks of a table.

    ``folder`` is where they will lie, as it is typed after a command.
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    def in_units(metric: str, us: str) -> str:
        return metric if wanted.units == "metric" else us

    def in_languages(*texts: str) -> str:
        by_language = dict(zip(LANGUAGES, texts, strict=True))
        each = {one: quoted(by_language[one]) for one in wanted.languages}
        if len(each) == 1:
            return next(iter(each.values()))
        return "{" + ", ".join(f"{language}: {text}" for language, text in each.items()) + "}"

    templates = Environment(
        loader=FileSystemLoader(TEMPLATES),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    if drinks is None:
        usual = in_languages("Medium", "Mediano", "Moyen", "Mittel")
        cups: Sequence[Cup] = [Cup("medium", usual)]
    else:
        cups = [Cup(id_, quoted(name), known=False) for id_, name in drinks.cups.items()]
    said = {
        "shop": quoted(wanted.name),
        "languages": wanted.languages,
        "currency": wanted.currency,
        "zone": wanted.time_zone,
        "menu": "" if folder == "menu" else f" {folder}",
        "begins": today,
        "ends": today + SEASON,
        "how": wanted.cups,
        "cups": cups,
        "box": measure_box(BOX[wanted.units]),
        "m": in_units,
        "t": in_languages,
    }
    if drinks is None:
        sold = templates.get_template("drinks.yaml.jinja").render(said)
    else:
        said |= {
            "file": file,
            "sections": list(SECTIONS.items()),
            "things": list(drinks.things.values()),
            "drinks": [one for one in drinks.drinks.values() if one.steps and one.cups],
        }
        sold = templates.get_template("imported.yaml.jinja").render(said)
    shop = templates.get_template("shop.yaml.jinja").render(said)
    return {"shop.yaml": shop, "drinks.yaml": sold, "menu.schema.json": schema_text(Menu)}


def demo_menu() -> Mapping[str, str]:
    """The files of the demo menu: inside an installed package, else beside it in a checkout."""
    package = Path(str(resources.files("buildsheets")))
    inside = package / "_demo"
    folder = inside if inside.is_dir() else package.parent / "menu"
    return {path.name: path.read_text("utf-8") for path in sorted(folder.glob("*.yaml"))}

"""The demo menu in; a menu of as many drinks, sizes and languages as asked for, out.

Drinks are those of the demo over and over, each round under its own name and poured to lines of its
own, so that every gauge mark, row and amount differs. Sizes are the demo's cups, some under further
names.
"""

from __future__ import annotations

import copy
import re
import shutil
from itertools import islice
from pathlib import Path
from typing import Any

import yaml

DEMO = Path(__file__).parents[2] / "menu"
LANGUAGES = ("en", "es", "fr", "de")
CUPS = {
    2: {"medium": ["medium"], "large": ["large"]},
    4: {one: [one] for one in ("small", "medium", "large", "hot")},
    8: {
        "small": ["small", "small-b", "small-c"],
        "medium": ["medium", "medium-b"],
        "large": ["large", "large-b"],
        "hot": ["hot"],
    },
}
"""The cups of a menu of so many sizes, by the demo's they are like."""
_ML = re.compile(r"(\d+) ml")


def write(folder: Path, drinks: int, sizes: int = 4, languages: int = 1) -> Path:
    """Writes the menu into a folder of its own."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    spoken, cups = LANGUAGES[:languages], CUPS[sizes]
    shop, sold = _read("shop"), _read("drinks")
    shop["shop"]["languages"] = list(spoken)
    shop["cups"] = {
        name: {**shop["cups"][like], "name": _named(shop["cups"][like]["name"], name[len(like) :])}
        for like, names in cups.items()
        for name in names
    }
    del sold["days"]
    for entry in sold["add_ons"].values():
        _spread(entry, cups)
    of_demo = {id: one for id, one in sold["drinks"].items() if set(one["cups"]) & set(cups)}
    sold["drinks"] = dict(islice(_rounds(of_demo, cups), drinks))
    others = {name: _read(name) for name in ("stock", "prep", "kitchen")}
    for name, data in {"shop": shop, "drinks": sold, **others}.items():
        text = yaml.safe_dump(_translated(data, spoken), allow_unicode=True, sort_keys=False)
        (folder / f"{name}.yaml").write_text(text, "utf-8")
    return folder


def _read(name: str) -> Any:
    """A file of the demo, every figure as it is written."""
    return yaml.load((DEMO / f"{name}.yaml").read_text("utf-8"), yaml.BaseLoader)


def _rounds(of_demo: dict[str, Any], cups: dict[str, list[str]]) -> Any:
    """Drinks without end: those of the demo, then again, poured a little lower each round."""
    number = 0
    while True:
        for id, written in of_demo.items():
            entry = copy.deepcopy(written)
            entry["cups"] = [name for cup in entry["cups"] for name in cups.get(cup, ())]
            for step in entry["build"]:
                if "fill_to" in step:
                    step["fill_to"] = _lower(step["fill_to"], 1 - 0.004 * (number % 30))
            _spread(entry, cups)
            if number:
                entry["name"] = _named(entry["name"], f" {number + 1}")
            yield (f"{id}-{number + 1}" if number else id), entry
        number += 1


def _named(name: dict[str, str], more: str) -> dict[str, str]:
    return {language: text + more for language, text in name.items()}


def _lower(written: Any, times: float) -> Any:
    if isinstance(written, dict):
        return {cup: _lower(one, times) for cup, one in written.items()}
    return _ML.sub(lambda found: f"{round(int(found[1]) * times)} ml", written)


def _spread(entry: Any, cups: dict[str, list[str]]) -> None:
    """What is written by the demo's cups, by those of this menu."""
    for key, value in list(entry.items()) if isinstance(entry, dict) else enumerate(entry):
        if isinstance(value, dict) and value and set(value) <= {"small", "medium", "large", "hot"}:
            entry[key] = {name: value[cup] for cup in value for name in cups.get(cup, ())}
        elif isinstance(value, dict | list):
            _spread(value, cups)


def _translated(data: Any, spoken: tuple[str, ...]) -> Any:
    """The demo speaks English and Spanish; its English stands for the others."""
    if isinstance(data, list):
        return [_translated(one, spoken) for one in data]
    if not isinstance(data, dict):
        return data
    if data.keys() and data.keys() <= {"en", "es"}:
        return {language: data.get(language, data["en"]) for language in spoken}
    return {key: _translated(value, spoken) for key, value in data.items()}

"""The JSON Schema for editors: every menu that is right validates, and slips do not.

Menus are read as a YAML 1.2 language server reads them (YAML 1.2.2, section 10.3, the core schema):
``yes`` is a word, a date is a word, ``true`` is a truth.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import menu_samples as m
import pytest
from jsonschema import Draft7Validator

from buildsheets.cli.starter import Wanted, new_menu
from buildsheets.findings.finding import Source
from buildsheets.menu import nodes
from buildsheets.menu.json_schema import json_schema, schema_text
from buildsheets.menu.model import Menu
from buildsheets.menu.read import read
from buildsheets.menu.reference import records_in
from buildsheets.menu.schema import Record, keys_of

SCHEMA: dict[str, Any] = json.loads(schema_text(Menu))
VALID = Draft7Validator(SCHEMA)

CORE: list[tuple[re.Pattern[str], Callable[[str], Any]]] = [
    (re.compile("null|Null|NULL|~|"), lambda text: None),
    (re.compile("true|True|TRUE"), lambda text: True),
    (re.compile("false|False|FALSE"), lambda text: False),
    (re.compile("[-+]?[0-9]+"), int),
    (re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?"), float),
]
"""The core schema's patterns, those that can stand in a menu."""


def core(node: nodes.Node) -> Any:
    """A node as YAML 1.2 reads it."""
    if isinstance(node, nodes.Mapping):
        return {pair.key.text: core(pair.value) for pair in node.pairs}
    if isinstance(node, nodes.Sequence):
        return [core(item) for item in node.items]
    if node.quoted:
        return node.text
    for like, made in CORE:
        if like.fullmatch(node.text):
            return made(node.text)
    return node.text


def errors(text: str) -> list[str]:
    root, findings = read({"menu.yaml": Source("menu.yaml", text)})
    assert root is not None, findings
    return [f"{one.json_path}: {one.message}" for one in VALID.iter_errors(core(root))]


def starters() -> dict[str, str]:
    found = {}
    for units in ("metric", "us"):
        for cups in ("ruler", "pouring", "box"):
            wanted = Wanted("Kiosk", ("en", "de"), units, cups, "EUR", "UTC")
            for name, text in new_menu(wanted, date(2027, 1, 1), "menu").items():
                found[f"{units}-{cups}-{name}"] = text
    return {name: text for name, text in found.items() if name.endswith(".yaml")}


SAMPLES = {path.name: path for path in (Path(__file__).parent.parent / "menus").glob("*.yaml")}
RIGHT = {
    "small": m.SMALL,
    **m.demo(),
    **starters(),
    **{name: path.read_text("utf-8") for name, path in SAMPLES.items()},
}


@pytest.mark.parametrize("name", RIGHT)
def test_every_right_menu_validates(name: str) -> None:
    assert errors(RIGHT[name]) == []


def test_the_schema_is_one_of_draft_7() -> None:
    Draft7Validator.check_schema(SCHEMA)


def test_ways_to_write_a_thing_that_a_menu_takes_validate() -> None:
    for old, new in [
        ("fill_to: 380 ml", "fill_to: 1 1/2 CUPS"),
        ("fill_to: 380 ml", "fill_to: 12½ fl. oz."),
        ("amount: 100 ml", "amount: .1l"),
        ("name: Busy day", "name: 7"),
        ("code: S26", "code: 26"),
        ('opens: "10:00"', "opens: 10:00"),
        ("price: 0.60", 'price: "0.60"'),
        ("cups: [medium]", "cups: medium"),
        ("add_ons: [add-pearls]", "add_ons: [add-pearls]\n    lid_may_press: Yes"),
        ("fill_to: 380 ml", "fill_to: 380 ml, body: true"),
        ("with_less_ice: same_line", "keep: line"),
        ("with_less_sweet: more_base", "make_up: base"),
        ("step: 1 pump,", "step: 1/2,"),
    ]:
        assert errors(m.swapped(m.SMALL, old, new)) == [], new


SLIPS = [
    ("drinks:", "drink:"),
    ("  cloud:\n    name: Cloud\n", "  cloud:\n    nam: Cloud\n"),
    ("  cloud:\n    name: Cloud\n", "  cloud:\n"),
    ("  cloud:\n", "  Cloud Tea:\n"),
    ("name: Cloud\n", "name:\n"),
    ("lid: film", "lid: paper"),
    ("fill_to: 380 ml", "fill_to: 380 mll"),
    ("fill_to: 380 ml", "fill_to: 380"),
    ("amount: 100 ml", "amount: 10,5 ml"),
    ("amount: 100 ml", "amount: 100 °C"),
    ("amount: 100 ml", "amount: {medium: 100}"),
    ("amount: 100 ml", "amount: [100 ml]"),
    ("price: 0.60", "price: 0,60"),
    ("price: 0.60", "price: -1"),
    ("valid_from: 2026-03-01", "valid_from: 01.03.2026"),
    ("{do: stir, for: 5 s}", "{do: stirr, for: 5 s}"),
    ("{do: stir, for: 5 s}", "{doo: stir, for: 5 s}"),
    ("{do: stir, for: 5 s}", "stir"),
    ("at_most: 2", "at_most: two"),
    ("at_most: 2", "at_most: 2.5"),
    ("    add_ons: [add-pearls]\n", "    add_ons: [add-pearls]\n    lid_may_press: maybe\n"),
    ("packing: 55 %", "packing: 0.55"),
    ("levels:\n      without", "levels:\n      Without ice"),
    ("contains: [milk]", "contains: {milk: yes}"),
]


@pytest.mark.parametrize(("old", "new"), SLIPS, ids=[new for _, new in SLIPS])
def test_a_slip_does_not_validate_and_the_check_agrees(old: str, new: str) -> None:
    text = m.swapped(m.SMALL, old, new)
    assert errors(text)
    assert m.check_texts(text).stopped


def test_every_key_is_there_with_its_own_words() -> None:
    order: list[type[Record]] = [Menu]
    for record in order:
        for key in keys_of(record).values():
            order += [one for one in records_in(key.hint) if one not in order]
    assert len(order) > 25
    for record in order:
        schema = json_schema(record)
        for key in keys_of(record).values():
            assert schema["properties"][key.key]["description"].startswith(key.doc)
            needed = key.key in schema.get("required", ())
            assert needed == (key.required and not key.was), key.key
        assert schema["additionalProperties"] is False


def test_a_new_menu_names_the_schema_that_lies_beside_it() -> None:
    made = new_menu(Wanted("Kiosk", ("en",), "metric", "box", "EUR", "UTC"), date.today(), "menu")
    assert json.loads(made.pop("menu.schema.json")) == SCHEMA
    for text in made.values():
        assert text.startswith("# yaml-language-server: $schema=./menu.schema.json\n")

"""Imports point one way between the rooms of the package."""

from __future__ import annotations

import ast
import importlib
import inspect
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent / "buildsheets"

# Which rooms a room may import, itself apart. Modules at the top may import any.
ALLOWED: dict[str, set[str]] = {
    "findings": set(),
    "menu": {"findings"},
    "cup": {"menu"},
    "prep": {"menu", "cup"},
    "rules": {"findings", "menu", "cup", "prep"},
    "views": {"findings", "menu", "cup", "prep"},
    "wall": {"views"},
    "print": {"findings", "menu", "views"},
    "sheets": {"findings", "views", "print"},
    "proof": {"findings", "views", "print", "sheets"},
    "ledger": {"findings", "menu", "views", "print"},
    "compare": {"findings", "views", "print", "ledger"},
    "learn": {"findings", "menu", "cup", "views", "wall", "print", "ledger", "compare"},
    "site": {"findings", "menu", "views", "print", "ledger", "learn", "wall"},
    "guide": {"findings", "rules", "print"},
    "preview": {
        *("findings", "menu", "cup", "prep", "rules", "views", "print", "ledger", "guide"),
        "top",  # it goes through all stages, as the command line does
    },
    "cli": {
        *("findings", "menu", "cup", "prep", "rules", "views", "print", "sheets", "proof"),
        *("ledger", "compare", "site", "preview", "wall", "guide", "learn", "top"),
    },
}


@cache
def edges() -> list[tuple[str, str, str]]:
    """(room, imported room, where) of every import of one module by another, lazy ones too."""
    found = []
    for path in sorted(ROOT.rglob("*.py")):
        parts = path.relative_to(ROOT).parts
        room = parts[0] if len(parts) > 1 else "top"
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            for name in imported(node, parts):
                target = name.split(".")
                if target[0] != "buildsheets" or target[1:] in ([], ["__version__"]):
                    continue  # the package itself holds its version and nothing else
                inside = target[1] if len(target) > 1 else ""
                to = inside if (ROOT / inside).is_dir() and inside else "top"
                found.append((room, to, f"{'/'.join(parts)}:{node.lineno} {name}"))
    return found


def imported(node: ast.AST, parts: tuple[str, ...]) -> list[str]:
    """Full names of what a statement imports; ``from x import y`` counts as both x and x.y."""
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    if not isinstance(node, ast.ImportFrom):
        return []
    base = node.module or ""
    if node.level:
        above = ["buildsheets", *parts[:-1]][: len(parts) - node.level + 1]
        base = ".".join([*above, base]).strip(".")
    if base == "buildsheets":  # the names are rooms or modules at the top
        return [f"buildsheets.{alias.name}" for alias in node.names]
    return [base]


def test_there_are_imports_to_look_at() -> None:
    found = edges()
    assert len(found) > 300
    for room in ALLOWED:
        assert any(source == room for source, _, _ in found), room
    assert any(source == "top" for source, _, _ in found)


def test_the_package_itself_imports_nothing() -> None:
    tree = ast.parse((ROOT / "__init__.py").read_text("utf-8"))
    assert not any(isinstance(node, ast.Import | ast.ImportFrom) for node in ast.walk(tree))


def test_every_room_is_known() -> None:
    rooms = {path.parent.name for path in ROOT.glob("*/__init__.py")}
    assert rooms == set(ALLOWED)


@pytest.mark.parametrize("room", sorted(ALLOWED))
def test_imports_point_one_way(room: str) -> None:
    wrong = [
        where
        for source, to, where in edges()
        if source == room and to != room and to not in ALLOWED[room]
    ]
    assert wrong == []


@pytest.mark.parametrize(
    ("code", "parts", "names"),
    [
        ("import buildsheets.menu.read", ("findings", "x.py"), ["buildsheets.menu.read"]),
        ("from buildsheets.views import views", ("findings", "x.py"), ["buildsheets.views"]),
        ("from buildsheets import api, views", ("findings", "x.py"),
         ["buildsheets.api", "buildsheets.views"]),
        ("from . import y", ("findings", "x.py"), ["buildsheets.findings"]),
        ("from ..menu import y", ("findings", "x.py"), ["buildsheets.menu"]),
        ("from .. import menu", ("findings", "x.py"), ["buildsheets.menu"]),
    ],
)  # fmt: skip
def test_every_form_of_import_is_seen(code: str, parts: tuple[str, ...], names: list[str]) -> None:
    (node,) = ast.parse(code).body
    assert imported(node, parts) == names


LAZY = {"weasyprint", "pint", "pikepdf", "pypdfium2", "babel", "qrcode", "zxingcpp", "fontTools"}
QUICK = ("findings", "menu", "cup", "prep", "rules")
"""What ``check`` needs, which must be quick to start."""


def test_what_check_needs_imports_nothing_heavy_at_its_start() -> None:
    heavy, seen = [], 0
    for path in [p for room in QUICK for p in sorted((ROOT / room).glob("*.py"))]:
        for node in ast.parse(path.read_text("utf-8")).body:  # the top level alone
            names = imported(node, path.relative_to(ROOT).parts)
            seen += len(names)
            heavy += [f"{path.name}: {n}" for n in names if n.split(".")[0] in LAZY]
    assert seen > 100
    assert heavy == []


def test_the_reader_of_cards_sees_what_is_printed_and_nothing_else() -> None:
    """It must not know how a card is made, or it would read what was meant."""
    seen = {
        name
        for path in sorted((ROOT / "wall").glob("*.py"))
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        for name in imported(node, ("wall", path.name))
        if name.split(".")[0] == "buildsheets"
    }
    assert {name for name in seen if not name.startswith("buildsheets.wall.")} == {
        "buildsheets.views.types",
        "buildsheets.views.words",
    }


MAY_MAKE = {"Choice", "FigureError"}
"""Types a view may make itself: what a figure is looked up by, and what it refuses with."""


def figured(path: Path) -> set[str]:
    """What a view calls, or could call, of the rooms that compute: functions it imports, whole
    modules, and types it makes instances of."""
    tree = ast.parse(path.read_text("utf-8"))
    names, found = set(), set()
    for node in ast.walk(tree):
        for name in imported(node, ("views", path.name)):
            if name.split(".")[1:2] not in (["cup"], ["prep"]):
                continue
            if not isinstance(node, ast.ImportFrom):
                found.add(name)
                continue
            module = importlib.import_module(name)
            for alias in node.names:
                thing = getattr(module, alias.name)
                names.add(alias.asname or alias.name)
                if inspect.ismodule(thing) or inspect.isroutine(thing):
                    found.add(alias.name)
    called = {
        node.func.id
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    }
    return found | ((called & names) - MAY_MAKE)


@pytest.mark.parametrize("path", sorted((ROOT / "views").glob("*.py")), ids=lambda path: path.name)
def test_views_import_nothing_that_computes(path: Path) -> None:
    assert figured(path) == set()


def test_what_computes_is_seen_however_it_is_imported(tmp_path: Path) -> None:
    view = tmp_path / "view.py"
    view.write_text(
        "import buildsheets.cup.cup\n"
        "from buildsheets.cup import fill\n"
        "from buildsheets.cup.scan import Scan, figure as made\n"
        "from buildsheets.cup.serving import Choice, Serving\n"
        "from buildsheets.menu.units import find_unit\n"
        "Scan(1, 2)[Choice(1.0, None)]\n",
        "utf-8",
    )
    assert figured(view) == {"buildsheets.cup.cup", "fill", "figure", "Scan"}

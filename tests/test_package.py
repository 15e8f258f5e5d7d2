"""What the package says of itself, and what it needs: read from pyproject.toml and the sources."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path
from typing import Any

import fontpkg
import pytest

import buildsheets

ROOT = Path(__file__).parent.parent
HELD: dict[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
PROJECT: dict[str, Any] = HELD["project"]


def plain(name: str) -> str:
    """A name as the index compares it (PEP 503)."""
    return re.sub("[-_.]+", "-", name).lower()


def needed(requirements: list[str]) -> dict[str, str]:
    """Each distribution's name, and all that is asked of it."""
    return {plain(re.split(r"[\[<>=; ]", one)[0]): one for one in requirements}


def imported() -> set[str]:
    """The distributions of everything imported anywhere in the package."""
    modules: set[str] = set()
    for path in sorted((ROOT / "buildsheets").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Import):
                modules |= {name.name.partition(".")[0] for name in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module:
                modules.add(node.module.partition(".")[0])
    foreign = modules - set(sys.stdlib_module_names) - {"buildsheets", "_typeshed"}  # of mypy
    held = packages_distributions()
    return {plain(held[module][0]) for module in foreign}


NEVER_IMPORTED = {
    "fontpkg-atkinson-hyperlegible",  # the font files, found by fontpkg
    "tzdata",  # what zoneinfo reads where the system has no time zones (PEP 615)
}


def test_what_is_needed_is_what_is_imported() -> None:
    asked = needed(PROJECT["dependencies"])
    extra = needed(PROJECT["optional-dependencies"]["xlsx"])
    assert len(asked) > 15
    assert imported() == (asked.keys() | extra.keys()) - NEVER_IMPORTED


@pytest.mark.parametrize("name", sorted(needed(PROJECT["dependencies"])))
def test_a_dependency_has_a_lowest_version(name: str) -> None:
    """`.ci/lower-bounds` runs the tests with these."""
    assert re.search(r"[>=]=\d", needed(PROJECT["dependencies"])[name])


def test_licence_notice_and_changes_go_with_the_package() -> None:
    assert PROJECT["license"] == "MIT"
    for name in PROJECT["license-files"]:
        assert (ROOT / name).is_file()
    licence = (ROOT / "LICENSE").read_text("utf-8")
    assert licence.startswith("MIT License\n\nCopyright (c) 2026 buildsheets contributors\n")
    assert [one["name"] for one in PROJECT["authors"]] == ["buildsheets contributors"]
    with_it = HELD["tool"]["setuptools"]["package-data"]["buildsheets"]
    assert {"py.typed", "CHANGES.md"} <= {*with_it}
    changes = (ROOT / "buildsheets" / "CHANGES.md").read_text("utf-8")
    assert re.findall("^## ([0-9.]+)", changes, flags=re.M)[0] == PROJECT["version"]
    assert (Path(buildsheets.__file__).parent / "py.typed").is_file()


def test_the_notice_says_of_the_typeface_what_its_package_says() -> None:
    held = fontpkg.families()["atkinson-hyperlegible"]
    notice = " ".join((ROOT / "buildsheets" / "NOTICE.md").read_text("utf-8").split())
    assert held.name in notice
    licence = (fontpkg.path(held.slug).parent.parent / "LICENSE").read_text("utf-8")
    owner = licence.splitlines()[0].strip().rstrip(".")
    assert owner in notice
    assert "SIL OPEN FONT LICENSE Version 1.1" in licence
    assert "SIL Open Font License 1.1" in notice


def test_every_package_of_the_sources_is_in_the_wheel() -> None:
    folders = {
        ".".join(path.parent.relative_to(ROOT).parts)
        for path in (ROOT / "buildsheets").rglob("__init__.py")
    }
    assert folders | {"buildsheets._layouts", "buildsheets._demo"} == {
        *HELD["tool"]["setuptools"]["packages"]
    }


def test_the_oldest_python_is_said_the_same_everywhere() -> None:
    oldest = PROJECT["requires-python"].removeprefix(">=")
    versions = re.findall(r":: (3\.\d+)", " ".join(PROJECT["classifiers"]))
    assert versions[0] == oldest == HELD["tool"]["mypy"]["python_version"]
    assert HELD["tool"]["ruff"]["target-version"] == f"py{oldest.replace('.', '')}"
    assert "Typing :: Typed" in PROJECT["classifiers"]

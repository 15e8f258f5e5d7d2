"""Every code a finding can carry is in the rulebook, and the fixed words cards use are in every
catalogue: the source is read for both."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from command_samples import ROOT

from buildsheets.findings.finding import Severity
from buildsheets.print.layouts import Layouts
from buildsheets.rulebook import rulebook

PACKAGE = ROOT / "buildsheets"
LANGUAGES = ("en", "es", "fr", "de")
CODE = re.compile(r"[A-Z]{3,5}\d\d")


@cache
def trees() -> list[tuple[Path, ast.Module]]:
    return [(path, ast.parse(path.read_text("utf-8"))) for path in sorted(PACKAGE.rglob("*.py"))]


def codes_in_source() -> set[str]:
    """Whole string literals that look like a code, wherever they stand."""
    return {
        node.value
        for _, tree in trees()
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and CODE.fullmatch(node.value)
    }


def test_the_source_and_the_rulebook_have_the_same_codes() -> None:
    found = codes_in_source()
    assert len(found) > 100
    assert found == set(rulebook())


def test_every_entry_can_be_read() -> None:
    names = [fault.name for fault in rulebook().values()]
    assert len(set(names)) == len(names)
    for code, fault in rulebook().items():
        assert CODE.fullmatch(code)
        assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", fault.name), fault.name
        assert isinstance(fault.severity, Severity)
        assert fault.documentation.strip().endswith((".", "}", "`", ")")), code


# words ------------------------------------------------------------------------------------------


def words_asked(tree: ast.Module) -> Iterator[tuple[str, bool]]:
    """What is asked of a catalogue by ``words(...)``: a key, or (True) a pattern of keys."""
    for node in ast.walk(tree):
        if not (isinstance(node, ast.Call) and node.args):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else (
            node.func.id if isinstance(node.func, ast.Name) else "")  # fmt: skip
        if name != "words":
            continue
        for value in alternatives(node.args[0]):
            if isinstance(value, ast.Constant) and isinstance(value.value, str):
                yield value.value, False
            elif isinstance(value, ast.JoinedStr):
                parts = [re.escape(str(p.value)) if isinstance(p, ast.Constant) else ".+"
                         for p in value.values]  # fmt: skip
                yield "".join(parts), True


def alternatives(node: ast.expr) -> Iterator[ast.expr]:
    if isinstance(node, ast.IfExp):
        yield from alternatives(node.body)
        yield from alternatives(node.orelse)
    else:
        yield node


def asked_of(source: str) -> set[tuple[str, bool]]:
    return set(words_asked(ast.parse(source)))


def test_calls_are_read_whatever_their_form() -> None:
    assert asked_of("words('a'); self.words('b', n=1); d.words(f'c_{x}_d')") == {
        ("a", False), ("b", False), ("c_.+_d", True)}  # fmt: skip
    assert asked_of("words('a' if x else 'b')") == {("a", False), ("b", False)}


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_word_asked_for_is_in_the_catalogue(language: str) -> None:
    catalogue = Layouts().words(language).catalogue
    count = 0
    for path, tree in trees():
        for key, pattern in words_asked(tree):
            if path.name == "output.py" or key in LANGUAGES:
                continue  # a catalogue is asked for there, by its language
            if pattern:
                assert any(re.fullmatch(key, known) for known in catalogue), (path, key)
            else:
                assert key in catalogue, (path, key)
            count += 1
    assert count > 100


def test_catalogues_have_the_same_keys_file_by_file() -> None:
    import yaml

    folder = ROOT / "layouts" / "words"
    english = [path for path in folder.glob("*.yaml") if path.stem.split(".")[-1] == "en"]
    assert len(english) >= 5
    for path in english:
        keys = set(yaml.safe_load(path.read_text("utf-8")))
        for language in LANGUAGES:
            other = folder / f"{path.stem.removesuffix('en')}{language}.yaml"
            assert set(yaml.safe_load(other.read_text("utf-8"))) == keys, other.name

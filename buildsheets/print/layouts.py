"""Layout names in; template, style, token and word texts out, a shop's own files first."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path, PurePosixPath
from string import Formatter
from typing import Any
from unicodedata import category

import yaml

from buildsheets.menu.files import shipped_root
from buildsheets.menu.shop import LANGUAGES
from buildsheets.views.words import Words

# The same loader in C, where PyYAML was built with it: a fifth of the time.
_Loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


class LayoutMissing(LookupError):
    """No layout file of that name, neither the shop's own nor a shipped one."""


class LayoutBroken(LayoutMissing):
    """A layout file that cannot be read: which, at which line, counted from 1, and why."""

    def __init__(self, file: Path, line: int, why: str) -> None:
        super().__init__(f"{file.name}, line {line}: {why}")
        self.file = str(file)
        self.line = line


@dataclass(frozen=True, slots=True)
class Layouts:
    """Layout files by name ("build/card.html"); ``own`` overrides the shipped file by file."""

    own: Path | None = None

    def path(self, name: str) -> Path:
        """Where a layout file is. Raises ``LayoutMissing``; a name cannot leave the folder."""
        if PurePosixPath(name).is_absolute() or ".." in PurePosixPath(name).parts:
            raise LayoutMissing(f"layout name {name!r} leaves the layout folder")
        for root in (self.own, shipped_root()):
            if root is not None and (root / name).is_file():
                return root / name
        raise LayoutMissing(f"no layout file {name!r}")

    def text(self, name: str) -> str:
        """Content of a text layout file. Raises ``LayoutMissing``."""
        return _decoded(self.path(name))

    def data(self, name: str) -> bytes:
        """Bytes of a layout file. Raises ``LayoutMissing``."""
        return self.path(name).read_bytes()

    def mapping(self, name: str) -> dict[str, Any]:
        """A YAML layout file; a shop's own entries lie over the shipped ones, key by key.

        An entry of another kind than the shipped one (a word for a number) is refused. Raises
        ``LayoutMissing``.
        """
        merged: dict[str, Any] = {}
        for root in (shipped_root(), self.own):
            if root is not None and (root / name).is_file():
                loaded = _loaded(root / name)
                _same_kinds(root / name, merged, loaded)
                merged = _over(merged, loaded)
        if not merged:
            raise LayoutMissing(f"no layout file {name!r}")
        return merged

    def words(self, language: str) -> Words:
        """The words of a language ("es-MX" falls back to "es"). Raises ``LayoutMissing``."""
        return _words(self.own, language)

    def tokens(self) -> dict[str, Any]:
        """Colours, type ratios and spacing shared by every card."""
        return self.mapping("shared/tokens.yaml")


def _decoded(path: Path) -> str:
    data = path.read_bytes()
    try:
        return data.decode("utf-8-sig")  # some editors begin a file with a mark
    except UnicodeDecodeError as wrong:
        line = data.count(b"\n", 0, wrong.start) + 1
        raise LayoutBroken(path, line, "it is not UTF-8 text") from wrong


def _loaded(path: Path) -> dict[str, Any]:
    try:
        loaded = yaml.load(_decoded(path), Loader=_Loader) or {}
    except yaml.YAMLError as broken:
        mark = getattr(broken, "problem_mark", None)
        why = getattr(broken, "problem", None) or str(broken)
        raise LayoutBroken(path, mark.line + 1 if mark else 1, f"not YAML: {why}") from broken
    if not isinstance(loaded, dict):
        raise LayoutBroken(path, 1, "it is not a mapping of names to values")
    return loaded


def _same_kinds(path: Path, shipped: Mapping[str, Any], own: Mapping[str, Any]) -> None:
    """Refuse values the layouts could not use in the place of the shipped ones."""
    for key, value in own.items():
        under = shipped.get(key)
        if isinstance(under, dict | str) and isinstance(value, dict):
            _same_kinds(
                path, under if isinstance(under, dict) else dict.fromkeys(value, under), value
            )
            continue
        if fault := _more_than_names(value) if isinstance(value, str) else "":
            raise LayoutBroken(path, _line_of(path, key), f"{key} {fault}")
        number = type(value) in (int, float) and math.isfinite(value)
        plural = isinstance(under, dict) and "other" in under
        if isinstance(under, int | float) and not number:
            fault = f"{key} is a number, not {value!r}"
        elif isinstance(under, str) and not isinstance(value, str):
            fault = f"{key} is a text, not {value!r}"
        elif isinstance(under, str) and isinstance(value, str) and _blank(value) > _blank(under):
            fault = f"{key} is blank, and would take its words off the cards"
        elif isinstance(under, dict) and under and not (plural and isinstance(value, str)):
            fault = f"{key} has entries of its own; {value!r} has none"
        elif isinstance(under, list) and not isinstance(value, list):
            fault = f"{key} is a list, not {value!r}"
        else:
            continue
        raise LayoutBroken(path, _line_of(path, key), fault)


def _more_than_names(text: str) -> str:
    """What a text asks for beyond names in braces ("{count}"): a width would have no bound."""
    try:
        plain = all(
            name is None or (name.isidentifier() and not (form or turned))
            for _, name, form, turned in Formatter().parse(text)
        )
    except ValueError as wrong:
        return f"cannot be filled in: {wrong}"
    return "" if plain else "holds more in its braces than a name"


def _blank(text: str) -> bool:
    """Whether nobody could see it: spaces, and marks that print nothing (Unicode Z and C)."""
    return all(category(character)[0] in "ZC" for character in text)


def _line_of(path: Path, key: str) -> int:
    lines = _decoded(path).splitlines()
    return next((n for n, line in enumerate(lines, 1) if line.strip().startswith(f"{key}:")), 1)


def _over(below: Mapping[str, Any], above: Mapping[str, Any]) -> dict[str, Any]:
    merged = dict(below)
    for key, value in above.items():
        under = merged.get(key)
        nested = isinstance(under, dict) and isinstance(value, dict)
        merged[key] = _over(under, value) if nested else value  # type: ignore[arg-type]
    return merged


@lru_cache(maxsize=32)
def _words(own: Path | None, language: str) -> Words:
    """The main list of a language over its further lists (``words/<topic>.<language>.yaml``).

    What a language of the shop's own has no word for is said in the nearest shipped one.
    """
    layouts = Layouts(own)
    plain = language.split("-")[0]
    for name in (language, plain):
        try:
            main = layouts.mapping(f"words/{name}.yaml")
        except LayoutBroken:
            raise
        except LayoutMissing:
            continue
        shipped: Mapping[str, Any] = {}
        if own is not None:
            shipped = _words(None, plain if plain in LANGUAGES else LANGUAGES[0]).catalogue
        further: dict[str, Any] = {}
        for root in (shipped_root(), own):
            for file in sorted((root / "words").glob(f"*.{name}.yaml")) if root else ():
                further |= layouts.mapping(f"words/{file.name}")
        if own is not None:  # a word may stand in another list than the shipped one
            for file in sorted((own / "words").glob(f"*{name}.yaml")):
                _same_kinds(file, shipped, _loaded(file))
        under = shipped if name not in LANGUAGES else {}
        return Words(language, {**under, **further, **main})
    raise LayoutMissing(f"no word list for language {language!r}")


def untranslated(layouts: Layouts, language: str) -> list[str]:
    """The words that a language of the shop's own borrows from a shipped one, in their order."""
    shipped = layouts.words(LANGUAGES[0]).catalogue if language not in LANGUAGES else {}
    own: set[str] = set()
    for file in (layouts.own / "words").glob(f"*{language}.yaml") if layouts.own else ():
        own |= _loaded(file).keys()
    return [key for key in shipped if key not in own]

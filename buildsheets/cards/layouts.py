"""Layout names in; template, style, token and word texts out, a shop's own files first."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from pathlib import Path, PurePosixPath
from typing import Any

import yaml

from buildsheets.cards.words import Words

_PACKAGED = "_layouts"  # where the wheel keeps the shipped layouts, inside the package


class LayoutMissing(LookupError):
    """No layout file of that name, neither the shop's own nor a shipped one."""


def shipped_root() -> Path:
    """The shipped layouts: inside an installed package, else beside it in a checkout."""
    inside = Path(str(resources.files("buildsheets"))) / _PACKAGED
    return inside if inside.is_dir() else inside.parent.parent / "layouts"


@dataclass(frozen=True, slots=True)
class Layouts:
    """Layout files by name ("build/card.html"); ``own`` overrides the shipped file by file."""

    own: Path | None = None

    def text(self, name: str) -> str:
        """Content of a text layout file. Raises ``LayoutMissing``."""
        return self.data(name).decode("utf-8")

    def data(self, name: str) -> bytes:
        """Bytes of a layout file. Raises ``LayoutMissing``; a name cannot leave the folder."""
        if PurePosixPath(name).is_absolute() or ".." in PurePosixPath(name).parts:
            raise LayoutMissing(f"layout name {name!r} leaves the layout folder")
        for root in (self.own, shipped_root()):
            if root is not None and (root / name).is_file():
                return (root / name).read_bytes()
        raise LayoutMissing(f"no layout file {name!r}")

    def mapping(self, name: str) -> dict[str, Any]:
        """A YAML layout file; a shop's own entries lie over the shipped ones, key by key."""
        merged: dict[str, Any] = {}
        for root in (shipped_root(), self.own):
            if root is not None and (root / name).is_file():
                try:
                    loaded = yaml.safe_load((root / name).read_text("utf-8")) or {}
                except yaml.YAMLError as broken:
                    raise LayoutMissing(f"{root / name} is not YAML: {broken}") from broken
                if not isinstance(loaded, dict):
                    raise LayoutMissing(f"{root / name} is not a mapping of names to values")
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


def _over(below: Mapping[str, Any], above: Mapping[str, Any]) -> dict[str, Any]:
    merged = dict(below)
    for key, value in above.items():
        under = merged.get(key)
        nested = isinstance(under, dict) and isinstance(value, dict)
        merged[key] = _over(under, value) if nested else value  # type: ignore[arg-type]
    return merged


@lru_cache(maxsize=32)
def _words(own: Path | None, language: str) -> Words:
    """The main list of a language over its further lists (``words/<topic>.<language>.yaml``)."""
    layouts = Layouts(own)
    for name in (language, language.split("-")[0]):
        try:
            main = layouts.mapping(f"words/{name}.yaml")
        except LayoutMissing:
            continue
        further: dict[str, Any] = {}
        for root in (shipped_root(), own):
            for file in sorted((root / "words").glob(f"*.{name}.yaml")) if root else ():
                further |= layouts.mapping(f"words/{file.name}")
        return Words(language, further | main)
    raise LayoutMissing(f"no word list for language {language!r}")

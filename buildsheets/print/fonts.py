"""Font package in; its faces, text widths, missing glyphs and a private font configuration out."""

from __future__ import annotations

import hashlib
import os
import sys
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape

import fontpkg

from buildsheets.print.files import user_number

if TYPE_CHECKING:
    from fontTools.ttLib import TTFont

MM_PER_PT = 25.4 / 72
FAMILY_SLUG = "atkinson-hyperlegible"
# Families used for letters the main one lacks, if the shop has installed their font packages.
EXTRA_PREFIX = "noto-sans"
# Characters that carry no ink and need no glyph of their own; the last ones turn the direction.
_INKLESS = frozenset("\n\t\r\u00ad\u200b\u2060\u061c\u200e\u200f\u2066\u2067\u2068\u2069")


@dataclass(frozen=True, slots=True, eq=False)
class Face:
    """One font: its advances in font units by code point, and its vertical measures."""

    family: str
    path: Path
    bold: bool
    units_per_em: int
    cap_height_em: float
    advances: Mapping[int, int]


@lru_cache(maxsize=64)
def read_face(family: str, path: Path, bold: bool, number: int = 0) -> Face:
    """The font of a file, of a collection the one of that ``number``."""
    from fontTools.ttLib import TTFont

    with TTFont(path, lazy=True, fontNumber=number) as font:
        em = font["head"].unitsPerEm
        widths = font["hmtx"]
        return Face(
            family=family,
            path=path,
            bold=bold,
            units_per_em=em,
            cap_height_em=_cap_height(font) / em,
            advances={code: widths[name][0] for code, name in font.getBestCmap().items()},
        )


def _cap_height(font: TTFont) -> float:
    """Height of capitals in font units: as the font says, or of its H in fonts too old to say."""
    said = getattr(font["OS/2"], "sCapHeight", 0)
    if said:
        return float(said)
    from fontTools.pens.boundsPen import BoundsPen

    glyphs = font.getGlyphSet()
    pen = BoundsPen(glyphs)
    glyphs[font.getBestCmap()[ord("H")]].draw(pen)
    return float(pen.bounds[3])


def _slugs() -> tuple[str, ...]:
    installed = fontpkg.families()
    return (FAMILY_SLUG, *sorted(s for s in installed if s.startswith(EXTRA_PREFIX)))


@lru_cache(maxsize=1)
def faces() -> tuple[Face, ...]:
    """The upright regular and bold faces allowed on a card, the main family first."""
    return tuple(read_face(*file) for file in _files())


def _files() -> Iterator[tuple[str, Path, bool]]:
    """The font file of each face: its family, its path, and whether it is bold."""
    for slug in _slugs():
        name = fontpkg.families()[slug].name
        for bold in (False, True):
            path = fontpkg.path(slug, weight=700 if bold else 400, nearest=slug != FAMILY_SLUG)
            yield name, Path(path), bold


def families(among: tuple[Face, ...] | None = None) -> tuple[str, ...]:
    """Names of the allowed families in order of preference, for the style sheet."""
    return tuple(dict.fromkeys(face.family for face in among or faces()))


def main_face(bold: bool = False) -> Face:
    """The face every measure is taken from."""
    return faces()[1 if bold else 0]


@lru_cache(maxsize=4096)
def _advance_em(text: str, bold: bool, among: tuple[Face, ...]) -> float:
    weights = [face for face in among if face.bold == bold]
    total = 0.0
    for char in text:
        code = ord(char)
        for face in weights:
            if code in face.advances:
                total += face.advances[code] / face.units_per_em
                break
        else:
            total += 0.0 if char in _INKLESS else 1.0
    return total


def advance_mm(
    text: str, size_pt: float, bold: bool = False, among: tuple[Face, ...] | None = None
) -> float:
    """Width of ``text`` on one line in mm: the sum of the font's advances, kerning ignored.

    A character no face has counts one em, so that it is never underestimated.
    """
    return _advance_em(text, bold, among or faces()) * size_pt * MM_PER_PT


def missing_glyphs(text: str, among: tuple[Face, ...] | None = None) -> list[str]:
    """Characters of ``text`` that no allowed face can draw, each once, in order of appearance."""
    return list(_missing(text, among or faces()))


@lru_cache(maxsize=4096)
def _missing(text: str, among: tuple[Face, ...]) -> tuple[str, ...]:
    for bold in (False, True):
        have = [face.advances for face in among if face.bold == bold]
        lacking = tuple(
            char
            for char in dict.fromkeys(text)
            if char not in _INKLESS and not any(ord(char) in codes for codes in have)
        )
        if lacking:
            return lacking
    return ()


def digest() -> str:
    """A digest of the font files, part of the key under which finished cards are kept."""
    total = hashlib.sha256()
    for _, path, _ in _files():
        total.update(path.read_bytes())
    return total.hexdigest()[:16]


def use_private_configuration() -> None:
    """Make the text engine see our font files and no others.

    Has to run before the PDF engine is first imported: the font library reads its configuration
    once. Calling it again does nothing.
    """
    if "BUILDSHEETS_FONTS" in os.environ and Path(os.environ["FONTCONFIG_FILE"]).is_file():
        return
    if "weasyprint" in sys.modules:
        raise RuntimeError("the PDF engine was imported before the font configuration was set")
    folder = Path(tempfile.gettempdir()) / f"buildsheets-fonts-{user_number()}-{digest()}"
    folder.mkdir(mode=0o700, exist_ok=True)
    folders = "".join(
        f"<dir>{escape(str(path))}</dir>"
        for path in dict.fromkeys(face.path.parent for face in faces())
    )
    text = (
        '<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd">\n'
        f"<fontconfig>{folders}<cachedir>{escape(str(folder / 'cache'))}</cachedir></fontconfig>\n"
    )
    target = folder / "fonts.conf"
    if not target.is_file() or target.read_text("utf-8") != text:
        partial = folder / f"fonts.conf.{os.getpid()}"
        partial.write_text(text, "utf-8")
        partial.replace(target)
    os.environ["FONTCONFIG_FILE"] = str(target)
    os.environ["BUILDSHEETS_FONTS"] = digest()

"""A stretch of text and its weight in; the numbered, kerned glyphs of our own face out.

Only for letters that stand side by side, one glyph a character: :func:`plainly_set` says whether a
text is of that kind; any other is left to the layout engine's shaping.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any

from buildsheets.cards.fonts import main_face

# HarfBuzz makes fractions of the digits around this by itself.
_FRACTION_SLASH = "\u2044"
# Languages the face has letter forms of its own for (its table of localised forms): Romanian.
_OWN_FORMS = ("ro", "mo")


@dataclass(frozen=True, slots=True)
class Glyphs:
    """Glyphs as the operand of TJ (ISO 32000-1, 9.4.3), their width in em, and their numbers."""

    shown: str
    width_em: float
    numbers: frozenset[int]


@dataclass(frozen=True, slots=True)
class _Outlines:
    """What setting needs of a face: glyph and advance of each code point, kerning of each pair."""

    glyphs: Mapping[int, int]
    advances: Mapping[int, int]
    units_per_em: int
    kern: Callable[[int, int], int]


@lru_cache(maxsize=4096)
def plainly_set(text: str, language: str) -> bool:
    """Whether the main face has every character and none joins with or stands over another."""
    if language.partition("-")[0] in _OWN_FORMS:
        return False
    have = (main_face().advances, main_face(True).advances)
    return all(
        char == "\t"
        or (
            ord(char) in have[0]
            and ord(char) in have[1]
            and char != _FRACTION_SLASH
            and unicodedata.category(char)[0] not in "MC"
        )
        for char in text
    )


@lru_cache(maxsize=8192)
def glyphs(text: str, bold: bool, kerned: bool = True) -> Glyphs:
    """Set a text without tabs, all of whose characters the main face has."""
    face = _outlines(bold)
    numbers = [face.glyphs[ord(char)] for char in text]
    units = sum(face.advances[ord(char)] for char in text)
    parts: list[str] = []
    for place, number in enumerate(numbers):
        closer = face.kern(numbers[place - 1], number) if kerned and place else 0
        if closer:
            parts.append(f">{-closer * 1000 / face.units_per_em:g}<")
            units += closer
        parts.append(f"{number:04x}")
    shown = f"[<{''.join(parts)}>]"
    return Glyphs(shown, units / face.units_per_em, frozenset(numbers))


@lru_cache(maxsize=2)
def _outlines(bold: bool) -> _Outlines:
    from fontTools.ttLib import TTFont

    face = main_face(bold)
    with TTFont(face.path, lazy=True) as font:
        numbers = {code: font.getGlyphID(name) for code, name in font.getBestCmap().items()}
        kern = _kerning(font)
    return _Outlines(numbers, face.advances, face.units_per_em, kern)


def _kerning(font: Any) -> Callable[[int, int], int]:
    """Pairs' distances by the face's ``kern`` feature (OpenType, GPOS lookup type 2).

    Raises ``ValueError`` for a face that kerns in a way not foreseen here.
    """
    if "GPOS" not in font:
        return lambda first, second: 0
    table = font["GPOS"].table
    wanted = {
        number
        for record in table.FeatureList.FeatureRecord
        if record.FeatureTag == "kern"
        for number in record.Feature.LookupListIndex
    }
    lookups = [table.LookupList.Lookup[number] for number in sorted(wanted)]
    tables = [sub for lookup in lookups for sub in lookup.SubTable]
    if len(lookups) > 1 or any(sub.LookupType != 2 or sub.ValueFormat2 for sub in tables):
        raise ValueError("the face kerns by more than one list of pairs")
    pairs = [_pairs(sub) for sub in tables]
    names = font.getGlyphOrder()

    @cache
    def kern(first: int, second: int) -> int:
        found = (pair(names[first], names[second]) for pair in pairs)
        return next((units for units in found if units is not None), 0)

    return kern


def _pairs(table: Any) -> Callable[[str, str], int | None]:
    """One subtable: how far a pair is moved together, or ``None`` if it says nothing of it."""
    covered = table.Coverage.glyphs
    if table.Format == 1:
        listed = {
            (first, record.SecondGlyph): _units(record.Value1)
            for first, pairs in zip(covered, table.PairSet, strict=True)
            for record in pairs.PairValueRecord
        }
        return lambda first, second: listed.get((first, second))
    firsts, seconds = table.ClassDef1.classDefs, table.ClassDef2.classDefs
    rows, known = table.Class1Record, frozenset(covered)

    def by_class(first: str, second: str) -> int | None:
        if first not in known:
            return None
        return _units(rows[firsts.get(first, 0)].Class2Record[seconds.get(second, 0)].Value1)

    return by_class


def _units(value: Any) -> int:
    return int(getattr(value, "XAdvance", 0) or 0)

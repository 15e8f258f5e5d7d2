"""An opened PDF in; the fonts its pages set text in, and characters without a glyph, out."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from fontTools.ttLib import TTFont, TTLibError


@dataclass(frozen=True, slots=True, order=True)
class UsedFont:
    """A font by its name without the subset's prefix, and whether the file has its outlines."""

    name: str
    embedded: bool


@dataclass(frozen=True, slots=True)
class Lettering:
    """Fonts that text is set in, and how many characters each page (from 0) has without a glyph.

    A missing glyph is number 0, or one the font's outlines do not go up to. Only fonts with
    codes of two bytes can tell, as all of ours are.
    """

    fonts: tuple[UsedFont, ...]
    without_glyph: dict[int, int]


@dataclass(frozen=True, slots=True)
class _Font:
    used: UsedFont
    glyphs: int | None  # how many the outlines have; None: one-byte codes, which do not tell
    numbers: Mapping[int, int]  # glyph numbers of codes, where they differ

    def lacks(self, code: int) -> bool:
        """Whether nothing but the box for missing glyphs can be drawn."""
        return self.glyphs is not None and not 0 < self.numbers.get(code, code) < self.glyphs


def lettering(pdf: Any) -> Lettering:
    """Read every page's text operators, those of the forms it places included."""
    known: dict[tuple[int, int], _Font] = {}
    read: dict[tuple[int, int], tuple[frozenset[UsedFont], int]] = {}
    fonts: set[UsedFont] = set()
    without: dict[int, int] = {}
    for number, page in enumerate(pdf.pages):
        total = 0
        for part in _parts(page.obj, set()):
            if part.objgen not in read:
                read[part.objgen] = _read(part, known)
            used, missing = read[part.objgen]
            fonts |= used
            total += missing
        if total:
            without[number] = total
    return Lettering(tuple(sorted(fonts)), without)


def _parts(obj: Any, seen: set[tuple[int, int]]) -> Iterator[Any]:
    """A page and every form and pattern it places, each once."""
    yield obj
    held = obj.get("/Resources", {})
    for kind in ("/XObject", "/Pattern"):
        forms = held.get(kind, {})
        for name in sorted(forms.keys()):
            form = forms[name]
            is_drawn = form.get("/Subtype") == "/Form" or form.get("/PatternType") == 1
            if is_drawn and form.objgen not in seen:
                seen.add(form.objgen)
                yield from _parts(form, seen)


def _read(part: Any, known: dict[tuple[int, int], _Font]) -> tuple[frozenset[UsedFont], int]:
    """Fonts that a page or form shows text in, and characters there without a glyph."""
    import pikepdf

    fonts = part.get("/Resources", {}).get("/Font", {})
    used: set[UsedFont] = set()
    missing = 0
    font: _Font | None = None
    for instruction in pikepdf.parse_content_stream(part, "Tf Tj TJ ' \""):
        operator, operands = str(instruction.operator), instruction.operands
        if operator == "Tf":
            held = fonts.get(str(operands[0]))
            font = _font(held, str(operands[0]), known) if held is not None else None
        elif font is not None and operands:
            used.add(font.used)
            last: Any = operands[-1]
            shown = [bytes(one) for one in (list(last) if operator == "TJ" else [last])
                     if isinstance(one, pikepdf.String)]  # fmt: skip
            missing += sum(
                font.lacks(int.from_bytes(text[at : at + 2], "big"))
                for text in shown
                for at in range(0, len(text) - 1, 2)
            )
    return frozenset(used), missing


def _font(held: Any, key: str, known: dict[tuple[int, int], _Font]) -> _Font:
    if held.objgen == (0, 0) or held.objgen not in known:
        known[held.objgen] = _described(held, key)
    return known[held.objgen]


_CODE = re.compile(rb"<([0-9a-fA-F]{4})>\s+(\d+)\s")


def _described(font: Any, key: str) -> _Font:
    import pikepdf

    name = str(font.get("/BaseFont", font.get("/Name", key))).removeprefix("/")
    prefix, plus, rest = name.partition("+")
    if plus and len(prefix) == 6:
        name = rest
    if font.get("/Subtype") == "/Type3":
        return _Font(UsedFont(name, True), None, {})  # its glyphs are drawings in the file
    inner = font.DescendantFonts[0] if "/DescendantFonts" in font else font
    descriptor = inner.get("/FontDescriptor", {})
    embedded = any(file in descriptor for file in ("/FontFile", "/FontFile2", "/FontFile3"))
    encoding = font.get("/Encoding", "")
    numbers: dict[int, int] = {}
    if isinstance(encoding, pikepdf.Stream):  # a map of its own, as text without a glyph needs
        for code, number in _CODE.findall(encoding.read_bytes()):
            numbers[int(code, 16)] = int(number)
    glyphs = 0x10000 if numbers or str(encoding).startswith("/Identity") else None
    if glyphs and "/FontFile2" in descriptor:
        try:
            with TTFont(io.BytesIO(descriptor.FontFile2.read_bytes()), lazy=True) as outlines:
                glyphs = outlines["maxp"].numGlyphs
        except TTLibError:
            embedded = False  # what cannot be read cannot be drawn
    return _Font(UsedFont(name, embedded), glyphs, numbers)

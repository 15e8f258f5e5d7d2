"""An embedded font of a finished page in; the glyphs it uses, and one font for all pages, out.

The engine embeds a cut-down font in every document. Its cuts keep each glyph's number, so pages of
many documents can share one font per face, cut from the face itself. That the numbers agree is not
promised anywhere: :func:`match` compares every used glyph's width with the face's, and a font that
does not agree stays as it is.
"""

from __future__ import annotations

import io
import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

PER_EM = 1000  # ISO 32000-1, 9.2.4: glyph widths are in thousandths of an em
_FIXED_PITCH = 1  # ISO 32000-1, table 123, bit 1
# What a font in a PDF does not need (ISO 32000-1, 9.9: glyf, head, hhea, hmtx, loca, maxp do).
_DROPPED = ["name", "cmap", "post", "OS/2", "GDEF", "GSUB", "GPOS", "kern", "DSIG", "gasp", "meta"]


@dataclass(frozen=True, slots=True)
class FaceTable:
    """A face's advance widths in thousandths of an em by glyph, and the character of each glyph."""

    name: str
    path: Path
    widths: tuple[int, ...]
    characters: Mapping[int, str]


@lru_cache(maxsize=1)
def tables() -> Mapping[str, FaceTable]:
    """Every face allowed on a card, by the name the engine embeds it under."""
    from buildsheets.print.fonts import faces

    named = {}
    for face in faces():
        name = face.family.replace(" ", "-") + ("-Bold" if face.bold else "")
        named[name] = _table(name, face.path)
    return named


def _table(name: str, path: Path) -> FaceTable:
    """Read a face. Where a glyph serves several characters, the first in Unicode stands for it."""
    from fontTools.ttLib import TTFont

    with TTFont(path, lazy=True) as font:
        em = font["head"].unitsPerEm
        metrics, order = font["hmtx"], font.getGlyphOrder()
        characters: dict[int, str] = {}
        for code, glyph in sorted(font.getBestCmap().items()):
            characters.setdefault(font.getGlyphID(glyph), chr(code))
        widths = tuple(round(metrics[glyph][0] * PER_EM / em) for glyph in order)
        return FaceTable(name, path, widths, characters)


def match(font: Any, glyphs: Collection[int]) -> FaceTable | None:
    """The face an embedded font was cut from, if each of ``glyphs`` is as wide as in the face."""
    inner = font.DescendantFonts[0]
    if font.Encoding != "/Identity-H" or inner.get("/CIDToGIDMap") != "/Identity":
        return None
    face = tables().get(str(font.BaseFont).partition("+")[2])
    if face is None or "/FontFile2" not in inner.FontDescriptor:
        return None
    widths, own = _widths(inner.W), face.widths
    agree = (
        gid < len(own) and gid in widths and abs(widths[gid] - own[gid]) <= 1 for gid in glyphs
    )
    return face if all(agree) else None


def _widths(array: Any) -> dict[int, float]:
    widths: dict[int, float] = {}
    items = list(array)
    for start, run in zip(items[::2], items[1::2], strict=True):
        for offset, width in enumerate(run):
            widths[int(start) + offset] = float(width)
    return widths


_MAPPED = re.compile(rb"<([0-9a-f]{4})> <([0-9a-f]+)>")


def unmapped(font: Any, face: FaceTable, glyphs: Collection[int]) -> dict[int, str]:
    """The text behind those glyphs that stand for no single character: ligatures and the like."""
    rest = {gid for gid in glyphs if gid not in face.characters}
    if not rest or "/ToUnicode" not in font:
        return {}
    return {
        int(gid, 16): bytes.fromhex(text.decode()).decode("utf-16-be", "ignore")
        for gid, text in _MAPPED.findall(font.ToUnicode.read_bytes())
        if int(gid, 16) in rest
    }


def cut(path: Path, glyphs: Collection[int]) -> bytes:
    """The face with these glyphs only, each under its own number; the same bytes every time."""
    from fontTools.subset import Options, Subsetter
    from fontTools.ttLib import TTFont

    options = Options(
        retain_gids=True, hinting=False, notdef_outline=True, drop_tables=[],
        recalc_timestamp=False, glyph_names=False,
    )  # fmt: skip
    with TTFont(path, recalcTimestamp=False) as font:
        for tag in set(_DROPPED) & set(font.keys()):
            del font[tag]  # unread; the subsetter would read them first, most of its time
        subsetter = Subsetter(options)
        subsetter.populate(gids=sorted({0, *glyphs}))
        subsetter.subset(font)
        out = io.BytesIO()
        font.save(out, reorderTables=False)
        return out.getvalue()


def to_unicode(characters: Mapping[int, str]) -> bytes:
    """The CMap from glyphs to text (ISO 32000-1, 9.10.3), by which a reader copies and searches."""
    lines = [
        f"<{gid:04x}> <{text.encode('utf-16-be').hex()}>"
        for gid, text in sorted(characters.items())
    ]
    blocks = [lines[start : start + 100] for start in range(0, len(lines), 100)]
    mapped = "\n".join(
        f"{len(block)} beginbfchar\n" + "\n".join(block) + "\nendbfchar" for block in blocks
    )
    return (
        "/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n"
        "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def\n"
        "/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n"
        "1 begincodespacerange\n<0000> <ffff>\nendcodespacerange\n"
        f"{mapped}\nendcmap\nCMapName currentdict /CMap defineresource pop\nend\nend"
    ).encode()


def width_runs(widths: Mapping[int, int]) -> list[Any]:
    """Widths as the W array of ISO 32000-1, 9.7.4.3: a first glyph, then the widths from it on."""
    runs: list[Any] = []
    last = -2
    for gid in sorted(widths):
        if gid != last + 1:
            runs += [gid, []]
        runs[-1].append(widths[gid])
        last = gid
    return runs


def fill(
    pdf: Any, stub: Any, face: FaceTable, glyphs: Collection[int], extra: Mapping[int, str],
    program: bytes,
) -> None:  # fmt: skip
    """Complete a font of ``pdf`` that lacks widths, texts and program."""
    import pikepdf

    widths = {gid: face.widths[gid] for gid in glyphs}
    texts = {gid: face.characters.get(gid) or extra.get(gid, "") for gid in glyphs}
    inner = stub.DescendantFonts[0]
    descriptor = inner.FontDescriptor
    descriptor.FontFile2 = pdf.make_stream(program, Length1=len(program))
    descriptor.FontBBox = pikepdf.Array(
        [0, descriptor.Descent, max(widths.values(), default=0), descriptor.Ascent]
    )
    flags = int(descriptor.Flags) & ~_FIXED_PITCH
    same = len(widths) > 1 and len(set(widths.values())) == 1
    descriptor.Flags = flags | _FIXED_PITCH if same else flags
    inner.W = pikepdf.Array(
        [pikepdf.Array(run) if isinstance(run, list) else run for run in width_runs(widths)]
    )
    stub.ToUnicode = pdf.make_stream(to_unicode({g: t for g, t in texts.items() if t}))

"""An opened PDF in; characters that its fonts draw a box for, out."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

_NUMBER = re.compile(rb"<([0-9a-fA-F]{4})>\s+0\s")
_LETTER = re.compile(rb"<([0-9a-fA-F]{4})>\s+<([0-9a-fA-F]+)>")


def without_glyph(pdf: Any) -> Iterator[tuple[str, str]]:
    """Fonts with the characters that they map to glyph 0, the box.

    Fonts whose codes are glyph numbers need no map and have none of those.
    """
    import pikepdf

    for font in pdf.objects:
        if not isinstance(font, pikepdf.Dictionary) or font.get("/Type") != "/Font":
            continue
        encoding, unicode = font.get("/Encoding"), font.get("/ToUnicode")
        if isinstance(encoding, pikepdf.Stream) and (
            codes := _NUMBER.findall(encoding.read_bytes())
        ):
            letters = dict(_LETTER.findall(unicode.read_bytes())) if unicode is not None else {}
            named = [bytes.fromhex(letters.get(code, b"fffd").decode()) for code in codes]
            lacking = " ".join(held.decode("utf-16-be", "replace") for held in named)
            yield str(font.get("/BaseFont", "")).removeprefix("/"), lacking

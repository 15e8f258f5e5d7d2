"""Layouts in; the font files their cards are set in, and the style rules that name them, out.

A shop has its own typeface with ``typeface`` in its ``layouts/shared/tokens.yaml``: a family name
and two font files of the layout folder. Its licence is the shop's affair.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from fontTools.ttLib import TTLibError

from buildsheets.print.fonts import Face, faces, read_face
from buildsheets.print.layouts import LayoutBroken, LayoutMissing, Layouts

TOKENS = "shared/tokens.yaml"
_FILES = ("regular", "bold")


@lru_cache(maxsize=8)
def faces_of(layouts: Layouts) -> tuple[Face, ...]:
    """The faces cards may be set in: the shop's own or the shipped ones, then the further font
    packages it has installed. Raises ``LayoutMissing``."""
    told = layouts.tokens()["typeface"]
    if not told:
        return faces()
    if not isinstance(told, dict) or set(told) != {"family", *_FILES}:
        raise _broken(layouts, "it names a family, a regular and a bold font file")
    own = []
    for weight in _FILES:
        try:
            path = layouts.path(str(told[weight]))
            own.append(read_face(str(told["family"]), path, weight == "bold"))
        except LayoutMissing as missing:
            raise _broken(layouts, str(missing)) from missing
        except (TTLibError, KeyError) as wrong:
            raise _broken(layouts, f"{told[weight]} is not a font: {wrong}") from wrong
    return (*own, *faces()[2:])


def _broken(layouts: Layouts, why: str) -> LayoutBroken:
    path = layouts.path(TOKENS)
    lines = enumerate(path.read_text("utf-8").splitlines(), 1)
    line = next((number for number, text in lines if text.startswith("typeface")), 1)
    return LayoutBroken(path, line, f"typeface: {why}")


def font_rules(layouts: Layouts) -> str:
    """Style rules by which the engine finds the shop's own font files; "" where it has none."""
    told: dict[str, Any] = layouts.tokens()["typeface"]
    if not told:
        return ""
    family = faces_of(layouts)[0].family.replace('"', "")
    return "".join(
        f'@font-face {{ font-family: "{family}"; font-weight: {weight}; '
        f'src: url("layout:/{told[file]}"); }}\n'
        for file, weight in zip(_FILES, (400, 700), strict=True)
    )

"""The name of a font family in; its regular and bold font, as this machine has them installed, out.

The folders are those in which systems keep fonts: the XDG Base Directory Specification's on Linux.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from functools import lru_cache
from itertools import takewhile
from pathlib import Path

from fontTools.ttLib import TTCollection, TTFont, TTLibError

from buildsheets.print.fonts import Face, read_face

_SUFFIXES = {".ttf", ".otf", ".ttc", ".otc"}
REGULAR, BOLD = 400, 700  # usWeightClass (OpenType, OS/2)
_LEAST_BOLD = 600
_UPRIGHT_WIDTH = 5  # usWidthClass: neither condensed nor expanded
_ITALIC = 1  # fsSelection, bit 0


@lru_cache(maxsize=32)
def installed(family: str) -> tuple[Face, ...]:
    """The upright regular face of a family and its bold one, the regular twice where there is no
    bold; empty where the machine has no such family."""
    regular = bold = None
    for path in _likeliest_first(family):
        for number, weight in _of_family(path, family):
            found = (path, number, weight)
            if regular is None or abs(weight - REGULAR) < abs(regular[2] - REGULAR):
                regular = found
            if weight >= _LEAST_BOLD and (bold is None or abs(weight - BOLD) < abs(bold[2] - BOLD)):
                bold = found
        if regular and bold and (regular[2], bold[2]) == (REGULAR, BOLD):
            break
    if regular is None:
        return ()
    heavy = bold or regular
    return (
        read_face(family, regular[0], False, regular[1]),
        read_face(family, heavy[0], True, heavy[1]),
    )


def _folders() -> Iterator[Path]:
    home = Path(os.path.expanduser("~"))
    if sys.platform == "darwin":
        yield from (home / "Library/Fonts", Path("/Library/Fonts"), Path("/System/Library/Fonts"))
        return
    if sys.platform == "win32":
        yield Path(os.environ.get("LOCALAPPDATA", home)) / "Microsoft/Windows/Fonts"
        yield Path(os.environ.get("WINDIR", "C:/Windows")) / "Fonts"
        return
    yield Path(os.environ.get("XDG_DATA_HOME") or home / ".local/share") / "fonts"
    yield home / ".fonts"
    for data in (os.environ.get("XDG_DATA_DIRS") or "/usr/local/share:/usr/share").split(":"):
        yield Path(data) / "fonts"


def _likeliest_first(family: str) -> list[Path]:
    """Every font file, those first whose name begins most like the family's."""
    wanted = _plain(family)
    files = {
        path
        for folder in _folders()
        for path in folder.rglob("*")
        if path.suffix.casefold() in _SUFFIXES
    }
    return sorted(files, key=lambda path: (-_alike(_plain(path.stem), wanted), path))


def _alike(one: str, other: str) -> int:
    """How many letters two texts begin with alike."""
    return sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(one, other, strict=False)))


def _plain(text: str) -> str:
    return "".join(filter(str.isalnum, text.casefold()))


def _of_family(path: Path, family: str) -> Iterator[tuple[int, int]]:
    """Number and weight of the upright fonts in a file that are of a family."""
    kind = TTCollection if path.suffix.casefold() in (".ttc", ".otc") else TTFont
    try:
        with kind(path, lazy=True) as held:
            for number, font in enumerate(getattr(held, "fonts", (held,))):
                said, style = font["name"].getBestFamilyName() or "", font["OS/2"]
                upright = style.usWidthClass == _UPRIGHT_WIDTH and not style.fsSelection & _ITALIC
                if said.casefold() == family.casefold() and upright:
                    yield number, style.usWeightClass
    except (TTLibError, OSError, KeyError):
        return  # a damaged file is no font

"""Layouts in; the font files their cards are set in, and the style rules that name them, out.

A shop has its own typeface with ``typeface`` in its ``layouts/shared/tokens.yaml``: a family name
and two font files of the layout folder, and under ``installed`` families of its machine for letters
that the typeface lacks, in order of preference. Their licences are the shop's affair.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from fontTools.ttLib import TTLibError

from buildsheets.print.fonts import Face, faces, read_face
from buildsheets.print.installed import installed
from buildsheets.print.layouts import LayoutBroken, LayoutMissing, Layouts

TOKENS = "shared/tokens.yaml"
_FILES = ("regular", "bold")
_OWN = ("family", *_FILES)
_INSTALLED = "installed"


@lru_cache(maxsize=8)
def faces_of(layouts: Layouts) -> tuple[Face, ...]:
    """The faces cards may be set in: the shop's own or the shipped ones, then those it names of its
    machine, then the further font packages it has. Raises ``LayoutMissing``."""
    told = _told(layouts)
    own = list(faces()[:2])
    for place, weight in enumerate(_FILES if "family" in told else ()):
        try:
            path = layouts.path(str(told[weight]))
            own[place] = read_face(str(told["family"]), path, weight == "bold")
        except LayoutMissing as missing:
            raise _broken(layouts, str(missing)) from missing
        except (TTLibError, KeyError) as wrong:
            raise _broken(layouts, f"{told[weight]} is not a font: {wrong}") from wrong
    return (*own, *installed_of(layouts), *faces()[2:])


@lru_cache(maxsize=8)
def installed_of(layouts: Layouts) -> tuple[Face, ...]:
    """The faces of the machine that a shop names. Raises ``LayoutMissing``."""
    found: list[Face] = []
    for family in _told(layouts).get(_INSTALLED, ()):
        of_family = installed(str(family))
        if not of_family:
            why = f"this machine has no font family {str(family)!r} installed"
            raise _broken(layouts, why)
        found += of_family
    return tuple(found)


def _told(layouts: Layouts) -> dict[str, Any]:
    """What the shop says of its typeface. Raises ``LayoutMissing``."""
    told: dict[str, Any] = layouts.tokens()["typeface"]
    own = set(told) - {_INSTALLED} if isinstance(told, dict) else {""}
    if own and own != set(_OWN):
        raise _broken(layouts, "it names a family, a regular and a bold font file")
    if not isinstance(told.get(_INSTALLED, []), list):
        raise _broken(layouts, "installed: is a list of families, as in [Noto Sans Thai]")
    return told


def _broken(layouts: Layouts, why: str) -> LayoutBroken:
    """What is wrong with the typeface, at its line."""
    path = layouts.path(TOKENS)
    lines = enumerate(path.read_text("utf-8").splitlines(), 1)
    line = next((number for number, text in lines if text.startswith("typeface")), 1)
    return LayoutBroken(path, line, f"typeface: {why}")


def font_rules(layouts: Layouts) -> str:
    """Style rules by which the engine finds the shop's own font files; "" where it has none."""
    told = _told(layouts)
    if "family" not in told:
        return ""
    family = faces_of(layouts)[0].family.replace('"', "")
    return "".join(
        f'@font-face {{ font-family: "{family}"; font-weight: {weight}; '
        f'src: url("layout:/{told[file]}"); }}\n'
        for file, weight in zip(_FILES, (400, 700), strict=True)
    )

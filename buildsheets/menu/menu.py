"""A menu's nodes go in; the written menu comes out, with a stand-in for what could not be read."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import date

from buildsheets.findings.finding import At, Finding, Span
from buildsheets.menu.decode import decode_over
from buildsheets.menu.nodes import Mapping, text_at
from buildsheets.menu.quantity import Measures
from buildsheets.menu.shapes import Named, Record, Words, keys_of
from buildsheets.menu.written import WrittenEdition, WrittenShop
from buildsheets.menu.written_drinks import WrittenMenu

_NOWHERE = Span("", 1, 1, 1, 1)
_WORDS = Words({"": "?"}, _NOWHERE)


def _all_failed(record: type[Record]) -> frozenset[str]:
    return frozenset(key.name for key in keys_of(record).values())


STAND_IN = WrittenMenu(
    span=_NOWHERE,
    shop=WrittenShop(
        span=_NOWHERE,
        name=_WORDS,
        languages=(),
        allergen_list=At("eu14", _NOWHERE),
        shelf_rules=At("custom", _NOWHERE),
        failed=_all_failed(WrittenShop),
    ),
    edition=WrittenEdition(
        span=_NOWHERE,
        code=At("X", _NOWHERE),
        name=_WORDS,
        valid_from=At(date.min, _NOWHERE),
        valid_to=At(date.max, _NOWHERE),
        failed=_all_failed(WrittenEdition),
    ),
    stations=Named(),
    cups=Named(),
    bases=Named(),
    drinks=Named(),
)
"""What takes the place of a section or value that could not be read, so that the rest is checked
all the same. Such a menu is never printed, since an error stands where the stand-in was needed."""


def decode_menu(root: Mapping, findings: list[Finding]) -> WrittenMenu:
    """Read a menu's sections; everything wrong inside them goes into ``findings``.

    A section that is not all there is ``broken``, and its missing names are no findings.
    """
    menu = decode_over(root, STAND_IN, findings, declared_measures(root))
    sections = {
        key.name: getattr(menu, key.name)
        for key in fields(menu)
        if isinstance(getattr(menu, key.name), Named)
    }
    broken = {
        name: replace(section, broken=True)
        for name, section in sections.items()
        if root.broken or name in menu.failed
    }
    return replace(menu, **broken)


def declared_measures(root: Mapping) -> Measures | None:
    """The spoon system the shop declares, known before anything is decoded with it."""
    try:
        return Measures(text_at(root, "shop", "measures") or "")
    except ValueError:
        return None

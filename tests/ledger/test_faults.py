"""Every code this room's findings carry is in its table, and no other."""

from __future__ import annotations

import re
from pathlib import Path

from buildsheets.ledger import faults
from buildsheets.rulebook import FAULTS, LINK_FAULTS, RULES


def test_the_table_and_the_code_agree() -> None:
    used: set[str] = set()
    package = Path(faults.__file__).parents[1]
    rooms = [package / room for room in ("ledger", "compare", "site", "print", "cli")]
    for path in [file for room in rooms for file in room.glob("*.py")]:
        if path.name != "faults.py":
            used |= set(re.findall(r'finding\(\s*"((?:PUB|OUT)\d\d)"', path.read_text("utf-8")))
    assert used == set(faults.FAULTS)


def test_no_code_or_name_is_anothers() -> None:
    others = {**FAULTS, **LINK_FAULTS}
    assert not faults.FAULTS.keys() & (others.keys() | RULES.keys())
    names = [name for name, _, _ in faults.FAULTS.values()]
    assert len(set(names)) == len(names)
    assert not set(names) & ({f.name for f in others.values()} | {r.name for r in RULES.values()})

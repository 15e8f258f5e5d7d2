"""Everything that a print run depends on in; one digest, by which to tell a run that is not
needed, out.

Such a run ends here, so that nothing slow is imported at the top.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

from buildsheets.menu.files import shipped_root
from buildsheets.print import fonts
from buildsheets.print.versions import engine_versions, tool_version

PACKAGE = Path(__file__).parent.parent


def inputs_digest(
    texts: Mapping[str, str], ledger_folder: Path, own_layouts: Path | None, asked: Sequence[str]
) -> str:
    """Digest of the menu's files (name and text), the published editions, the layouts, fonts,
    versions and code, and what else was ``asked`` for."""
    inputs = {
        "menu": dict(texts),
        "editions": _digests(ledger_folder, "*.yaml"),
        "code": _digests(PACKAGE, "**/*.py"),
        "print": shaping(own_layouts),
        "asked": list(asked),
    }
    return hashlib.sha256(json.dumps(inputs, sort_keys=True).encode()).hexdigest()


def shaping(own_layouts: Path | None) -> dict[str, Any]:
    """All that shapes any card beside its view: layouts, fonts, versions, our own code."""
    roots = [shipped_root(), PACKAGE / "print", PACKAGE / "proof", own_layouts]
    return {
        "layouts and code": [_files_digest(root) for root in roots if root is not None],
        "fonts": fonts.digest(),
        "installed": _installed_fonts(own_layouts),
        "tool": tool_version(),
        "engines": engine_versions(),
    }


@lru_cache(maxsize=8)
def _installed_fonts(own: Path | None) -> list[str]:
    """Digests of the machine's font files that a shop's own layouts name."""
    if own is None:
        return []
    from buildsheets.print.layouts import LayoutMissing, Layouts
    from buildsheets.print.typeface import installed_of

    try:
        paths = dict.fromkeys(face.path for face in installed_of(Layouts(own)))
    except LayoutMissing:  # each card will say so
        return []
    return [hashlib.sha256(path.read_bytes()).hexdigest() for path in paths]


def _files_digest(root: Path) -> str:
    total = hashlib.sha256()
    for path in sorted(path for path in root.rglob("*") if path.is_file()):
        if path.suffix != ".pyc":
            data = path.read_bytes()
            total.update(json.dumps([path.relative_to(root).as_posix(), len(data)]).encode())
            total.update(data)
    return total.hexdigest()


def _digests(root: Path, pattern: str) -> list[tuple[str, str]]:
    return [
        (path.relative_to(root).as_posix(), hashlib.sha256(path.read_bytes()).hexdigest())
        for path in sorted(root.glob(pattern))
    ]

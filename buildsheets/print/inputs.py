"""Everything that a print run depends on in; one digest, by which to tell a run that is not
needed, out."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from pathlib import Path

import buildsheets
from buildsheets.print.printing import base_digest
from buildsheets.print.render import RenderOptions
from buildsheets.views.card import digest_of


def inputs_digest(
    texts: Mapping[str, str],
    ledger_folder: Path,
    options: RenderOptions,
    asked: Sequence[str] = (),
) -> str:
    """Digest of the menu's files (name and text), the published editions, the layouts, fonts,
    versions and code, and what else was ``asked`` for."""
    package = Path(buildsheets.__file__).parent
    return digest_of(
        {
            "menu": dict(texts),
            "editions": _digests(ledger_folder, "*.yaml"),
            "code": _digests(package, "**/*.py"),
            "print": base_digest(options),
            "options": [options.title, options.author, options.edition, options.language],
            "asked": list(asked),
        }
    )


def _digests(root: Path, pattern: str) -> list[tuple[str, str]]:
    return [
        (path.relative_to(root).as_posix(), hashlib.sha256(path.read_bytes()).hexdigest())
        for path in sorted(root.glob(pattern))
    ]

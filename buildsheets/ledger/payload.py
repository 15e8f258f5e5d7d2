"""A card's identity and view in; the text its QR code holds out: a link, or the build in short.

With a site the code leads to the page of this very revision, which says whether the card is
current. Without one the code still names card and revision and repeats the build, as far as fits.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from urllib.parse import urlsplit

from buildsheets.ledger.codes import BadCode, compact, parse
from buildsheets.print.qr import MAX_VERSION
from buildsheets.views.card import label
from buildsheets.views.types import View

# ISO/IEC 18004 table 7: bytes a code of each version holds at error level M.
BYTES_AT_LEVEL_M = {1: 14, 2: 26, 3: 42, 4: 62, 5: 84, 6: 106, 7: 122, 8: 152, 9: 180, 10: 213}
MORE = "..."
CARD_FOLDER = "C"  # upper case, so that the whole address fits the code's compact alphabet


def page_name(code: str, revision: int) -> str:
    """The folder of a card revision's page within the site."""
    return f"{CARD_FOLDER}/{compact(code)}-{revision}"


def link(site: str, code: str, revision: int) -> str:
    """The address of the card's page.

    Scheme and host are written in capitals (they read the same, RFC 3986 section 6.2.2.1):
    ISO/IEC 18004 packs capitals into 5.5 bits a character and small letters into 8.
    """
    parts = urlsplit(site)
    path = parts.path.rstrip("/")
    return f"{parts.scheme.upper()}://{parts.netloc.upper()}{path}/{page_name(code, revision)}/"


def offline_text(view: View, identity: str, version: int = MAX_VERSION) -> str:
    """Identity, name and as many whole lines of the build as a code of ``version`` holds."""
    room = BYTES_AT_LEVEL_M[version]
    lines = [identity.encode()[:room].decode("utf-8", "ignore"), *_lines(view)]
    whole = "\n".join(lines)
    while len(whole.encode()) > room:
        lines = [*lines[:-2], MORE] if lines[-1] == MORE else [*lines[:-1], MORE]
        whole = "\n".join(lines if len(lines) > 2 else lines[:1])
    return whole


# As in a page's address, dashes or none: "B7K3QF9-2", "B-7K3QF-9-2".
_PAGE_NAME = re.compile(r"([0-9A-Za-z]-?[0-9A-Za-z]{5}-?[0-9A-Za-z])-([0-9]+)")


def identity_in(text: str) -> tuple[str, int | None] | None:
    """Code and revision in a scanned link, an offline text or typed words; ``None`` if none."""
    found = re.search(rf"/{CARD_FOLDER}/([0-9A-Za-z]{{7}})-([0-9]+)/?$", text.strip())
    found = found or _PAGE_NAME.fullmatch(text.strip())
    found = found or re.match(r"\s*(\S+)(?:\s+\D*?([0-9]+))?", text)
    if found is None:
        return None
    try:
        code = parse(found[1])
    except BadCode:
        return None
    return code, int(found[2]) if found[2] else None


# A revision typed on its own: "2", "r2", or "revision" with its number to follow.
_REVISION = re.compile(r"(?:r|rev\.?|revisi[oó]n|révision|fassung)?\d{0,4}", re.IGNORECASE)


def with_revisions(words: Sequence[str]) -> list[str]:
    """Words typed in a row as one text a card, the code with its revision.

    >>> with_revisions(["B-STHR5-Y", "r2", "B-7K3QF-9", "revision", "1"])
    ['B-STHR5-Y r2', 'B-7K3QF-9 revision 1']
    """
    found: list[str] = []
    for word in words:
        if found and word and _REVISION.fullmatch(word):
            found[-1] += f" {word}"
        else:
            found.append(word)
    return found


def _lines(view: View) -> Iterator[str]:
    """Name, then a line a step (build card) or a drink (station card)."""
    if name := label(view):
        yield name
    for parts, fields in (
        ("steps", ("amount", "unit", "what", "line")),
        ("rows", ("drink", "arrives_at", "leaves_at")),
    ):
        for part in getattr(view, parts, ()):
            if line := " ".join(filter(None, (getattr(part, field, "") for field in fields))):
                yield line

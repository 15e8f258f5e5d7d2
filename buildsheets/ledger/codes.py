"""A card key in; the short code printed on the card, and the reading of a typed one, out.

A code is a letter for the kind, five characters of Crockford's base 32 (no I, L, O or U, so
nothing is read as something else) and a check character: ``B-7K3QF-9``.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterable, Mapping
from itertools import count

from buildsheets.findings.spelling import nearest, shortened
from buildsheets.views.card import CardKey

# Crockford's base 32: https://www.crockford.com/base32.html
ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
_READ_AS = str.maketrans("ILO", "110", "–—_-")
BODY_LENGTH = 5

KIND_LETTERS = {
    "build": "B",
    "station": "S",
    "batch": "P",  # prep
    "addons": "A",
    "allergens": "W",  # wall sheet
    "gauge": "G",
    "words": "V",  # vocabulary
}
OTHER_KIND = "X"


class BadCode(ValueError):
    """A typed text that is no card code: wrong length, or its check character does not agree."""


def check_character(text: str, alphabet: str = ALPHABET) -> str:
    """The check character of ISO/IEC 7064's hybrid system, modulus ``M + 1, M`` for M characters.

    With ten digits this is MOD 11,10 and with 36 characters MOD 37,36 of the standard; for 32
    characters it is the same rule. It catches every single wrong character.
    """
    size = len(alphabet)
    carry = size
    for character in text:
        carry = (carry + alphabet.index(character)) % size or size
        carry = carry * 2 % (size + 1)
    return alphabet[(size + 1 - carry) % size]


def derive(key: CardKey, attempt: int = 0) -> str:
    """The code a key has of itself; later attempts serve when an earlier one is taken."""
    seed = "\x1f".join((key.kind, key.subject, key.cup, key.language, str(attempt)))
    number = int.from_bytes(hashlib.sha256(seed.encode()).digest()[:8], "big")
    body = "".join(ALPHABET[number >> 5 * place & 31] for place in range(BODY_LENGTH))
    payload = KIND_LETTERS.get(key.kind, OTHER_KIND) + body
    return f"{payload[0]}-{body}-{check_character(payload)}"


def assign(keys: Iterable[CardKey], taken: Collection[str]) -> Mapping[CardKey, str]:
    """A code of its own for each key, none of them in ``taken``; the order given is no matter."""
    used = set(taken)
    codes: dict[CardKey, str] = {}
    for key in sorted(keys):
        attempts = (derive(key, attempt) for attempt in count())
        codes[key] = next(code for code in attempts if code not in used)
        used.add(codes[key])
    return codes


def compact(code: str) -> str:
    """The code without its dashes, as it stands in addresses."""
    return code.replace("-", "")


def _plain(text: str) -> str:
    return "".join(text.split()).upper().translate(_READ_AS)


def parse(text: str) -> str:
    """A code as somebody typed it, in its printed form. Raises :class:`BadCode`."""
    plain, text = _plain(text), shortened(text)
    if len(plain) != BODY_LENGTH + 2:
        raise BadCode(f"a card code has {BODY_LENGTH + 2} letters and digits; {text!r} is not one")
    if any(character not in ALPHABET for character in plain):
        raise BadCode(f"{text!r} has a letter or sign that card codes do not use")
    if check_character(plain[:-1]) != plain[-1]:
        raise BadCode(f"the last character of {text!r} does not agree with the rest: a slip")
    return f"{plain[0]}-{plain[1:-1]}-{plain[-1]}"


def suggestions(text: str, known: Iterable[str]) -> list[str]:
    """Known codes that a mistyped one may stand for, the likeliest first."""
    by_plain = {compact(code): code for code in known}
    return [by_plain[near] for near in nearest(_plain(text), sorted(by_plain), count=3)]

"""Words for findings: slips of the pen and the words meant, words as a list, counts of things."""

from __future__ import annotations

from collections.abc import Iterable


def nearest(word: str, known: Iterable[str], count: int = 1) -> list[str]:
    """Up to ``count`` known words that ``word`` may be a slip for, the likeliest first.

    One slip is allowed in words of three letters, two from six letters on, three from ten.
    """
    scored = []
    for candidate in known:
        longest = max(len(word), len(candidate))
        allowed = sum(longest >= length for length in (3, 6, 10))
        if abs(len(word) - len(candidate)) <= allowed:
            slips = distance(word.casefold(), candidate.casefold())
            if slips <= allowed:
                scored.append((slips, candidate))
    scored.sort(key=lambda pair: pair[0])
    return [candidate for _, candidate in scored[:count]]


def shortened(text: str, most: int = 40) -> str:
    """Text to tell again, cut where it is longer than anybody reads."""
    return text if len(text) <= most else f"{text[:most]}…"


def distance(one: str, other: str) -> int:
    """Letters left out, put in, changed, or changed with their neighbour, to get from one to other.

    The restricted Damerau-Levenshtein distance, by the usual recurrence over prefixes.
    """
    before: list[int] = []
    row = list(range(len(other) + 1))
    for i, letter in enumerate(one, 1):
        last, before = before, row
        row = [i]
        for j, letter_of_other in enumerate(other, 1):
            best = min(before[j] + 1, row[-1] + 1, before[j - 1] + (letter != letter_of_other))
            if i > 1 and j > 1 and letter == other[j - 2] and one[i - 2] == letter_of_other:
                best = min(best, last[j - 2] + 1)
            row.append(best)
    return row[-1]


def likeliest(word: str, known: Iterable[str]) -> list[str]:
    """The known words that ``word`` may be a slip for with the fewest slips: several for a tie."""
    near = nearest(word, known, 4)
    slips = [distance(word.casefold(), one.casefold()) for one in near]
    return [one for one, count in zip(near, slips, strict=True) if count == slips[0]]


def listed(words: Iterable[str], joint: str = "or") -> str:
    """Words as a phrase: ``a, b or c``."""
    *head, last = list(words) or [""]
    return f"{', '.join(head)} {joint} {last}" if head else last


def count_of(number: int, one: str, many: str = "") -> str:
    """How many of a thing: ``1 card``, ``2 cards``; ``many`` where an s does not do."""
    return f"{number} {one if number == 1 else many or f'{one}s'}"

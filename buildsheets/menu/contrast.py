"""Two colours in; their WCAG 2.2 contrast ratio out."""

from __future__ import annotations

import re

_HEX = re.compile(r"#[0-9a-fA-F]{6}\Z")
# WCAG 2.2 success criterion 1.4.3 (AA, normal text).
MIN_CONTRAST = 4.5


def luminance(colour: str) -> float:
    """Relative luminance of ``#rrggbb`` by WCAG 2.2; ``ValueError`` for anything else."""
    if not _HEX.match(colour):
        raise ValueError(f"colour {colour!r} is not written #rrggbb")
    linear = []
    for start in (1, 3, 5):
        part = int(colour[start : start + 2], 16) / 255
        linear.append(part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4)
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(first: str, second: str) -> float:
    """Contrast ratio from 1 to 21 between two ``#rrggbb`` colours (WCAG 2.2)."""
    dark, light = sorted((luminance(first), luminance(second)))
    return (light + 0.05) / (dark + 0.05)

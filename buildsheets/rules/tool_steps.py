"""A number of a tool's steps and sweetness levels go in; those that cannot be made come out."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import islice

from buildsheets.cup.holdback import round_near
from buildsheets.cup.steps import BuildStep


def whole_steps(step: BuildStep) -> int:
    """How many steps of its tool a written amount is; 0 where it is no whole number of them."""
    if step.tool_step <= 0.0:
        return 0
    steps = step.amount / step.tool_step
    return round(steps) if math.isclose(steps, round(steps), abs_tol=1e-6) else 0


def rounded_far(steps: int, levels: Sequence[float], most_share: float) -> list[float]:
    """The levels at which so many steps are rounded by more than a share; not those rounded to
    nothing."""
    found = []
    for level in levels:
        wanted = steps * level
        made = round_near(wanted, 1.0)
        if made > 0.0 and abs(made - wanted) > most_share * wanted + 1e-9:
            found.append(level)
    return found


def can_be_made(
    below: int, above: int, levels: Sequence[float], most_share: float
) -> Iterator[int]:
    """The most steps up to ``below`` and the fewest from ``above`` on made at every level; none of
    twice ``above`` or more."""

    def made(steps: int) -> bool:
        lost = any(level > 0.0 and round_near(steps * level, 1.0) <= 0.0 for level in levels)
        return not lost and not rounded_far(steps, levels, most_share)

    yield from islice(filter(made, range(below, 0, -1)), 1)
    yield from islice(filter(made, range(above, 2 * above)), 1)


def near_levels(steps: int, levels: Sequence[float], most_share: float) -> tuple[float, ...]:
    """Levels near to these, in steps of 5 %, that so many steps are made at; none where there are
    fewer than three of them, or they are not such."""
    near = [max(1.0, round_near(level * steps, 1.0)) / steps if level else 0.0 for level in levels]
    found = tuple(dict.fromkeys(round(20 * level) / 20 for level in near))
    few = len(found) < min(3, len(levels))
    return () if few or rounded_far(steps, found, most_share) else found

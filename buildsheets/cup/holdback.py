"""Something that is too much goes in; the most of one amount that fits comes out.

Used to leave out base, and to suggest less ice, topping or cap.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import get_args

from buildsheets.cup.contents import Verdict, add_up, judged_ml
from buildsheets.cup.cup import FIT_TOLERANCE_ML, Cup
from buildsheets.cup.errors import FigureError, positive
from buildsheets.cup.items import Item
from buildsheets.cup.search import largest_within


@dataclass(frozen=True, slots=True)
class HoldBack:
    """The most of one item that keeps a verdict; ml of a liquid, g of anything else.

    ``most`` is exact and never above ``written``; ``most_to_step`` is rounded down to the step of
    the tool, but is ``written`` itself when all of it fits. Both are None if even 0 does not fit.
    """

    verdict: Verdict
    written: float
    most: float | None
    most_to_step: float | None

    @property
    def possible(self) -> bool:
        return self.most is not None

    @property
    def held_back(self) -> float | None:
        """Written less ``most_to_step``: what to leave out."""
        return None if self.most_to_step is None else self.written - self.most_to_step


def hold_back(
    cup: Cup,
    items: Iterable[Item],
    index: int,
    *,
    working_ml: float | None = None,
    verdict: Verdict = "fits",
    step: float | None = None,
    at_most: float | None = None,
) -> HoldBack:
    """The largest amount of ``items[index]``, up to the written one, for which ``verdict`` holds.

    ``step`` is that of the tool in the item's unit (None: do not round). ``at_most`` replaces the
    written amount as the upper bound, to ask how much more would fit.
    """
    if verdict not in get_args(Verdict):
        raise FigureError("verdict", verdict, f"must be one of {', '.join(get_args(Verdict))}")
    items = tuple(items)
    if not 0 <= index < len(items):
        raise FigureError("index", index, "there is no such item")
    if step is not None:
        positive("step", step)
    working = cup.checked_working_ml(working_ml)
    written = items[index].amount if at_most is None else positive("at_most", at_most)

    def over(amount: float) -> float:
        changed = (*items[:index], items[index].with_amount(amount), *items[index + 1 :])
        return judged_ml(verdict, add_up(changed)) - working

    most = most_within(over, 0.0, written)
    rounded = most if most is None or most == written else round_down(most, step or 0.0)
    return HoldBack(verdict, written, most, rounded)


def most_within(over: Callable[[float], float], least: float, written: float) -> float | None:
    """The largest amount from ``least`` to ``written`` that is not over; None if even that is.

    ``over`` is how far it stands over what is allowed, and rises with the amount. The one place
    where base is held back and less is suggested, for menus and for other programs.
    """
    if over(written) <= FIT_TOLERANCE_ML:
        return written
    return largest_within(over, least, written) if over(least) <= FIT_TOLERANCE_ML else None


def round_down(amount: float, step: float) -> float:
    """The largest multiple of ``step`` not above ``amount``; forgives binary noise."""
    return amount if step <= 0.0 else math.floor(amount / step + 1e-9) * step


def round_up(amount: float, step: float) -> float:
    """The smallest multiple of ``step`` not below ``amount``; forgives binary noise."""
    return amount if step <= 0.0 else math.ceil(amount / step - 1e-9) * step


def round_near(amount: float, step: float) -> float:
    """The nearest multiple of ``step``, the lower of two as near; forgives binary noise."""
    return amount if step <= 0.0 else math.ceil(amount / step - 0.5 - 1e-9) * step

"""A function that says something of a serving goes in; the same comes out, which says it once.

Several cards tell of the same step, add-on or line, and what it takes to tell is large: so it is
all told while the serving is at hand, and what was told is kept until its cards are composed.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

from buildsheets.cup.serving import Serving

P = ParamSpec("P")
T = TypeVar("T")


def once(say: Callable[P, T]) -> Callable[P, T]:
    """What ``say`` says of a serving and further things, each the same object whenever it is asked
    for; kept in ``serving.choices.told``."""

    @wraps(say)
    def said(*args: P.args, **named: P.kwargs) -> T:
        (serving,) = (one for one in args if isinstance(one, Serving))
        others = [one for one in args if one is not serving]
        key = say, serving.choice, *map(id, others)
        told = serving.choices.told
        if key not in told:
            told[key] = others, say(*args, **named)  # with the others, whose ids are theirs so long
        result: T = told[key][1]
        return result

    return said

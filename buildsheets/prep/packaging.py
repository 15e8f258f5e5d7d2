"""Drinks with their sizes and add-ons go in; the packaging they go out in comes out."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from fractions import Fraction

from buildsheets.menu.model import AddOn, CupSize, Drink, Packaging, SalesLine
from buildsheets.menu.packaging import in_place_of


def handed_out(drink: Drink, size: CupSize, add_ons: Iterable[AddOn] = ()) -> tuple[Packaging, ...]:
    """The packaging a drink goes out in: of its size, its own, and what its add-ons ask for, each
    of these once."""
    asked = {item.id: item for one in add_ons for item in one.packaging}
    return in_place_of(in_place_of(size.packaging, drink.packaging), asked.values())


def pieces(lines: Iterable[SalesLine]) -> dict[str, int]:
    """Whole pieces for some sales, by id; never too few.

    Which add-ons go together is not known: each brings its own, and what they take the place of is
    saved by as many drinks as have the one asked for most.
    """
    total: dict[str, Fraction] = {}
    for line in lines:
        own = Counter(item.id for item in handed_out(line.drink, line.cup))
        saved: dict[str, Fraction] = {}
        for id_, each in own.items():
            total[id_] = total.get(id_, Fraction(0)) + each * line.count
        for add_on, times in line.add_ons:
            with_it = Counter(item.id for item in handed_out(line.drink, line.cup, [add_on]))
            for id_, more in (with_it - own).items():
                total[id_] = total.get(id_, Fraction(0)) + more * times
            for id_, less in (own - with_it).items():
                saved[id_] = max(saved.get(id_, Fraction(0)), less * times)
        for id_, spared in saved.items():
            total[id_] -= spared
    return {id_: math.ceil(count) for id_, count in total.items() if count > 0}

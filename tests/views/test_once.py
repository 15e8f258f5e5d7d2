"""What is said of a serving is said once, for each serving and whatever else it is said of."""

from __future__ import annotations

from dataclasses import replace

import build_samples as b

from buildsheets.cup.scan import figure
from buildsheets.cup.serving import Serving
from buildsheets.views.once import once


def test_a_thing_is_said_once_of_each_serving_until_it_is_forgotten() -> None:
    asked: list[tuple[str, object]] = []

    @once
    def say(what: object, serving: Serving) -> tuple[object, ...]:
        asked.append((serving.drink.id, what))
        return what, serving.choice

    one = figure(b.drink(b.to_line(b.TEA, 400)), b.CUP)
    other = figure(replace(one.drink, id="other"), b.CUP)
    iced = replace(one, choice=replace(one.choice, ice="none"))
    words, more = {"a": 1}, {"a": 1}  # alike, and yet two: they may change
    said = say(words, one)
    assert say(words, one) is said
    assert [say(words, other), say(more, one), say(words, iced)] == [
        (words, other.choice), (more, one.choice), (words, iced.choice),
    ]  # fmt: skip
    id_ = one.drink.id
    assert asked == [(id_, words), ("other", words), (id_, more), (id_, words)]
    one.choices.told.clear()
    assert say(words, one) == said
    assert len(asked) == 5

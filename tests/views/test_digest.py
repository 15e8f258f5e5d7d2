"""The content digest: same for equal views, blind to identity, awake to all else."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, make_dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from edition_samples import FOOT, build, station

from buildsheets.views.card import IDENTITY, Card, content_digest, digest_of


def test_equal_views_have_equal_digests() -> None:
    assert build().view is not build().view
    assert content_digest(build().view) == content_digest(build().view)


def test_a_card_gives_back_the_view_it_was_made_of() -> None:
    card, view = build(), station().view
    assert Card(card.key, view).view == view
    assert card == build()
    assert card != Card(card.key, view)
    assert len({card, build()}) == 1


def test_identity_and_watermark_do_not_count_but_are_printed() -> None:
    view: Any = build().view
    other = replace(view, foot=replace(FOOT, code="B-00000-0"), watermark="PROOF", code="x")
    assert content_digest(other) == content_digest(view)
    assert digest_of(other) != digest_of(view)


def _variants(value: Any) -> Iterator[Any]:
    """The value with one leaf changed, for every leaf in it."""
    if is_dataclass(value) and not isinstance(value, type):
        for field in fields(value):
            if field.name not in IDENTITY:
                for changed in _variants(getattr(value, field.name)):
                    yield replace(value, **{field.name: changed})
    elif isinstance(value, tuple):
        for place, item in enumerate(value):
            for changed in _variants(item):
                yield (*value[:place], changed, *value[place + 1 :])
        if value:
            yield value[:-1]
            yield tuple(reversed((*value, value[0])))
    elif isinstance(value, str):
        yield value + "x"
    elif isinstance(value, bool):
        yield not value
    elif isinstance(value, int | float):
        yield value + 0.1


@pytest.mark.parametrize("card", [build(), station()])
def test_every_change_a_reader_can_see_changes_the_digest(card: Any) -> None:
    digests = [content_digest(view) for view in _variants(card.view)]
    assert len(digests) > 50
    assert content_digest(card.view) not in digests


def test_a_field_added_with_a_default_changes_no_digest() -> None:
    old = make_dataclass("Sheet", ["title", "foot"], frozen=True)
    new = make_dataclass("Sheet", ["title", "foot", ("tip", str, "")], frozen=True)
    assert content_digest(old("Tea", FOOT)) == content_digest(new("Tea", FOOT))
    assert content_digest(new("Tea", FOOT, "Hot")) != content_digest(new("Tea", FOOT))


def test_a_thing_without_a_digest_is_refused() -> None:
    sheet = make_dataclass("Sheet", ["title", "foot"], frozen=True)
    with pytest.raises(TypeError, match="set"):
        content_digest(sheet({"a set has no order"}, FOOT))
    with pytest.raises(ValueError, match="JSON"):
        content_digest(sheet(float("nan"), FOOT))


def test_digest_is_the_same_in_any_process() -> None:
    here = Path(__file__).parents[1]
    script = (
        "from edition_samples import build; from buildsheets.views.card import *; "
        "print(content_digest(build().view))"
    )
    seen = set()
    for seed, zone in (("0", "UTC"), ("1", "Asia/Tokyo"), ("31337", "America/Lima")):
        path = os.pathsep.join((str(here), str(here.parent)))
        environment = {**os.environ, "PYTHONHASHSEED": seed, "TZ": zone, "PYTHONPATH": path}
        run = subprocess.run(
            [sys.executable, "-c", script],
            env=environment, capture_output=True, text=True, check=True,
        )  # fmt: skip
        seen.add(run.stdout.strip())
    assert seen == {content_digest(build().view)}

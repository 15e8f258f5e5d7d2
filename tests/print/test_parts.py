"""Cards that go on several pages: what is kept of each page changes no byte, and spares layouts."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from card_samples import BUILD, STATION
from pdf_reading import errors

from buildsheets.print import fit, parts
from buildsheets.print.cache import Cache
from buildsheets.print.parts import Kept
from buildsheets.print.render import Printed, RenderOptions, render_cards

ROWS = tuple(replace(STATION.rows[n % 4], drink=f"Drink <{n}>") for n in range(17))
LONG = replace(STATION, rows=ROWS)
# One row says another level, in as many letters.
EDITED = replace(LONG, rows=(*ROWS[:9], replace(ROWS[9], leaves_at="395 ml"), *ROWS[10:]))


@pytest.fixture
def laid(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many sections each document had that was laid out."""
    counts: list[int] = []
    real = fit.lay_out

    def counted(html: str, *given: Any, **named: Any) -> Any:
        counts.append(html.count("<section"))
        return real(html, *given, **named)

    monkeypatch.setattr(fit, "lay_out", counted)
    return counts


def printed(view: Any, kept: Kept = parts.NOTHING, **options: Any) -> Printed:
    (made,) = render_cards([view], RenderOptions(**options), kept)
    assert errors(made) == []
    return made


def test_a_page_whose_text_did_not_change_is_not_laid_out_again(
    tmp_path: Path, laid: list[int]
) -> None:
    assert ROWS[9].leaves_at != EDITED.rows[9].leaves_at
    kept = Kept(Cache(tmp_path), "base")
    anew = printed(LONG)
    assert len(anew.pages) > 2
    assert printed(LONG, kept) == anew
    laid.clear()
    assert printed(LONG, kept) == anew
    assert laid == []
    edited = printed(EDITED, kept)
    assert set(laid) == {1}
    assert edited == printed(EDITED)
    assert edited.pdf != anew.pdf


def test_what_is_kept_in_part_only_is_made_anew(tmp_path: Path) -> None:
    kept = Kept(Cache(tmp_path), "base")
    anew = printed(LONG, kept)
    files = sorted(path for path in tmp_path.rglob("*") if path.is_file())
    for place in range(3):
        for path in files[place::3]:
            path.unlink(missing_ok=True)
        assert printed(LONG, kept) == anew


def test_what_shapes_a_page_is_part_of_its_key(tmp_path: Path, laid: list[int]) -> None:
    kept = Kept(Cache(tmp_path), "base")
    printed(LONG, kept)
    others: list[tuple[Any, Kept, dict[str, Any]]] = [
        (LONG, Kept(kept.cache, "other"), {}),
        (LONG, kept, {"pouch_border_mm": 4.0}),
        (replace(LONG, reading_distance_mm=LONG.reading_distance_mm - 10), kept, {}),
        (replace(LONG, language="es"), kept, {}),
        (replace(LONG, width_mm=LONG.height_mm, height_mm=LONG.width_mm), kept, {}),
    ]
    for view, where, options in others:
        laid.clear()
        assert printed(view, where, **options) == printed(view, **options)
        made = len(laid)
        assert laid[: made // 2] == laid[made // 2 :]  # as much as with nothing kept


def test_a_card_of_many_pages_is_laid_out_in_documents_of_some(
    monkeypatch: pytest.MonkeyPatch, laid: list[int]
) -> None:
    steps = tuple(replace(step, number=n) for n, step in enumerate(BUILD.steps * 8, 1))
    long = replace(BUILD, steps=steps)
    whole = printed(long)
    monkeypatch.setattr(parts, "MOST_TOGETHER", 2)
    laid.clear()
    assert printed(long) == whole
    assert max(laid) <= 2 < len(whole.pages)

"""Keeping times and allergens go in; date labels on their sheets come out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import TypeAlias

from buildsheets.cup.allergens import AllergenReport
from buildsheets.cup.errors import FigureError
from buildsheets.menu.model import Batch, LabelSheet, Menu
from buildsheets.prep.keeping import Keeping
from buildsheets.views import rounding
from buildsheets.views.allergens import allergen_line, allergens
from buildsheets.views.card import office_foot
from buildsheets.views.paper import HAND_MM, SHELF_MM
from buildsheets.views.sheets import sheet, table
from buildsheets.views.types import LabelSheetView, LabelView, SheetView
from buildsheets.views.words import Words


def places(sheet: LabelSheet) -> tuple[tuple[float, float], ...]:
    """Left and top in mm of every label of a sheet, row by row.

    Raises :class:`FigureError` for a sheet whose labels leave it or lie on each other.
    """
    if sheet.across < 1 or sheet.down < 1:
        raise FigureError("label sheet", f"{sheet.across} x {sheet.down}", "holds no label")
    right = sheet.left_mm + (sheet.across - 1) * sheet.pitch_x_mm + sheet.label_width_mm
    bottom = sheet.top_mm + (sheet.down - 1) * sheet.pitch_y_mm + sheet.label_height_mm
    if sheet.left_mm < 0 or sheet.top_mm < 0:
        raise FigureError("label sheet", (sheet.left_mm, sheet.top_mm), "begins outside the sheet")
    if right > sheet.width_mm + 1e-6 or bottom > sheet.height_mm + 1e-6:
        why = f"leaves the sheet of {sheet.width_mm:g} x {sheet.height_mm:g} mm"
        raise FigureError("label sheet", f"{right:g} x {bottom:g} mm", why)
    if (sheet.across > 1 and sheet.pitch_x_mm < sheet.label_width_mm - 1e-6) or (
        sheet.down > 1 and sheet.pitch_y_mm < sheet.label_height_mm - 1e-6
    ):
        raise FigureError("label sheet", sheet.pitch_x_mm, "its labels lie on each other")
    return tuple(
        (sheet.left_mm + column * sheet.pitch_x_mm, sheet.top_mm + row * sheet.pitch_y_mm)
        for row in range(sheet.down)
        for column in range(sheet.across)
    )


def label(menu: Menu, one: Keeping, report: AllergenReport, words: Words) -> LabelView:
    """The date label of a batch made or a pack opened: when, until when and why, how it is kept,
    what it contains."""
    first, made = one.decisive, one.prepared_at
    begun = "prep_made" if isinstance(one.item, Batch) else "prep_opened"
    if first.last_day is not None:
        discard = words("prep_use_through", day=rounding.day_unbroken(words, first.last_day))
    else:
        day = rounding.day_unbroken(words, first.at.date())
        discard = words("prep_discard_at", time=rounding.moment(first.at), day=day)
    return LabelView(
        name=words.name(one.item),
        made=words(begun, day=rounding.day(words, made.date()), time=rounding.moment(made)),
        discard=discard,
        because=_because(menu, one, words),
        keep=_keep_at(one, words),
        allergens=allergen_line(words, allergens(words, menu, report)),
    )


def _keep_at(one: Keeping, words: Words) -> str:
    if one.at_c is None:
        return ""
    keys = {"cold": "prep_keep_cold", "hot": "prep_keep_hot", "between": "prep_keep_at"}
    return words(keys[one.band], at=rounding.celsius(words, one.at_c))


def _because(menu: Menu, one: Keeping, words: Words) -> str:
    """Why it ends then: a part, with the day it was made or opened, or the thing itself. England's
    regulations name no days: there the number is the shop's."""
    first = one.decisive
    item, why = first.path[-1], first.because
    if why == "use-by":
        return words("prep_because_use-by", name=words.name(item))
    if len(first.path) > 1:
        key = "prep_because_of_made" if isinstance(item, Batch) else "prep_because_of_opened"
        return words(
            key, name=words.name(item), day=rounding.day_unbroken(words, first.begun.date())
        )
    if why == "rule" and not menu.shop.has_statutory_days:
        why = "shop"
    return words(f"prep_because_{why}")


Labelled: TypeAlias = tuple[Keeping, AllergenReport, int]
"""What is labelled: how it keeps, its allergens, the number of labels."""


def labels_of(menu: Menu, batches: Iterable[Labelled], words: Words) -> list[LabelView]:
    """Labels of each batch and pack, as many as asked."""
    return [label(menu, one, report, words) for one, report, n in batches for _ in range(n)]


def label_sheets(
    menu: Menu,
    batches: Iterable[Labelled],
    words: Words,
    sheet: LabelSheet,
    *,
    skip: int = 0,
) -> tuple[LabelSheetView, ...]:
    """Labels of each batch, as many as asked, on as many sheets as they need.

    ``skip`` places of the first sheet are left out: a sheet begun earlier is used up.
    """
    spots = places(sheet)
    if not 0 <= skip < len(spots):
        raise FigureError("skip", skip, f"a sheet has {len(spots)} labels")
    labels = labels_of(menu, batches, words)
    cuts = [0, *range(len(spots) - skip, len(labels), len(spots)), len(labels)]
    return tuple(
        LabelSheetView(
            kind="labels",
            language=words.language,
            code=f"labels-{number}",
            title=words("prep_labels_title"),
            labels=tuple(labels[start:end]),
            label_width_mm=sheet.label_width_mm,
            label_height_mm=sheet.label_height_mm,
            places_mm=(spots[skip:] if number == 1 else spots)[: end - start],
            foot=office_foot(words, menu, f"labels-{number}"),
            reading_distance_mm=SHELF_MM,
            width_mm=sheet.width_mm,
            height_mm=sheet.height_mm,
        )
        for number, (start, end) in enumerate(pairwise(cuts), 1)
    )


def calendar(menu: Menu, in_order: Sequence[Keeping], words: Words) -> SheetView:
    """What has to be gone on which day, with a box to tick."""
    rows = (
        (
            rounding.day(words, one.last_day),
            words("prep_end_of_day") if one.decisive.last_day else rounding.moment(one.decisive.at),
            words.name(one.item),
            rounding.day(words, one.prepared_at.date()),
            _because(menu, one, words).replace("\u00a0", " "),
        )
        for one in in_order
    )
    keys = ("prep_day", "prep_until", "prep_batch_or_pack", "prep_begun_on", "prep_why")
    weights = (3.0, 2.0, 4.0, 3.0, 4.5)
    days = table(words, "", keys, rows, "lllll", weights, (0, 1, 2), tick=True)
    notes = map(words, ("prep_day_one_of_all", "prep_frozen_note", "prep_no_date"))
    title = words("prep_calendar_title")
    return sheet(menu, words, "prepsheet", "calendar", title, [days], notes, HAND_MM)

"""A menu goes in; the allergen matrix for the wall and date labels for containers come out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC

from buildsheets.cup.errors import FigureError
from buildsheets.menu.model import LabelSheet, Menu
from buildsheets.prep.allergens import AllergenReport, of_add_on, of_batch, of_drink
from buildsheets.prep.keeping import Keeping, discard_calendar
from buildsheets.views import prep_words as shown
from buildsheets.views.prep_views import (
    AllergenMatrixView,
    LabelSheetView,
    LabelView,
    MatrixRow,
    SheetTable,
    SheetView,
)
from buildsheets.views.words import Words

WALL_DISTANCE_MM = 500.0
"""From the eye to a sheet on the wall behind the counter; common practice, no source."""

HAND_MM = 300.0
"""From the eye to a sheet or a container in the hand; common practice, no source."""

SHELF_MM = 350.0
"""From the eye to a label on a container held or on a shelf; common practice, no source."""

A4_MM = (210.0, 297.0)


def allergen_matrix(menu: Menu, words: Words, code: str = "") -> AllergenMatrixView:
    """Every drink and add-on against every allergen of the shop's list.

    Where a declaration is missing, every allergen not declared is marked as undeclared: the sheet
    has no blank that could be read as "none".
    """
    ids = tuple(menu.shop.allergens)
    rows = [
        _row(ids, drink.name.in_language(words.language), of_drink(drink), words("prep_drinks"))
        for drink in menu.drinks.values()
    ]
    rows += [
        _row(ids, add_on.name.in_language(words.language), of_add_on(add_on), words("add_ons"))
        for add_on in menu.add_ons.values()
    ]
    undeclared = any("undeclared" in row.marks for row in rows)
    notes = [words("prep_matrix_ask"), words("caution_cross")]
    if undeclared:
        notes.insert(0, words("prep_matrix_undeclared"))
    return AllergenMatrixView(
        kind="allergens",
        language=words.language,
        code=code,
        title=words("prep_matrix_title"),
        allergens=tuple(shown.allergen_name(words, menu, one) for one in ids),
        rows=tuple(rows),
        letters=(words("prep_letter_contains"), words("prep_letter_may")),
        legend=(
            words("contains"),
            words("may_contain"),
            words("prep_mark_undeclared"),
            words("prep_mark_none"),
        ),
        notes=tuple(notes),
        foot=shown.office_foot(words, menu, code),
        reading_distance_mm=WALL_DISTANCE_MM,
        width_mm=A4_MM[1],
        height_mm=A4_MM[0],
    )


def _row(ids: Sequence[str], name: str, report: AllergenReport, group: str) -> MatrixRow:
    return MatrixRow(name, tuple(report.verdict(one) for one in ids), group)


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
        raise FigureError(
            "label sheet",
            f"{right:g} x {bottom:g} mm",
            f"leaves the sheet of {sheet.width_mm:g} x {sheet.height_mm:g} mm",
        )
    if (sheet.across > 1 and sheet.pitch_x_mm < sheet.label_width_mm - 1e-6) or (
        sheet.down > 1 and sheet.pitch_y_mm < sheet.label_height_mm - 1e-6
    ):
        raise FigureError("label sheet", sheet.pitch_x_mm, "its labels lie on each other")
    return tuple(
        (sheet.left_mm + column * sheet.pitch_x_mm, sheet.top_mm + row * sheet.pitch_y_mm)
        for row in range(sheet.down)
        for column in range(sheet.across)
    )


def label(menu: Menu, one: Keeping, words: Words) -> LabelView:
    """The date label of a batch: made, discard, why, how it is kept, what it contains."""
    language = words.language
    told = shown.allergens(words, menu, of_batch(one.batch))
    first = one.decisive
    if first.last_day is not None:
        discard = words("prep_use_through", day=shown.day_unbroken(words, first.last_day))
    else:
        discard = words(
            "prep_discard_at",
            time=shown.moment(first.at),
            day=shown.day_unbroken(words, first.at.date()),
        )
    name = first.path[-1].name.in_language(language)
    at_c = one.at_c
    return LabelView(
        name=one.batch.name.in_language(language),
        made=words(
            "prep_made",
            day=shown.day(words, one.prepared_at.date()),
            time=shown.moment(one.prepared_at),
        ),
        discard=discard,
        because=words(f"prep_because_{first.because}", name=name),
        keep="" if at_c is None else words("prep_keep_at", at=shown.celsius(words, at_c)),
        allergens=shown.allergen_line(words, told),
    )


def label_sheets(
    menu: Menu,
    keepings: Iterable[tuple[Keeping, int]],
    words: Words,
    sheet: LabelSheet,
    *,
    skip: int = 0,
) -> tuple[LabelSheetView, ...]:
    """Labels of each keeping, as many as asked, on as many sheets as they need.

    ``skip`` places of the first sheet are left out: a sheet begun earlier is used up.
    """
    spots = places(sheet)
    if not 0 <= skip < len(spots):
        raise FigureError("skip", skip, f"a sheet has {len(spots)} labels")
    labels = [label(menu, one, words) for one, copies in keepings for _ in range(copies)]
    views: list[LabelSheetView] = []
    while labels or not views:
        free = spots[skip:] if not views else spots
        here, labels = labels[: len(free)], labels[len(free) :]
        views.append(
            LabelSheetView(
                kind="labels",
                language=words.language,
                code=f"labels-{len(views) + 1}",
                title=words("prep_labels_title"),
                labels=tuple(here),
                label_width_mm=sheet.label_width_mm,
                label_height_mm=sheet.label_height_mm,
                places_mm=free[: len(here)],
                foot=shown.office_foot(words, menu, f"labels-{len(views) + 1}"),
                reading_distance_mm=SHELF_MM,
                width_mm=sheet.width_mm,
                height_mm=sheet.height_mm,
            )
        )
    return tuple(views)


def calendar(menu: Menu, keepings: Iterable[Keeping], words: Words) -> SheetView:
    """What has to be gone on which day, earliest first, with a box to tick."""
    rows = []
    for one_day in discard_calendar(keepings):
        for one in sorted(one_day.due, key=lambda k: k.discard_at.astimezone(UTC)):
            first = one.decisive
            until = words("prep_end_of_day") if first.last_day else shown.moment(first.at)
            name = first.path[-1].name.in_language(words.language)
            rows.append(
                (
                    shown.day(words, one_day.day),
                    until,
                    one.batch.name.in_language(words.language),
                    shown.day(words, one.prepared_at.date()),
                    words(f"prep_because_{first.because}", name=name),
                )
            )
    table = SheetTable(
        title="",
        header=tuple(
            words(key)
            for key in ("prep_day", "prep_until", "prep_batch", "prep_made_on", "prep_why")
        ),
        rows=tuple(rows),
        align="lllll",
        weights=(3.0, 2.0, 4.0, 3.0, 4.5),
        tick=True,
        strong=(0, 1, 2),
    )
    return SheetView(
        kind="prepsheet",
        language=words.language,
        code="calendar",
        title=words("prep_calendar_title"),
        subtitle="",
        tables=(table,),
        notes=(words("prep_day_one"), words("prep_frozen_note")),
        foot=shown.office_foot(words, menu, "calendar"),
        reading_distance_mm=HAND_MM,
        width_mm=A4_MM[0],
        height_mm=A4_MM[1],
    )

"""A batch card's or a sheet's view goes in; the same as plain text for a terminal comes out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from unicodedata import east_asian_width

from buildsheets.views.prep_views import (
    AllergenMatrixView,
    BatchCardView,
    LabelSheetView,
    SheetTable,
    SheetView,
)
from buildsheets.views.views import Table
from buildsheets.views.words import Words

_MARKS = {"undeclared": "?", "none-declared": "-"}


def sheet_text(view: SheetView) -> str:
    """Title, tables with aligned columns, notes."""
    blocks = [" · ".join(text for text in (view.title, view.subtitle) if text)]
    blocks += [_table(table) for table in view.tables]
    if view.notes:
        blocks.append("\n".join(view.notes))
    return "\n\n".join(blocks) + "\n"


def batch_text(view: BatchCardView, words: Words) -> str:
    """What the batch card says, in the card's order."""
    parts = [(f"{p.amount} {p.unit}", p.what, p.note) for p in view.parts]
    steps = [(f"{s.number}", s.what, s.setting) for s in view.steps]
    blocks = [
        f"{view.title} · {view.scale} {view.factor}".replace("  ", " "),
        words("prep_parts") + "\n" + _columns(parts, "rll"),
        words("prep_steps") + "\n" + _columns(steps, "rll") if steps else "",
        "\n".join([f"{words('prep_gives')} {view.gives}", *view.figures, *view.equipment]),
        f"{words('prep_keeping')}: " + " ".join(view.keeps),
        *(_small(table) for table in (view.portions, view.scaling) if table is not None),
        "\n".join([*_allergens(view, words), *view.paths]),
        "\n".join(view.cautions),
        view.foot.local_code_note,
    ]
    return "\n\n".join(block for block in blocks if block) + "\n"


def matrix_text(view: AllergenMatrixView) -> str:
    """The matrix with a letter for contains and may contain, ``?`` for undeclared, ``-`` else."""
    contains, may = view.letters
    marks = {**_MARKS, "contains": contains, "may-contain": may}
    rows = [("", *view.allergens)]
    rows += [(row.name, *(marks[mark] for mark in row.marks)) for row in view.rows]
    signs = (contains, may, _MARKS["undeclared"], _MARKS["none-declared"])
    legend = "   ".join(f"{sign} {said}" for sign, said in zip(signs, view.legend, strict=True))
    table = _columns(rows, "l" * len(rows[0]))
    return "\n\n".join([view.title, table, legend, "\n".join(view.notes)]) + "\n"


def labels_text(views: Iterable[LabelSheetView]) -> str:
    """Each label's lines, labels apart by an empty line."""
    blocks = [
        "\n".join(
            line
            for line in (
                one.name,
                one.discard,
                one.because,
                one.made,
                one.keep,
                one.allergens,
            )
            if line
        )
        for view in views
        for one in view.labels
    ]
    return "\n\n".join(blocks).replace("\u00a0", " ") + "\n"


def _allergens(view: BatchCardView, words: Words) -> list[str]:
    told = view.allergens
    lines = [told.statement] if told.statement else []
    if told.contains:
        lines.append(f"{words('contains')}: {', '.join(told.contains)}")
    if told.may_contain:
        lines.append(f"{words('may_contain')}: {', '.join(told.may_contain)}")
    return lines


def _table(table: SheetTable) -> str:
    rows = [table.header, *table.rows]
    text = _columns(rows, table.align)
    lines = [table.title] if table.title else []
    return "\n".join([*lines, text, *([table.note] if table.note else [])])


def _small(table: Table) -> str:
    rows = [table.header, *table.rows]
    return table.title + "\n" + _columns(rows, "l" + "r" * (len(table.header) - 1))


def _columns(rows: Sequence[Sequence[str]], align: str) -> str:
    widths = [max(_width(row[index]) for row in rows) for index in range(len(rows[0]))]
    lines = []
    for row in rows:
        cells = []
        for index, cell in enumerate(row):
            space = " " * (widths[index] - _width(cell))
            cells.append(space + cell if align[index] == "r" else cell + space)
        lines.append("  ".join(cells).rstrip())
    return "\n".join(lines)


def _width(text: str) -> int:
    """Columns a text takes in a terminal: wide East Asian letters take two."""
    return sum(2 if east_asian_width(char) in "WF" else 1 for char in text)

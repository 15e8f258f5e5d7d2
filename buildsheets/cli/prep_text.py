"""A batch card's or a sheet's view goes in; the same as plain text for a terminal comes out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from tabulate import tabulate

from buildsheets.views.types import AllergenMatrixView, BatchCardView, LabelView, SheetView
from buildsheets.views.words import Words


def sheet_text(view: SheetView) -> str:
    """Title, tables, notes."""
    tables = (
        _lines(table.title, text_table([table.header, *table.rows], table.align), table.note)
        for table in view.tables
    )
    title = " · ".join(filter(None, (view.title, view.subtitle)))
    return _blocks(title, *tables, _lines(*view.notes))


def batch_text(view: BatchCardView, words: Words) -> str:
    """What the batch card says, in the card's order."""
    parts = [(f"{p.amount} {p.unit}", p.what, p.note) for p in view.parts]
    steps = [(f"{s.number}", s.what, s.setting) for s in view.steps]
    known = view.allergens
    tables = (
        _lines(table.title, text_table([table.header, *table.rows], _figures(table.header)))
        for table in (view.portions, view.scaling)
        if table is not None
    )
    return _blocks(
        " ".join(f"{view.title} · {view.scale} {view.factor}".split()),
        _lines(words("prep_parts"), text_table(parts, "rll")),
        _lines(words("prep_steps"), text_table(steps, "rll")) if steps else "",
        _lines(f"{words('prep_gives')} {view.gives}", *view.figures, *view.equipment),
        f"{words('prep_keeping')}: " + " ".join(view.keeps),
        *tables,
        _lines(
            known.statement,
            _listed(words("contains"), known.contains),
            _listed(words("may_contain"), known.may_contain),
            *view.paths,
        ),
        _lines(*view.cautions),
        view.foot.local_code_note,
    )


def matrix_text(view: AllergenMatrixView) -> str:
    """The matrix with a letter for contains and may contain, ``?`` for undeclared, ``-`` else."""
    signs = (*view.letters, "?", "-")
    kinds = ("contains", "may-contain", "undeclared", "none-declared")
    sign_of = dict(zip(kinds, signs, strict=True))
    rows = [("", *view.allergens)]
    rows += [(row.name, *(sign_of[mark] for mark in row.marks)) for row in view.rows]
    legend = "   ".join(f"{sign} {text}" for sign, text in zip(signs, view.legend, strict=True))
    return _blocks(view.title, text_table(rows, "l" * len(rows[0])), legend, _lines(*view.notes))


def labels_text(labels: Iterable[LabelView]) -> str:
    """Each label's lines, labels apart by an empty line."""
    told = (
        _lines(one.name, one.discard, one.because, one.made, one.keep, one.allergens)
        for one in labels
    )
    return _blocks(*told).replace("\u00a0", " ")


def text_table(rows: Iterable[Sequence[str]], align: str) -> str:
    """Rows in columns two spaces apart; ``align`` is "l" or "r" for each column."""
    sides = ["right" if one == "r" else "left" for one in align]
    return tabulate(list(rows), tablefmt="plain", colalign=sides, disable_numparse=True)


def _listed(what: str, names: tuple[str, ...]) -> str:
    return f"{what}: {', '.join(names)}" if names else ""


def _figures(header: tuple[str, ...]) -> str:
    """A name on the left, figures on the right."""
    return "l" + "r" * (len(header) - 1)


def _lines(*lines: str) -> str:
    return "\n".join(filter(None, lines))


def _blocks(*blocks: str) -> str:
    return "\n\n".join(filter(None, blocks)) + "\n"

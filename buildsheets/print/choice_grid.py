"""What a station does for each choice in; small grids of cells, one beside each add, out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from buildsheets.print.art import box
from buildsheets.print.desk import SLACK_MM, Desk
from buildsheets.print.legibility import Line, Misfit, Run, line_width_mm
from buildsheets.print.plan import Block, Text, together
from buildsheets.views.views import StationRow, StepView

PAD_MM = 1.1
Cell = tuple[str, str]  # the choice, and the amount for it


@dataclass(frozen=True, slots=True)
class ChoiceGrid:
    """Cells as wide on every row of a card, so that equal choices stand under each other."""

    desk: Desk
    widths_mm: Mapping[str, float]
    width_mm: float
    breaks: bool  # whether some row's cells take more than one line

    def beside(self, step: StepView, row: StationRow) -> Block:
        """The cells of an add; empty where its amount never changes."""
        cells = next((cells for what, cells in row.choices if cells and what == step.what), ())
        return self._cells(cells) if cells else Block()

    def said_of(self, step: StepView, row: StationRow) -> str:
        """What holds for every choice of a step that fills up to a line; "" for nothing."""
        if step.kind != "line":
            return ""
        return next((what for what, cells in row.choices if not cells), "")

    def sentences(self, row: StationRow) -> list[str]:
        """What is not beside one of the row's adds."""
        named = {step.what for step in row.adds}
        lined = any(self.said_of(step, row) for step in row.adds)
        found = [what for what, cells in row.choices if not cells and not lined]
        loose = [(what, cells) for what, cells in row.choices if cells and what not in named]
        return found + [
            f"{what}: " + ", ".join(f"{choice} {amount}" for choice, amount in cells)
            for what, cells in loose
        ]

    def _cells(self, cells: Sequence[Cell]) -> Block:
        desk = self.desk
        high = desk.leading(desk.sized("what")) + 0.8
        frame = desk.pen(0.25)
        placed: list[Block] = []
        y = 0.0
        for line in _flow(cells, self.widths_mm, self.width_mm):
            x = 0.0
            for cell in line:
                wide = self.widths_mm[cell[0]]
                text = Text("choice", x, y + 0.4, wide, desk.minor, desk.line_height,
                            (_runs(cell, desk),), "center")  # fmt: skip
                placed.append(Block((text,), (box(frame, x, y, wide, high),)))
                x += wide
            y += high
        return together(placed, y)


def _runs(cell: Cell, desk: Desk) -> Line:
    return (Run(f"{cell[0]} "), Run(f" {cell[1]}", True, desk.sized("what")))


def grid_for(rows: Sequence[StationRow], lines: int, desk: Desk) -> ChoiceGrid:
    """The narrowest grid that takes at most ``lines`` lines an add."""
    grids = [cells for row in rows for _, cells in row.choices if cells]
    widths: dict[str, float] = {}
    for cell in (cell for cells in grids for cell in cells):
        wide = line_width_mm(_runs(cell, desk), desk.minor) + 2 * (SLACK_MM + PAD_MM)
        widths[cell[0]] = max(wide, widths.get(cell[0], 0.0))
    if not grids:
        return ChoiceGrid(desk, {}, 0.0, False)
    runs = (cells[a:b] for cells in grids for a in range(len(cells))
            for b in range(a + 1, len(cells) + 1))  # fmt: skip
    for width in sorted({sum(widths[choice] for choice, _ in run) for run in runs}):
        flowed = [_flow(cells, widths, width) for cells in grids]
        if all(0 < len(flow) <= lines for flow in flowed):
            return ChoiceGrid(desk, widths, width + 0.01, any(len(flow) > 1 for flow in flowed))
    raise Misfit("the choices' cells do not flow")


def _flow(cells: Sequence[Cell], widths: Mapping[str, float], width: float) -> list[list[Cell]]:
    """Cells put on lines of at most a width; none if one is wider."""
    lines: list[list[Cell]] = [[]]
    used = 0.0
    for cell in cells:
        wide = widths[cell[0]]
        if wide > width + 1e-6:
            return []
        if used + wide > width + 1e-6:
            lines.append([])
            used = 0.0
        lines[-1].append(cell)
        used += wide
    return lines

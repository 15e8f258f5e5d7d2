"""A view of any kind in; the cards or pages its own layout makes of it out."""

from __future__ import annotations

from buildsheets.print.batch_plan import plan_batch
from buildsheets.print.build_plan import plan_build
from buildsheets.print.desk import Desk
from buildsheets.print.gauge_plan import plan_gauge
from buildsheets.print.matrix_plan import plan_matrix
from buildsheets.print.plan import Plan
from buildsheets.print.sheet_plan import plan_labels, plan_sheet
from buildsheets.print.station_plan import plan_station
from buildsheets.views.cup_views import GaugeStripView
from buildsheets.views.paper import Stock
from buildsheets.views.prep_views import (
    AllergenMatrixView,
    AnyView,
    BatchCardView,
    LabelSheetView,
    SheetView,
)
from buildsheets.views.views import BuildCardView


def planned(view: AnyView, stock: Stock, desk: Desk, arcmin: float, count: int) -> tuple[Plan, ...]:
    """Lay a view out on ``count`` cards of a stock. Raises ``Misfit``."""
    if isinstance(view, BuildCardView):
        return plan_build(view, stock, desk, arcmin, count)
    if isinstance(view, GaugeStripView):
        return plan_gauge(view, stock, desk, arcmin, count)
    if isinstance(view, BatchCardView):
        return plan_batch(view, stock, desk, arcmin, count)
    if isinstance(view, AllergenMatrixView):
        return plan_matrix(view, stock, desk, arcmin, count)
    if isinstance(view, LabelSheetView):
        return plan_labels(view, stock, desk, arcmin, count)
    if isinstance(view, SheetView):
        return plan_sheet(view, stock, desk, arcmin, count)
    return plan_station(view, stock, desk, arcmin, count)

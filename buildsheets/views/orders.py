"""What to buy for some days goes in; the order list, a table a supplier, comes out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from buildsheets.menu.model import DaySales, Menu
from buildsheets.prep.buying import Order, Purchase
from buildsheets.prep.sales import NotSold
from buildsheets.prep.stock import Stock
from buildsheets.views import rounding
from buildsheets.views.paper import HAND_MM
from buildsheets.views.sheets import purchases_table, sheet
from buildsheets.views.stock import stock_notes
from buildsheets.views.types import SheetTable, SheetView
from buildsheets.views.when import not_sold
from buildsheets.views.words import Words


def order_sheet(
    menu: Menu,
    days: Sequence[DaySales],
    orders: Sequence[Order],
    enough: Sequence[Purchase],
    on_hand: Stock,
    words: Words,
    left_out: Sequence[NotSold] = (),
    dates: Sequence[date] = (),
) -> SheetView:
    """What to order of whom, with what it costs, for days of some dates; last what is on hand in
    full, and for what of the sales nothing is ordered, since it is not sold."""

    def order(one: Order) -> SheetTable:
        note = []
        if len(one.unpriced) < len(one.lines):
            note.append(words("prep_sum", sum=words.money(one.cost, menu.shop.currency)))
        if one.unpriced:
            note.append(words("prep_unpriced", names=words.names(one.unpriced)))
        listed = purchases_table(menu, one.lines, words, on_hand)
        title = one.supplier or words("prep_no_supplier")
        return replace(listed, title=title, note=" ".join(note))

    there = purchases_table(menu, enough, words, on_hand, "prep_enough")
    title = words("prep_order_title", days=", ".join(words.name(day) for day in days))
    notes = [*stock_notes(on_hand, words), words("prep_order_note")]
    if left_out:
        names = dict.fromkeys(not_sold(menu, one, words) for one in left_out)
        notes.append(words("prep_not_ordered", names=", ".join(names)))
    tables = (*map(order, orders), there)
    head = " · ".join(rounding.day(words, day) for day in dates)
    return sheet(menu, words, "prepsheet", "order", title, tables, notes, HAND_MM, subtitle=head)

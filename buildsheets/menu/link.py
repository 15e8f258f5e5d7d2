"""From written records to the linked menu: names become objects, amounts become numbers."""

from __future__ import annotations

from buildsheets.findings.finding import Finding
from buildsheets.menu.link_components import Stock, components, components_lost
from buildsheets.menu.link_cups import cups
from buildsheets.menu.link_days import days
from buildsheets.menu.link_drinks import Counter, add_ons, drinks
from buildsheets.menu.link_options import offer
from buildsheets.menu.link_prep import batches, ingredients
from buildsheets.menu.link_shop import edition, listed_allergens_lost, shop, stations, tools
from buildsheets.menu.linking import Linker
from buildsheets.menu.model import Allow, Menu
from buildsheets.menu.written_drinks import WrittenMenu


def link(w: WrittenMenu) -> tuple[Menu, list[Finding]]:
    """The menu with whatever could be linked, and a finding for everything that could not.

    An entry that fails is left out; whatever needs it is left out without a second finding.
    """
    linker = Linker(allergens_lost=listed_allergens_lost(w.shop))
    the_shop = shop(linker, w.shop)
    the_edition = edition(linker, w.edition)
    the_stations = stations(linker, w.stations)
    the_tools = tools(linker, w.tools)
    the_cups = cups(linker, w.cups)
    tools_lost = w.tools.lost(the_tools)
    bought = ingredients(linker, w.ingredients, the_shop)
    bought_lost = w.ingredients.lost(bought)
    made = batches(linker, w.batches, bought, bought_lost, the_tools, tools_lost, the_shop)
    stock = Stock(
        shop=the_shop,
        ingredients=bought,
        batches=made,
        tools=the_tools,
        stations=the_stations,
        items_lost=bought_lost | w.batches.lost(made),
        tools_lost=tools_lost,
        stations_lost=w.stations.lost(the_stations),
    )
    parts = components(linker, w, stock)
    counter = Counter(stock, parts, components_lost(w, parts), the_cups, w.cups.lost(the_cups))
    extras = add_ons(linker, w.add_ons, counter)
    the_drinks = drinks(linker, w, counter, offer(linker, w.options), extras)
    drinks_lost = w.drinks.lost(the_drinks)
    menu = Menu(
        shop=the_shop,
        edition=the_edition,
        stations=the_stations,
        tools=the_tools,
        cups=the_cups,
        ingredients=bought,
        batches=made,
        components=parts,
        add_ons=extras,
        drinks=the_drinks,
        days=days(
            linker, w.days, the_drinks, drinks_lost, counter.cups_lost, w.add_ons.lost(extras)
        ),
        allows=tuple(
            Allow(a.finding.value, a.place.value, a.reason.value if a.reason else "", a.span)
            for a in w.allow
        ),
    )
    return menu, linker.findings

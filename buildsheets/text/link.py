"""From written records to the linked menu: names become objects, amounts become numbers."""

from __future__ import annotations

from buildsheets.core.finding import Finding
from buildsheets.core.model import Allow, Menu
from buildsheets.text.link_components import Stock, components, failed_components
from buildsheets.text.link_drinks import Counter, add_ons, days, drinks, offer
from buildsheets.text.link_prep import batches, ingredients
from buildsheets.text.link_shop import cups, edition, shop, stations, tools
from buildsheets.text.linking import Linker, failed_of
from buildsheets.text.written_drinks import WrittenMenu


def link(w: WrittenMenu) -> tuple[Menu, list[Finding]]:
    """The menu with whatever could be linked, and a finding for everything that could not.

    An entry that fails is left out; whatever needs it is left out without a second finding.
    """
    linker = Linker()
    the_shop = shop(linker, w.shop)
    the_edition = edition(linker, w.edition)
    the_stations = stations(linker, w.stations)
    the_tools = tools(linker, w.tools)
    the_cups = cups(linker, w.cups)
    tools_failed = w.tools.failed | frozenset(set(w.tools.items) - set(the_tools))
    bought = ingredients(linker, w.ingredients, the_shop)
    made = batches(
        linker,
        w.batches,
        bought,
        w.ingredients.failed,
        the_tools,
        tools_failed,
        the_shop,
    )
    failed = (
        failed_of(w.ingredients, w.batches, w.stations)
        | tools_failed
        | frozenset(set(w.batches.items) - set(made))
        | frozenset(set(w.stations.items) - set(the_stations))
    )
    stock = Stock(the_shop, bought, made, the_tools, the_stations, failed)
    parts = components(linker, w, stock)
    counter = Counter(
        stock,
        parts,
        failed_components(w, parts),
        the_cups,
        w.cups.failed | frozenset(set(w.cups.items) - set(the_cups)),
    )
    extras = add_ons(linker, w.add_ons, counter)
    the_drinks = drinks(linker, w, counter, offer(linker, w.options), extras)
    drinks_failed = w.drinks.failed | frozenset(set(w.drinks.items) - set(the_drinks))
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
        days=days(linker, w.days, the_drinks, drinks_failed),
        allows=tuple(
            Allow(a.finding.value, a.place.value, a.reason.value, a.span) for a in w.allow
        ),
    )
    return menu, linker.findings

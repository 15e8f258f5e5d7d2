"""A request of this machine in; a page about the menu as it is known now out. Nothing is written.

What is asked for is looked up among what the menu has: no part of an address is a path.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from functools import cache, cached_property
from typing import TYPE_CHECKING, Any

from werkzeug.exceptions import Forbidden, HTTPException, MethodNotAllowed, NotFound
from werkzeug.routing import Map, Rule
from werkzeug.utils import redirect
from werkzeug.wrappers import Request, Response

from buildsheets.cup.serving import Choice
from buildsheets.findings.report import visible
from buildsheets.menu.model import CupSize, Drink, Menu
from buildsheets.place import Place
from buildsheets.preview.cards import Cards, Shown
from buildsheets.preview.findings import findings_told
from buildsheets.preview.glance import rows
from buildsheets.preview.navigation import address, groups
from buildsheets.preview.order import figured, percent, read_order
from buildsheets.preview.watch import Dated, Known, Watch
from buildsheets.print.layouts import Layouts
from buildsheets.print.templates import environment
from buildsheets.views.card import CardKey
from buildsheets.views.words import Words

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIEnvironment

Explain = Callable[[Dated, Drink, CupSize, Choice, str], str]
"""Writes out the whole calculation of an order, in a language."""

HOSTS = ("localhost", "127.0.0.1", "[::1]")
"""What this machine is called by itself. Another name that leads here is another site's."""

HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; "
        "connect-src 'self'; frame-src 'self'; form-action 'self'; base-uri 'none'; "
        "frame-ancestors 'self'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cache-Control": "no-store",
}
UNCHANGING = "private, max-age=86400, immutable"
"""A picture's address names what is on it."""

CARD = "/<language>/card/<kind>/<subject>/<cup>"
RULES = Map(
    [
        Rule("/", endpoint="start"),
        Rule("/state", endpoint="state"),
        Rule("/<any('page.js', 'style.css', 'text.css'):name>", endpoint="file"),
        Rule("/guide/<name>", endpoint="guide"),
        Rule("/<language>/", endpoint="menu"),
        Rule("/<language>/order", endpoint="order"),
        Rule("/<language>/order/explained", endpoint="explained"),
        Rule(CARD, endpoint="card"),
        Rule(f"{CARD}/<digest>/<int(max=99):page>.png", endpoint="picture"),
        Rule(f"{CARD}/text", endpoint="text"),
    ],
    strict_slashes=False,
    merge_slashes=False,
)


class Preview:
    """The preview of a watched menu, as a WSGI application for one port of this machine."""

    def __init__(self, watch: Watch, port: int, explain: Explain) -> None:
        self.watch = watch
        self.hosts = {f"{host}:{port}" for host in HOSTS} | set(HOSTS if port == 80 else ())
        self.explain = explain
        self.layouts = Place.of(watch.menu).layouts
        self.cards = Cards(Place.of(watch.menu))

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        request = Request(environ)
        try:
            response: Response = self._answer(request)
        except HTTPException as refused:
            response = refused.get_response(environ)
            if (refused.code or 0) >= 400:
                response.set_data(f"{refused.description}\n")
                response.content_type = "text/plain; charset=utf-8"
        except Exception as error:  # a library that is missing, a shop's own layout, a slip of ours
            text = f"{type(error).__name__}: {error}\n"
            response = Response(text, 500, content_type="text/plain; charset=utf-8")
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        return response(environ, start_response)

    def _answer(self, request: Request) -> Response:
        if request.headers.get("Host", "").lower() not in self.hosts:
            raise Forbidden("the preview is for this machine alone; open the address it printed")
        if request.method not in ("GET", "HEAD"):
            raise MethodNotAllowed(["GET", "HEAD"], "the preview only shows; it changes nothing")
        endpoint, found = RULES.bind_to_environ(request.environ).match()
        values = dict(found)
        if "kind" in values:
            cup = values.pop("cup")
            values["key"] = CardKey(
                values.pop("kind"), values.pop("subject"), "" if cup == "-" else cup,
                values.pop("language"),
            )  # fmt: skip
        answer: Response = getattr(self, f"_{endpoint}")(request, **values)
        return answer

    # What is the same for every menu.

    def _start(self, request: Request) -> Response:
        return redirect(f"/{self._page('').language}/", 302)

    def _state(self, request: Request) -> Response:
        """The number of what is known; a page says which it shows."""
        known = self.watch.known
        self.watch.seen(request.args.get("seen", 0, type=int))
        return Response(str(known.number), content_type="text/plain")

    def _file(self, request: Request, name: str) -> Response:
        kind = "javascript" if name.endswith(".js") else "css"
        data = Layouts().data(f"preview/{name}")
        return Response(data, content_type=f"text/{kind}; charset=utf-8")

    def _guide(self, request: Request, name: str) -> Response:
        if name not in _guide_pages():
            raise NotFound("the guide has no such page")
        kind = "css" if name.endswith(".css") else "html"
        return Response(_guide_pages()[name], content_type=f"text/{kind}; charset=utf-8")

    # Pages.

    def _menu(self, request: Request, language: str) -> Response:
        page = self._page(language)
        sound, menu = page.known.sound, page.menu
        if sound is None or menu is None:
            return page.response("menu", rows=[])
        return page.response("menu", rows=rows(menu, sound.checked.servings, page.words))

    def _order(self, request: Request, language: str) -> Response:
        page = self._page(language)
        sound, menu = page.known.sound, page.menu
        order = read_order(menu, dict(request.args.lists())) if menu else None
        if sound is None or menu is None or order is None:
            return page.response("order", order=None)
        made = figured(menu, sound.checked.servings, order, page.words, self.layouts)
        drinks = [one for one in menu.drinks.values() if menu.sells(one)]
        return page.response(
            "order", order=order, made=made, drinks=drinks, percent=percent, shop=menu.shop
        )

    def _explained(self, request: Request, language: str) -> Response:
        page = self._page(language)
        order = read_order(page.menu, dict(request.args.lists())) if page.menu else None
        if order is None or page.known.sound is None:
            raise NotFound("there is no such order")
        text = self.explain(page.known.sound, order.drink, order.cup, order.choice, page.language)
        return Response(text, content_type="text/plain; charset=utf-8")

    def _card(self, request: Request, key: CardKey) -> Response:
        page = self._page(key.language)
        shown = self._shown(page.known, key)
        return page.response("card", 200 if shown else 404, shown=shown, current=key)

    def _picture(self, request: Request, key: CardKey, digest: str, page: int) -> Response:
        shown = self._shown(self.watch.known, key)
        if shown is None or shown.digest != digest or not 0 < page <= len(shown.pages):
            raise NotFound("there is no such picture now")
        response = Response(self.cards.picture(shown, page - 1), content_type="image/png")
        response.headers["Cache-Control"] = UNCHANGING
        return response

    def _text(self, request: Request, key: CardKey) -> Response:
        shown = self._shown(self.watch.known, key)
        if shown is None or not shown.pages:
            raise NotFound("there is no such card")
        style = '<link rel="stylesheet" href="/text.css"/></head>'
        html = self.cards.text(shown).replace("</head>", style, 1)
        return Response(f"<!doctype html>{html}", content_type="text/html; charset=utf-8")

    def _shown(self, known: Known, key: CardKey) -> Shown | None:
        return self.cards.card(known.sound, key) if known.sound else None

    def _page(self, language: str) -> Page:
        """The frame of a page, in a language of the shop; "" takes its first."""
        page = Page(self, self.watch.known, language)
        if page.language != language and language:
            raise NotFound(f"the menu has no cards in '{language}'")
        return page


class Page:
    """What every page shows: what is known now, in the words of a language, and the way around."""

    def __init__(self, preview: Preview, known: Known, language: str) -> None:
        self.preview, self.known = preview, known
        self.menu: Menu | None = known.sound.checked.menu if known.sound else None
        self.languages = self.menu.shop.languages if self.menu else ("en",)
        self.language = language if language in self.languages else self.languages[0]

    @cached_property
    def words(self) -> Words:
        """The words of its language, in the shop's measures."""
        words = self.preview.layouts.words(self.language)
        return words.measured_in(self.menu.shop) if self.menu else words

    def response(
        self, template: str, status: int = 200, current: CardKey | None = None, **values: Any
    ) -> Response:
        """The page; ``current`` is the card it is of."""
        words, known, menu = self.words, self.known, self.menu
        keys = self.preview.cards.keys(known.sound) if known.sound else ()
        findings = findings_told(known.now.checked)
        html = _templates().get_template(f"preview/{template}.html").render(
            w=words,
            known=known,
            page=template,
            current=current,
            language=self.language,
            languages=self.languages,
            title=words.name(menu.shop) if menu else "",
            groups=groups(menu, keys, self.language, words) if menu else [],
            address=address,
            findings=findings,
            clock=_clock,
            **values,
        )  # fmt: skip
        return Response(html, status, content_type="text/html; charset=utf-8")


def _clock(at: datetime) -> str:
    return f"{at:%H:%M:%S}"


@cache
def _guide_pages() -> dict[str, str]:
    from buildsheets.guide.pages import guide_pages

    return guide_pages()


@cache
def _templates() -> Any:
    """The preview's own pages: a shop's layouts do not reach them."""
    made = environment(Layouts())
    made.filters |= {"visible": visible, "first_capital": lambda text: text[:1].upper() + text[1:]}
    return made

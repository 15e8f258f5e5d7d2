"""A preview and a port in; the pages served to this machine alone, until stopped."""

from __future__ import annotations

import socket
from threading import Thread

from werkzeug.serving import BaseWSGIServer, WSGIRequestHandler, make_server

from buildsheets.preview.pages import Explain, Preview
from buildsheets.preview.watch import Watch

LOOPBACK = "127.0.0.1"
"""No other machine reaches it (RFC 1122, section 3.2.1.3)."""


class _Quiet(WSGIRequestHandler):
    """Says nothing of each request."""

    def log(self, type: str, message: str, *args: object) -> None:
        pass


def server(watch: Watch, port: int, explain: Explain) -> BaseWSGIServer:
    """A server of the preview that listens already; port 0 takes one that is free.

    Raises ``OSError`` where the port is taken or may not be used.
    """
    with socket.create_server((LOOPBACK, port)) as listening:
        taken = listening.getsockname()[1]
        preview = Preview(watch, taken, explain)
        made = make_server(
            LOOPBACK, taken, preview, threaded=True, request_handler=_Quiet,
            fd=listening.fileno(),
        )  # fmt: skip
    Thread(target=watch.run, daemon=True).start()
    Thread(target=preview.cards.warm_up, daemon=True).start()
    return made

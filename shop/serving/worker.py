"""The process that answers: gunicorn starts and renews it, waitress reads each request whole before a thread has it.

So nobody who sends slowly, stops in the middle or does not read the answer keeps a thread; what is silent for
`SILENT_S` is cut. The answer, too, is put aside whole: in memory, what is large in a file of no name.
"""

import logging
import os
from ipaddress import ip_address
from resource import RLIMIT_NOFILE, getrlimit, setrlimit
from socket import socket
from threading import Thread
from time import sleep
from typing import Any

from gunicorn.sock import ssl_context
from gunicorn.workers.base import Worker
from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser
from waitress.server import TcpWSGIServer, create_server

from shop.serving.front import Front

SILENT_S = 30
MOST_CONNECTIONS = 1_000
MOST_FROM_ONE = 100  # of one machine; a front server on this one may have all
LARGEST_SHEET = 410_000_000  # a book that is brought in, with what a form has around it
LARGEST = 90_000_000  # anything else: photos, as many as a form takes at once
BRINGS_IN = ("/import/",)

BOUNDS = {
    "channel_timeout": SILENT_S,
    "cleanup_interval": 5,
    "connection_limit": MOST_CONNECTIONS,
    "max_request_header_size": 65_536,
    "outbuf_high_watermark": 2**40,  # no thread waits for whoever reads slowly
    "asyncore_use_poll": True,
    "log_socket_errors": False,
    "clear_untrusted_proxy_headers": False,  # the settings say which of them are believed
    "ident": "",
}


class Parser(HTTPRequestParser):  # type: ignore[misc]  # waitress says no types
    """Reads a request; how large it may be depends on where it goes."""

    adj: Any

    def parse_header(self, header_plus: bytes) -> None:
        super().parse_header(header_plus)
        brings = any(part in self.path for part in BRINGS_IN)
        self.adj = _Largest(self.adj, LARGEST_SHEET if brings else LARGEST)


class _Largest:
    """The adjustments of a server with another size of a request."""

    def __init__(self, adjustments: Any, most: int) -> None:
        self._adjustments, self.max_request_body_size = adjustments, most

    def __getattr__(self, name: str) -> Any:
        return getattr(self._adjustments, name)


class Channel(HTTPChannel):  # type: ignore[misc]
    """One connection."""

    parser_class = Parser


def taken(server: Any, connection: socket, address: Any, adjustments: Any, map: Any) -> Channel | None:  # noqa: A002
    """Take a connection, unless as many stand that come from the same machine."""
    if is_too_many(address, [one.addr for one in server.active_channels.values()]):
        connection.close()
        return None
    return Channel(server, connection, address, adjustments, map=map)


def is_too_many(address: Any, others: list[Any]) -> bool:
    """Whether a machine, its address first in `address`, already has as many connections as one may."""
    if ip_address(address[0].partition("%")[0]).is_loopback:
        return False
    return len([one for one in others if one[0] == address[0]]) >= MOST_FROM_ONE


class BufferingWorker(Worker):  # type: ignore[misc]  # gunicorn says no types
    """A worker of gunicorn that is a waitress; with a certificate, behind its own front that speaks https."""

    def run(self) -> None:
        """Answer until told to stop."""
        _, most_files = getrlimit(RLIMIT_NOFILE)
        setrlimit(RLIMIT_NOFILE, (min(most_files, 8 * MOST_CONNECTIONS), most_files))
        logging.getLogger("waitress.queue").setLevel(logging.ERROR)  # that requests wait is no fault
        listening, application, scheme = [one.sock for one in self.sockets], self.wsgi, "http"
        if self.cfg.is_ssl:
            front = Front(listening, ssl_context(self.cfg), SILENT_S, MOST_CONNECTIONS, is_too_many)
            listening, application, scheme = [front.inner], front.naming(application), "https"
            front.start()
        known: dict[int, Any] = {}
        server = create_server(
            application, known, sockets=listening, threads=self.cfg.threads, url_scheme=scheme, **BOUNDS
        )
        for one in known.values():
            if isinstance(one, TcpWSGIServer):
                one.channel_class = taken
        Thread(target=self._follow, daemon=True).start()
        server.run()

    def _follow(self) -> None:
        """End where the process that started this one is gone: nobody would stop it any more."""
        while os.getppid() == self.ppid:
            sleep(1)
        os._exit(1)

    def handle_exit(self, sig: int, frame: object) -> None:
        """Stop listening, finish what is being answered, and end."""
        raise SystemExit(0)

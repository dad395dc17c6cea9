"""Https in front of a server that speaks none: it takes the cipher off and hands the bytes on within the machine.

The server behind it sees connections of this machine; `Front.naming` gives each request the address it came from.
"""

import asyncio
import ssl
from collections.abc import Callable, Iterable
from contextlib import suppress
from socket import create_server, socket
from threading import Thread
from typing import Any

PIECE = 65_536
HANDSHAKE_S = 10
WSGI = Callable[[dict[str, Any], Any], Iterable[bytes]]


class Front:
    """What speaks https on the listening sockets; `inner` is the socket that a server is to listen on."""

    def __init__(
        self,
        listening: list[socket],
        context: ssl.SSLContext,
        silent_s: float,
        most: int,
        is_too_many: Callable[[Any, list[Any]], bool],
    ) -> None:
        self.listening, self.context, self.silent_s, self.most = listening, context, silent_s, most
        self.is_too_many = is_too_many
        self.inner = create_server(("127.0.0.1", 0), backlog=most)
        self.clients: dict[int, Any] = {}  # by the port of the connection within the machine

    def naming(self, application: WSGI) -> WSGI:
        """Return an application that is told from which address each request came."""

        def named(environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:
            address = self.clients.get(int(environ.get("REMOTE_PORT") or 0))
            if address is not None:
                environ["REMOTE_ADDR"], environ["REMOTE_PORT"] = address[0], str(address[1])
            return application(environ, start_response)

        return named

    def start(self) -> None:
        """Begin to take connections, in a thread of its own."""
        Thread(target=asyncio.run, args=[self._serve()], daemon=True).start()

    async def _serve(self) -> None:
        for one in self.listening:
            one.setblocking(False)
            await asyncio.start_server(
                self._take,
                sock=one,
                ssl=self.context,
                ssl_handshake_timeout=HANDSHAKE_S,
                ssl_shutdown_timeout=self.silent_s,
                limit=PIECE,
            )
        await asyncio.Event().wait()

    async def _take(self, outer_in: asyncio.StreamReader, outer_out: asyncio.StreamWriter) -> None:
        address = outer_out.get_extra_info("peername")
        others = list(self.clients.values())
        if address is None or len(others) >= self.most or self.is_too_many(address, others):
            outer_out.transport.abort()
            return
        inner_in, inner_out = await asyncio.open_connection(*self.inner.getsockname(), limit=PIECE)
        port = inner_out.get_extra_info("sockname")[1]
        self.clients[port] = address
        try:
            ways = [self._hand_on(outer_in, inner_out), self._hand_on(inner_in, outer_out)]
            _, open_ = await asyncio.wait(
                [asyncio.create_task(way) for way in ways], return_when=asyncio.FIRST_COMPLETED
            )
            for way in open_:
                way.cancel()
        finally:
            inner_out.transport.abort()
            outer_out.close()
            with suppress(OSError, TimeoutError):
                await asyncio.wait_for(outer_out.wait_closed(), self.silent_s)
            outer_out.transport.abort()
            del self.clients[port]

    async def _hand_on(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Hand on what comes until it ends, or nobody takes it any more."""
        with suppress(OSError, TimeoutError):
            while piece := await reader.read(PIECE):
                writer.write(piece)
                await asyncio.wait_for(writer.drain(), self.silent_s)

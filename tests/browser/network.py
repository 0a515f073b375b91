"""A network between a browser and a server that can be cut, and that can lose an answer."""

from __future__ import annotations

import contextlib
import socket
import threading
from collections.abc import Iterator


class Network:
    """Carries TCP from a port of its own to ``(host, port)``.

    ``cut`` drops everything and lets nobody in. Requests that begin with a word of ``keep_out``
    never reach the server; those of ``lose_answers`` do, and their answer is thrown away, as when
    a signal ends between the two.
    """

    def __init__(self, host: str, port: int) -> None:
        self.target = (host, port)
        self.is_cut = False
        self.lose_answers: tuple[bytes, ...] = ()
        self.keep_out: tuple[bytes, ...] = ()
        self.lost = threading.Event()
        self._pairs: set[tuple[socket.socket, socket.socket]] = set()
        self._door = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._door.getsockname()[1]
        threading.Thread(target=self._let_in, daemon=True).start()

    @property
    def url(self) -> str:
        """Where the browser finds the server."""
        return f"http://127.0.0.1:{self.port}"

    def cut(self) -> None:
        """Ends every connection and refuses new ones."""
        self.is_cut = True
        for pair in list(self._pairs):
            self._end(pair)

    def mend(self) -> None:
        """Lets everything through again."""
        self.is_cut, self.lose_answers, self.keep_out = False, (), ()
        self.lost.clear()

    def close(self) -> None:
        """Ends it."""
        self.cut()
        self._door.close()

    def _let_in(self) -> None:
        while True:
            try:
                phone, _ = self._door.accept()
            except OSError:
                return
            if self.is_cut:
                phone.close()
                continue
            try:
                server = socket.create_connection(self.target, 5)
            except OSError:
                phone.close()
                continue
            server.settimeout(None)
            pair = (phone, server)
            self._pairs.add(pair)
            losing = threading.Event()
            for source, sink in (pair, pair[::-1]):
                threading.Thread(
                    target=self._carry, args=(pair, source, sink, losing), daemon=True
                ).start()

    def _carry(self, pair: tuple[socket.socket, socket.socket], source: socket.socket,
               sink: socket.socket, losing: threading.Event) -> None:  # fmt: skip
        with contextlib.suppress(OSError):
            while data := source.recv(65536):
                if source is pair[0]:
                    if data.startswith(self.keep_out):
                        break
                    if data.startswith(self.lose_answers):
                        losing.set()
                elif losing.is_set():
                    self.lost.set()
                    break
                sink.sendall(data)
        self._end(pair)

    def _end(self, pair: tuple[socket.socket, socket.socket]) -> None:
        self._pairs.discard(pair)
        for end in pair:
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()


@contextlib.contextmanager
def network_to(host: str, port: int) -> Iterator[Network]:
    """A network, closed at the end."""
    net = Network(host, port)
    try:
        yield net
    finally:
        net.close()

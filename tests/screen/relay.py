"""A wire between browser and server that can be cut, stalled and mended: what sleep and a hung program do."""

from __future__ import annotations

import contextlib
import socket
import threading


class Relay:
    """Listens on 127.0.0.1:`port` and passes all on to `target`."""

    def __init__(self, target: int) -> None:
        self.target = target
        self.connected = 0
        self._flows = threading.Event()
        self._flows.set()
        self._whole = True
        self._open: list[socket.socket] = []
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._listener.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    def cut(self) -> None:
        """Every connection ends and new ones are closed at once."""
        self._whole = False
        for one in self._open:
            with contextlib.suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
        self._open.clear()

    def stall(self) -> None:
        """Nothing comes through any more, but every connection stays open."""
        self._flows.clear()

    def mend(self) -> None:
        self._whole = True
        self._flows.set()

    def close(self) -> None:
        self.mend()
        self.cut()
        self._listener.close()

    def _accept(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                browser, _ = self._listener.accept()
                if not self._whole:
                    browser.close()
                    continue
                try:
                    server = socket.create_connection(("127.0.0.1", self.target))
                except OSError:
                    browser.close()
                    continue
                self.connected += 1
                self._open += [browser, server]
                for one, other in ((browser, server), (server, browser)):
                    threading.Thread(target=self._pass_on, args=(one, other), daemon=True).start()

    def _pass_on(self, one: socket.socket, other: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while piece := one.recv(65536):
                self._flows.wait()
                other.sendall(piece)
        for end in (one, other):
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)

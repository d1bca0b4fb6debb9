"""A network cable that can be cut: passes TCP on to a server until told, or until so many bytes."""

from __future__ import annotations

import contextlib
import socket
import threading
from types import TracebackType


class CutLine:
    """Listens on `port`; each connection lasts for the next number of bytes in `lives` (sent by the
    client), after those are used up for ever."""

    def __init__(self, to_port: int, lives: list[int]) -> None:
        self._to = to_port
        self._lives = list(lives)
        self.cuts = 0
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._listener.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    def __enter__(self) -> CutLine:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._listener.close()

    def _accept(self) -> None:
        while True:
            try:
                client, _ = self._listener.accept()
            except OSError:
                return
            life = self._lives.pop(0) if self._lives else None
            try:
                server = socket.create_connection(("127.0.0.1", self._to))
            except OSError:
                client.close()
                continue
            threading.Thread(target=self._carry, args=(client, server, life), daemon=True).start()
            threading.Thread(target=self._carry, args=(server, client, None), daemon=True).start()

    def _carry(self, source: socket.socket, sink: socket.socket, life: int | None) -> None:
        carried = 0
        with contextlib.suppress(OSError):
            while data := source.recv(65536):
                if life is not None and carried + len(data) > life:
                    sink.sendall(data[: life - carried])
                    self.cuts += 1
                    break
                carried += len(data)
                sink.sendall(data)
        for end in (source, sink):
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()

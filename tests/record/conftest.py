"""Real parts for the record's tests: a PostgreSQL server of our own, jobs that look like jobs."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from sqlalchemy import create_engine

from sayso.record import Store, open_store


def _server_programs() -> Path | None:
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb")) if os.name == "posix" else []
    if found:
        return found[-1].parent
    in_path = shutil.which("initdb")
    return Path(in_path).parent if in_path else None


@dataclass
class PostgresServer:
    """A server in a folder of its own. PostgreSQL refuses to run as root, so root runs it as `postgres`."""

    programs: Path
    folder: Path
    port: int

    def _as_owner(self, *command: str) -> list[str]:
        if os.geteuid() == 0:
            return ["setpriv", "--reuid=postgres", "--regid=postgres", "--clear-groups", *command]
        return list(command)

    def make(self) -> None:
        if os.geteuid() == 0:
            shutil.chown(self.folder, "postgres", "postgres")
        subprocess.run(
            self._as_owner(
                str(self.programs / "initdb"),
                "-D",
                str(self.folder / "data"),
                "-A",
                "trust",
                "-U",
                "owner",
                "--no-sync",
                "-E",
                "UTF8",
                "--locale=C",
            ),
            check=True,
            capture_output=True,
            cwd="/",
        )

    def start(self) -> None:
        self._server = subprocess.Popen(
            self._as_owner(
                str(self.programs / "postgres"),
                "-D",
                str(self.folder / "data"),
                "-p",
                str(self.port),
                "-k",
                str(self.folder),
                "-c",
                "listen_addresses=127.0.0.1",
                "-c",
                "max_connections=40",
            ),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            cwd="/",
            start_new_session=True,
        )
        for _ in range(150):
            ready = subprocess.run(
                [str(self.programs / "pg_isready"), "-h", "127.0.0.1", "-p", str(self.port)],
                capture_output=True,
                check=False,
            )
            if ready.returncode == 0:
                return
            if self._server.poll() is not None:
                break
            time.sleep(0.1)
        raise RuntimeError("the test's PostgreSQL did not start")

    def kill(self) -> None:
        """Every process of the server dies at once, as when its plug is pulled."""
        children = Path(f"/proc/{self._server.pid}/task/{self._server.pid}/children").read_text().split()
        for pid in (self._server.pid, *map(int, children)):
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        self._server.wait()
        time.sleep(0.3)  # the kernel takes their shared memory down; the next start insists on that

    def stop(self) -> None:
        if self._server.poll() is None:
            self._server.send_signal(signal.SIGINT)  # "fast shutdown"
            try:
                self._server.wait(20)
            except subprocess.TimeoutExpired:
                self.kill()

    def address(self, database: str, *, user: str = "owner", port: int | None = None) -> str:
        return f"postgresql://{user}@127.0.0.1:{port or self.port}/{database}"

    def new_database(self, name: str) -> str:
        engine = create_engine(
            f"postgresql+psycopg://owner@127.0.0.1:{self.port}/postgres", isolation_level="AUTOCOMMIT"
        )
        with engine.connect() as connection:
            connection.exec_driver_sql(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')
            connection.exec_driver_sql(f'CREATE DATABASE "{name}"')
        engine.dispose()
        return self.address(name)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@contextlib.contextmanager
def running_server() -> Iterator[PostgresServer]:
    """A fresh server on a port of its own. Raises RuntimeError where no PostgreSQL is installed."""
    programs = _server_programs()
    if programs is None and os.geteuid() == 0:
        subprocess.run(["apt-get", "install", "-y", "-q", "postgresql"], check=False, capture_output=True)
        programs = _server_programs()
    if programs is None:
        raise RuntimeError("no PostgreSQL here and none could be installed (apt-get install postgresql)")
    folder = Path(tempfile.mkdtemp(prefix="sayso-pg-"))
    server = PostgresServer(programs, folder, free_port())
    try:
        server.make()
        server.start()
        yield server
    finally:
        if hasattr(server, "_server"):
            server.stop()
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[PostgresServer]:
    if _server_programs() is None and os.geteuid() != 0:
        pytest.skip("no PostgreSQL server here (apt-get install postgresql)")
    with running_server() as server:
        yield server


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(tmp_path / "record.db") as opened:
        yield opened


@pytest.fixture(params=["sqlite", "postgresql"])
def any_store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Store]:
    """The same test on both kinds of store."""
    if request.param == "sqlite":
        place: str | Path = tmp_path / "record.db"
    else:
        server: PostgresServer = request.getfixturevalue("postgres_server")
        place = server.new_database("any_store")
    with open_store(place) as opened:
        yield opened


@pytest.fixture
def quick_folder() -> Iterator[Path]:
    """A folder in memory where there is one: for tests that open thousands of copies of a record,
    where how long a real disk takes to sync is not what is tested."""
    memory = Path("/dev/shm")
    folder = Path(tempfile.mkdtemp(prefix="sayso-", dir=memory if os.access(memory, os.W_OK) else None))
    yield folder
    shutil.rmtree(folder, ignore_errors=True)

"""A PostgreSQL server of its own for the tests, on loopback, never as root, stopped at the end."""

from __future__ import annotations

import itertools
import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from contextlib import contextmanager
from pathlib import Path

import psycopg

MISSING = "PostgreSQL's server is missing; install Debian's package named postgresql"
_numbers = itertools.count(1)


def programs() -> Path:
    """Where the newest installed server has its programs."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda p: float(p.parts[-3]))
    if found:
        return found[-1].parent
    elsewhere = shutil.which("initdb")
    if elsewhere is None:
        raise RuntimeError(MISSING)
    return Path(elsewhere).parent


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class Server:
    """A running server; ``fresh`` makes a database in it."""

    def __init__(self, folder: Path, *, durable: bool) -> None:
        self.settings = "" if durable else " -c fsync=off -c full_page_writes=off"
        self.bin, self.folder, self.port = programs(), folder, free_port()
        # The server refuses to run as root; Debian's package brings a user for it.
        self.user = "postgres" if os.geteuid() == 0 else pwd.getpwuid(os.geteuid()).pw_name
        if os.geteuid() == 0:
            shutil.chown(folder, self.user)
        self.data = folder / "data"

    def run(self, program: str, *arguments: str) -> None:
        as_user = {"user": self.user} if os.geteuid() == 0 else {}
        done = subprocess.run(
            [str(self.bin / program), *arguments],
            check=False,
            cwd=self.folder,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            **as_user,
        )
        if done.returncode:
            raise RuntimeError(f"{program} ended with {done.returncode}: {done.stdout}")

    def start(self) -> None:
        options = (
            f"-c listen_addresses=127.0.0.1 -c port={self.port} -c unix_socket_directories={self.folder}"
        )
        options += self.settings
        log = str(self.folder / "log")
        self.run("pg_ctl", "start", "-w", "-D", str(self.data), "-l", log, "-o", options)

    def stop(self, how: str = "fast") -> None:
        self.run("pg_ctl", "stop", "-w", "-m", how, "-D", str(self.data))

    def url(self, name: str) -> str:
        return f"postgresql://{self.user}@127.0.0.1:{self.port}/{name}"

    def fresh(self, template: str = "template1") -> str:
        """Make a database and return its address."""
        name = f"lab{next(_numbers)}"
        with psycopg.connect(self.url("postgres"), autocommit=True) as conn:
            conn.execute(f"CREATE DATABASE {name} TEMPLATE {template}")
        return self.url(name)

    def drop(self, address: str) -> None:
        """Take a database away."""
        with psycopg.connect(self.url("postgres"), autocommit=True) as conn:
            conn.execute(f"DROP DATABASE {address.rsplit('/', 1)[1]} WITH (FORCE)")


@contextmanager
def server(*, durable: bool = True):
    """Start a server in a temporary folder; stop it and take the folder away.

    ``durable``: with its writes synced, as in use; only tests of crashes need that.
    """
    with tempfile.TemporaryDirectory(prefix="lodestarch-pg-") as name:
        folder = Path(name)
        folder.chmod(0o755)
        made = Server(folder, durable=durable)
        # A collation as servers commonly have it: our columns must not depend on it.
        order = ["--locale=C.UTF-8", "--locale-provider=icu", "--icu-locale=en-US"]
        made.run("initdb", "-D", str(made.data), "-U", made.user, "-A", "trust", "-E", "UTF8", "-N", *order)
        made.start()
        try:
            yield made
        finally:
            made.stop("immediate")

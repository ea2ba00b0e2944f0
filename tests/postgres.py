"""A PostgreSQL server of the tests' own: Debian's binaries, a folder of its own, loopback, a free port."""

import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

USER = "postgres"


@dataclass(frozen=True)
class Server:
    """Where it listens, and whom it lets in; what ends and starts it."""

    port: int
    password: str
    control: tuple[str, ...]
    folder: Path
    settings: str

    def address(self, database: str = "postgres", user: str = "holdzero_test") -> str:
        """Its address, without the password."""
        return f"postgresql://{user}@127.0.0.1:{self.port}/{database}"

    def started(self) -> None:
        """Start it, once it is made."""
        for _ in range(20):  # what a killed one left behind may still be ending
            words = [*self.control, "-l", str(self.folder / "log"), "-o", self.settings, "start"]
            if not subprocess.run(words, stdout=subprocess.DEVNULL, cwd=self.folder, check=False).returncode:
                return
            time.sleep(0.2)
        raise RuntimeError((self.folder / "log").read_text(encoding="utf-8"))

    def killed(self) -> None:
        """End it as a power cut would: the process that heads it, by force."""
        pid = int((self.folder / "data" / "postmaster.pid").read_text(encoding="utf-8").splitlines()[0])
        os.kill(pid, signal.SIGKILL)

    def made(self, database: str, template: str = "template0") -> str:
        """Make an empty database, or a copy of another one; returns its address."""
        self.told(f'create database "{database}" template "{template}"')
        return self.address(database)

    def told(self, statement: str, database: str = "postgres") -> None:
        """Have one statement done, as whoever keeps the server."""
        import psycopg

        with psycopg.connect(self.address(database), password=self.password, autocommit=True) as connection:
            connection.execute(statement)


def need_postgres() -> Path:
    """Find the server's programs; skip without them, unless the run says that they must be there."""
    homes = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    missing = "" if homes else "PostgreSQL's server is not installed"
    if not missing and os.name == "posix" and os.geteuid() == 0 and shutil.which("runuser") is None:
        missing = "PostgreSQL refuses to run as root, and there is no runuser"
    try:
        import psycopg  # noqa: F401
    except ImportError:
        missing = missing or "psycopg is not installed"
    if missing:
        if os.environ.get("HOLDZERO_NEED_POSTGRES") == "1":
            pytest.fail(f"PostgreSQL is needed: {missing}")
        pytest.skip(missing)
    return homes[-1].parent


@contextmanager
def server(*, fsync: str = "off") -> Iterator[Server]:
    """Start one; ended, and its folder gone, when the tests are done."""
    programs = need_postgres()
    folder = Path(tempfile.mkdtemp(prefix="holdzero-postgres-"))
    as_user = ["runuser", "-u", USER, "--"] if sys.platform != "win32" and os.geteuid() == 0 else []
    if as_user:
        shutil.chown(folder, USER)
    password = "not a secret: of a server that lives for one test run"
    (folder / "word").write_text(password, encoding="utf-8")
    (folder / "word").chmod(0o644)
    data = folder / "data"
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        port = found.getsockname()[1]
    made = [programs / "initdb", "-D", data, "-U", "holdzero_test", "--auth=scram-sha-256", "--no-sync"]
    made += [f"--pwfile={folder / 'word'}", "--encoding=UTF8", "--locale=C.UTF-8"]
    subprocess.run([*as_user, *map(str, made)], check=True, stdout=subprocess.DEVNULL, cwd=folder)
    settings = f"-p {port} -h 127.0.0.1 -c unix_socket_directories='' -c fsync={fsync} -c autovacuum=off"
    control = [*as_user, str(programs / "pg_ctl"), "-D", str(data), "-w", "-t", "60"]
    running = Server(port, password, tuple(control), folder, settings)
    running.started()
    try:
        yield running
    finally:
        subprocess.run([*control, "-m", "immediate", "stop"], check=True, stdout=subprocess.DEVNULL, cwd=folder)
        shutil.rmtree(folder, ignore_errors=True)

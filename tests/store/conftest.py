"""A private PostgreSQL server for the whole run, and what all tests of the store share."""

import os
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from oiltrend.store import DATABASE_NAME, open_store
from oiltrend.store.schema import TABLES
from tests.needs import skip_or_fail

pytest.register_assert_rewrite(*(f"tests.store.{name}" for name in (
    "contract", "contract_gateway", "contract_imports", "contract_records",
    "contract_samples", "contract_verdicts", "made")))


def _binaries() -> Path | None:
    found = shutil.which("initdb")
    places = [Path(found).parent] if found else []
    # Debian keeps them out of the path, one folder per version.
    places += sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    return next((place for place in places if (place / "postgres").exists()), None)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    """Address of a server of our own, without a database name; fsync is on as at home."""
    binaries = _binaries()
    if binaries is None:
        skip_or_fail("PostgreSQL is not installed (Debian: apt install postgresql)",
                     required_by="OILTREND_REQUIRE_POSTGRES")
    home = Path(tempfile.mkdtemp(prefix="oiltrend-postgres-"))
    # The server refuses to run as root.
    who = {"user": "postgres", "group": "postgres"} if os.geteuid() == 0 else {}
    if who:
        shutil.chown(home, "postgres", "postgres")
    try:
        subprocess.run([binaries / "initdb", "-D", home / "data", "-U", "oil", "-E", "UTF8",
                        "--auth=trust", "--data-checksums", "--locale=C.UTF-8"], check=True,
                       capture_output=True, cwd=home, **who)
        port = _free_port()
        server = subprocess.Popen(
            [binaries / "postgres", "-D", home / "data", "-p", str(port), "-h", "127.0.0.1",
             "-k", home, "-c", "fsync=on"], cwd=home, stderr=subprocess.DEVNULL, **who)
        try:
            address = f"postgresql://oil@127.0.0.1:{port}"
            _wait_for(address)
            yield address
        finally:
            # At once: nothing of it is needed again.
            server.send_signal(signal.SIGQUIT)
            server.wait(timeout=30)
    finally:
        shutil.rmtree(home, ignore_errors=True)


def _wait_for(address: str) -> None:
    import psycopg

    for _ in range(300):
        try:
            psycopg.connect(f"{address}/postgres").close()
        except psycopg.OperationalError:
            time.sleep(0.05)
        else:
            return
    pytest.fail("the private PostgreSQL server did not start")


@pytest.fixture(scope="session")
def new_database(postgres_server: str) -> Callable[[], str]:
    """A function that makes an empty database and gives its address."""
    import psycopg

    count = 0

    def make() -> str:
        nonlocal count
        count += 1
        with psycopg.connect(f"{postgres_server}/postgres", autocommit=True) as link:
            link.execute(f"CREATE DATABASE oil{count}")
        return f"{postgres_server}/oil{count}"

    return make


@pytest.fixture(scope="session")
def migrated_postgres(new_database: Callable[[], str],
                      tmp_path_factory: pytest.TempPathFactory) -> str:
    """Address of a database with all tables, shared: making one for each test takes long."""
    address = new_database()
    open_store(folder=tmp_path_factory.mktemp("postgres"), url=address).close()
    return address


@pytest.fixture
def wiped_postgres(migrated_postgres: str) -> str:
    """The shared database without rows, as if it had just been made."""
    import psycopg
    from psycopg.sql import SQL, Identifier

    with psycopg.connect(migrated_postgres) as link:
        # The server's own way past the guards of logs and keys, open to its owner only.
        link.execute("SET session_replication_role = replica")
        for name in TABLES:
            if name not in ("panel", "counter"):
                link.execute(SQL("DELETE FROM {}").format(Identifier(name)))
        link.execute("UPDATE counter SET value = 0")
    return migrated_postgres


@pytest.fixture(scope="session")
def migrated_sqlite(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty database file with all tables, closed, to be copied."""
    folder = tmp_path_factory.mktemp("sqlite")
    open_store(folder=folder).close()
    return folder / DATABASE_NAME

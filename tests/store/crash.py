"""Work that is done in a process of its own, to be stopped or starved while it does it."""

import multiprocessing
import resource
import signal
from multiprocessing.connection import Connection
from multiprocessing.context import ForkServerContext
from pathlib import Path

from oiltrend.errors import OiltrendError
from oiltrend.store import Store, open_store
from tests.store.made import KIM, samples

ROWS = 20


def processes() -> ForkServerContext:
    context = multiprocessing.get_context("forkserver")
    # Once for all: a process is there in milliseconds.
    context.set_forkserver_preload(["tests.store.crash"])
    return context


def bring_in(store: Store, number: int, *, rows: int = ROWS, halves: bool = False) -> None:
    """One import. With ``halves`` row by row, as it must not be done: the control."""
    name = store.keep_file(b"file %d\n" % number)
    table = samples(rows, seed=number)
    with store.write(KIM, "import") as tx:
        import_id = tx.add_import(f"{number}.csv", name, "samples",
                                  counts={"accepted": rows}, options={})
        if not halves:
            tx.add_samples(table, import_id=import_id)
    if halves:
        for row in range(rows):
            with store.write(KIM, "row") as tx:
                tx.add_samples(table.take([row]), import_id=import_id)


def import_without_end(folder: Path, url: str | None, first: int, halves: bool,
                       done: Connection) -> None:
    with open_store(folder=folder, url=url) as store:
        # One to get warm, so that the time to the next is known beforehand.
        bring_in(store, first)
        done.send(first)
        for number in range(first + 1, first + 1000):
            bring_in(store, number, halves=halves)
            done.send(number)


def import_on_a_small_disk(folder: Path, limit: int, rows: int, halves: bool,
                           done: Connection) -> None:
    """Import while no file may grow beyond a limit; tell what was said and still read."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))
    words, readable = "", False
    try:
        with open_store(folder=folder) as store:
            try:
                bring_in(store, 1, rows=rows, halves=halves)
            finally:
                readable = len(store.fleet()) >= 0
    except OiltrendError as refused:
        words = str(refused)
    done.send((words, readable))

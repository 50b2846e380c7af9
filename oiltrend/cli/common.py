"""What every command shares: the store it works on, who calls, and how it prints."""

from __future__ import annotations

import argparse
import getpass
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import orjson

from oiltrend.records import Caller
from oiltrend.service.workshop import begin_store
from oiltrend.store import Store, open_store

__all__ = ["command_caller", "data_folder", "opened", "print_json", "print_lines", "say"]


def data_folder(options: argparse.Namespace) -> Path:
    """Give the folder that a command works in.

    Parameters
    ----------
    options : Namespace [-]
        Parsed options.

    Returns
    -------
    Path [-]
        ``--data``, or the user's own data folder.
    """
    if options.data:
        return Path(options.data).expanduser()
    from platformdirs import user_data_path

    return user_data_path("oiltrend", appauthor=False)


@contextmanager
def opened(options: argparse.Namespace) -> Iterator[Store]:
    """Open the store that the options name, and close it afterwards.

    Parameters
    ----------
    options : Namespace [-]
        Parsed options.

    Yields
    ------
    Store [-]
        The open store.
    """
    store = open_store(folder=data_folder(options), url=options.database)
    try:
        begin_store(store, command_caller())
        yield store
    finally:
        store.close()


def command_caller() -> Caller:
    """Give the caller of a command: whoever is logged in on the machine, as the shop.

    Returns
    -------
    Caller [-]
        Name and role.
    """
    try:
        name = getpass.getuser()
    except (KeyError, OSError, ImportError):
        name = "command line"
    return Caller(name, "shop")


def print_json(document: object) -> None:
    """Write one JSON document on standard output.

    Parameters
    ----------
    document : object [-]
        Dicts, lists, texts, numbers, dates, dataclasses.
    """
    text = orjson.dumps(document, option=orjson.OPT_INDENT_2 | orjson.OPT_SERIALIZE_NUMPY)
    sys.stdout.write(text.decode() + "\n")


def print_lines(*lines: str) -> None:
    """Write lines on standard output.

    Parameters
    ----------
    *lines : str [-]
        Lines.
    """
    sys.stdout.write("".join(line + "\n" for line in lines))


def say(text: str) -> None:
    """Write a message for people on standard error.

    Parameters
    ----------
    text : str [-]
        The message.
    """
    sys.stderr.write(text + "\n")

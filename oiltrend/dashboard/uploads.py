"""Files on their way in: the browser sends one, and gets a word under which the page finds it.

The bytes wait in memory for the questions to be answered; the store gets them only with the
import itself. Few and small files wait at a time, and not for long.
"""

from __future__ import annotations

import secrets
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import PurePosixPath, PureWindowsPath
from threading import Lock
from typing import cast

from flask import Flask, current_app, jsonify, request
from flask.typing import ResponseReturnValue

from oiltrend.dashboard.context import current_caller
from oiltrend.errors import NotThere
from oiltrend.records import Caller

__all__ = ["Upload", "UploadShelf", "add_upload_route", "plain_name", "upload_shelf"]

_EXTENSION = "oiltrend-uploads"


@dataclass(frozen=True, slots=True)
class Upload:
    """One file that waits: its bytes, its name as the browser said it, and who sent it.

    Parameters
    ----------
    data : bytes [-]
        The file.
    filename : str [-]
        Name without folders.
    caller : Caller [-]
        Who may ask for it.
    """

    data: bytes
    filename: str
    caller: Caller


class UploadShelf:
    """Keeps a few files for a while, each under a word that cannot be guessed.

    Parameters
    ----------
    most : int [-]
        How many files wait at a time; the oldest goes first.
    seconds : float [-]
        How long one waits.
    clock : callable [-]
        Gives the time in seconds.
    """

    def __init__(self, *, most: int = 12, seconds: float = 3600.0,
                 clock: Callable[[], float] = time.monotonic) -> None:
        self._most = most
        self._seconds = seconds
        self._clock = clock
        self._lock = Lock()
        self._waiting: OrderedDict[str, tuple[float, Upload]] = OrderedDict()

    def put(self, upload: Upload) -> str:
        """Keep a file.

        Parameters
        ----------
        upload : Upload [-]
            The file.

        Returns
        -------
        str [-]
            The word under which it waits.
        """
        token = secrets.token_urlsafe(24)
        with self._lock:
            self._tidy()
            self._waiting[token] = (self._clock() + self._seconds, upload)
            while len(self._waiting) > self._most:
                self._waiting.popitem(last=False)
        return token

    def get(self, token: object, caller: Caller) -> Upload:
        """Find a file again.

        Parameters
        ----------
        token : object [-]
            The word, as received.
        caller : Caller [-]
            Who asks.

        Returns
        -------
        Upload [-]
            The file.

        Raises
        ------
        NotThere
            When it has gone, never was, or is someone else's.
        """
        with self._lock:
            self._tidy()
            found = self._waiting.get(token) if isinstance(token, str) else None
        if found is None or found[1].caller != caller:
            raise NotThere("file: must be one that was sent within the last hour, found none",
                           hint="choose the file again")
        return found[1]

    def drop(self, token: object, caller: Caller) -> None:
        """Forget a file.

        Parameters
        ----------
        token : object [-]
            The word, as received.
        caller : Caller [-]
            Who asks.
        """
        self.get(token, caller)
        with self._lock:
            self._waiting.pop(str(token), None)

    def _tidy(self) -> None:
        now = self._clock()
        for token in [t for t, (until, _) in self._waiting.items() if until < now]:
            del self._waiting[token]


def upload_shelf() -> UploadShelf:
    """Give the shelf of the app that answers this request.

    Returns
    -------
    UploadShelf [-]
        Where files wait.
    """
    return cast(UploadShelf, current_app.extensions[_EXTENSION])


def add_upload_route(server: Flask) -> None:
    """Let the browser send a file to ``/api/upload`` (field ``file``).

    Parameters
    ----------
    server : Flask [-]
        The server; it checks origin and size of every body.
    """
    server.extensions[_EXTENSION] = UploadShelf()

    @server.post("/api/upload")
    def _upload() -> ResponseReturnValue:
        sent = request.files.get("file")
        if sent is None or not sent.filename:
            return jsonify(error="No file came with the request; choose a file."), 400
        with sent.stream:
            data = sent.stream.read()
        if not data:
            return jsonify(error=f"{plain_name(sent.filename)} is empty; choose another file."), 400
        upload = Upload(data, plain_name(sent.filename), current_caller())
        return jsonify(token=upload_shelf().put(upload), filename=upload.filename,
                       size=len(data))


def plain_name(found: str) -> str:
    """Take the folders and what cannot be seen out of a file's name.

    Parameters
    ----------
    found : str [-]
        As the browser said it.

    Returns
    -------
    str [-]
        A short name; "file" when nothing is left.

    Examples
    --------
    >>> plain_name("/home/ines/march.csv"), plain_name("../..")
    ('march.csv', 'file')
    """
    last = PurePosixPath(PureWindowsPath(found).name).name
    shown = "".join(c for c in last if c.isprintable())[:120]
    return shown if shown.strip(". ") else "file"

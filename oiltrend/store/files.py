"""Raw files by content hash: whole or not there, and never changed.

A file is written under another name, forced to disk, and then given its name; only after that
may a row point to it. So a row never points to a file that is not there.
"""

from __future__ import annotations

import hashlib
import os
import uuid
from pathlib import Path

from oiltrend.errors import NotThere, StoreError
from oiltrend.store.place import fsync_folder

__all__ = ["FileShelf"]


class FileShelf:
    """The folder of raw files.

    Parameters
    ----------
    folder : Path [-]
        Where they lie, in sub-folders by the first two digits of their hash.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def keep_file(self, data: bytes) -> str:
        """Keep a file; keeping the same again does nothing.

        Parameters
        ----------
        data : bytes [-]
            Its content.

        Returns
        -------
        str [-]
            SHA-256 of the content, 64 hex digits.

        Raises
        ------
        StoreError
            The disk could not be written.
        """
        name = hashlib.sha256(data).hexdigest()
        place = self._place(name)
        if place.exists():
            return name
        part = place.with_name(f"{name}.{uuid.uuid4().hex}.part")
        try:
            place.parent.mkdir(parents=True, exist_ok=True)
            with part.open("xb") as out:
                out.write(data)
                out.flush()
                os.fsync(out.fileno())
            part.replace(place)
            fsync_folder(place.parent)
            fsync_folder(self._folder)
        except OSError as fault:
            part.unlink(missing_ok=True)
            raise StoreError(f"{self._folder}: the file must be kept, found '"
                             f"{fault.strerror or fault}'; nothing was stored",
                             hint="free some space, then try again") from fault
        return name

    def file(self, sha256: str) -> bytes:
        """Fetch a kept file, and check that it is what it was.

        Parameters
        ----------
        sha256 : str [-]
            Its hash.

        Returns
        -------
        bytes [-]
            Its content.

        Raises
        ------
        NotThere
            No such file.
        StoreError
            The file was damaged since.
        """
        try:
            data = self._place(sha256).read_bytes()
        except FileNotFoundError as fault:
            raise NotThere(f"file: must be one that was kept, found '{sha256}'",
                           hint="restore the last backup if it should be there") from fault
        found = hashlib.sha256(data).hexdigest()
        if found != sha256:
            raise StoreError(f"file {sha256}: must be what it was when kept, found content with "
                             f"hash {found}", hint="restore the last backup")
        return data

    def _place(self, name: str) -> Path:
        if len(name) != 64 or not set(name) <= set("0123456789abcdef"):
            raise NotThere(f"file: must be named by 64 hex digits, found '{name[:80]}'",
                           hint="use the hash under which it was kept")
        return self._folder / name[:2] / name

"""Where a store may live: a folder on a disk of this machine, in which one may write."""

from __future__ import annotations

import ctypes
import os
import time
import uuid
from pathlib import Path

from oiltrend.errors import StoreRefused

__all__ = ["fsync_folder", "prepare_folder", "refuse_far_folder", "sweep_parts", "why_far"]

# File systems on which the locks a database needs do not hold, or that copy files behind its
# back. A general "fuse." rule would refuse container disks, so these are named.
_FAR = {"nfs", "nfs4", "cifs", "smb3", "smbfs", "afs", "ceph", "glusterfs", "lustre", "ncpfs",
        "davfs", "fuse.davfs2", "fuse.sshfs", "fuse.rclone", "fuse.gvfsd-fuse", "fuse.s3fs",
        "fuse.onedriver", "fuse.google-drive-ocamlfuse", "fuse.glusterfs", "fuse.cephfs"}
_SYNCED = ("onedrive", "dropbox", "google drive", "googledrive", "icloud drive", "icloud~",
           "mobile documents", "cloudstorage", "nextcloud", "owncloud", "pcloud")
_LEFT_BEHIND_S = 3600.0


def why_far(folder: Path, *, mounts: str = "") -> str:
    """Say why a folder is not on a disk of this machine, as far as can be seen.

    Parameters
    ----------
    folder : Path [-]
        An absolute folder.
    mounts : str [-]
        What Linux lists in ``/proc/self/mountinfo``; empty elsewhere.

    Returns
    -------
    str [-]
        The reason, ``""`` when nothing speaks against the folder.

    Examples
    --------
    >>> why_far(Path("/home/kim/OneDrive/oil"))
    "it lies in a folder that is kept in step with a cloud ('OneDrive')"
    >>> why_far(Path("/mnt/shop/oil"), mounts="36 35 0:1 / /mnt/shop rw - nfs4 server:/shop rw")
    'it lies on a network drive (nfs4)'
    >>> why_far(Path("/home/kim/oil"))
    ''
    """
    for part in folder.parts:
        if part.lower().startswith(_SYNCED):
            return f"it lies in a folder that is kept in step with a cloud ('{part}')"
    if str(folder).startswith("\\\\"):
        return "it lies on a network drive"
    kind = _file_system(folder, mounts)
    return f"it lies on a network drive ({kind})" if kind in _FAR else ""


def _file_system(folder: Path, mounts: str) -> str:
    # The longest mount point above the folder holds it; later lines cover earlier ones.
    found, length = "", -1
    for line in mounts.splitlines():
        left, _, right = line.partition(" - ")
        fields = left.split()
        if len(fields) < 5 or not right.split():
            continue
        point = Path(fields[4].replace("\\040", " "))
        if folder.is_relative_to(point) and len(point.parts) >= length:
            found, length = right.split()[0], len(point.parts)
    return found


def refuse_far_folder(folder: Path) -> None:
    """Refuse a folder on a network drive or in a cloud.

    Parameters
    ----------
    folder : Path [-]
        Where the database would live.

    Raises
    ------
    StoreRefused
        The folder is not on a disk of this machine.
    """
    where = folder.resolve()
    table = Path("/proc/self/mountinfo")
    mounts = table.read_text(errors="replace") if table.exists() else ""
    reason = why_far(where, mounts=mounts) or _far_on_windows(where)
    if reason:
        raise StoreRefused(
            f"{folder}: the database must lie on a disk of this machine, found that {reason}",
            hint="choose another folder, or use PostgreSQL with --database")


def _far_on_windows(folder: Path) -> str:
    if os.name != "nt":
        return ""
    remote = 4  # DRIVE_REMOTE
    kind = vars(ctypes)["windll"].kernel32.GetDriveTypeW(folder.anchor)
    return "it lies on a network drive" if kind == remote else ""


def prepare_folder(folder: Path) -> None:
    """Make the folder if need be, and prove that one may write in it.

    Parameters
    ----------
    folder : Path [-]
        Where the store lives.

    Raises
    ------
    StoreRefused
        The folder cannot be made or written.
    """
    probe = folder / f"probe-{uuid.uuid4().hex}.part"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        probe.write_bytes(b"oiltrend")
        probe.unlink()
    except OSError as fault:
        raise StoreRefused(
            f"{folder}: the store must be able to write in its folder, found "
            f"'{fault.strerror or fault}'",
            hint="ask for the right to write there, or choose another folder") from fault


def sweep_parts(folder: Path) -> int:
    """Remove half-written files that a stopped program left behind more than an hour ago.

    Younger ones may belong to another program that is writing right now.

    Parameters
    ----------
    folder : Path [-]
        Looked through with everything in it.

    Returns
    -------
    int [-]
        How many were removed.
    """
    swept = 0
    for part in folder.rglob("*.part*"):
        try:
            if time.time() - part.stat().st_mtime > _LEFT_BEHIND_S:
                part.unlink()
                swept += 1
        except FileNotFoundError:
            continue
    return swept


def fsync_folder(folder: Path) -> None:
    """Make sure that the names in a folder survive a power cut.

    Parameters
    ----------
    folder : Path [-]
        The folder. Windows does not offer this and does without.
    """
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)

"""Bytes to text: what kind of file it is, its encoding, and what had to be assumed."""

from __future__ import annotations

import codecs
from dataclasses import dataclass

from oiltrend.errors import FileRefused
from oiltrend.ingest.model import Note

__all__ = ["Decoded", "decode"]

# First bytes of files that people hand in by mistake.
_SHEET = ("a spreadsheet workbook", "open it and save the sheet as CSV, then import that file")
_OTHER = ("", "export the results as CSV and import that file")
_FIRST_BYTES: tuple[tuple[bytes, str, str], ...] = (
    (b"PK\x03\x04", "a workbook or another packed (zip) file", _SHEET[1]),
    (b"PK\x05\x06", "an empty packed (zip) file", _SHEET[1]),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet workbook or office document", _SHEET[1]),
    (b"%PDF", "a PDF document", _OTHER[1]),
    (b"\x1f\x8b", "a packed (gzip) file", "unpack it first"),
    (b"\x89PNG", "a picture (PNG)", _OTHER[1]),
    (b"\xff\xd8\xff", "a picture (JPEG)", _OTHER[1]),
    (b"GIF8", "a picture (GIF)", _OTHER[1]),
    (b"{\\rtf", "a text document (RTF)", _OTHER[1]),
)
_FIRST_WORDS: tuple[tuple[str, str], ...] = (
    ("<!doctype html", "a web page (HTML)"),
    ("<html", "a web page (HTML)"),
    ("<?xml", "an XML document"),
    ("<svg", "a drawing (SVG)"),
)
_BOMS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"),
         (codecs.BOM_UTF16_BE, "utf-16"))


@dataclass(frozen=True, slots=True)
class Decoded:
    """A file as text.

    Parameters
    ----------
    text : str [-]
        Everything, line ends as they stand in the file.
    encoding : str [-]
        How the bytes were read.
    notes : tuple of Note [-]
        What had to be assumed or left out.
    """

    text: str
    encoding: str
    notes: tuple[Note, ...] = ()


def decode(data: bytes, *, filename: str, encoding: str = "") -> Decoded:
    r"""Read the bytes of a file as text, or say why they cannot be a CSV file.

    A byte-order mark decides; without one the text must be strict UTF-8; what is not is read
    as Western European (cp1252) and says so in a note.

    Parameters
    ----------
    data : bytes [-]
        The whole file.
    filename : str [-]
        For messages.
    encoding : str [-]
        Encoding given by the user; ``""`` to decide.

    Returns
    -------
    Decoded [-]
        Text, encoding and notes.

    Raises
    ------
    FileRefused
        When the file is empty, is another kind of file, holds NUL bytes, or cannot be read in
        the encoding.

    Examples
    --------
    >>> decode(b"engine,Fe\n", filename="a.csv").encoding
    'utf-8'
    >>> decode(b"engine;Eisen\nM\xfcller;3\n", filename="a.csv").encoding
    'cp1252'
    """
    _refuse_other_files(data, filename)
    body, padding = _without_padding(data)
    decoded = _as_text(body, filename, encoding)
    _refuse_other_documents(decoded.text, filename)
    if "\x00" in decoded.text:
        raise _nul(decoded.text, filename)
    if padding:
        note = Note(0, "", "", f"{padding} NUL bytes at the end of the file were left out; it "
                               "may have been cut off when it was written")
        return Decoded(decoded.text, decoded.encoding, (*decoded.notes, note))
    return decoded


def _refuse_other_files(data: bytes, filename: str) -> None:
    if not data.strip(b"\x00 \t\r\n"):
        raise FileRefused(f"{filename}: a CSV file must have a heading line, found an empty file",
                          hint="check the export and import it again")
    for lead, what, hint in _FIRST_BYTES:
        if data.startswith(lead):
            raise FileRefused(f"{filename}: must be a CSV file, found {what}", hint=hint)


def _refuse_other_documents(text: str, filename: str) -> None:
    start = text[:200].lstrip().casefold()
    for lead, what in _FIRST_WORDS:
        if start.startswith(lead):
            raise FileRefused(f"{filename}: must be a CSV file, found {what}", hint=_OTHER[1])


def _without_padding(data: bytes) -> tuple[bytes, int]:
    """Cut NUL bytes off the end, but not those that belong to UTF-16 text."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return data, 0
    body = data.rstrip(b"\x00")
    padding = len(data) - len(body)
    if b"\x00" in body or padding < 2:
        return data, 0
    return body, padding


def _as_text(body: bytes, filename: str, encoding: str) -> Decoded:
    marked = next((name for bom, name in _BOMS if body.startswith(bom)), "")
    if marked or encoding:
        wanted = marked or encoding
        try:
            return Decoded(body.decode(wanted), wanted.removesuffix("-sig"))
        except UnicodeDecodeError as error:
            raise FileRefused(f"{filename}: must be {wanted} text, found bytes that are not",
                              hint="save the file as UTF-8 and import it again") from error
    try:
        return Decoded(body.decode("utf-8"), "utf-8")
    except UnicodeDecodeError as error:
        return _as_cp1252(body, filename, error)


def _as_cp1252(body: bytes, filename: str, first: UnicodeDecodeError) -> Decoded:
    line = body.count(b"\n", 0, first.start) + 1
    try:
        text = body.decode("cp1252")
    except UnicodeDecodeError as error:
        raise FileRefused(f"{filename}: must be UTF-8 or cp1252 text, found bytes that are "
                          f"neither, on line {line}",
                          hint="save the file as UTF-8 and import it again") from error
    found = text[:-1].split("\n")[line - 1][:200] if text else ""
    note = Note(line, "", found, "the file is not UTF-8; it was read as Western European "
                                 "(cp1252): check letters with accents")
    return Decoded(text, "cp1252", (note,))


def _nul(text: str, filename: str) -> FileRefused:
    at = text.index("\x00")
    body = text.rstrip("\x00")
    if body.count("\x00") > len(body) // 3:
        return FileRefused(f"{filename}: must be text, found NUL bytes as in UTF-16 text without "
                           "its mark", hint="save the file as UTF-8 and import it again")
    line = text.count("\n", 0, at) + 1
    return FileRefused(f"{filename}: must be text, found a NUL byte on line {line}",
                       hint="export the file again; it is damaged or not a text file")

"""What a request stands on: its store, its caller, the address it asks for, its reader's habits.

The store hangs on the server object, because the registry of pages belongs to the process:
a layout that closed over a store would show the data of the last app that was made.
"""

from __future__ import annotations

from typing import Any
from urllib.parse import quote, unquote

from dash import ctx
from dash.exceptions import MissingCallbackContextException
from flask import current_app, has_request_context, request

from oiltrend.records import Caller

__all__ = ["EXTENSION", "address", "current_caller", "current_store", "decimal_sign", "id_from",
           "id_in_path", "parts_from", "parts_in_path"]

EXTENSION = "oiltrend"

# Languages in which a comma stands before the decimals (CLDR number symbols, from memory).
_COMMA = frozenset({"af", "az", "be", "bg", "bs", "ca", "cs", "da", "de", "el", "es", "et", "eu",
                    "fi", "fr", "gl", "hr", "hu", "hy", "id", "is", "it", "ka", "kk", "lt", "lv",
                    "mk", "nb", "nl", "nn", "no", "pl", "pt", "ro", "ru", "sk", "sl", "sq", "sr",
                    "sv", "tr", "uk", "uz", "vi"})
# Countries whose people write a point although most who speak the language do not.
_POINT_PLACES = frozenset({"de-ch", "de-li", "it-ch", "es-mx", "es-us", "es-pr", "es-gt", "es-hn",
                           "es-ni", "es-pa", "es-sv", "es-do", "es-pe"})


def current_store() -> Any:
    """Give the store of the app that answers this request.

    Returns
    -------
    Store [-]
        As handed to ``create_app``.
    """
    return current_app.extensions[EXTENSION]


def current_caller() -> Caller:
    """Say who asks. Until accounts exist, everyone at this computer is the shop.

    Returns
    -------
    Caller [-]
        The identity that every service function takes.
    """
    return Caller("shop (no accounts yet)", "shop")


def decimal_sign() -> str:
    """Give the decimal sign of the reader's language, as the browser states it.

    Returns
    -------
    str [-]
        A point, or a comma.
    """
    if not has_request_context():
        return "."
    language = (request.accept_languages.best or "en").lower()
    return "," if language.split("-")[0] in _COMMA and language not in _POINT_PLACES else "."


def address(path: str, *ids: str) -> str:
    """Write the address of a page about something.

    Parameters
    ----------
    path : str [-]
        Path of the page, for instance ``/engine``.
    ids : str [-]
        Ids, of any characters.

    Returns
    -------
    str [-]
        Path with the ids written so that they stay one part each.

    Examples
    --------
    >>> address("/engine", "V8 #3/left")
    '/engine/V8%20%233%2Fleft'
    """
    return "/".join([path.rstrip("/"), *(quote(one, safe="") for one in ids)])


def parts_in_path(path: str) -> tuple[str, ...]:
    """Read what the address in the browser names below a page; the query string has no say.

    Parameters
    ----------
    path : str [-]
        Path of the page, for instance ``/engine``.

    Returns
    -------
    tuple of str [-]
        Parts below the page; none when the address is the page itself.
    """
    try:
        return parts_from(path, ctx.inputs.get("_pages_location.pathname"))
    except MissingCallbackContextException:
        return ()


def parts_from(path: str, pathname: object) -> tuple[str, ...]:
    """Read what an address names below a page.

    Parameters
    ----------
    path : str [-]
        Path of the page.
    pathname : object [-]
        The address as the browser sent it.

    Returns
    -------
    tuple of str [-]
        Parts below the page; none when the address is another page.

    Examples
    --------
    >>> parts_from("/workshop", "/workshop/car/J%2F7"), parts_from("/engine", "/engines/7")
    (('car', 'J/7'), ())
    """
    prefix = path.rstrip("/") + "/"
    if not isinstance(pathname, str) or not pathname.startswith(prefix):
        return ()
    return tuple(unquote(part) for part in pathname[len(prefix):].split("/") if part)


def id_in_path(path: str) -> str:
    """Read the one id that the address in the browser names below a page.

    Parameters
    ----------
    path : str [-]
        Path of the page.

    Returns
    -------
    str [-]
        The id; "" when the address names none, or more than one part.
    """
    return _only(parts_in_path(path))


def id_from(path: str, pathname: object) -> str:
    """Read the one id that an address names below a page.

    Parameters
    ----------
    path : str [-]
        Path of the page.
    pathname : object [-]
        The address as the browser sent it.

    Returns
    -------
    str [-]
        The id; "" when the address names none, or more than one part.

    Examples
    --------
    >>> id_from("/engine", "/engine/V8%20%233%2Fleft"), id_from("/engine", "/engine/a/b")
    ('V8 #3/left', '')
    """
    return _only(parts_from(path, pathname))


def _only(parts: tuple[str, ...]) -> str:
    return parts[0] if len(parts) == 1 else ""

"""Every public function says what it takes and gives, with units that the nomenclature knows."""

from __future__ import annotations

import ast
import dataclasses
import inspect
import re
import textwrap
from collections.abc import Callable, Iterator
from types import ModuleType
from typing import Any

import pytest

from oiltrend.units import known_unit
from tests.house import PURE, importable, load
from tests.numpydoc import entries, sections

EXAMPLES_WANTED = {*PURE, "units", "nomenclature"}
Function = Callable[..., Any]


def public_functions(module: ModuleType) -> Iterator[tuple[str, Function, bool]]:
    """Give name, function and whether it is a method, for all that the module offers itself."""
    for name in getattr(module, "__all__", ()):
        thing = getattr(module, name)
        if getattr(thing, "__module__", None) != module.__name__:
            continue
        if inspect.isfunction(thing):
            yield f"{module.__name__}.{name}", thing, False
        elif inspect.isclass(thing):
            for method, member in vars(thing).items():
                function = inspect.unwrap(getattr(member, "__func__", member))
                if inspect.isfunction(function) and not method.startswith("_"):
                    yield (f"{module.__name__}.{name}.{method}", function,
                           not isinstance(member, staticmethod))


def known(unit: str | None) -> bool:
    """Say whether a documented unit is one that the program knows; ``km or h`` is two of them."""
    return unit is not None and all(known_unit(part) for part in unit.split(" or "))


def parameters(function: Function, *, is_method: bool) -> list[str]:
    """Name the parameters in their order; self and cls are left out."""
    names = list(inspect.signature(function).parameters)
    return names[1:] if is_method else names


def raised(function: Function) -> set[str]:
    """Name the errors that the function's own body raises."""
    tree = ast.parse(textwrap.dedent(inspect.getsource(function)))
    names = {ast.unparse(node.exc.func) for node in ast.walk(tree)
             if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call)}
    return {name for name in names if name[0].isupper()}  # not a function that makes the error


def docstring_faults(name: str, function: Function, *, is_method: bool) -> Iterator[str]:
    """List what is missing or wrong in one function's docstring."""
    parts = sections(function.__doc__ or "")
    documented = [n.lstrip("*") for entry in entries(parts.get("Parameters", []))
                  for n in entry.names]
    wanted = parameters(function, is_method=is_method)
    if documented != wanted:
        yield f"{name}: Parameters must be {wanted}, found {documented}"
    gives = inspect.signature(function).return_annotation not in (None, "None")
    if gives and not {"Returns", "Yields"} & set(parts):
        yield f"{name}: needs a Returns section"
    for section in ("Parameters", "Returns", "Yields"):
        for entry in entries(parts.get(section, [])):
            if not known(entry.unit):
                yield (f"{name}: {section} {', '.join(entry.names)}: must end with a known unit "
                       f"in square brackets, found {entry.unit}")
    listed = {line.split(",")[0].strip() for line in parts.get("Raises", ())}
    for error in sorted(raised(function) - listed):
        yield f"{name}: Raises must list {error}"
    if name.split(".")[1] in EXAMPLES_WANTED and not is_method and (
            ">>>" not in "".join(parts.get("Examples", []))):
        yield f"{name}: needs an Examples section that runs"


def signature_faults(name: str, function: Function) -> Iterator[str]:
    """List options that could be given by position, and catch-all keywords."""
    for parameter in inspect.signature(function).parameters.values():
        if parameter.kind is inspect.Parameter.VAR_KEYWORD:
            # Dash hands a page whatever stands in the address; it must be taken and dropped.
            if re.fullmatch(r"oiltrend\.dashboard\.pages\.\w+\.layout", name) and (
                    parameter.name == "_"):
                continue
            yield f"{name}: no **{parameter.name}; name what is taken"
        elif (parameter.default is not inspect.Parameter.empty
              and parameter.kind is not inspect.Parameter.KEYWORD_ONLY):
            yield f"{name}: the option '{parameter.name}' must come after *"


def class_faults(module: ModuleType) -> Iterator[str]:
    """Check the Parameters of a class, where it writes them, against what it takes."""
    for name in getattr(module, "__all__", ()):
        thing = getattr(module, name)
        if not inspect.isclass(thing) or thing.__module__ != module.__name__:
            continue
        documented = [entry for entry in entries(sections(thing.__doc__ or "").get(
            "Parameters", []))]
        names = [n for entry in documented for n in entry.names]
        if dataclasses.is_dataclass(thing):
            wanted = [field.name for field in dataclasses.fields(thing)]
            if names and names != wanted:
                yield f"{module.__name__}.{name}: Parameters must be {wanted}, found {names}"
        elif "__init__" in vars(thing):
            wanted = parameters(vars(thing)["__init__"], is_method=True)
            if names != wanted:
                yield f"{module.__name__}.{name}: Parameters must be {wanted}, found {names}"
            yield from signature_faults(f"{module.__name__}.{name}", vars(thing)["__init__"])
        for entry in documented:
            if not known(entry.unit):
                yield f"{module.__name__}.{name}: {entry.names}: unit not known: {entry.unit}"


@pytest.mark.parametrize("name", importable())
def test_docstrings_and_signatures(name: str) -> None:
    module = load(name)
    faults = list(class_faults(module))
    for where, function, is_method in public_functions(module):
        faults += docstring_faults(where, function, is_method=is_method)
        faults += signature_faults(where, function)
    assert not faults, "\n".join(faults)


def test_functions_are_found() -> None:
    names = [where for name in importable()
             for where, _, _ in public_functions(load(name))]
    assert {"oiltrend.units.convert", "oiltrend.records.SampleTable.take"} <= set(names)


def good(value: float, unit: str, *, digits: int = 2) -> str:
    """Write a number.

    Parameters
    ----------
    value, unit : float or str [mg/kg]
        What to write.
    digits : int, shape () [km or h]
        How finely.

    Returns
    -------
    str [-]
        The text.

    Raises
    ------
    ValueError
        Never mind.

    Examples
    --------
    >>> 1
    1
    """
    if digits < 0:
        raise ValueError("digits")
    return f"{value:.{digits}f} {unit}"


def test_a_good_docstring_passes() -> None:
    assert list(docstring_faults("oiltrend.wear.a.good", good, is_method=False)) == []
    assert list(signature_faults("good", good)) == []


@pytest.mark.parametrize(("old", "new", "fault"), [
    ("value, unit :", "value :", "Parameters must be"),
    ("value, unit :", "unit, value :", "Parameters must be"),
    ("[mg/kg]", "", "must end with a known unit in square brackets, found None"),
    ("[mg/kg]", "[furlong]", "found furlong"),
    ("[mg/kg]", "[mg/kg or furlong]", "found mg/kg or furlong"),
    ("str [-]\n", "str\n", "Returns : must end with a known unit"),
    ("Returns\n    -------", "Note\n    ----", "needs a Returns section"),
    ("ValueError\n", "KeyError\n", "Raises must list ValueError"),
    (">>> 1", "1", "needs an Examples section"),
])
def test_a_bad_docstring_is_caught(
        monkeypatch: pytest.MonkeyPatch, old: str, new: str, fault: str) -> None:
    monkeypatch.setattr(good, "__doc__", (good.__doc__ or "").replace(old, new))
    found = list(docstring_faults("oiltrend.wear.a.good", good, is_method=False))
    assert len(found) == 1
    assert fault in found[0]


def test_bad_signatures_are_caught() -> None:
    def bad(value: float, digits: int = 2, **rest: int) -> None:
        """Do nothing."""

    assert list(signature_faults("bad", bad)) == [
        "bad: the option 'digits' must come after *", "bad: no **rest; name what is taken"]

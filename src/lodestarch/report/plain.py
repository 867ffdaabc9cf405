"""Frozen values to JSON and back, by their declared types; what does not fit is refused by name."""

from __future__ import annotations

import types
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from functools import lru_cache
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

from lodestarch.common.canonical import Json
from lodestarch.common.errors import LodestarchError

__all__ = ["DoesNotFit", "from_plain", "to_plain"]

T = TypeVar("T")


class DoesNotFit(LodestarchError):
    """A document is not of the form that it says; ``place`` names the part."""

    def __init__(self, place: str, why: str) -> None:
        self.place, self.why = place, why
        super().__init__(f"{place}: {why}")


def to_plain(value: Any) -> Json:
    """Return a frozen value as JSON: every field by its name, tuples as lists."""
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: to_plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, tuple | list):
        return [to_plain(v) for v in value]
    if value is None or isinstance(value, bool | int | float | str):
        return value
    raise TypeError(f"{type(value).__name__} has no plain form")


@lru_cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _scalar(kind: Any, value: Any, place: str) -> Any:
    if kind is float and isinstance(value, int | float) and not isinstance(value, bool):
        return float(value)
    whole = isinstance(value, float) and value.is_integer()
    if kind is int and not isinstance(value, bool) and (isinstance(value, int) or whole):
        return int(value)
    if kind in {str, bool} and isinstance(value, kind):
        return value
    raise DoesNotFit(place, f"{kind.__name__} is wanted, {type(value).__name__} is there")


def _value(kind: Any, value: Any, place: str) -> Any:
    origin = get_origin(kind)
    if origin in {Union, types.UnionType}:
        inner = [k for k in get_args(kind) if k is not type(None)]
        return None if value is None else _value(inner[0], value, place)
    if origin is tuple:
        if not isinstance(value, list):
            raise DoesNotFit(place, "a list is wanted")
        (item, *_) = get_args(kind)
        return tuple(_value(item, v, f"{place}[{i}]") for i, v in enumerate(value))
    if is_dataclass(kind):
        return from_plain(kind, value, place)  # type: ignore[arg-type] # a class, as is_dataclass saw
    return _scalar(kind, value, place)


def from_plain(kind: type[T], value: Any, place: str = "document") -> T:
    """Return the value that a JSON object stands for.

    Raises
    ------
    DoesNotFit
        When a field is missing, unknown or of another type.

    Examples
    --------
    >>> from lodestarch.words.issued.names import CustomerNames
    >>> from_plain(CustomerNames, {"name": "A", "contact": ""})
    CustomerNames(name='A', contact='')
    """
    if not isinstance(value, Mapping):
        raise DoesNotFit(place, "an object is wanted")
    hints = _hints(kind)  # type: ignore[arg-type] # a class can be hashed
    odd = sorted(set(value) ^ set(hints))
    if odd:
        raise DoesNotFit(f"{place}.{odd[0]}", "missing" if odd[0] in hints else "not known")
    return kind(**{name: _value(hint, value[name], f"{place}.{name}") for name, hint in hints.items()})

"""Reports as plain values: what a dataclass holds, without its findings."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from enum import Enum
from typing import Any

__all__ = ["as_dict"]


def as_dict(value: object) -> Any:
    """Return a report as what JSON knows: dataclasses as objects, tuples and arrays as lists.

    Findings stand apart and private fields are left out.
    """
    if is_dataclass(value) and not isinstance(value, type):
        names = [f.name for f in fields(value) if f.name != "findings" and not f.name.startswith("_")]
        return {n: as_dict(getattr(value, n)) for n in names}
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, dict):
        return {str(k): as_dict(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [as_dict(v) for v in value]
    as_list = getattr(value, "tolist", None)
    return as_dict(as_list()) if as_list is not None else value

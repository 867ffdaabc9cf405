"""The exception tree: programming and request errors.

Problems in somebody's *data* are findings, not exceptions.

::

    LodestarchError
        OutOfRange          an argument outside the range that its source covers
        UnknownName         a name that is not in a stated list
        NotComparable       results of different bases or masses asked to mix
        NoAnswer            the question has no answer with what is given
        Refused             a request that may not be carried out now
            ProfileInUse    a profile version that results refer to
            RecordsBusy     another process writes these records
            RecordsUnusable the file is not records of ours, damaged, or of another version
"""

from __future__ import annotations

from collections.abc import Sequence

__all__ = [
    "LodestarchError",
    "NoAnswer",
    "NotComparable",
    "OutOfRange",
    "ProfileInUse",
    "RecordsBusy",
    "RecordsUnusable",
    "Refused",
    "UnknownName",
]


class LodestarchError(Exception):
    """Root of all exceptions raised on purpose."""


class OutOfRange(LodestarchError, ValueError):
    """An argument outside its legal range; we refuse rather than extrapolate."""

    def __init__(self, name: str, value: float, low: float, high: float, unit: str) -> None:
        self.name, self.value, self.low, self.high, self.unit = name, value, low, high, unit
        super().__init__(f"{name} is {value:g} {unit}; legal is {low:g} to {high:g} {unit}")


class UnknownName(LodestarchError, KeyError):
    """A name that is not in the list of allowed names."""

    def __init__(self, kind: str, name: str, allowed: Sequence[str]) -> None:
        self.kind, self.name, self.allowed = kind, name, tuple(allowed)
        super().__init__(f"no {kind} named {name!r}; there are: {', '.join(allowed) or 'none'}")

    def __str__(self) -> str:
        return str(self.args[0])


class NotComparable(LodestarchError, ValueError):
    """Results made under different moisture bases or portion masses never mix."""

    def __init__(self, first: str, second: str) -> None:
        self.first, self.second = first, second
        super().__init__(f"results made under {first} and under {second} are not comparable")


class NoAnswer(LodestarchError, ValueError):
    """The question is well put but has no answer; ``code`` names the sentence that says why."""

    def __init__(self, code: str, **values: float | str) -> None:
        self.code, self.values = code, values
        super().__init__(f"{code}: " + ", ".join(f"{k}={v}" for k, v in values.items()))


class Refused(LodestarchError):
    """A request that may not be carried out now."""


class ProfileInUse(Refused):
    """A profile version that results refer to never changes; it gets a new version."""


class RecordsBusy(Refused):
    """Another process writes these records."""


class RecordsUnusable(Refused):
    """The file is not records of ours, is damaged, or belongs to another version."""

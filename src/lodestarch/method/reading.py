"""One tube's seconds: exact, at or below the floor, or above the time at which it was stopped."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import IntEnum, StrEnum
from typing import Final

__all__ = ["CAUSES", "Cause", "Kind", "Seconds", "State", "parse_seconds"]


class Kind(IntEnum):
    """What a stated number of seconds says."""

    EXACT = 0
    AT_OR_BELOW = 1
    ABOVE = 2


class State(IntEnum):
    """What becomes of a reading."""

    STANDS = 0
    RUN_AGAIN = 1
    SET_ASIDE = 2


class Cause(StrEnum):
    """Why a reading may be set aside; without a cause every reading counts."""

    LUMPS = "lumps"
    HANG_UP = "hang-up"
    LEAK = "leak"
    BOIL_STOPPED = "boil-stopped"
    LATE_START = "late-start"
    CHIPPED_TUBE = "chipped-tube"
    WRONG_STIRRER = "wrong-stirrer"
    OTHER = "other"


CAUSES: Final = tuple(c.value for c in Cause)


@dataclass(frozen=True, slots=True)
class Seconds:
    """A stated number of seconds and what it says."""

    value_s: float
    kind: Kind


_FORM: Final = re.compile(r"^\s*(<=|≤|=<|<|>=|≥|>)?\s*(\d{1,7}(?:[.,]\d{1,6})?)\s*s?\s*$")
_KINDS: Final = {
    None: Kind.EXACT,
    "<=": Kind.AT_OR_BELOW,
    "=<": Kind.AT_OR_BELOW,
    "≤": Kind.AT_OR_BELOW,
    "<": Kind.AT_OR_BELOW,
    ">": Kind.ABOVE,
    ">=": Kind.ABOVE,
    "≥": Kind.ABOVE,
}


def parse_seconds(text: str) -> Seconds | None:
    """Read ``287``, ``<=62``, ``≤ 62`` or ``>400``; ``None`` where the text is none of these.

    Parameters
    ----------
    text : str
        As typed; a decimal comma or point, a trailing ``s`` and blanks are accepted. A thousands mark is
        never guessed.

    Examples
    --------
    >>> parse_seconds("≤ 62")
    Seconds(value_s=62.0, kind=<Kind.AT_OR_BELOW: 1>)
    >>> parse_seconds("2b7") is None
    True
    """
    match = _FORM.match(text)
    if match is None:
        return None
    return Seconds(float(match[2].replace(",", ".")), _KINDS[match[1]])

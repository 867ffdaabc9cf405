"""Tonnes, seconds and names as somebody types them on the pages of planning."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.method.reading import Seconds, parse_seconds
from lodestarch.sheets.typed import typed_number

__all__ = ["LONGEST_NAME", "chosen", "text_findings", "typed_amount", "typed_result"]

LONGEST_NAME: Final = 60
"""Characters of a name of a field, a variety, a place. A setting of ours."""
_MOST_T: Final = 1_000_000.0
"""Tonnes that are no slip. [t]  A setting of ours."""
_LEAST_S: Final = 60.0
_MOST_S: Final = 900.0
"""Seconds that a result can have: beneath the stirring time there is none. [s]"""


def typed_amount(
    text: str, field: str, found: list[Finding], *, name: str = "tonnes", zero: bool = False
) -> float | None:
    """Read tonnes; where they cannot be, a finding is noted and there is no value.

    Parameters
    ----------
    text : str
    field : str
        Where it was typed.
    found : list of Finding
    name : str
        What it is called.
    zero : bool
        Nothing is an amount too.
    """
    value = typed_number(text)
    where = Where(field=field)
    if value is None:
        if text.strip():
            values = {"text": text.strip()[:40], "name": name}
            found.append(Finding("entry-no-number", where, Severity.STOP, values))
        else:
            found.append(Finding("amount-empty", where, Severity.STOP, {"name": name}))
    elif value > _MOST_T or (value <= 0.0 and not zero):
        found.append(
            Finding("amount-odd", where, Severity.STOP, {"tonnes": value, "most_t": _MOST_T, "name": name})
        )
    else:
        return value
    return None


def typed_result(text: str, field: str, found: list[Finding]) -> Seconds | None:
    """Read a result: ``287``, ``<=62``, ``>400``; a finding where it is none."""
    value = parse_seconds(text)
    where = Where(field=field)
    if value is None:
        found.append(Finding("seconds-unread", where, Severity.STOP, {"text": text.strip()[:40]}))
    elif not _LEAST_S <= value.value_s <= _MOST_S:
        values = {"result_s": value.value_s, "low_s": _LEAST_S, "high_s": _MOST_S}
        found.append(Finding("result-outside", where, Severity.STOP, values))
        value = None
    return value


def chosen(text: str, field: str, choices: Sequence[str], found: list[Finding]) -> str | None:
    """Take one of the choices as typed; a finding that lists them where it is none."""
    wanted = text.strip()
    for one in choices:
        if one.casefold() == wanted.casefold():
            return one
    values = {"text": wanted[:40], "choices": ", ".join(choices)}
    found.append(Finding("entry-no-choice", Where(field=field), Severity.STOP, values))
    return None


def text_findings(text: str, field: str, found: list[Finding], most: int = LONGEST_NAME) -> str:
    """Take a name as typed, without blanks around it; a finding where it is too long."""
    wanted = text.strip()
    if len(wanted) > most:
        values = {"count": len(wanted), "most": most}
        found.append(Finding("entry-too-long", Where(field=field), Severity.STOP, values))
    return wanted

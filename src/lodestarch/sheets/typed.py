"""One value as somebody typed it into a field, or as a balance typed it."""

from __future__ import annotations

import re
from typing import Final

from lodestarch.common.errors import OutOfRange
from lodestarch.common.findings import Finding, Severity, Where, of_range
from lodestarch.common.nomenclature import quantity

__all__ = ["TypedNumber", "read_typed", "typed_number"]

TypedNumber = tuple[float | None, tuple[Finding, ...]]

_FORM: Final = re.compile(r"^\s*[+]?\s*(\d{1,7}(?:[.,]\d{1,6})?)\s*(?:g|%|hPa|t)?\s*$")


def typed_number(text: str) -> float | None:
    """Read a plain decimal number; a point or a comma, one unit behind it is passed over.

    Parameters
    ----------
    text : str
        A thousands mark is never guessed: ``1.234,5`` is no number.

    Examples
    --------
    >>> typed_number(" 13,4 "), typed_number("+   6.953 g"), typed_number("1.234,5")
    (13.4, 6.953, None)
    """
    match = _FORM.match(text)
    return None if match is None else float(match[1].replace(",", "."))


def read_typed(key: str, text: str, where: Where) -> TypedNumber:
    """Read a quantity of the nomenclature as typed.

    Parameters
    ----------
    key : str
        ``moisture_pct``, ``mass_g``, ``pressure_hpa`` and so on.
    text : str
    where : Where
        ``field`` is set to the key.

    Returns
    -------
    float or None, tuple of Finding
        ``entry-no-number`` or ``value-illegal`` where there is no value.
    """
    at = Where(
        source=where.source, field=key, ticket=where.ticket, sample=where.sample, position=where.position
    )
    value, line = typed_number(text), quantity(key)
    if value is None:
        return None, (Finding("entry-no-number", at, Severity.STOP, {"text": text[:40], "name": key}),)
    if not line.low <= value <= line.high:
        return None, (of_range(OutOfRange(key, value, line.low, line.high, line.unit), at),)
    return value, ()

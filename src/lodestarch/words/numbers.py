"""How a number is written: true minus, thin spaces, and no digit that its uncertainty does not allow.

A value that is missing or not finite is written as a dash, never as ``nan``.
"""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from lodestarch.common.rounding import decimals_for

__all__ = ["DASH", "MINUS", "THIN", "by_suffix", "figure", "for_encoding", "number", "tidy", "with_u"]

MINUS: Final = "−"  # U+2212
THIN: Final = "\u202f"  # narrow no-break space: the thin space that never ends a line
DASH: Final = "–"  # U+2013

_GROUP_FROM: Final = 10_000
"""Four digits stay together (ISO 80000-1, 7.3.1, recalled: separation into groups of three is optional
for four digits), so that 2910 s reads as it is typed."""

_DECIMALS: Final[dict[str, int]] = {
    "ground_mass_g": 0,
    "_s": 0, "_g": 2, "_pct": 1, "_hpa": 1, "_kpa": 2, "_m": 0, "_ft": 0, "_c": 1, "_ml": 1, "_min": 0,
    "_h": 1, "_t": 1, "_tonnes": 1,
}  # fmt: skip
"""Decimals by the unit in a key's suffix: what bench instruments show (common practice)."""

_MOST: Final = 6
"""Decimals at most, where a value has none of the known suffixes."""

_PLAIN: Final = {
    "\u202f": " ", "\u00a0": " ", "\u2009": " ", "−": "-", "–": "-", "·": "|", "≤": "<=", "≥": ">=",
    "±": "+/-", "°": " deg ", "→": "->",
    "●": "#", "◐": "+", "○": "-", "’": "'", "“": '"', "”": '"', "…": "...", "×": "x",
    "²": "2", "¢": "c", "µ": "u",
}  # fmt: skip


def number(value: float | None, decimals: int = 0) -> str:
    """Write a number with a fixed count of decimals, halves away from zero.

    Parameters
    ----------
    value : float or None
        Missing and non-finite values become a dash.
    decimals : int
        0 or more.

    Examples
    --------
    >>> number(287.0), number(-0.25, 1), number(None)
    ('287', '−0.3', '–')
    >>> number(12345.5) == "12" + THIN + "346"
    True
    """
    if value is None or not math.isfinite(value):
        return DASH
    rounded = Decimal(repr(float(value))).quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_UP)
    if rounded == 0:
        rounded = abs(rounded)  # no minus before a zero
    text = f"{abs(rounded):f}"
    whole, _, rest = text.partition(".")
    if abs(rounded) >= _GROUP_FROM:
        whole = f"{int(whole):,}".replace(",", THIN)
    return (MINUS if rounded < 0 else "") + whole + (f".{rest}" if rest else "")


def figure(value: float | None, most: int = _MOST) -> str:
    """Write a number as short as it is: no trailing zeros.

    Examples
    --------
    >>> figure(7.0), figure(6.42), figure(0.1 + 0.2)
    ('7', '6.42', '0.3')
    """
    text = number(value, most)
    return text.rstrip("0").rstrip(".") if "." in text else text


def with_u(value: float | None, u: float | None, *, digits: int = 1, most: int | None = None) -> str:
    """Write a value with the decimals that its standard uncertainty allows.

    Parameters
    ----------
    value : float or None
    u : float or None
        Standard uncertainty in the unit of ``value``; ``None`` or 0 is *not evaluated*, and the value is
        then written as short as it is, to three decimals at most.
    digits : int
        Digits that the uncertainty keeps, 1 or 2.
    most : int or None
        Decimals at most.

    Examples
    --------
    >>> with_u(25.316, 0.75), with_u(25.316, 0.75, digits=2), with_u(287.4, 7.0)
    ('25.3', '25.32', '287')
    """
    if u is None or not math.isfinite(u) or u <= 0.0:
        return figure(value, 3 if most is None else most)
    decimals = decimals_for(u, digits)
    return number(value, decimals if most is None else min(decimals, most))


def by_suffix(key: str, value: float) -> str:
    """Write a value with the decimals that the unit in its key's suffix calls for.

    Seconds keep a decimal where the value has one, as typed.

    Examples
    --------
    >>> by_suffix("mass_g", 6.8), by_suffix("pressure_hpa", 908.123), by_suffix("mean_s", 300.5)
    ('6.80', '908.1', '300.5')
    """
    suffix = next((s for s in _DECIMALS if key == s.lstrip("_") or key.endswith(s)), None)
    if suffix is None and key != "seconds":
        return figure(value, 3)
    if key == "seconds" or suffix in {"_s", "_m", "_min"}:
        return figure(value, 1)
    return number(value, _DECIMALS[suffix or "_s"])


def tidy(text: str) -> str:
    r"""Keep a number and its unit on one line: the blank between them becomes one that does not break.

    Examples
    --------
    >>> tidy("6.80 g at 14 % mb").count("\u00a0")
    3
    """
    out = text
    for unit in (" s", " g", " %", " hPa", " kPa", " mL", " °C", " m", " mb", " t", " min", " h"):
        out = _join_unit(out, unit)
    return out


def _join_unit(text: str, unit: str) -> str:
    parts = text.split(unit)
    out = parts[0]
    for part in parts[1:]:
        whole_word = not part[:1].isalpha()
        after_number = out[-1:].isdigit() or (unit == " mb" and out[-1:] == "%")
        out += (f"\u00a0{unit[1:]}" if whole_word and after_number else unit) + part
    return out


def for_encoding(text: str, encoding: str) -> str:
    """Return ``text`` with signs that an output's encoding lacks written in plain letters.

    Parameters
    ----------
    text : str
    encoding : str
        Name as Python knows it, such as ``cp1252`` or ``ascii``.

    Examples
    --------
    >>> for_encoding("≤ 62 s · −3 °C", "ascii")
    '<= 62 s | -3  deg C'
    """
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        return "".join(c if _encodes(c, encoding) else _PLAIN.get(c, "?") for c in text)
    return text


def _encodes(character: str, encoding: str) -> bool:
    try:
        character.encode(encoding)
    except UnicodeEncodeError:
        return False
    return True

"""Cells of one column, all at once: text in, values out, and a list of those that could not be read.

Every reader takes a series of stripped text, empty being null, and returns a series of the same length in
the type of ``method.table`` with a :class:`Trouble` for each cell that it had to leave empty. What is well
formed never leaves polars; Python looks at the rest, one distinct text at a time.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import polars as pl

from lodestarch.common.findings import Value
from lodestarch.common.nomenclature import quantity
from lodestarch.method.reading import Kind, parse_seconds
from lodestarch.sheets.grid import Grid

__all__ = [
    "Trouble",
    "at",
    "decimal_marks",
    "longest",
    "pick",
    "put",
    "read_number",
    "read_seconds",
    "yes_no",
]


@dataclass(frozen=True, slots=True)
class Trouble:
    """A cell that could not be read.

    Parameters
    ----------
    index : int
        Place in the column.
    code : str
        Of ``codes``.
    values : mapping
        What the code carries.
    """

    index: int
    code: str
    values: Mapping[str, Value]


Read = tuple[pl.Series, list[Trouble]]

_PLAIN: Final = r"^-?[0-9]{1,12}(?:[.][0-9]{1,20})?$"
_NUMBER: Final = re.compile(r"^[+-]?[0-9]{1,12}(?:[.][0-9]{1,20})?$")
_THREE: Final = r"^[+-]?[1-9][0-9]{0,2}[.,][0-9]{3}$"
"""Digits, a mark, three digits: a thousands mark or a decimal mark."""
_DECIMAL: Final = r"^[+-]?(?:0+{0}[0-9]+|[0-9]+{0}(?:[0-9]{{1,2}}|[0-9]{{4,}})|[0-9]{{4,}}{0}[0-9]+)$"
"""Where the mark can only be decimal; ``{0}`` is the mark."""

YES: Final = frozenset({"yes", "y", "true", "1"})
NO: Final = frozenset({"no", "n", "false", "0"})


def decimal_marks(columns: list[pl.Series], grid: Grid) -> frozenset[str]:
    """Return the marks that a number with three digits after its mark may be read with as decimals.

    ``1,250`` can be one and a quarter or a thousand and more. It is read as a fraction only where the sheet
    shows elsewhere that it writes fractions so (``13,5``), or where nothing shows and the delimiter says it
    (semicolon: comma; comma or tab: point). The numbers of a workbook come typed, with a point.
    """
    if grid.typed:
        return frozenset(".")
    comma, point = (any(c.str.contains(_DECIMAL.format(m)).any() for c in columns) for m in (",", "[.]"))
    if comma and point:
        return frozenset()
    if comma or point:
        return frozenset("," if comma else ".")
    return frozenset("," if grid.delimiter == ";" else ".")


def read_number(name: str, texts: pl.Series, marks: Callable[[], frozenset[str]]) -> Read:
    """Read a column of a quantity of the nomenclature.

    Parameters
    ----------
    name : str
        Key of the nomenclature; gives unit and legal range.
    texts : polars.Series
        Stripped text.
    marks : callable
        See :func:`decimal_marks`; asked only when a number with three digits after its mark is met.
    """
    line = quantity(name)
    values = _plain(texts)
    troubles: list[Trouble] = []
    mended: dict[int, float | None] = {}
    for i, text in at(values.is_null() & texts.is_not_null(), texts):
        bare = text.replace("\N{MINUS SIGN}", "-").replace(",", ".").removesuffix(line.unit).rstrip()
        if _NUMBER.match(bare):
            mended[i] = float(bare)
        else:
            troubles.append(Trouble(i, "field-not-a-number", {"value": text, "unit": line.unit}))
    # The shortest doubtful number is 1,250; most columns have none of that length.
    doubtful = texts.str.contains(_THREE) if longest(texts) >= 5 else None
    if doubtful is not None and doubtful.any():
        decimal = marks()
        for i, text in at(doubtful, texts):
            if not decimal & set(text):
                mended[i] = None
                troubles.append(Trouble(i, "field-thousands-mark", {"value": text, "unit": line.unit}))
    values = put(values, mended)
    outside = at(~values.is_between(line.low, line.high), texts)
    bounds: dict[str, Value] = {"low": line.low, "high": line.high, "unit": line.unit}
    troubles += [Trouble(i, "field-out-of-range", {"value": text} | bounds) for i, text in outside]
    return put(values, dict.fromkeys((i for i, _ in outside), None)), troubles


def read_seconds(texts: pl.Series) -> tuple[pl.Series, pl.Series, list[Trouble]]:
    """Read a column of seconds: the number, its kind, and what could not be read.

    Impossible numbers (-287, 6000) are read as they stand: judging them is another room's task.

    Examples
    --------
    >>> seconds, kind, _ = read_seconds(pl.Series(["287", "<=62", "-5", "2b7"]))
    >>> seconds.to_list(), kind.to_list()
    ([287.0, 62.0, -5.0, None], [0, 1, 0, None])
    """
    seconds = _plain(texts)
    plain = seconds.is_not_null()
    kind = pl.select(pl.when(plain).then(pl.lit(int(Kind.EXACT), pl.Int8))).to_series()
    troubles = [Trouble(i, "row-no-seconds", {}) for i in texts.is_null().arg_true().to_list()]
    said: dict[str, tuple[float, int] | None] = {}
    values: dict[int, float | None] = {}
    kinds: dict[int, int | None] = {}
    for i, text in at(~plain & texts.is_not_null(), texts):
        if text not in said:
            said[text] = _seconds(text)
        met = said[text]
        if met is None:
            troubles.append(Trouble(i, "row-seconds-unreadable", {"value": text}))
        else:
            values[i], kinds[i] = met
    return put(seconds, values), put(kind, kinds), troubles


def _seconds(text: str) -> tuple[float, int] | None:
    bare = text.replace("\N{MINUS SIGN}", "-")
    negative = bare.startswith("-")
    said = parse_seconds(bare[1:] if negative else bare)
    if said is None or (negative and said.kind is not Kind.EXACT):
        return None
    return (-said.value_s if negative else said.value_s), int(said.kind)


def yes_no(texts: pl.Series) -> Read:
    """Read a column of yes and no."""
    lower = texts.str.to_lowercase()
    yes, no = lower.is_in(YES), lower.is_in(NO)
    values = pl.select(pl.when(yes | no).then(yes)).to_series()
    return values, [Trouble(i, "field-not-yes-no", {"value": t}) for i, t in at(~(yes | no), texts)]


def pick(texts: pl.Series, choices: tuple[str, ...], code: str) -> Read:
    """Read a column of picks from a list; case, blanks and hyphens make no difference."""
    folded = texts.str.to_lowercase().str.replace_all(r"[\s_\-]+", "-")
    fine = folded.is_in(choices)
    values = pl.select(pl.when(fine).then(folded)).to_series()
    listed = ", ".join(choices)
    return values, [Trouble(i, code, {"value": t, "choices": listed}) for i, t in at(~fine, texts)]


def at(mask: pl.Series, texts: pl.Series) -> list[tuple[int, str]]:
    """Return the places where a mask holds, with their texts."""
    if not mask.any():
        return []
    places = mask.fill_null(value=False).arg_true()
    return list(zip(places.to_list(), texts.gather(places).to_list(), strict=True))


def longest(texts: pl.Series) -> int:
    """Return the length of the longest text, in bytes."""
    most = texts.str.len_bytes().max()
    return most if isinstance(most, int) else 0


def put(values: pl.Series, changes: Mapping[int, object]) -> pl.Series:
    """Return ``values`` with some places changed; ``None`` empties a place."""
    if not changes:
        return values
    new = pl.Series(values.name, list(changes.values()), dtype=values.dtype)
    return values.clone().scatter(list(changes), new)


def _plain(texts: pl.Series) -> pl.Series:
    """Numbers of digits with at most one mark, as floats; null for every other text."""
    points = (
        texts.str.replace_all(",", ".", literal=True)
        if texts.str.contains(",", literal=True).any()
        else texts
    )
    # The cast alone would also read 1e5, inf and nan.
    fine = points.str.contains(_PLAIN)
    return pl.select(pl.when(fine).then(points).cast(pl.Float64, strict=False)).to_series()

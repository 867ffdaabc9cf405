"""Every finding that this room can make: its code, how grave it is, and the values it carries.

``words`` writes a sentence for each; a test compares the two. :func:`found` is the only door through
which a finding leaves this room, so that none can carry a code or a value that is not listed here.

Prefixes: ``sheet-`` the file as a whole, ``row-`` one row as a whole, ``field-`` one cell,
``terms-`` the terms file.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from lodestarch.common.errors import UnknownName
from lodestarch.common.findings import Finding, Severity, Value, Where

__all__ = ["CODES", "Code", "found"]

_STOP, _CHECK, _NOTE = Severity.STOP, Severity.CHECK, Severity.NOTE


@dataclass(frozen=True, slots=True)
class Code:
    """One kind of finding.

    Parameters
    ----------
    name : str
        Kebab-case.
    severity : Severity
        A refused row or sheet is *stop*, except a row that only stands twice.
    values : tuple of str
        Keys that every finding of this code carries in ``values``, no more and no fewer.
    """

    name: str
    severity: Severity
    values: tuple[str, ...] = ()


_SHEET: Final = (
    Code("sheet-empty", _STOP),
    Code("sheet-too-large", _STOP, ("size_mib", "limit_mib")),
    Code("sheet-not-text", _STOP),
    Code("sheet-utf16-no-mark", _STOP),
    Code("sheet-old-workbook", _STOP),
    Code("sheet-open-document", _STOP),
    Code("sheet-workbook-damaged", _STOP),
    Code("sheet-workbook-too-large", _STOP, ("unpacked_mib", "limit_mib", "entries", "entries_limit")),
    Code("sheet-workbook-unsafe", _STOP),
    Code("sheet-too-many-columns", _STOP, ("columns", "limit")),
    Code("sheet-several-tables", _CHECK, ("used", "others")),
    Code("sheet-encoding-assumed", _CHECK, ("encoding",)),
    Code("sheet-bytes-damaged", _CHECK, ("count",)),
    Code("sheet-header-unknown", _STOP, ("met", "wanted")),
    Code("sheet-column-missing", _STOP, ("column", "met")),
    Code("sheet-column-unknown", _NOTE, ("column",)),
    Code("column-not-a-number", _STOP, ("value", "column")),
    Code("sheet-column-twice", _CHECK, ("column", "count")),
    Code("sheet-lines-above-header", _NOTE, ("count",)),
    Code("sheet-no-rows", _CHECK),
    Code("sheet-times-zoned", _NOTE, ("zones",)),
    Code("sheet-zones-mixed", _CHECK, ("zones",)),
    Code("sheet-mapping-unreadable", _STOP, ("line",)),
    Code("sheet-mapping-no-columns", _STOP),
    Code("sheet-mapping-unknown", _STOP, ("theirs", "ours")),
    Code("sheet-mapping-twice", _STOP, ("theirs", "first", "second")),
)
_ROW: Final = (
    Code("row-no-sample", _STOP),
    Code("row-no-seconds", _STOP),
    Code("row-seconds-unreadable", _STOP, ("value",)),
    Code("row-cause-unknown", _STOP, ("value", "choices")),
    Code("row-too-many-fields", _STOP, ("fields", "columns")),
    Code("row-short", _CHECK, ("fields", "columns")),
    Code("row-cut-off", _STOP, ("fields", "columns")),
    Code("row-quote-open", _STOP),
    Code("row-quote-stray", _STOP),
    Code("row-too-long", _STOP, ("length", "limit")),
    Code("row-key-unreadable", _STOP, ("value",)),
    Code("row-key-too-long", _STOP, ("length", "limit")),
    Code("row-stated-twice", _STOP, ("first", "second")),
    Code("row-formula-no-value", _STOP, ("value",)),
    Code("row-twice", _NOTE, ("first_row",)),
    Code("row-key-twice", _STOP, ("first_row",)),
    Code("row-sample-twice", _STOP, ("first_row",)),
)
_FIELD: Final = (
    Code("field-not-a-number", _CHECK, ("value", "unit")),
    Code("field-out-of-range", _CHECK, ("value", "low", "high", "unit")),
    Code("field-thousands-mark", _CHECK, ("value", "unit")),
    Code("field-date-ambiguous", _CHECK, ("value",)),
    Code("field-date-not-iso", _CHECK, ("value",)),
    Code("field-date-impossible", _CHECK, ("value",)),
    Code("field-not-yes-no", _CHECK, ("value",)),
    Code("field-not-in-list", _CHECK, ("value", "choices")),
    Code("field-characters", _CHECK, ("value",)),
    Code("field-too-long", _CHECK, ("length", "limit")),
    Code("field-stated-twice", _CHECK, ("first", "second")),
    Code("field-formula", _NOTE, ("value",)),
)

_ENTRY: Final = ("table", "id")
_KEY: Final = ("table", "id", "key")
_PART: Final = ("table", "id", "part", "other", "low", "high", "unit")

_TERMS: Final = (
    Code("terms-unreadable", _STOP, ("line",)),
    Code("terms-version-unknown", _STOP, (*_KEY, "value", "wanted")),
    Code("terms-nothing", _CHECK),
    Code("terms-key-unknown", _CHECK, _KEY),
    Code("terms-key-missing", _STOP, _KEY),
    Code("terms-key-type", _STOP, (*_KEY, "value", "wanted")),
    Code("terms-not-in-list", _STOP, (*_KEY, "value", "choices")),
    Code("terms-out-of-range", _STOP, (*_KEY, "value", "low", "high", "unit")),
    Code("terms-one-of", _STOP, (*_KEY, "count")),
    Code("terms-id-unusable", _STOP, (*_KEY, "value")),
    Code("terms-id-twice", _STOP, _KEY),
    Code("terms-stated-twice", _STOP, (*_KEY, "value", "first", "row")),
    Code("terms-row-table", _STOP, ("value", "choices")),
    Code("terms-id-unknown", _STOP, (*_KEY, "value", "wanted")),
    Code("terms-id-unread", _STOP, (*_KEY, "value", "wanted")),
    Code("terms-point-of-other", _STOP, (*_KEY, "value", "owner")),
    Code("terms-period-reversed", _STOP, (*_KEY, "first", "last")),
    Code("terms-unit-unknown", _STOP, (*_KEY, "value", "choices")),
    Code("terms-units-mixed", _STOP, (*_KEY, "value", "expected")),
    Code("terms-bushel-unknown", _STOP, (*_KEY, "value", "choices")),
    Code("terms-schedule-gap", _STOP, _PART),
    Code("terms-schedule-overlap", _STOP, _PART),
    Code("terms-schedule-order", _STOP, (*_ENTRY, "part", "low", "high", "unit")),
    Code("terms-schedule-sequence", _STOP, (*_ENTRY, "part", "other")),
    Code("terms-schedule-open", _CHECK, (*_ENTRY, "part", "at", "unit")),
    Code("terms-schedule-boundary", _CHECK, _ENTRY),
    Code("terms-schedule-unread", _CHECK, (*_KEY, "value")),
    Code("terms-window-reversed", _STOP, (*_KEY, "low", "high")),
    Code("terms-sublot-above", _CHECK, (*_KEY, "sublot", "limit")),
    Code("terms-price-missing", _CHECK, _ENTRY),
    Code("terms-futures-missing", _CHECK, _KEY),
    Code("terms-clause-missing", _CHECK, _ENTRY),
    Code("terms-balance-above", _CHECK, (*_ENTRY, "balance", "quantity", "unit")),
)

CODES: Final[tuple[Code, ...]] = _SHEET + _ROW + _FIELD + _TERMS
"""All codes of this room."""

_BY_NAME: Final = {code.name: code for code in CODES}

_WHOLE: Final = frozenset({"choices", "wanted"})
"""Values that are lists of ours and are always shown whole."""

SHOWN: Final = 80
"""Characters of a cell that a finding repeats; a longer one ends in an ellipsis."""


def found(name: str, where: Where, **values: Value) -> Finding:
    """Return a finding with the severity of its code; long texts are clipped to :data:`SHOWN` characters.

    Raises
    ------
    UnknownName
        When the code, or one of its values, is not in the table above, or a value is missing.
    """
    code = _BY_NAME.get(name)
    if code is None:
        raise UnknownName("finding code", name, tuple(_BY_NAME))
    if set(values) != set(code.values):
        raise UnknownName(f"set of values for {name}", ", ".join(sorted(values)), code.values)
    return Finding(name, where, code.severity, {k: _clip(k, v) for k, v in values.items()})


def _clip(key: str, value: Value) -> Value:
    if not isinstance(value, str) or len(value) <= SHOWN or key in _WHOLE:
        return value
    return value[: SHOWN - 1] + "…"

"""What became of the rows of a sheet, in one line."""

from __future__ import annotations

from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.numbers import number
from lodestarch.words.shapes import SheetShape

__all__ = ["account_words"]

_PARTS = ("refused", "already_known", "changed_since")


def account_words(sheet: SheetShape, locale: str = DEFAULT_LOCALE) -> str:
    """Rows of a sheet by what became of them; what did not happen is not said.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> sheet = SimpleNamespace(name="bench.csv", rows=3, taken=2, refused=1, already_known=0,
    ...                         changed_since=0, taken_with_finding=0, sha256="")
    >>> account_words(sheet)
    'bench.csv: 3 rows, 2 taken, 1 refused.'
    """
    rows = "account.row" if sheet.rows == 1 else "account.rows"
    said = [
        term(rows, locale, count=number(sheet.rows)),
        term("account.taken", locale, count=number(sheet.taken)),
    ]
    for part in _PARTS:
        count = getattr(sheet, part)
        if count:
            said.append(term(f"account.{part}", locale, count=number(count)))
    return f"{sheet.name}: " + ", ".join(said) + "."

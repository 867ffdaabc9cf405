"""Numbers, moments and missing things as an issued paper writes them, in its language."""

from __future__ import annotations

from datetime import datetime

from lodestarch.words.catalogues import term
from lodestarch.words.issued.printable import printable
from lodestarch.words.numbers import figure, number
from lodestarch.words.times import when

__all__ = ["Say"]


class Say:
    """Words of one language for one paper; every text of a user passes through :meth:`text`."""

    def __init__(self, locale: str, room: str) -> None:
        self.locale, self._room = locale, room
        self._point = term("issued.decimal-sign", locale)

    def __call__(self, name: str, /, **values: object) -> str:
        """A term of this paper; a name with a dot is taken from elsewhere."""
        return term(name if "." in name else f"{self._room}.{name}", self.locale, **values)

    def figure(self, value: float | None, most: int = 6) -> str:
        """A number as short as it is, with the sign that the language puts before decimals."""
        return figure(value, most).replace(".", self._point)

    def number(self, value: float | None, decimals: int = 0) -> str:
        """A number with a fixed count of decimals."""
        return number(value, decimals).replace(".", self._point)

    def decimal(self, text: str) -> str:
        """A decimal text of ours in the language's form."""
        return text.replace(".", self._point)

    def text(self, given: str | None, longest: int = 160) -> str:
        """What somebody entered; *not stated* for nothing."""
        return printable(given, longest) or self("issued.not-stated")

    def moment(self, given: str | None) -> str:
        """A moment as kept, to the minute; *not stated* for nothing."""
        if not given:
            return self("issued.not-stated")
        try:
            return when(datetime.fromisoformat(given))
        except ValueError:
            return printable(given)

    def day(self, given: str | None) -> str:
        """The day of a moment."""
        return given[:10] if given else self("issued.not-stated")

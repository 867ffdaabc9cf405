"""A line that an instrument sends, read by a pattern of named fields that the lab writes itself.

``No {ticket} T{position}: {seconds} s`` reads ``No 8814 T2:  287 s``. What stands outside the braces has to
stand in the line; a blank stands for any run of blanks; ``{_}`` is passed over.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from lodestarch.common.findings import Finding, Severity, Where

__all__ = ["LINE_FIELDS", "LONGEST_LINE", "LinePattern", "read_pattern", "readable"]

LINE_FIELDS: Final = ("ticket", "position", "seconds", "mass_g", "moisture_pct", "bath")
"""Fields that a line may name; ``_`` is passed over."""

LONGEST_LINE: Final = 200
"""Characters of a line or a pattern; the rest of a longer line is left out. A setting of ours."""

_MOST_FIELDS: Final = 12
_PART: Final = re.compile(r"\{([^{}]*)\}")


@dataclass(frozen=True, slots=True)
class LinePattern:
    """A pattern that can be used.

    Parameters
    ----------
    text : str
        As the lab wrote it.
    fields : tuple of str
        Named in it, in their order.
    """

    text: str
    fields: tuple[str, ...]
    _made: re.Pattern[str] = field(repr=False, compare=False)

    def read(self, line: str) -> Mapping[str, str] | None:
        """Read a line; ``None`` where the pattern does not fit the whole of it.

        Examples
        --------
        >>> pattern, _ = read_pattern("No {ticket} T{position}: {seconds} s")
        >>> pattern.read("No 8814 T2:   287 s")
        {'ticket': '8814', 'position': '2', 'seconds': '287'}
        >>> pattern.read("self test passed") is None
        True
        """
        match = self._made.fullmatch(line[:LONGEST_LINE].strip())
        return None if match is None else {k: v for k, v in match.groupdict().items() if v is not None}


def _literal(text: str) -> str:
    """The text as it has to stand in a line; any run of blanks for a blank."""
    return r"\s+".join(re.escape(word) for word in re.split(r"\s+", text))


def _fault(code: str, **values: str | int) -> tuple[None, tuple[Finding, ...]]:
    return None, (Finding(code, Where(field="pattern"), Severity.STOP, values),)


def read_pattern(text: str) -> tuple[LinePattern | None, tuple[Finding, ...]]:
    """Read a pattern as typed.

    Returns
    -------
    LinePattern or None, tuple of Finding
        ``pattern-empty``, ``pattern-field``, ``pattern-twice``, ``pattern-close`` (two fields with nothing
        between them, so that nobody knows where one ends) or ``pattern-long``.

    Examples
    --------
    >>> read_pattern("{ticket};{seconds}")[0].fields
    ('ticket', 'seconds')
    >>> read_pattern("{ticket}{seconds}")[1][0].code
    'pattern-close'
    """
    stripped = text.strip()
    parts = _PART.split(stripped)
    names, between = parts[1::2], parts[2:-1:2]
    named = [name for name in names if name != "_"]
    choices = ", ".join((*LINE_FIELDS, "_"))
    if len(stripped) > LONGEST_LINE or len(names) > _MOST_FIELDS:
        return _fault("pattern-long", most=LONGEST_LINE, fields=_MOST_FIELDS)
    if not named:
        return _fault("pattern-empty", choices=choices)
    for name in named:
        if name not in LINE_FIELDS:
            return _fault("pattern-field", text=name[:40], choices=choices)
        if named.count(name) > 1:
            return _fault("pattern-twice", text=name)
    if not all(between):
        return _fault("pattern-close")
    made = [_literal(parts[0])]
    for name, after in zip(names, parts[2::2], strict=True):
        made += [r"\S+?" if name == "_" else rf"(?P<{name}>\S+?)", _literal(after)]
    return LinePattern(stripped, tuple(named), re.compile("".join(made))), ()


def readable(received: bytes) -> str:
    r"""Bytes of a line as text; what is no text, and control signs, stand as escapes.

    Examples
    --------
    >>> readable(b"8814\t287\xff\x07\r")
    '8814\t287\\xff\\x07'
    """
    text = received.rstrip(b"\r\n\0").decode("utf-8", "backslashreplace")
    return "".join(c if c == "\t" or c.isprintable() else f"\\x{ord(c):02x}" for c in text)[:LONGEST_LINE]

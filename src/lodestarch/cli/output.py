"""How commands answer: one JSON object, or plain tables that fit 100 columns."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from lodestarch.common.findings import Finding, Severity
from lodestarch.words.findings import as_json, sentence, severity_word
from lodestarch.words.numbers import for_encoding

__all__ = ["EXIT_NO_ANSWER", "emit_json", "finish", "say", "show_findings", "table"]

EXIT_NO_ANSWER = 1
_WIDTH = 100


def _console() -> Console:
    terminal = sys.stdout.isatty()
    return Console(width=None if terminal else _WIDTH, highlight=False, soft_wrap=False)


def _fit(text: str) -> str:
    return for_encoding(text, sys.stdout.encoding or "utf-8")


def say(text: str = "") -> None:
    """Print one line, with signs that the terminal's encoding lacks written in plain letters."""
    _console().print(Text(_fit(text)))


def _clean(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {k: _clean(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [_clean(v) for v in value]
    return value


def emit_json(body: Mapping[str, Any], findings: Iterable[Finding] = ()) -> None:
    """Print one JSON object; findings stand under ``"findings"``, codes with their sentences."""
    whole = {**_clean(body), "findings": [as_json(f) for f in findings]}
    # ASCII output is the same bytes on every terminal, whatever its encoding.
    sys.stdout.write(json.dumps(whole, ensure_ascii=True, indent=2, allow_nan=False) + "\n")


def table(columns: Sequence[tuple[str, str]], rows: Iterable[Sequence[str]]) -> None:
    """Print a plain table; each column is (heading, ``"left"`` or ``"right"``)."""
    out = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    for heading, side in columns:
        out.add_column(Text(_fit(heading)), justify="right" if side == "right" else "left", overflow="fold")
    for row in rows:
        out.add_row(*(Text(_fit(cell)) for cell in row))
    _console().print(out)


def show_findings(findings: Sequence[Finding], *, notes: bool = True) -> None:
    """Print findings, the gravest first, three short parts each."""
    shown = [f for f in findings if notes or f.severity is not Severity.NOTE]
    heading = None
    for severity in Severity:
        for finding in (f for f in shown if f.severity is severity):
            if heading is not severity:
                say()
                say(severity_word(severity) + ":")
                heading = severity
            say(f"  {sentence(finding)}")


def finish(findings: Sequence[Finding], *, answered: bool, strict: bool = False) -> None:
    """Leave with 1 where there is no answer, or under ``--strict`` where there are findings."""
    graver = [f for f in findings if f.severity is not Severity.NOTE]
    if not answered or (strict and graver):
        raise SystemExit(EXIT_NO_ANSWER)

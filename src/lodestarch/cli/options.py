"""Options that several commands share, worded once."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

__all__ = ["DEFAULT_RECORDS", "OUT", "AsJson", "Person", "ProfileName", "RecordsAddress", "Strict"]
__all__ += ["day_of", "decimal"]

AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object; its keys are in docs/json.md.")]
Person = Annotated[str, typer.Option(help="Who does this; it stands in the log.", envvar="LODESTARCH_PERSON")]
Strict = Annotated[bool, typer.Option("--strict", help="End with 1 when there is anything to look at.")]
ProfileName = Annotated[
    str | None,
    typer.Option("--profile", help="Method profile, as id or id@version. [default: the lab's, else meal-15]"),
]
RecordsAddress = Annotated[
    str,
    typer.Option("--records", help="The records: a file, or a postgresql:// address."),
]


def decimal(text: str) -> float:
    """Read a number with a decimal comma or point; a thousands mark is never guessed."""
    try:
        return float(text.strip().replace(",", "."))
    except ValueError:
        raise typer.BadParameter(f"{text!r} is not a number; type it as 12.4 or 12,4") from None


def day_of(text: str | None) -> date | None:
    """Read the day that was typed after ``--on``; ``None`` where none was."""
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise typer.BadParameter(f"{text!r} is not a day; type it as 2024-08-21", param_hint="--on") from None


DEFAULT_RECORDS = "lodestarch.db"
OUT = Path("out")

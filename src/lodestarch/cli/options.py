"""Options that several commands share, worded once."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["DEFAULT_RECORDS", "OUT", "AsJson", "Person", "ProfileName", "RecordsAddress", "Strict", "decimal"]

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


DEFAULT_RECORDS = "lodestarch.db"
OUT = Path("out")

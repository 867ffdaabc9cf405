"""What a bundle of evidence says of itself, as plain text."""

from __future__ import annotations

from collections.abc import Sequence

from lodestarch.words.issued.printable import printable
from lodestarch.words.issued.said import Say

__all__ = ["readme"]

_SAID = (
    (".pdf", "file-certificate-pdf"), ("readings.csv", "file-readings"), ("results.csv", "file-results"),
    ("log.json", "file-log"), (".json", "file-certificate-json"),
)  # fmt: skip


def readme(
    number: str,
    lab: str,
    sample: str,
    at: str,
    purpose: str,
    names: Sequence[str],
    locale: str,
    *,
    demonstration: bool,
) -> str:
    """Write the text that lies in a bundle: what is in it, how to check it, what it shows.

    Parameters
    ----------
    names : sequence of str
        Files in the bundle.
    demonstration : bool
        Its data are invented.
    """
    say = Say(locale, "evidence")
    files = "\n".join("  " + say("file-line", name=f"{n:<38}", said=_of(say, n)) for n in names)
    said = say(
        "readme",
        number=number,
        demonstration=say("issued.demonstration") if demonstration else "",
        lab=printable(lab),
        sample=printable(sample),
        at=at,
        purpose=printable(purpose) or say("purpose-none"),
        files=files,
        name=f"evidence-{number}.zip",
    )
    return said + "\n"


def _of(say: Say, name: str) -> str:
    return next((say(said) for ending, said in _SAID if name.endswith(ending)), "")

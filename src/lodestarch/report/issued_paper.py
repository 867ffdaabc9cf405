"""An issued paper as data: what it states, the names on it, and the proof that its digest is in the log.

The whole is one JSON object, attached to the PDF, held in the HTML, and a file of its own. From it the same
bytes can be made again.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from lodestarch.common.canonical import Json, canonical_bytes, canonical_text, sha256_hex
from lodestarch.common.errors import LodestarchError

__all__ = ["PAPER_FORM", "IssuedPaper", "LogProof", "NotAPaper", "SaltedNames", "paper_from_json"]

PAPER_FORM: Final = "lodestarch-paper/1"


class NotAPaper(LodestarchError):
    """The data are not those of an issued paper."""


@dataclass(frozen=True, slots=True)
class SaltedNames:
    """Names with the salt of their digest; the log holds SHA-256(salt || canonical text of the names)."""

    salt: str
    names: Mapping[str, Json]


@dataclass(frozen=True, slots=True)
class LogProof:
    """The paper's entry in the log, the path from it to a root, and the entry that holds the root."""

    entry: str
    index: int
    size: int
    path: tuple[str, ...]
    root_entry: str


@dataclass(frozen=True, slots=True)
class IssuedPaper:
    """One paper as issued."""

    kind: str
    number: str
    site: str
    statement: Mapping[str, Json]
    customer: SaltedNames | None
    """``None``: erased on request."""
    lab: SaltedNames | None
    proof: LogProof
    later: Mapping[str, str] | None = None
    """``number`` and ``day`` of the paper that took its place, on a copy made since; not under the proof."""

    @property
    def digest(self) -> str:
        """SHA-256 of what the paper states, as the log has it."""
        return sha256_hex(canonical_bytes(self.statement))

    def as_json(self) -> dict[str, Json]:
        """The whole as one object."""
        return {
            "form": PAPER_FORM,
            "kind": self.kind,
            "number": self.number,
            "site": self.site,
            "statement": self.statement,
            "names": {"customer": _names_json(self.customer), "lab": _names_json(self.lab)},
            "proof": {
                "entry": self.proof.entry,
                "index": self.proof.index,
                "size": self.proof.size,
                "path": list(self.proof.path),
                "root_entry": self.proof.root_entry,
            },
            "superseded_by": self.later,
        }

    def json_bytes(self) -> bytes:
        """The whole in canonical bytes."""
        return canonical_text(self.as_json()).encode("utf-8")


def _names_json(given: SaltedNames | None) -> Json:
    return None if given is None else {"salt": given.salt, "names": given.names}


def _names(value: Any) -> SaltedNames | None:
    return None if value is None else SaltedNames(str(value["salt"]), dict(value["names"]))


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise NotAPaper("a key stands twice")
    return found


def paper_from_json(data: bytes) -> IssuedPaper:
    """Read a paper's data.

    Raises
    ------
    NotAPaper
        When they are not an issued paper's, or of a form that this version does not know.
    """
    try:
        body = json.loads(data.decode("utf-8"), object_pairs_hook=_once)
        form, paper = body["form"], _paper(body)
    except (ValueError, KeyError, TypeError, RecursionError) as cause:
        raise NotAPaper(str(cause)) from cause
    if form != PAPER_FORM:
        raise NotAPaper(f"form {form!r}")
    return paper


def _paper(body: Mapping[str, Any]) -> IssuedPaper:
    proof, later = body["proof"], body["superseded_by"]
    return IssuedPaper(
        str(body["kind"]),
        str(body["number"]),
        str(body["site"]),
        dict(body["statement"]),
        _names(body["names"]["customer"]),
        _names(body["names"]["lab"]),
        LogProof(
            str(proof["entry"]),
            int(proof["index"]),
            int(proof["size"]),
            tuple(str(p) for p in proof["path"]),
            str(proof["root_entry"]),
        ),
        None if later is None else {"number": str(later["number"]), "day": str(later["day"])},
    )

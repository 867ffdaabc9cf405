"""Heads and roots of the log kept elsewhere: a backup's manifest, or what was written at an issue."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from lodestarch.common.errors import LodestarchError
from lodestarch.report.paper_proof import Rooted

__all__ = ["HEADS_FORM", "KnownHeads", "NoHeads", "heads_file", "read_heads"]

HEADS_FORM: Final = "lodestarch-heads/1"


class NoHeads(LodestarchError):
    """The file holds no heads."""


@dataclass(frozen=True, slots=True)
class KnownHeads:
    """By site: the last entry known (number, digest), and entries that hold roots (number to digest)."""

    heads: Mapping[str, tuple[int, str]]
    roots: Mapping[str, Mapping[int, str]]

    def holds(self, rooted: Rooted) -> bool | None:
        """Tell whether an entry is among them; ``None`` where they cannot tell."""
        roots = self.roots.get(rooted.site, {})
        if rooted.seq in roots:
            return roots[rooted.seq] == rooted.digest
        seq, digest = self.heads.get(rooted.site, (-1, ""))
        if seq == rooted.seq:
            return digest == rooted.digest
        # A list of roots that reaches beyond the entry and does not name it: the entry never was.
        return False if roots and max(roots) > rooted.seq else None


def heads_file(site: str, head: tuple[int, str], roots: Iterable[tuple[int, str]]) -> bytes:
    """Write the head and the digests of all entries that hold roots, to be kept elsewhere."""
    listed = [[seq, hashlib.sha256(body.encode("utf-8")).hexdigest()] for seq, body in roots]
    body = {"form": HEADS_FORM, "heads": {site: list(head)}, "roots": {site: listed}}
    return (json.dumps(body, indent=1) + "\n").encode("utf-8")


def read_heads(data: bytes) -> KnownHeads:
    """Read heads.

    Raises
    ------
    NoHeads
        When there are none in it.
    """
    try:
        body = json.loads(data.decode("utf-8"))
        heads = {str(site): (int(n), str(mark)) for site, (n, mark) in body["heads"].items()}
        roots = {
            str(site): {int(n): str(mark) for n, mark in listed}
            for site, listed in body.get("roots", {}).items()
        }
    except (ValueError, KeyError, TypeError, AttributeError) as cause:
        raise NoHeads(str(cause)) from cause
    return KnownHeads(heads, roots)

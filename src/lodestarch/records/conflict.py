"""What a change may run into: somebody else's, or the rule that a reason is wanted."""

from __future__ import annotations

from collections.abc import Mapping

from lodestarch.common.canonical import Json
from lodestarch.common.errors import Refused

__all__ = ["KeyTaken", "NeedsReason", "OnlySuperseded", "RefersNowhere", "StaleEdit"]


class StaleEdit(Refused):
    """Somebody else changed the row meanwhile; nothing was written.

    Parameters
    ----------
    table, key : str
        Which row.
    made_from : int
        Version that the edit was made from.
    offered : mapping
        The row as the edit would have it.
    kept : mapping or None
        The row as it stands; ``None``: there is none.
    """

    def __init__(
        self,
        table: str,
        key: str,
        made_from: int,
        offered: Mapping[str, Json],
        kept: Mapping[str, Json] | None,
    ) -> None:
        self.table, self.key, self.made_from = table, key, made_from
        self.offered, self.kept = offered, kept
        self.now = None if kept is None else kept["version"]
        names = [n for n, v in offered.items() if n != "version" and (kept is None or kept.get(n) != v)]
        self.differs = tuple(names)
        super().__init__(
            f"{table} {key}: the edit was made from version {made_from}, and version {self.now} stands now; "
            f"different: {', '.join(names) or 'nothing'}"
        )


class KeyTaken(Refused):
    """There is a row under this key already; nothing was written."""

    def __init__(self, table: str, key: str) -> None:
        self.table, self.key = table, key
        super().__init__(f"There is {key} in {table} already. Change that one, or take another key.")


class RefersNowhere(Refused):
    """The row names something that is not kept, or a kind that there is not; nothing was written."""

    def __init__(self, table: str, key: str, told: str) -> None:
        self.table, self.key, self.told = table, key, told
        super().__init__(f"{table} {key} names something that is not kept here ({told}). Add that first.")


class NeedsReason(Refused):
    """The sample is judged; from then on a change says why."""

    def __init__(self, sample: str) -> None:
        self.sample = sample
        super().__init__(f"Sample {sample} is judged. Say why this is changed.")


class OnlySuperseded(Refused):
    """A released result, or a row that is never changed; it can only be superseded by another."""

    def __init__(self, table: str, key: str) -> None:
        self.table, self.key = table, key
        super().__init__(f"{table} {key} is out and stays as it is. Put another in its place.")

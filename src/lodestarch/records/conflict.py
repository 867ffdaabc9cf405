"""Two people at once: an edit made from a version that is no longer the last."""

from __future__ import annotations

from collections.abc import Mapping

from lodestarch.common.canonical import Json
from lodestarch.common.errors import Refused

__all__ = ["StaleEdit"]


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

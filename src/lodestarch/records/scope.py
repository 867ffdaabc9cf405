"""A connection, and whose chain it is about."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Connection

__all__ = ["Scope"]


@dataclass(frozen=True, slots=True)
class Scope:
    """What every function of this room that touches tables takes first."""

    conn: Connection
    site_no: int
    site: str

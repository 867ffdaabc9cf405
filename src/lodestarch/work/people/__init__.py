"""Who may do what: one table, applied wherever a unit of work is opened."""

from __future__ import annotations

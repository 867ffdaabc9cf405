"""Lodestarch: from falling-number seconds to decisions."""

from __future__ import annotations

__version__ = "0.1.0"

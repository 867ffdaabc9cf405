"""At the bench: portions, sheets, days."""

from __future__ import annotations

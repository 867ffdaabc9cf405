"""Plans: which load to test, which bin it goes to, which bin goes to which contract, loading out."""

from __future__ import annotations

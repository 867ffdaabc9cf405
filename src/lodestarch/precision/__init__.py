"""How sure is this number: fitted scatter, uncertainty budget, sampling, variance components."""

from __future__ import annotations

"""Bytes in, rows and findings out: bench sheets, sample sheets, terms, templates."""

from __future__ import annotations

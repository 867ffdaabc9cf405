"""Keeping: profiles and their sign-off, records, backup."""

from __future__ import annotations

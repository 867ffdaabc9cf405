"""Blend and allocate, receive, load out; so far: bins as the day leaves them."""

from __future__ import annotations

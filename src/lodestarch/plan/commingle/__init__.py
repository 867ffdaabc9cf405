"""Commingling: lots poured together and drawn later for several buyers; in the mathematics, pooling."""

from __future__ import annotations

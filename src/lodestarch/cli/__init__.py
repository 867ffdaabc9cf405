"""The command line: parse, call one use case, render."""

from __future__ import annotations

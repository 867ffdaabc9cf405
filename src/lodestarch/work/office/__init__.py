"""In the office: tickets, releases, answers, prices."""

from __future__ import annotations

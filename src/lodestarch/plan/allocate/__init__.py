"""Which bin goes to which contract: the problem, its model on HiGHS, and the answers a merchant can use."""

from __future__ import annotations

"""One mix of known lots: the cheapest that keeps every limit, and the largest share of a low lot."""

from __future__ import annotations

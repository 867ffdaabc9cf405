"""Set-up, instruments: lines described by patterns, tried on pasted text, and what was heard."""

from __future__ import annotations

from typing import Any, Final

from starlette.requests import Request
from starlette.routing import BaseRoute, Route

from lodestarch.sheets.line_pattern import LINE_FIELDS
from lodestarch.web.posted_page import PostedPage
from lodestarch.words.findings import sentence
from lodestarch.words.times import when
from lodestarch.work.bench.instrument_lines import heard_lately, lines_described, try_pattern

__all__ = ["InstrumentPages"]

_LONGEST: Final = 4000


class InstrumentPages(PostedPage):
    """Looking and trying; what is kept goes by the API."""

    template, path = "setup_instruments.html.j2", "/setup/instruments"

    def routes(self) -> list[BaseRoute]:
        """Addresses and what answers them."""
        return [Route(self.path, self.ask, name="instruments")]

    def shown(self, request: Request) -> dict[str, Any]:
        """Lines described, what a pattern reads in the text that was pasted, and lines heard."""
        pattern = request.query_params.get("pattern", "")[:_LONGEST]
        text = request.query_params.get("text", "")[:_LONGEST]
        tried, found = try_pattern(pattern, text) if pattern or text else ((), ())
        return {
            "lines": lines_described(self._records),
            "heard": [(when(one.at.astimezone()), one) for one in heard_lately(self._records)],
            "pattern": pattern,
            "text": text,
            "tried": tried,
            "tried_faults": tuple(sentence(f) for f in found),
            "columns": [name for name in LINE_FIELDS if any(one.read and name in one.read for one in tried)],
            "line_fields": LINE_FIELDS,
        }

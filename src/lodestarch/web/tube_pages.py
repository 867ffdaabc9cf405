"""The page Tube, and the histories that its script draws from."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route

from lodestarch.common.findings import Finding
from lodestarch.web.render import page
from lodestarch.web.source import DaySource
from lodestarch.web.tube_view import tube_view
from lodestarch.words.catalogues import term
from lodestarch.words.drawing.tube_cut import ENZYMES
from lodestarch.words.findings import sentence
from lodestarch.work.tube.ready import Readiness

__all__ = ["TubePages"]

_PATIENCE_S: Final = 3.0
"""How long a page waits for the model before it says that it is being made ready. [s]"""
_LONGEST: Final = 60


class TubePages:
    """The page and its JSON; the first question makes the compiled model ready."""

    def __init__(self, source: DaySource) -> None:
        self._source = source
        self._ready = Readiness()

    def routes(self) -> list[BaseRoute]:
        """Addresses and what answers them."""
        return [
            Route("/tube", self.tube, name="tube"),
            Route("/api/v1/tube", self.tube_json, name="tube_json"),
        ]

    def tube(self, request: Request) -> Response:
        """Two tubes, or a step of a story."""
        from lodestarch.work.tube.pair import fields_of, run_pair  # noqa: PLC0415  # the compiler comes with it
        from lodestarch.work.tube.stories import Scene, scene, story_named  # noqa: PLC0415

        if not self._ready.wait(_PATIENCE_S):
            return page(
                request, "tube-wait.html.j2", status=503, headers={"Retry-After": "5"}, nav=self._nav()
            )
        asked = request.query_params
        told: Scene | None = None
        lost = ""
        if asked.get("story"):
            story = story_named(asked["story"][:_LONGEST])
            if isinstance(story, Finding):
                said = sentence(story)
                lost = term("tube-page.story-lost", wrong=said.wrong, do=said.do)
            else:
                told = scene(story, _whole(asked.get("step")))
        pair = told.pair if told is not None else run_pair(fields_of(asked))
        view = tube_view(pair, scene=told, at_s=_seconds(asked))
        return page(request, "tube.html.j2", nav=self._nav(), view=view, lost=lost, most=ENZYMES)

    def tube_json(self, request: Request) -> Response:
        """Both tubes with their histories; or those of a step of a story."""
        from lodestarch.work.tube.pair import fields_of, pair_as_dict, run_pair  # noqa: PLC0415
        from lodestarch.work.tube.stories import scene, story_named  # noqa: PLC0415

        if not self._ready.wait(_PATIENCE_S):
            headers = {"Retry-After": "5"}
            return JSONResponse({"detail": term("tube-page.wait-title")}, status_code=503, headers=headers)
        asked = request.query_params
        if asked.get("story"):
            story = story_named(asked["story"][:_LONGEST])
            if isinstance(story, Finding):
                return JSONResponse({"detail": sentence(story).wrong}, status_code=404)
            return JSONResponse(pair_as_dict(scene(story, _whole(asked.get("step"))).pair))
        return JSONResponse(pair_as_dict(run_pair(fields_of(asked))))

    def _nav(self) -> object:
        from lodestarch.web.nav import Nav  # noqa: PLC0415

        days = self._source.list_days()
        return Nav("tube", days[0].day_id if days else None)


def _whole(text: str | None) -> int:
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 5 else 1


def _seconds(asked: Mapping[str, str]) -> float | None:
    """The moment asked for; what cannot be read asks for none."""
    text = asked.get("t", "")
    if not text or len(text) > 12 or not text.replace(".", "", 1).isdecimal() or not text.isascii():
        return None
    return float(text)

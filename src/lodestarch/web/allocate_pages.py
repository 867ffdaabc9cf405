"""The page Allocate: contracts as columns, bins as rows; solved once the hand rests; the loading sheet."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from lodestarch.plan.allocate.answer import Allocation
from lodestarch.records.engine import Records
from lodestarch.report.loading_sheet import PAPERS, loading_sheet_pdf
from lodestarch.web.allocate_view import answer_view
from lodestarch.web.clock import Clock
from lodestarch.web.nav import Nav
from lodestarch.web.person import People
from lodestarch.web.plan_solver import Job, Solver
from lodestarch.web.render import page
from lodestarch.words.catalogues import term
from lodestarch.words.loading_paper import loading_paper
from lodestarch.words.numbers import figure, number
from lodestarch.work.planning.allocate import ProblemOutcome
from lodestarch.work.planning.allocation_kept import AllocationKept, allocation_kept, solve_kept

__all__ = ["AllocatePages", "Plans"]

_PATIENCE_S: Final = 1.2
"""How long a page waits for the plan before it says that it is looked for. [s]"""
_SHEET_PATIENCE_S: Final = 30.0
_SEED: Final = 0


class Plans:
    """The allocation that is kept, with its job at the solver."""

    def __init__(self, records: Records, make_rng: Callable[[int], Any]) -> None:
        self._records, self._make_rng = records, make_rng
        self._solver = Solver()

    def kept(self) -> AllocationKept | None:
        """The allocation that is kept."""
        with self._records.view() as view:
            return allocation_kept(view)

    def job(self, kept: AllocationKept) -> Job:
        """Its job, begun where it is new."""

        def solve(beside: bool) -> ProblemOutcome:
            return solve_kept(kept, self._make_rng(_SEED), beside=beside)

        return self._solver.ask(kept.digest, solve)


class AllocatePages:
    """The allocation over open records."""

    def __init__(self, plans: Plans, people: People, clock: Clock) -> None:
        self._plans, self._people, self._clock = plans, people, clock

    def routes(self) -> list[BaseRoute]:
        """Addresses and what answers them."""
        return [
            Route("/plan/allocate", self.allocate, name="allocate"),
            Route("/plan/allocate/answer", self.answer, name="allocate_answer"),
            Route("/plan/allocate/loading-sheet", self.sheet, name="loading_sheet"),
            Route("/plan/allocate/loading-sheet.pdf", self.sheet_pdf, name="loading_sheet_pdf"),
        ]

    def allocate(self, request: Request) -> Response:
        """The whole page."""
        kept = self._plans.kept()
        nav = self._nav(request, kept)
        if kept is None:
            return page(request, "allocate_none.html.j2", nav=nav, part="allocate")
        return page(request, "allocate.html.j2", nav=nav, part="allocate", **self._view(kept))

    def answer(self, request: Request) -> Response:
        """The answer alone; 202 and how long it has been looked for while there is none."""
        kept = self._plans.kept()
        if kept is None:
            return Response(status_code=404)
        view = self._view(kept)
        if not view["ready"]:
            return page(request, "allocate_looking.html.j2", status=202, **view)
        return page(request, "allocate_answer.html.j2", **view)

    def sheet(self, request: Request) -> Response:
        """The loading sheet as a page, to be looked at and printed."""
        kept = self._plans.kept()
        nav = self._nav(request, kept)
        found = self._solved(kept)
        if kept is None or found is None:
            return page(request, "allocate_none.html.j2", nav=nav, part="allocate", status=404)
        paper = loading_paper(found, self._clock(), demonstration=kept.demonstration)
        return page(request, "loading_sheet.html.j2", nav=nav, part="allocate", paper=paper)

    def sheet_pdf(self, request: Request) -> Response:
        """The loading sheet as PDF; ``?paper=letter`` for that size."""
        kept = self._plans.kept()
        found = self._solved(kept)
        if kept is None or found is None:
            title = term("loading-sheet.no-blends")
            return page(request, "lost.html.j2", status=404, nav=self._nav(request, kept), title=title, do="")
        now = self._clock()
        size = "letter" if request.query_params.get("paper") == "letter" else "a4"
        assert size in PAPERS  # noqa: S101 - both of our own
        data = loading_sheet_pdf(loading_paper(found, now, demonstration=kept.demonstration), now, size)
        headers = {"Content-Disposition": 'inline; filename="loading-sheet.pdf"'}
        return Response(data, media_type="application/pdf", headers=headers)

    def _solved(self, kept: AllocationKept | None) -> Allocation | None:
        """The answer with a plan in it; waits longer than a page does."""
        if kept is None:
            return None
        job = self._plans.job(kept)
        job.wait(_SHEET_PATIENCE_S + kept.time_s)
        outcome = job.outcome
        answer = None if outcome is None else outcome.answer
        return answer if answer is not None and answer.plan is not None and answer.plan.stands else None

    def _view(self, kept: AllocationKept) -> dict[str, Any]:
        job = self._plans.job(kept)
        job.wait(_PATIENCE_S)
        if job.cause is not None:
            raise job.cause
        looking = term("allocate-page.looking-since", seconds=number(job.seconds), most=figure(kept.time_s))
        view = answer_view(kept, job.outcome, whole=job.whole is not None)
        return {**view, "looking": looking, "digest": kept.digest[:12]}

    def _nav(self, request: Request, kept: AllocationKept | None) -> Nav:
        who = self._people.who(request)
        return Nav(
            "plan",
            person=who.name if who else "",
            demonstration=kept is not None and kept.demonstration,
            title=kept.problem.title if kept is not None else "",
        )

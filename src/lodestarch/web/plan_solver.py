"""Plans solved beside the page: two at a time, the last ones at hand, what lies beside a plan after it.

A page asks, waits a moment, and asks again; the plan comes before the answers that need further solving
(what a tonne more would bring, one bin fewer). A question that nobody asks any more is not begun.
"""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Final

from lodestarch.work.planning.allocate import ProblemOutcome

__all__ = ["Job", "Solver"]

_AT_HAND: Final = 12
"""Answers kept, so that a step back shows at once. A setting of ours."""


@dataclass(slots=True)
class Job:
    """One question: its plan, then the plan with what lies beside it."""

    plan: ProblemOutcome | None = None
    whole: ProblemOutcome | None = None
    cause: Exception | None = None
    began: float = field(default_factory=time.monotonic)
    change: threading.Condition = field(default_factory=threading.Condition)

    @property
    def outcome(self) -> ProblemOutcome | None:
        """The fullest answer that is there."""
        return self.whole or self.plan

    @property
    def seconds(self) -> float:
        """Since it was asked. [s]"""
        return time.monotonic() - self.began

    def wait(self, seconds: float, *, whole: bool = False) -> bool:
        """Wait for the plan, or for all of it; tell whether it is there."""

        def there() -> bool:
            return self.cause is not None or (self.whole if whole else self.outcome) is not None

        with self.change:
            return self.change.wait_for(there, timeout=seconds)


class Solver:
    """Answers questions in the order in which they were asked last."""

    def __init__(self) -> None:
        self._jobs: OrderedDict[str, Job] = OrderedDict()
        self._guard = threading.Lock()
        self._latest = ""
        self._pool = ThreadPoolExecutor(max_workers=2, thread_name_prefix="plans")

    def ask(self, digest: str, solve: Callable[[bool], ProblemOutcome]) -> Job:
        """Return the job of a question, begun where it is new.

        Parameters
        ----------
        digest : str
            Of everything that the answer depends on.
        solve : callable
            Gives the answer, with what lies beside it or without.
        """
        with self._guard:
            self._latest = digest
            job = self._jobs.get(digest)
            if job is not None and job.cause is None:
                self._jobs.move_to_end(digest)
                return job
            job = self._jobs[digest] = Job()
            while len(self._jobs) > _AT_HAND:
                self._jobs.popitem(last=False)
        self._pool.submit(self._work, digest, job, solve)
        return job

    def _wanted(self, digest: str) -> bool:
        with self._guard:
            return self._latest == digest

    def _work(self, digest: str, job: Job, solve: Callable[[bool], ProblemOutcome]) -> None:
        try:
            if not self._wanted(digest):
                self._forget(digest)
                return
            self._tell(job, plan=solve(False))
            if self._wanted(digest):
                self._tell(job, whole=solve(True))
        except Exception as cause:  # noqa: BLE001 - told to the page that waits, which raises it
            with job.change:
                job.cause = cause
                job.change.notify_all()

    def _forget(self, digest: str) -> None:
        with self._guard:
            self._jobs.pop(digest, None)

    @staticmethod
    def _tell(job: Job, *, plan: ProblemOutcome | None = None, whole: ProblemOutcome | None = None) -> None:
        with job.change:
            job.plan = plan or job.plan
            job.whole = whole or job.whole
            job.change.notify_all()

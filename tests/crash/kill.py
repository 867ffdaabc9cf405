"""kill -9 at random moments: a child works and tells, the parent kills it and proves what is left.

The child is forked from a process that has loaded everything and opened nothing, so that a round takes a
fraction of a second and the moment of the kill is spread over the work, not over loading.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from random import Random

from crash.load import halves, missing, work
from lodestarch.records.engine import open_records
from records.harvest import Clock


@dataclass(slots=True)
class Outcome:
    """Rounds so far, what was told in them, and what was lost or broken: empty, or the claim is wrong."""

    rounds: int = 0
    told: int = 0
    lost: list[str] = field(default_factory=list)
    broken: list[str] = field(default_factory=list)


def silent(_text: str) -> None:
    """Say nothing."""


def _child(address: str, seed: int, out: int) -> None:
    with open_records(address, clock=Clock()) as records:
        work(records, lambda text: os.write(out, (text + "\n").encode()), 10**6, seed)


def _check(address: str, marks: str, out: int) -> None:
    acked = marks.split()
    with open_records(address, clock=Clock()) as records:
        lost = missing(records, acked)
        wrong = [f.code for f in records.verify(progress=None).findings if f.severity == "stop"]
        half = halves(records)
    told = (
        ["lost " + one for one in lost]
        + ["broken " + one for one in wrong]
        + ["broken half written"] * (half > 0)
    )
    os.write(out, ("\n".join([*told, "done"]) + "\n").encode())


def _forked(do: Callable[[int], None]) -> tuple[int, int]:
    """Run ``do`` in a forked process with one end of a pipe; return the process and the other end."""
    read, write = os.pipe()
    process = os.fork()
    if process == 0:
        code = 1
        try:
            os.close(read)
            do(write)
            code = 0
        except BaseException as problem:  # noqa: BLE001 - whatever it was, the parent has to hear of it
            os.write(
                write,
                f"broken {type(problem).__name__}: {problem}\ndone\n".replace("\n", " ").encode() + b"\n",
            )
        finally:
            os._exit(code)
    os.close(write)
    return process, read


def _read_all(source: int) -> str:
    with os.fdopen(source, "rb") as pipe:
        return pipe.read().decode()


def _round(address: str, seed: int, random: Random, crash: Callable[[], None] | None) -> list[str]:
    """Let a child work, kill it (or what it works on) at a random moment, and return what it had told."""
    process, source = _forked(lambda out: _child(address, seed, out))
    with os.fdopen(source, "rb") as pipe:
        first = pipe.readline()
        time.sleep(random.expovariate(1 / 0.15))
        if crash is not None:
            crash()
        os.kill(process, signal.SIGKILL)
        rest = pipe.read()
    os.waitpid(process, 0)
    lines = [line for line in (first + rest).decode().split("\n")[:-1] if line]
    # A child whose server was taken away says so; one that nobody disturbed has no reason to.
    return [line for line in lines if crash is None or not line.startswith("broken")]


def kill_rounds(
    address: str,
    rounds: int,
    seed: int,
    *,
    fresh: Callable[[], str] | None = None,
    crash: Callable[[], None] | None = None,
    say: Callable[[str], None] = silent,
) -> Outcome:
    """Kill ``rounds`` times; every tenth round go on with new records, so that proving stays quick.

    ``fresh`` makes new records and returns their address; ``crash`` takes the server down and up again, in
    every third round, before the child is killed.
    """
    random, outcome, acked = Random(seed), Outcome(), []
    for n in range(rounds):
        if fresh is not None and n % 10 == 0 and n:
            address, acked = fresh(), []
        told = _round(address, seed * 1000 + n, random, crash if n % 3 == 2 else None)
        outcome.broken += [line for line in told if line.startswith("broken")]
        outcome.told += len(told)
        acked += [line for line in told if not line.startswith("broken")]
        process, source = _forked(partial(_check, address, " ".join(acked)))
        answer = _read_all(source).split("\n")
        os.waitpid(process, 0)
        outcome.rounds = n + 1
        outcome.lost += [line for line in answer if line.startswith("lost")]
        outcome.broken += [line for line in answer if line.startswith("broken")]
        if "done" not in answer and not any("done" in line for line in answer):
            outcome.broken.append("the check itself did not end")
        if n % 20 == 19:
            say(f"{n + 1} rounds, {len(outcome.lost)} lost, {len(outcome.broken)} broken")
    return outcome


def in_own_process(program: str, *arguments: str) -> str:
    """Run the rounds in a process that has opened nothing yet (forking one that has is not safe)."""
    tests = str(Path(__file__).parents[1])
    done = subprocess.run(
        [sys.executable, "-c", program, *arguments],
        check=False, env={**os.environ, "PYTHONPATH": tests}, capture_output=True, text=True,
    )  # fmt: skip
    if done.returncode:
        raise RuntimeError(done.stderr)
    return done.stdout

"""The long run: ``cd tests && python -m crash``. Its figures go into ``docs/reliability.md``.

Arguments: rounds of kill -9 (default 300) for each of file and server, images of power cuts (default 500).
"""

from __future__ import annotations

import sys
import tempfile
import time
from itertools import count
from pathlib import Path

from crash.kill import Outcome, kill_rounds
from crash.power import power_cuts
from records import postgres


def say(text: str) -> None:
    print(f"  {time.strftime('%H:%M:%S')} {text}", flush=True)  # noqa: T201 - a report


def on_a_file(rounds: int) -> Outcome:
    with tempfile.TemporaryDirectory() as name:
        numbers = count(1)
        fresh = lambda: str(Path(name) / f"lab{next(numbers)}.db")  # noqa: E731
        return kill_rounds(fresh(), rounds, 1, fresh=fresh, say=say)


def on_a_server(rounds: int) -> Outcome:
    with postgres.server() as server:

        def crash() -> None:
            server.stop("immediate")
            server.start()

        return kill_rounds(server.fresh(), rounds, 2, fresh=server.fresh, crash=crash, say=say)


def main(rounds: int, images: int) -> int:
    say(f"kill -9, a file, {rounds} rounds")
    file = on_a_file(rounds)
    say(f"kill -9, a server (taken down at once in every third round), {rounds} rounds")
    server = on_a_server(rounds)
    say(f"power cuts, {images} images, synchronous=FULL")
    full = power_cuts("FULL", 120, images, 3, say)
    say(f"power cuts, {images} images, synchronous=OFF")
    off = power_cuts("OFF", 120, images, 3)
    for name, outcome in (("file", file), ("server", server), ("power FULL", full), ("power OFF", off)):
        say(f"{name}: {outcome}")
    holds = (
        not (file.lost or file.broken or server.lost or server.broken or full.lost or full.broken)
        and off.lost > 0
    )
    say("holds" if holds else "DOES NOT HOLD")
    return 0 if holds else 1


if __name__ == "__main__":
    sys.exit(main(*(int(a) for a in [*sys.argv[1:], *("300", "500")[len(sys.argv) - 1 :]])))

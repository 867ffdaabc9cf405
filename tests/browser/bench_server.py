"""A workbench in a process of its own, on a port that it keeps, to be killed and started again."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

_PROGRAM = """
import sys
import uvicorn
from lodestarch.records.engine import open_records
from lodestarch.web.app import create_app
from lodestarch.web.clock import local_now
from lodestarch.web.kept import KeptDays

path, port = sys.argv[1], int(sys.argv[2])
with open_records(path, clock=local_now) as records:
    app = create_app(
        KeptDays(records), token=None, allowed_hosts=[f"127.0.0.1:{port}"], records=records
    )
    uvicorn.run(app, host="127.0.0.1", port=port, log_level="error", lifespan="off", ws="none")
"""
_PATIENCE_S = 60


class BenchServer:
    """One workbench over one file of records."""

    def __init__(self, path: Path) -> None:
        self.path = path
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.address = f"http://127.0.0.1:{self.port}"
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it, and wait until it answers."""
        self.process = subprocess.Popen([sys.executable, "-c", _PROGRAM, str(self.path), str(self.port)])
        until = time.monotonic() + _PATIENCE_S
        while time.monotonic() < until:
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", self.port)) == 0:
                    return
            assert self.process.poll() is None, "the workbench did not start"
            time.sleep(0.05)
        raise AssertionError("the workbench did not answer in time")

    def kill(self) -> None:
        """End it at once, as a power cut would."""
        assert self.process is not None
        os.kill(self.process.pid, signal.SIGKILL)
        self.process.wait()

    def stop(self) -> None:
        """End it, where it runs."""
        if self.process is not None and self.process.poll() is None:
            self.kill()

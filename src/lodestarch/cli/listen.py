"""``listen``: hear an instrument on a serial port and hand its lines to the workbench."""

from __future__ import annotations

import json
import os
import time
import urllib.error
import urllib.request
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Protocol

import typer

from lodestarch.cli.output import say
from lodestarch.common.errors import Refused

__all__ = ["Line", "Port", "Spool", "hear_port", "listen"]

_PATIENCE_S = 5.0
_PAUSE_S = 2.0


@dataclass(frozen=True, slots=True)
class Line:
    """A line as it was received: its id is made here, so that it counts once however often it is sent."""

    line_id: str
    heard_at: str
    source: str
    received: str
    """The bytes, hexadecimal."""

    @property
    def text(self) -> str:
        """As text; what is no text stands as escapes."""
        from lodestarch.sheets.line_pattern import readable

        return readable(bytes.fromhex(self.received))


class Port(Protocol):
    """Where lines come from."""

    def readline(self) -> bytes:
        """Return a line, or what came until the port's patience ended."""
        ...


class Spool:
    """Lines that are heard, on disk before anything else is done with them, and which of them are sent."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self.waiting: dict[str, Line] = {}
        if path.exists():
            for said in path.read_text(encoding="utf-8").splitlines():
                try:
                    one = json.loads(said)
                except ValueError:  # cut off by a power failure: it was never acknowledged
                    continue
                if "sent" in one:
                    self.waiting.pop(one["sent"], None)
                else:
                    self.waiting[one["line_id"]] = Line(**one)

    def _write(self, said: dict[str, str]) -> None:
        with self._path.open("a", encoding="utf-8") as file:
            file.write("\n" * self._is_cut() + json.dumps(said) + "\n")
            file.flush()
            os.fsync(file.fileno())

    def _is_cut(self) -> bool:
        """Tell whether the last line on disk has no end."""
        if not self._path.exists() or self._path.stat().st_size == 0:
            return False
        with self._path.open("rb") as file:
            file.seek(-1, os.SEEK_END)
            return file.read(1) != b"\n"

    def keep(self, line: Line) -> None:
        """Write a line through to the disk."""
        self._write(asdict(line))
        self.waiting[line.line_id] = line

    def sent(self, line_id: str) -> None:
        """Note that a line was answered."""
        self._write({"sent": line_id})
        self.waiting.pop(line_id, None)


Send = Callable[[Line], bool]
"""Sends a line and tells whether it was answered."""


def hear_port(port: Port, source: str, spool: Spool, send: Send, *, until: Callable[[], bool]) -> None:
    """Keep every line that comes, then send those that wait, the oldest first.

    A line is complete with its line end; what came without one is joined with what follows.
    """
    begun = b""
    while not until():
        begun += port.readline()
        if begun.endswith((b"\n", b"\r")):
            if begun.strip():
                at = datetime.now(UTC).isoformat()
                spool.keep(Line(str(uuid.uuid4()), at, source, begun.hex()))
            begun = b""
        for line in list(spool.waiting.values()):
            if not send(line):
                break
            spool.sent(line.line_id)
    if begun.strip():
        spool.keep(Line(str(uuid.uuid4()), datetime.now(UTC).isoformat(), source, begun.hex()))


def _sender(workbench: str, token: str) -> Send:
    """Send by the API; whatever the workbench answered is done with."""

    def send(line: Line) -> bool:
        body = {"source": line.source, "text": line.text, "made_at": line.heard_at}
        asked = urllib.request.Request(  # noqa: S310 - http alone, checked by the command
            f"{workbench}/api/v1/heard",
            data=json.dumps(body).encode(),
            headers={
                "Authorization": f"Bearer {token}",
                "Content-Type": "application/json",
                "Idempotency-Key": line.line_id,
            },
        )
        try:
            with urllib.request.urlopen(asked, timeout=_PATIENCE_S) as answer:  # noqa: S310 - as above
                said = json.load(answer)
        except urllib.error.HTTPError as refused:
            if refused.code in {401, 403, 422}:
                detail = json.load(refused)
                told = detail.get("detail") or "; ".join(f["wrong"] for f in detail.get("findings", []))
                raise Refused(f"The workbench does not take lines of {line.source}: {told}") from refused
            time.sleep(_PAUSE_S)
            return False
        except OSError:
            time.sleep(_PAUSE_S)
            return False
        told = said["sample"] or "; ".join(f["wrong"] for f in said["findings"]) or "kept"
        say(f"{line.text}   ->   {told}")
        return True

    return send


@contextmanager
def _opened(device: str, baud: int, bits: int, parity: str, stop: float) -> Iterator[Port]:
    try:
        import serial
    except ImportError as missing:
        raise Refused("To hear a serial port, install the extra: lodestarch[serial]") from missing
    try:
        with serial.Serial(device, baud, bytesize=bits, parity=parity, stopbits=stop, timeout=0.5) as port:
            yield port
    except (serial.SerialException, ValueError) as cause:
        raise Refused(f"{device} cannot be heard: {cause}") from cause


def listen(
    device: Annotated[str, typer.Argument(help="The port, as /dev/ttyUSB0 or COM3.")],
    source: Annotated[str, typer.Option("--line", help="Name of the line under Set-up, Instruments.")],
    workbench: Annotated[
        str, typer.Option(help="Address of the workbench.", envvar="LODESTARCH_WORKBENCH")
    ] = "http://127.0.0.1:8062",
    token: Annotated[str, typer.Option(help="A token with the scope enter.", envvar="LODESTARCH_TOKEN")] = "",
    spool: Annotated[Path, typer.Option(help="Lines are written here first.")] = Path("heard-lines.jsonl"),
    baud: Annotated[int, typer.Option(help="Signs a second as the instrument sends them.")] = 9600,
    bits: Annotated[int, typer.Option(help="Data bits, 7 or 8.")] = 8,
    parity: Annotated[str, typer.Option(help="N, E or O.")] = "N",
    stop: Annotated[float, typer.Option(help="Stop bits, 1 or 2.")] = 1,
) -> None:
    """Hear an instrument on a serial port; every line is kept, and sent to the workbench exactly once."""
    if not workbench.startswith(("http://", "https://")):
        raise typer.BadParameter("an address begins with http:// or https://", param_hint="--workbench")
    if not token:
        raise typer.BadParameter("issue one: lodestarch token issue", param_hint="--token")
    kept = Spool(spool)
    with _opened(device, baud, bits, parity, stop) as port:
        say(f"Hearing {device} as {source}. Stop with Ctrl+C.")
        try:
            hear_port(port, source, kept, _sender(workbench, token), until=lambda: False)
        except KeyboardInterrupt:
            say(f"Stopped; {len(kept.waiting)} lines wait in {spool}.")

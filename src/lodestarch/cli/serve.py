"""``run`` and ``demo``: the workbench on loopback."""

from __future__ import annotations

import secrets
import socket
import webbrowser
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from lodestarch.cli.day_table import show_day
from lodestarch.cli.duplicates import show_growth
from lodestarch.cli.options import DEFAULT_RECORDS, OUT, RecordsAddress
from lodestarch.cli.output import say

if TYPE_CHECKING:
    from lodestarch.records.engine import Records
    from lodestarch.web.price_pages import Offers

__all__ = ["demo", "run"]

_HOST = "127.0.0.1"
_USUAL_PORT = 8062

_Port = Annotated[int, typer.Option(help="Port on loopback; the next free one where it is taken.")]
_Open = Annotated[bool, typer.Option("--open", help="Open the page in the browser.")]


def _now() -> datetime:
    return datetime.now(UTC)


def _listen(port: int) -> socket.socket:
    """Bind the port asked for, or the next free one; nothing beyond loopback ever listens."""
    for candidate in (*range(port, port + 20), 0):
        sock = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        try:
            sock.bind((_HOST, candidate))
        except OSError:
            sock.close()
            continue
        return sock
    raise typer.BadParameter("no port is free on loopback", param_hint="--port")


def _opened(records: str) -> Records:
    """Open for writing; for reading where another process writes, and say so."""
    from lodestarch.common.errors import RecordsBusy
    from lodestarch.records.engine import open_records

    try:
        return open_records(records, create=False, clock=_now)
    except RecordsBusy as busy:
        say(f"{busy} Until then this workbench only shows what is kept.")
        return open_records(records, create=False, mode="read", clock=_now)


def _offers(terms: Path | None) -> Offers | None:
    """Offers for the page Price from a file of terms."""
    if terms is None:
        return None
    from lodestarch.web.price_pages import offers_of_file

    try:
        return offers_of_file(terms.name, terms.read_bytes())
    except OSError as cause:
        raise typer.BadParameter(f"{terms} cannot be read: {cause.strerror}", param_hint="--terms") from cause


def serve(records: str, *, port: int, open_page: bool, offers: Offers | None = None) -> None:
    """Serve the workbench until it is stopped with Ctrl+C."""
    import uvicorn

    from lodestarch.web.app import create_app
    from lodestarch.web.kept import KeptDays

    with _opened(records) as kept:
        sock = _listen(port)
        bound = sock.getsockname()[1]
        token = secrets.token_urlsafe(16)
        hosts = (f"{_HOST}:{bound}", f"localhost:{bound}")
        app = create_app(KeptDays(kept), token=token, allowed_hosts=hosts, records=kept, offers=offers)
        address = f"http://{_HOST}:{bound}/?token={token}"
        server = uvicorn.Server(uvicorn.Config(app, log_level="warning", lifespan="off", server_header=False))
        say()
        say("The workbench is open at")
        # The address is printed bare, so that a narrow terminal does not break it.
        print(address, flush=True)
        say("Stop it with Ctrl+C.")
        if open_page:
            webbrowser.open(address)
        server.run(sockets=[sock])


def run(
    records: RecordsAddress = DEFAULT_RECORDS,
    port: _Port = _USUAL_PORT,
    open_page: _Open = False,
    terms: Annotated[
        Path | None,
        typer.Option(help="Terms for the page Price in place of those in the records (docs/terms.md)."),
    ] = None,
) -> None:
    """Make the records if there are none, and open the workbench on them."""
    from lodestarch.records.engine import open_records

    if "://" not in records and not Path(records).exists():
        open_records(records, clock=_now).close()
        say(f"New records: {records}")
    serve(records, port=port, open_page=open_page, offers=_offers(terms))


def demo(
    out: Annotated[Path, typer.Option(help="Folder for the demonstration's records and papers.")] = OUT,
    serve_it: Annotated[bool, typer.Option("--serve", help="Open the workbench on it afterwards.")] = False,
    port: _Port = _USUAL_PORT,
    open_page: _Open = False,
    brief: Annotated[bool, typer.Option("--brief", help="Leave agreeing samples and notes out.")] = False,
) -> None:
    """Run the invented harvest day: its own records and papers, never your records."""
    from lodestarch.demo.run import run_demo

    done = run_demo(out, at=_now(), clock=_now)
    show_day(done.outcome, brief=brief)
    say()
    show_growth(done.growth)
    say()
    show_day(done.morning.whole, brief=brief)
    say()
    say(f"Records: {done.records}")
    say("Papers: " + ", ".join(str(p) for p in done.papers))
    if serve_it:
        serve(str(done.records), port=port, open_page=open_page)

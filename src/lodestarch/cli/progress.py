"""How far long work is, on the error output so that ``--json`` stays one object."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from rich.console import Console
from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn

from lodestarch.records.verify_chain import Progress as Told

__all__ = ["bar"]


@contextmanager
def bar(what: str, *, quiet: bool) -> Iterator[Told | None]:
    """Show how far long work is."""
    if quiet:
        yield None
        return
    columns = (TextColumn("{task.description}"), BarColumn(), TaskProgressColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task(what, total=None)

        def told(doing: str, done: int, of: int) -> None:
            progress.update(task, description=f"{what}: {doing}", completed=done, total=of or None)

        yield told

"""Where the parts of long work are done: in this process, or on a Dask cluster.

A part is a pure function with its arguments. Parts are told apart by their number, so that a part whose
worker died is done again elsewhere and gives the same bits, and answers come back in the order of the parts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, Final, Protocol, TypeVar

from lodestarch.common.errors import LodestarchError

__all__ = ["RETRIES", "Here", "OnCluster", "Place", "local_cluster", "open_cluster"]

T = TypeVar("T")

RETRIES: Final = 3
"""How often a part is tried again after its worker died (a setting; a part that kills three is at fault)."""


class Place(Protocol):
    """Somewhere that parts can be done."""

    def each(
        self, function: Callable[..., T], shared: tuple[Any, ...], parts: Sequence[tuple[Any, ...]]
    ) -> list[T]:
        """Call ``function(*shared, *part)`` for every part; answers in the order of the parts."""
        ...


class Here:
    """In this process, one after the other."""

    def each(
        self, function: Callable[..., T], shared: tuple[Any, ...], parts: Sequence[tuple[Any, ...]]
    ) -> list[T]:
        """Call ``function(*shared, *part)`` for every part."""
        return [function(*shared, *part) for part in parts]


class OnCluster:
    """On the workers of a Dask cluster.

    Parameters
    ----------
    client : distributed.Client
        Connected.
    """

    def __init__(self, client: Any) -> None:
        self.client = client
        self.calls = 0

    def each(
        self, function: Callable[..., T], shared: tuple[Any, ...], parts: Sequence[tuple[Any, ...]]
    ) -> list[T]:
        """Call ``function(*shared, *part)`` for every part, wherever there is room.

        What all parts share is sent to each worker once. An exception of a part is raised here.
        """
        sent = [self.client.scatter(one, broadcast=True, hash=False) for one in shared]
        self.calls += 1
        name = f"{function.__name__}-{self.calls}"
        tasks = [
            self.client.submit(function, *sent, *part, key=f"{name}-{i}", retries=RETRIES)
            for i, part in enumerate(parts)
        ]
        return list(self.client.gather(tasks))


@contextmanager
def open_cluster(address: str) -> Iterator[OnCluster]:
    """Connect to a scheduler that is running.

    Raises
    ------
    LodestarchError
        Without the extra ``cluster``, or when nothing answers at the address.
    """
    distributed = _distributed()
    try:
        client = distributed.Client(address, timeout="10s")
    except (OSError, ValueError) as cause:
        raise LodestarchError(f"no scheduler answers at {address}: {cause}") from None
    try:
        yield OnCluster(client)
    finally:
        client.close()


@contextmanager
def local_cluster(workers: int) -> Iterator[OnCluster]:
    """Start worker processes on this machine, one thread each, on the loopback address only.

    Raises
    ------
    LodestarchError
        Without the extra ``cluster``, or with fewer than one worker.
    """
    if workers < 1:
        raise LodestarchError(f"{workers} workers cannot work")
    distributed = _distributed()
    with (
        distributed.LocalCluster(
            n_workers=workers,
            threads_per_worker=1,
            processes=True,
            host="127.0.0.1",
            dashboard_address="127.0.0.1:0",
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        yield OnCluster(client)


def _distributed() -> Any:
    try:
        import distributed  # noqa: PLC0415 - an extra
    except ImportError:
        raise LodestarchError("clusters need the extra 'cluster': pip install lodestarch[cluster]") from None
    return distributed

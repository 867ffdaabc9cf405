"""The disk as a power cut would leave it, from recorded operations.

The model is the harsh one: of what was written to a file after its last sync, each write may be there whole,
not at all, or torn at a sector of 512 bytes, in any combination; a truncation or deletion not followed by a
sync may or may not have happened. What was synced is there.
"""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

from crash.recorder import Op

SECTOR = 512


def _apply(content: bytearray, at: int, data: bytes) -> None:
    if len(content) < at + len(data):
        content.extend(bytes(at + len(data) - len(content)))
    content[at : at + len(data)] = data


def _torn(content: bytearray, op: Op, random: Random) -> None:
    """Write some sectors of a write and not the others."""
    for start in range(0, len(op.data), SECTOR):
        if random.random() < 0.5:
            _apply(content, op.at + start, op.data[start : start + SECTOR])


def _do(content: bytearray, op: Op) -> None:
    if op.kind == "write":
        _apply(content, op.at, op.data)
    elif op.kind == "truncate":
        del content[op.at :]
    else:
        content.clear()


class Disk:
    """Files as they are safely on the disk, and what was done to them since."""

    def __init__(self, files: dict[str, bytes]) -> None:
        self.safe = {name: bytearray(content) for name, content in files.items()}
        self.loose: dict[str, list[Op]] = {}

    def take(self, op: Op) -> None:
        """Carry one operation on."""
        if op.kind == "sync":
            content = self.safe.setdefault(op.name, bytearray())
            for one in self.loose.pop(op.name, []):
                _do(content, one)
        elif op.kind != "ack":
            self.loose.setdefault(op.name, []).append(op)

    def cut(self, random: Random) -> dict[str, bytes]:
        """Return the files after a power cut now: what is loose is kept, lost or torn by chance."""
        image = {name: bytearray(content) for name, content in self.safe.items()}
        for name, ops in self.loose.items():
            content = image.setdefault(name, bytearray())
            gone = False
            for op in ops:
                fate = random.random()
                if fate < 0.4:
                    continue
                if op.kind == "delete":
                    gone = True
                    content.clear()
                elif op.kind == "write" and fate < 0.6:
                    _torn(content, op, random)
                else:
                    _do(content, op)
                    gone = False
            if gone:
                image.pop(name)
        return {name: bytes(content) for name, content in image.items()}


def cuts(files: dict[str, bytes], ops: Sequence[Op], count: int, random: Random):
    """Yield ``count`` images at random moments, each with what had been acknowledged by then."""
    moments = sorted(random.randrange(1, len(ops) + 1) for _ in range(count))
    disk, acked, done = Disk(files), [], 0
    for moment in moments:
        for op in ops[done:moment]:
            disk.take(op)
            if op.kind == "ack":
                acked.append(op.name)
        done = moment
        yield moment, list(acked), disk.cut(random)

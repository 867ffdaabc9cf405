from __future__ import annotations

from random import Random

from crash.images import Disk, cuts
from crash.power import power_cuts
from crash.recorder import Op

ROUNDS, IMAGES = 16, 12
"""The short run; the long one is ``python -m crash`` in the folder of the tests."""


def test_no_power_cut_loses_what_was_told_as_kept():
    outcome = power_cuts("FULL", ROUNDS, IMAGES, seed=1)
    assert (outcome.lost, outcome.broken) == (0, 0)


def test_without_syncs_the_harness_does_lose_it():
    outcome = power_cuts("OFF", ROUNDS, IMAGES, seed=1)
    assert outcome.lost > IMAGES // 4


def test_what_was_synced_is_in_every_image_and_what_was_not_is_lost_by_chance():
    ops = [
        Op("write", "a", 0, b"x" * 1024),
        Op("sync", "a"),
        Op("write", "a", 0, b"y" * 1024),
        Op("ack", "y"),
    ]
    disk = Disk({})
    for op in ops:
        disk.take(op)
    images = {disk.cut(Random(seed))["a"] for seed in range(60)}
    assert images == {b"x" * 1024, b"y" * 1024, b"x" * 512 + b"y" * 512, b"y" * 512 + b"x" * 512}


def test_an_image_knows_what_had_been_told_by_then():
    ops = [Op("write", "a", 0, b"1"), Op("sync", "a"), Op("ack", "one"), Op("delete", "a"), Op("ack", "two")]
    for moment, acked, files in cuts({}, ops, 40, Random(5)):
        assert acked == ["one", "two"][: (moment >= 3) + (moment >= 5)]
        assert moment < 2 or moment > 3 or files["a"] == b"1"

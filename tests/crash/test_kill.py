from __future__ import annotations

import json

from crash.kill import in_own_process

PROGRAM = """
import json, sys
from dataclasses import asdict
from crash.__main__ import on_a_file, on_a_server
print(json.dumps(asdict((on_a_file if sys.argv[1] == "file" else on_a_server)(int(sys.argv[2])))))
"""


def outcome(place, rounds):
    return json.loads(in_own_process(PROGRAM, place, str(rounds)).strip().splitlines()[-1])


def test_a_killed_writer_of_a_file_loses_nothing_that_was_told():
    found = outcome("file", 5)
    assert (found["lost"], found["broken"]) == ([], [])
    assert found["told"] >= 5


def test_a_killed_writer_or_server_loses_nothing_that_was_told():
    found = outcome("server", 3)
    assert (found["lost"], found["broken"]) == ([], [])
    assert found["told"] >= 3

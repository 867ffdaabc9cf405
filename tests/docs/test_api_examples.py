"""Every example of the page on the API, run as it stands there."""

from __future__ import annotations

import json
import os
import re
import secrets
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
import uvicorn

from lodestarch.words.catalogues import terms
from lodestarch.work.people.tokens import LONGEST_DAYS, SCOPES, TokenTyped, issue_token
from web.workbench import PERSON, Workbench

PAGE = (Path(__file__).parents[2] / "docs" / "api.md").read_text(encoding="utf-8")
EXAMPLES = re.findall(r"```http\n(.*?)```", PAGE, flags=re.DOTALL)
(PROGRAM,) = re.findall(r"```python\n(.*?)```", PAGE, flags=re.DOTALL)


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    made = Workbench(tmp_path_factory.mktemp("api") / "lab.db")
    yield made
    made.records.close()


@pytest.fixture(scope="module")
def token(lab):
    with lab.records.unit(PERSON, lab.clock()):
        pass
    typed = TokenTyped("the examples", SCOPES, "1", PERSON)
    return issue_token(lab.records, typed, secrets.token_urlsafe(32), person=PERSON, at=lab.clock()).token


def contains(said, shown, place="answer"):
    """What is shown stands in what was said; it may say more."""
    if isinstance(shown, dict):
        for key, value in shown.items():
            assert key in said, f"{place} has no {key}"
            contains(said[key], value, f"{place}.{key}")
    elif isinstance(shown, list) and shown:
        for one in shown:
            assert any(fits(other, one) for other in said), f"{place} has no {one}"
    else:
        assert said == shown, place


def fits(said, shown):
    try:
        contains(said, shown)
    except AssertionError:
        return False
    return True


def parts_of(example):
    asked, _, answered = example.rstrip().rpartition("\n\n")
    head, _, body = asked.partition("\n\n")
    (method, path), *lines = (line.split(" ", 1) for line in head.splitlines())
    status, _, shown = answered.partition("\n")
    headers = {name.rstrip(":"): value for name, value in lines}
    return method, path, headers, json.loads(body or "null"), int(status), json.loads(shown)


def test_the_examples_in_their_order(lab, token):
    assert len(EXAMPLES) > 10
    for example in EXAMPLES:
        method, path, headers, body, status, shown = parts_of(example)
        headers["Authorization"] = f"Bearer {token}"
        answer = lab.client.request(method, path, headers=headers, json=body)
        assert answer.status_code == status, (example, answer.text)
        contains(answer.json(), shown)
    assert lab.records.verify().holds


def test_the_program(lab, token):
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    server = uvicorn.Server(uvicorn.Config(lab.app, log_level="error", lifespan="off", ws="none"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
    thread.start()
    try:
        # The application of the tests is called "lab": the guard looks at the name, not at the port.
        address = f"http://127.0.0.1:{listening.getsockname()[1]}"
        program = PROGRAM.replace("headers={", 'headers={"Host": "lab",')
        environment = {**os.environ, "LODESTARCH_WORKBENCH": address, "LODESTARCH_TOKEN": token}
        until = time.monotonic() + 60
        while not server.started and time.monotonic() < until:
            time.sleep(0.01)
        done = subprocess.run(
            [sys.executable, "-c", program], env=environment, capture_output=True, text=True, check=False
        )
    finally:
        server.should_exit = True
        thread.join(timeout=10)
        listening.close()
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("8817 · 308")


def test_scopes_and_limits_are_those_of_the_code():
    assert re.findall(r"^\| `(\w+)` \|", PAGE, flags=re.MULTILINE) == list(SCOPES)
    assert all(f"tokens.scope-{scope}" in terms() for scope in SCOPES)
    assert f"at most {LONGEST_DAYS}" in PAGE

"""Whatever a program sends, allowed by the description of the API or not: never a fault of the server."""

from __future__ import annotations

import secrets

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import response_schema_conformance, status_code_conformance

from lodestarch.web.app import create_app
from lodestarch.web.pace import Pace
from lodestarch.work.people.tokens import SCOPES, TokenTyped, issue_token
from web.example_source import example_source
from web.workbench import PERSON, Workbench

EXAMPLES = 5
"""Requests an operation and kind; a longer run was made before this number was chosen."""
QUIET = {
    "max_examples": EXAMPLES,
    "deadline": None,
    "phases": [Phase.explicit, Phase.generate],
    "suppress_health_check": list(HealthCheck),
    "database": None,
}


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    made = Workbench(tmp_path_factory.mktemp("fuzz") / "lab.db", pace=Pace(10**6, 10**6))
    with made.records.unit(PERSON, made.clock()):
        pass
    typed = TokenTyped("whatever comes", SCOPES, "1", PERSON)
    secret = secrets.token_urlsafe(32)
    made.token = issue_token(made.records, typed, secret, person=PERSON, at=made.clock()).token
    made.headers = {"Host": "lab", "Authorization": f"Bearer {made.token}"}
    first = {"ticket": "8814", "moisture_pct": "14", "seconds": ["287", "291"]}
    said = made.client.post(
        "/api/v1/quick", json=first, headers={**made.headers, "Idempotency-Key": "the-first-one"}
    )
    assert said.status_code == 201
    yield made
    made.records.close()


@pytest.fixture(scope="module")
def described(lab):
    return schemathesis.openapi.from_asgi("/api/v1/openapi.json", lab.app, headers=lab.headers)


@pytest.mark.parametrize("mode", list(GenerationMode))
def test_no_operation_breaks(described, lab, mode):
    met = set()
    for operation in (found.ok() for found in described.get_all_operations()):

        @settings(**QUIET)
        @given(case=operation.as_strategy(generation_mode=mode))
        def asked(case):
            case.headers = {**(case.headers or {}), **lab.headers}
            checks = [not_a_server_error, status_code_conformance, response_schema_conformance]
            answer = case.call()
            case.validate_response(answer, checks=checks)
            met.add((answer.status_code, case.method.upper()))

        asked()
    assert {401, 429}.isdisjoint(status for status, _ in met)
    assert (200, "GET") in met
    if mode is GenerationMode.POSITIVE:
        assert (201, "POST") in met
    assert (422, "POST") in met


def test_what_was_sent_left_the_records_whole(lab):
    assert lab.records.verify().holds


def test_a_workbench_that_only_reads_describes_only_looking():
    described = create_app(example_source(), token=None, allowed_hosts=["lab"]).openapi()
    assert all(set(methods) == {"get"} for methods in described["paths"].values())
    assert described["paths"]

"""Programs ask by a token: what it is meant for and no more, until it ends; wrong ones slow down."""

from __future__ import annotations

import re
import secrets
from datetime import timedelta

import pytest

from lodestarch.records.engine import open_records
from lodestarch.records.tables import ApiToken
from lodestarch.web.app import create_app
from lodestarch.web.kept import KeptDays
from lodestarch.work.people.permissions import NotAllowed
from lodestarch.work.people.staff import add_staff
from lodestarch.work.people.tokens import SCOPES, TokenTyped, holder_of, issue_token, revoke_token, tokens
from web.client import TestClient
from web.workbench import PERSON, START

HOST = "127.0.0.1:8321"
SESSION = "start-token-of-this-test"
LINE = {"ticket": "8814", "moisture_pct": "14", "seconds": ["287", "291"]}


class Lab:
    def __init__(self, path):
        self.now = START
        self.records = open_records(path, clock=self.clock)
        self.app = create_app(
            KeptDays(self.records),
            token=SESSION,
            allowed_hosts=[HOST],
            records=self.records,
            clock=self.clock,
        )
        self._browser = None

    def clock(self):
        self.now += timedelta(seconds=1)
        return self.now

    def client(self):
        return TestClient(self.app, base_url=f"http://{HOST}", follow_redirects=False)

    def browser(self):
        """One browser: the start token is good for one."""
        if self._browser is None:
            self._browser = self.client()
            self._browser.get(f"/setup?token={SESSION}")
            assert self._browser.post("/sign-in", data={"name": PERSON}).status_code == 303
        return self._browser

    def issue(self, *scopes, holder=PERSON, days="90"):
        typed = TokenTyped("the weighbridge", scopes, days, holder)
        secret = secrets.token_urlsafe(32)
        return issue_token(self.records, typed, secret, person=PERSON, at=self.clock())

    def asked(self, token, method, path, **more):
        headers = {"Authorization": f"Bearer {token}", "Idempotency-Key": secrets.token_hex(8)}
        return self.client().request(method, f"/api/v1{path}", headers=headers, **more)


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    made = Lab(tmp_path_factory.mktemp("tokens") / "lab.db")
    with made.records.unit(PERSON, made.clock()):
        pass
    yield made
    made.records.close()


@pytest.fixture(scope="module")
def every_scope(lab):
    return {scope: lab.issue(scope).token for scope in SCOPES}


def test_a_page_shows_a_token_once_and_the_records_keep_only_its_digest(lab):
    browser = lab.browser()
    form = {"purpose": "scale house", "holder": "p1", "days": "30", "scopes": ["read", "enter"]}
    shown = browser.post("/setup/tokens", data=form)
    assert shown.status_code == 200
    (token,) = re.findall(r"lode_[A-Za-z0-9_-]{43}", shown.text)
    assert shown.headers["cache-control"] == "no-store"
    assert token not in browser.get("/setup/tokens").text
    assert lab.asked(token, "GET", "/bench").status_code == 200
    with lab.records.view() as view:
        kept = str([view.all(ApiToken), *(view.history(f"api_tokens:{t.key}") for t in view.all(ApiToken))])
    assert token not in kept
    assert token.removeprefix("lode_") not in kept
    key = next(t.key for t in tokens(lab.records) if t.purpose == "scale house")
    assert browser.post("/setup/tokens/revoked", data={"token": key}).status_code == 303
    assert lab.asked(token, "GET", "/bench").status_code == 401


@pytest.mark.parametrize(
    ("method", "path", "scope", "body"),
    [
        ("GET", "/bench", "read", None),
        ("GET", "/days", "read", None),
        ("GET", "/samples/8814", "read", None),
        ("POST", "/quick", "enter", LINE),
        ("POST", "/tickets/none/ground", "enter", {}),
        ("POST", "/tickets/none/readings", "enter", {"seconds": {"1": "287"}}),
        ("POST", "/release-by-rule", "release", {}),
        ("POST", "/tickets/none/answers", "release", {"asked_by": "x"}),
        ("POST", "/setup/bench", "setup", {"profile": "meal-14", "baths": "A"}),
    ],
)
def test_a_token_does_what_it_is_meant_for_and_nothing_else(lab, every_scope, method, path, scope, body):
    for given, token in every_scope.items():
        answer = lab.asked(token, method, path, json=body)
        assert (answer.status_code != 403) == (given == scope), (given, answer.text)
        assert answer.status_code < 500


def test_no_route_of_the_api_answers_without_a_token_that_holds(lab):
    paths = lab.app.openapi()["paths"]
    assert len(paths) > 15
    for path, methods in paths.items():
        for method in methods:
            asked = path.removeprefix("/api/v1").replace("{", "").replace("}", "")
            # The browser's session is no way round a token that does not hold.
            for client in (lab.client(), lab.browser() if path.endswith("/bench") else lab.client()):
                headers = {"Authorization": f"Bearer lode_{'x' * 43}", "Idempotency-Key": "0123456789"}
                answer = client.request(method.upper(), f"/api/v1{asked}", headers=headers, json={})
                assert answer.status_code in {401, 429}, (path, answer.text)
            bare = lab.client().request(method.upper(), f"/api/v1{asked}", json={})
            assert bare.status_code == 403


def test_a_token_opens_no_page(lab, every_scope):
    headers = {"Authorization": f"Bearer {every_scope['read']}"}
    for path in ("/", "/bench", "/setup/tokens", "/days", "/tickets/8814"):
        assert lab.client().get(path, headers=headers).status_code == 403


def test_a_token_ends_by_itself_and_with_its_person(lab):
    assert add_staff(lab.records, "Ben Example", ["analyst"], "", person=PERSON, at=lab.clock()) == ()
    issued = lab.issue("read", holder="Ben Example", days="1")
    at = lab.clock()
    assert holder_of(lab.records, issued.token, at).who.name == "Ben Example"
    assert holder_of(lab.records, issued.token, at + timedelta(days=1, minutes=1)) is None
    for odd in ("", "lode_", issued.token[:-1], issued.token + "x", issued.token.upper(), "ü", "\0"):
        assert holder_of(lab.records, odd, at) is None
    assert revoke_token(lab.records, issued.key, person=PERSON, at=lab.clock()) == ()
    assert holder_of(lab.records, issued.token, lab.clock()) is None


def test_a_token_never_does_more_than_its_person_may(lab):
    add_staff(lab.records, "Rae Example", ["reader"], "", person=PERSON, at=lab.clock())
    token = lab.issue(*SCOPES, holder="Rae Example").token
    assert lab.asked(token, "GET", "/bench").status_code == 403
    assert lab.asked(token, "POST", "/quick", json=LINE).status_code == 403
    with pytest.raises(NotAllowed):
        issue_token(
            lab.records,
            TokenTyped("x", ("read",), "1", PERSON),
            "x" * 43,
            person="Rae Example",
            at=lab.clock(),
        )


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"purpose": " "}, "purpose"),
        ({"purpose": "x" * 81}, "purpose"),
        ({"scopes": ()}, "scopes"),
        ({"scopes": ("everything",)}, "scopes"),
        *(({"days": days}, "days") for days in ("", "0", "367", "-1", "1.5", "many", "٣", "1e2")),
        ({"holder": "Nobody"}, "holder"),
        ({"holder": ""}, "holder"),
    ],
)
def test_what_is_wrong_is_said_at_its_field(lab, change, field):
    form = {"purpose": "x", "scopes": ("read",), "days": "1", "holder": PERSON, **change}
    issued = issue_token(lab.records, TokenTyped(**form), "x" * 43, person=PERSON, at=lab.clock())
    assert issued.token is None
    assert [f.where.field for f in issued.findings] == [field]


def test_wrong_tokens_from_one_place_slow_down_and_lock_out_no_right_one(tmp_path):
    lab = Lab(tmp_path / "lab.db")
    with lab.records:
        said = [lab.asked(f"lode_{n:043d}", "GET", "/bench") for n in range(12)]
        assert [s.status_code for s in said] == [401] * 10 + [429] * 2
        assert said[0].headers["www-authenticate"] == "Bearer"
        assert int(said[-1].headers["retry-after"]) >= 1
        with lab.records.unit(PERSON, lab.clock()):
            pass
        assert lab.asked(lab.issue("read").token, "GET", "/bench").status_code == 200

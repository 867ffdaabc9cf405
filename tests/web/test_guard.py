"""Who may ask, and what every answer carries."""

from __future__ import annotations

import re

import pytest

from lodestarch.web.app import create_app
from lodestarch.web.guard import HEADERS, Guard
from web.client import TestClient
from web.example_source import example_source

HOST = "127.0.0.1:8321"
TOKEN = "one-time-start-token"  # noqa: S105 - of this test


def client(token: str | None = None, host: str = HOST, **more) -> TestClient:
    app = create_app(example_source(), token=token, allowed_hosts=[HOST, "localhost", "[::1]:8321"])
    return TestClient(app, base_url=f"http://{host}", follow_redirects=False, **more)


@pytest.mark.parametrize(
    ("host", "status"),
    [
        (HOST, 200),
        ("localhost", 200),
        ("localhost:9999", 200),  # a name without port in the list stands for every port
        ("LOCALHOST", 200),
        ("127.0.0.1:8322", 400),
        ("127.0.0.1", 400),
        ("attacker.example", 400),
        ("attacker.example:8321", 400),
        ("localhost.attacker.example", 400),
        ("[::1]:8321", 200),
        ("", 400),
    ],
)
def test_only_hosts_of_ours_are_answered(host, status):
    answer = client().get("/days", headers={"host": host})
    assert answer.status_code == status
    assert ("12 August 2026" in answer.text) == (status == 200)


@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE"])
def test_pages_can_only_be_read(method):
    answer = client().request(method, "/days")
    assert answer.status_code == 405
    assert answer.headers["allow"] == "GET, HEAD"


def test_head_is_answered_like_get_without_a_body():
    answer = client().head("/days")
    assert (answer.status_code, answer.text) == (200, "")


@pytest.mark.parametrize("path", ["/days", "/nope", "/static/css/page.css", "/api/v1/days", "/api/v1/nope"])
def test_every_answer_carries_the_headers(path):
    for token in (None, TOKEN):
        answer = client(token).get(path)
        assert {name: answer.headers[name] for name in HEADERS} == HEADERS
    assert "unsafe" not in HEADERS["Content-Security-Policy"]


def test_data_are_never_kept_by_a_browser_and_files_with_a_digest_always():
    c = client()
    assert c.get("/days").headers["cache-control"] == "no-store"
    assert "immutable" in c.get("/static/css/page.css?v=0").headers["cache-control"]
    assert c.get("/static/js/keys.js").headers["cache-control"] == "no-cache"


def test_without_the_start_token_nothing_is_shown():
    c = client(TOKEN)
    for path in ("/", "/days", "/days/2026-08-12", "/api/v1/days", "/go?code=8801", "/?token=", "/?token=x"):
        answer = c.get(path)
        assert answer.status_code == 403, path
        assert "August" not in answer.text
    assert "This page opens only from the address that the command showed." in c.get("/").text
    assert c.get("/api/v1/days").json() == {
        "detail": "This page opens only from the address that the command showed."
    }


def test_the_token_opens_one_session_and_is_spent():
    c = client(TOKEN)
    opened = c.get(f"/days?token={TOKEN}&show=all")
    assert (opened.status_code, opened.headers["location"]) == (303, "/days?show=all")
    cookie = opened.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "samesite=lax" in cookie.casefold()
    assert c.get("/days").status_code == 200
    c.cookies.clear()
    assert c.get(f"/days?token={TOKEN}").status_code == 403


def test_who_is_in_already_loses_only_the_token_from_the_address():
    c = client(TOKEN)
    c.get(f"/?token={TOKEN}")
    again = c.get(f"/days?token={TOKEN}")
    assert (again.status_code, again.headers["location"]) == (303, "/days")


def test_a_made_up_or_broken_session_is_none():
    c = client(TOKEN)
    for value in ("x", "", "ü", '"', "a" * 5000):
        raw = f"lodestarch_8321={value}".encode()
        assert c.get("/days", headers={b"cookie": raw}).status_code == 403


def test_the_way_back_never_leaves_this_host():
    for path in ("//attacker.example/", "///attacker.example", "/\\attacker.example", "/a\r\nb"):
        address = Guard._address({"path": path}, [("token", "x"), ("show", "all")])
        assert re.fullmatch(r"/[^/\\\r\n][^\\\r\n]*\?show=all", address), address


def test_files_of_the_pages_need_no_session_and_hold_no_data():
    assert client(TOKEN).get("/static/js/main.js").status_code == 200
    for path in ("/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py", "/static/"):
        assert client(TOKEN).get(path).status_code in {403, 404}, path


def test_no_socket_is_opened():
    from starlette.websockets import WebSocketDisconnect

    with pytest.raises(WebSocketDisconnect), client().websocket_connect("/days"):
        pass


def test_a_fault_shows_nothing_of_itself_and_carries_the_headers(caplog):
    class Broken:
        def list_days(self):
            raise RuntimeError("secret detail")

        load_day = find = list_days

    app = create_app(Broken(), token=None, allowed_hosts=[HOST])
    c = TestClient(app, base_url=f"http://{HOST}", raise_server_exceptions=False)
    for path in ("/days", "/api/v1/days"):
        answer = c.get(path)
        assert answer.status_code == 500
        assert "secret" not in answer.text
        assert answer.headers["content-security-policy"] == HEADERS["Content-Security-Policy"]
    assert "The page could not be made." in c.get("/days").text
    assert "secret detail" in caplog.text

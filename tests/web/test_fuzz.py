"""Whatever is asked for, the answer is a page or a refusal in our words, never a fault."""

from __future__ import annotations

from urllib.parse import quote

from hypothesis import given, settings
from hypothesis import strategies as st

from lodestarch.web.app import create_app
from web.client import TestClient
from web.example_source import example_source

APP = create_app(example_source(), token=None, allowed_hosts=["lab"])
CLIENT = TestClient(APP, base_url="http://lab", follow_redirects=False)
TEXT = st.text(st.characters(codec="utf-8"), min_size=1, max_size=40)
ROUTES = st.sampled_from(
    ["/days/{}", "/days/{}/queries", "/days/{}/bins", "/days/2026-08-12/samples/{}", "/days/{}/samples/8801",
     "/api/v1/days/{}", "/api/v1/samples/{}", "/static/{}", "/{}"]
)  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(ROUTES, TEXT)
def test_any_path(route, text):
    answer = CLIENT.get(route.format(quote(text, safe="")))
    assert answer.status_code in {200, 303, 307, 404, 405}
    if answer.status_code == 404 and "html" in answer.headers["content-type"]:
        assert "<h1>" in answer.text


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(["show", "from", "code", "token", "x"]), TEXT)
def test_any_query(key, text):
    assert CLIENT.get("/days/2026-08-12", params={key: text}).status_code == 200
    assert CLIENT.get("/go", params={key: text}).status_code in {303, 404}


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=60))
def test_any_cookie_or_host(raw):
    value = raw.replace(b"\r", b"").replace(b"\n", b"").replace(b"\0", b"")
    assert CLIENT.get("/days", headers={b"cookie": value}).status_code == 200
    assert CLIENT.get("/days", headers={b"host": value}).status_code in {200, 400}

"""What a browser, a page of another site, or a colleague's slip could do, and does not."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

import lodestarch
from lodestarch.sheets.safe_cells import csv_bytes
from lodestarch.web.app import create_app
from lodestarch.web.pace import Pace
from lodestarch.work.people.staff import add_staff, set_password_of
from web.client import TestClient
from web.example_source import example_source
from web.workbench import PERSON, Workbench

SOURCE = Path(lodestarch.__path__[0])
ROOT = Path(__file__).parents[2]
PAGES = ["/bench", "/tickets", "/tickets/8814", "/paste", "/setup", "/setup/tokens", "/setup/api", "/sign-in"]
SECRET = "harvest moon over it"  # noqa: S105 - of this test


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    made = Workbench(tmp_path_factory.mktemp("security") / "lab.db").sign_in()
    made.enter("/quick", ticket="8814", moisture_pct="14", seconds=["287", "291"])
    add_staff(made.records, "Ben Example", ["analyst"], SECRET, person=PERSON, at=made.clock())
    yield made
    made.records.close()


def browser(lab, scheme="http"):
    return TestClient(lab.app, base_url=f"{scheme}://lab", follow_redirects=False)


def test_looking_changes_nothing(lab):
    with lab.records.view() as view:
        before = view.head()
    paths = [route.path for route in lab.app.routes if getattr(route, "path", "").startswith("/")]
    paths += [path for path, methods in lab.app.openapi()["paths"].items() if "get" in methods]
    assert len(paths) > 20
    for path in paths:
        lab.client.get(re.sub(r"\{[^}]*\}", "8814", path))
    with lab.records.view() as view:
        assert view.head() == before


@pytest.mark.parametrize(
    "path", [*PAGES, "/api/v1/bench", "/static/css/page.css", "/static/js/main.js", "/nope"]
)
def test_every_text_says_how_it_is_encoded(lab, path):
    kind = lab.client.get(path).headers["content-type"]
    assert kind == "application/json" or kind.endswith("charset=utf-8"), kind


def test_no_other_site_may_read_an_answer(lab):
    for path in (*PAGES, "/api/v1/bench"):
        said = lab.client.get(path, headers={"Origin": "http://elsewhere.example"}).headers
        assert not [name for name in said if name.startswith("access-control-")]
    asked = {"Origin": "http://elsewhere.example", "Access-Control-Request-Method": "POST"}
    assert lab.client.options("/api/v1/quick", headers=asked).status_code == 405


TEXTS = ["'; DROP TABLE samples; --", '" OR 1=1', "%' OR '1'='1", "8814' UNION SELECT", "\\'; --", "{{7*7}}"]


@pytest.mark.parametrize("text", TEXTS)
def test_text_that_means_something_to_a_database_is_text(lab, text):
    whose = lab.enter("/tickets", ticket=f"t{TEXTS.index(text)}", whose=text)
    assert whose.status_code == 201
    assert lab.client.get(f"/api/v1/tickets/t{TEXTS.index(text)}").json()["whose"] == text
    assert lab.client.get("/tickets", params={"q": text}).status_code == 200
    assert lab.client.get("/api/v1/tickets/" + text.replace("/", "")).status_code == 404
    assert lab.records.verify().holds


def calls_in(path):
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call):
            yield ast.unparse(node.func)


def test_no_program_is_called_with_what_came_in():
    told = {
        (path.relative_to(SOURCE).as_posix(), name)
        for path in SOURCE.rglob("*.py")
        for name in calls_in(path)
        if name in {"eval", "exec", "compile", "os.system", "os.popen", "__import__"}
        or name.startswith(("subprocess.", "pickle.", "marshal."))
    }
    assert told == set()


def test_no_page_or_script_runs_text(lab):
    scripts = list((SOURCE / "web" / "static").rglob("*.js"))
    assert len(scripts) > 10
    for path in scripts:
        text = path.read_text(encoding="utf-8")
        assert not re.search(
            r"\beval\(|new Function|document\.write|setTimeout\(['\"]|\.onclick\s*=", text
        ), path
        # Fragments come from this workbench, escaped there; nothing else is read as HTML.
        written = re.findall(r"(?:innerHTML|outerHTML)\s*=(?!=)\s*([^;]+);", text)
        assert set(written) <= {"answer.html", "html"}, path
        assert "insertAdjacentHTML" not in text
    for path in PAGES:
        page = lab.client.get(path).text
        assert not re.search(r"<[^>]+\son[a-z]+=", page), path
        assert not re.search(r"<script(?![^>]*\ssrc=)", page), path
        assert not re.search(r'href="(javascript|data):', page), path


def test_nothing_is_released_before_it_is_judged(lab):
    lab.enter("/tickets", ticket="9001")
    said = lab.enter("/tickets/9001/release", reason="because")
    assert (said.status_code, said.json()["findings"][0]["code"]) == (422, "release-nothing")


def signed_in(lab, password=SECRET, client=None):
    client = client or browser(lab)
    said = client.post("/sign-in", data={"name": "Ben Example", "password": password})
    assert said.status_code == 303
    return client


def test_signing_in_again_ends_the_session_before(lab):
    client = signed_in(lab)
    first = dict(client.cookies)
    signed_in(lab, client=client)
    (name,) = [c for c in first if "person" in c]
    assert client.cookies[name] != first[name]
    key = {"Idempotency-Key": "who-is-it-now"}
    assert client.post("/api/v1/tickets", json={"ticket": "9002"}, headers=key).status_code == 201
    old = browser(lab)
    old.cookies.set(name, first[name])
    assert old.post("/api/v1/tickets", json={"ticket": "9003"}, headers=key).status_code == 401
    last = client.cookies[name]
    client.post("/sign-out")
    old.cookies.set(name, last)
    assert old.post("/api/v1/tickets", json={"ticket": "9003"}, headers=key).status_code == 401


def test_signing_out_drops_pages_that_a_browser_kept(lab):
    said = signed_in(lab).post("/sign-out")
    assert said.headers["clear-site-data"] == '"cache"'


def test_over_tls_cookies_are_tied_to_the_host(lab):
    safe = browser(lab, "https")
    said = safe.post("/sign-in", data={"name": PERSON})
    cookie = said.headers["set-cookie"]
    assert cookie.startswith("__Host-")
    assert {"secure", "httponly", "path=/"} <= {part.strip().casefold() for part in cookie.split(";")}
    assert "domain" not in cookie.casefold()
    assert said.headers["strict-transport-security"] == "max-age=31536000"
    assert "strict-transport-security" not in browser(lab).get("/sign-in").headers


def test_ones_own_password_wants_the_present_one(lab):
    with lab.records.view() as view:
        key = next(k for k, name in view.names("people").items() if name == "Ben Example")
    new = "another moon over it"

    def change(current, person=key):
        lab.now = lab.now.replace(minute=(lab.now.minute + 1) % 60)
        return set_password_of(
            lab.records, key, new, current=current, origin="here", person=person, at=lab.clock()
        )

    for wrong in ("", "guess", SECRET.upper()):
        (found,) = change(wrong)
        assert (found.code, found.where.field) == ("password-wrong", "current")
    assert change(SECRET) == ()
    assert change("", person=PERSON) == ()  # the keeper, for whoever forgot it
    signed_in(lab, new)
    set_password_of(lab.records, key, SECRET, person=PERSON, at=lab.clock())


def test_a_password_counts_to_its_last_sign(lab):
    for near in (SECRET[:-1], SECRET + " ", " " + SECRET, SECRET.title()):
        client = browser(lab)
        said = client.post("/sign-in", data={"name": "Ben Example", "password": near})
        assert said.status_code == 422
        lab.now = lab.now.replace(hour=lab.now.hour + 1)


def test_password_fields_hide_what_is_typed_and_take_what_is_pasted(lab):
    for path in ("/sign-in", "/setup"):
        fields = re.findall(r'<input[^>]*name="(?:password|current)"[^>]*>', lab.client.get(path).text)
        assert fields
        for field in fields:
            assert 'type="password"' in field
            assert re.search(r'autocomplete="(current|new)-password"', field)
            assert "onpaste" not in field
    scripts = "".join(p.read_text(encoding="utf-8") for p in (SOURCE / "web" / "static").rglob("*.js"))
    assert "password" not in scripts
    asked = re.findall(r'<input[^>]*name="(\w+)"', lab.client.get("/sign-in").text)
    assert set(asked) - {"code", "face"} <= {"name", "password", "to"}


def test_only_approved_digests_are_used():
    used = {
        found
        for path in SOURCE.rglob("*.py")
        for found in re.findall(r"hashlib\.(\w+)", path.read_text(encoding="utf-8"))
    }
    assert used == {"sha256"}


def test_every_component_is_locked_with_its_digest():
    for path in (ROOT / "requirements").glob("*.txt"):
        text = path.read_text(encoding="utf-8")
        pinned = re.findall(r"^([a-z0-9][\w.\-]*)(?:\[[^\]]*\])?==[^\s;\\]+.*$", text, flags=re.MULTILINE)
        assert pinned, path
        blocks = re.split(r"^(?=[a-z0-9])", text, flags=re.MULTILINE)[1:]
        assert all("--hash=sha256:" in block for block in blocks if "==" in block), path


@pytest.mark.parametrize("text", ["=1+1", "+1", "-x", "@SUM(A1)", "\tx", "\rx", "\0x", "'=1"])
def test_a_cell_never_starts_a_formula(text):
    cell = csv_bytes(["sample"], [[text]]).decode("utf-8-sig").splitlines()[1].strip('"')
    assert cell.startswith("'")


def test_who_asks_too_fast_is_told_how_long_to_wait():
    now = [0.0]
    app = create_app(
        example_source(), token=None, allowed_hosts=["lab"], pace=Pace(3, 0.5, clock=lambda: now[0])
    )
    client = TestClient(app, base_url="http://lab")
    assert [client.get("/days").status_code for _ in range(4)] == [200, 200, 200, 429]
    slow = client.get("/api/v1/days")
    assert (slow.status_code, slow.headers["retry-after"]) == (429, "2")
    assert client.get("/static/css/page.css").status_code == 200
    now[0] = 2.0
    assert client.get("/days").status_code == 200

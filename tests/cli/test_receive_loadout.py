"""``receive`` and ``loadout`` as they are typed: the demo, JSON on its page, and files that are wrong."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from lodestarch.cli.app import app
from lodestarch.sheets.loadout_cargo import CARGO, CARGO_BIN
from lodestarch.sheets.receive_site import GRADE, SITE, SITE_BIN

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "src" / "lodestarch" / "demo"
SITE_FILE, LOADS = str(DEMO / "receive" / "site.toml"), str(DEMO / "receive" / "loads.csv")
CARGO_FILE, SUBLOTS = str(DEMO / "loadout" / "cargo.toml"), str(DEMO / "loadout" / "sublots.csv")
runner = CliRunner()


def asked(*words: str, code: int = 0) -> dict[str, Any]:
    done = runner.invoke(app, [*words, "--json"])
    assert done.exit_code == code, done.output
    body: dict[str, Any] = json.loads(done.stdout)
    return body


def codes(body: dict[str, Any]) -> set[str]:
    return {f["code"] for f in body["findings"]}


def changed(tmp_path: Path, file: str, *pairs: tuple[str, str]) -> str:
    text = Path(file).read_text("utf-8")
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new)
    out = tmp_path / Path(file).name
    out.write_text(text, encoding="utf-8")
    return str(out)


def test_demo_site_says_a_word_for_each_load_that_waits() -> None:
    body = asked("receive", SITE_FILE, "--loads", LOADS)
    waiting = body["waiting"]
    assert [w["ticket"] for w in waiting] == [str(n) for n in range(7512, 7520)]
    assert {w["said"]["word"] for w in waiting} == {"hold", "dump"}
    for one in waiting:
        said = one["said"]
        assert (said["word"] == "hold") == (said["worth"]["own"] + said["worth"]["elsewhere"] >= said["mark"])
        assert said["low_s"] < said["expected_fn_s"] < said["high_s"]
    assert (
        body["tests_left"] + sum("," in r.split(",", 6)[6] and r.split(",")[6] != "" for r in rows(LOADS))
        == 100
    )
    assert sum(b["tonnes"] for b in body["bins"]) == pytest.approx(
        sum(float(r.split(",")[1]) for r in rows(LOADS) if r.split(",")[7]), abs=1e-6
    )
    assert body["findings"] == []


def rows(file: str) -> list[str]:
    return Path(file).read_text("utf-8").splitlines()[1:]


def test_demo_site_on_the_terminal() -> None:
    done = runner.invoke(app, ["receive", SITE_FILE, "--loads", LOADS])
    assert done.exit_code == 0
    assert done.stdout.startswith("Test the first load of a field, and any load expected between")
    assert "DUMP 2" in done.stdout
    assert all(len(line) <= 100 for line in done.stdout.splitlines())


def test_dumping_first_needs_neighbours(tmp_path: Path) -> None:
    site = changed(tmp_path, SITE_FILE, ('mode = "hold"', 'mode = "dump"'))
    words = {w["said"]["word"] for w in asked("receive", site, "--loads", LOADS)["waiting"]}
    assert words <= {"test", "dump"}


def test_site_without_loads_has_a_rule() -> None:
    body = asked("receive", SITE_FILE)
    assert body["waiting"] == []
    assert body["rule"]["new_fields"] is True


@pytest.mark.parametrize(
    ("pair", "code"),
    [
        (("price_t = 221", "price_t = 240"), "receive-grades-not-rising"),
        (('id = "2"', 'id = "1"'), "receive-bin-twice"),
        (("loads = 300", "loads = 0"), "terms-out-of-range"),
        (("test_sd_s = 12", "test_sd_s = 0"), "terms-out-of-range"),
        (("receive = 1", "receive = x"), "terms-unreadable"),
        (("otherwise_t = 185", "other = 185"), "terms-key-missing"),
    ],
)
def test_wrong_sites(tmp_path: Path, pair: tuple[str, str], code: str) -> None:
    assert code in codes(asked("receive", changed(tmp_path, SITE_FILE, pair), code=1))


def test_wrong_loads(tmp_path: Path) -> None:
    sheet = tmp_path / "loads.csv"
    sheet.write_text(
        "ticket,tonnes,field,day,seconds,bin\n1,24,a,1,300,1\n1,24,a,1,,\n2,-3,a,1,,\n3,24,a,0,,9\n4,24,a,0,,2\n"
        "5,2500,a,1,,3\n6,2500,a,1,,\n",
        encoding="utf-8",
    )
    body = asked("receive", SITE_FILE, "--loads", str(sheet))
    assert codes(body) == {
        "receive-ticket-twice", "receive-load-unusable", "receive-bin-unknown", "receive-day-back",
        "receive-bin-over", "receive-no-room",
    }  # fmt: skip
    assert body["waiting"] == [{"ticket": "6", "tonnes": 2500.0, "known_s": None, "said": None}]


def test_demo_cargo() -> None:
    body = asked("loadout", CARGO_FILE, "--sublots", SUBLOTS, "--replay", "2")
    assert (body["loaded_t"], body["to_load_t"]) == (3500.0, 2500.0)
    assert body["running"][-1]["untested_t"] == 1000.0
    assert len(body["forecast"]["middle_s"]) == 12
    assert 0.6 < body["forecast"]["odds"] < 0.95
    assert [u["number"] for u in body["under"]] == [4]
    expected = [r["expected"] for r in body["under"][0]["remedies"]]
    assert expected == sorted(expected, reverse=True)
    assert len(body["moments"]) == 7 + 5
    assert asked("loadout", CARGO_FILE, "--sublots", SUBLOTS, "--replay", "2") == body


def test_demo_cargo_on_the_terminal_and_as_a_picture(tmp_path: Path) -> None:
    out = tmp_path / "cargo.svg"
    done = runner.invoke(app, ["loadout", CARGO_FILE, "--sublots", SUBLOTS, "-o", str(out)])
    assert done.exit_code == 0
    assert re.search(r"\d+ in 100 cargoes like this make it", done.stdout)
    assert "not yet tested" in done.stdout
    assert all(len(line) <= 100 for line in done.stdout.splitlines())
    assert out.read_text("utf-8").count("<circle") == 5


def test_cargo_all_loaded_and_final_at_loading(tmp_path: Path) -> None:
    cargo = changed(
        tmp_path,
        CARGO_FILE,
        ('final = "destination"', 'final = "loading"'),
        ("tonnes = 6000", "tonnes = 2500"),
    )
    sheet = tmp_path / "s.csv"
    sheet.write_text(
        "number,tonnes,shares,seconds\n" + "".join(f"{i},500,1,31{i}\n" for i in range(5)), encoding="utf-8"
    )
    body = asked("loadout", cargo, "--sublots", str(sheet))
    assert body["forecast"]["odds"] == 1.0
    assert body["forecast"]["figure_s"] == pytest.approx([312.0] * 3)
    assert body["recipes"] == []


@pytest.mark.parametrize(
    ("pair", "code"),
    [
        (("sublot_at_least_s = 270\n", ""), "terms-key-missing"),
        (("deciding_sd_s = 11\n", ""), "terms-key-missing"),
        (('judged = "average-with-sublot-minimum"', 'judged = "by-eye"'), "terms-not-in-list"),
        (("tonnes = 5200", "tonnes = -1"), "terms-out-of-range"),
        (('id = "2"', 'id = "1"'), "receive-bin-twice"),
    ],
)
def test_wrong_cargoes(tmp_path: Path, pair: tuple[str, str], code: str) -> None:
    assert code in codes(asked("loadout", changed(tmp_path, CARGO_FILE, pair), code=1))


def test_wrong_sublots(tmp_path: Path) -> None:
    sheet = tmp_path / "s.csv"
    sheet.write_text(
        "number,tonnes,shares,seconds\n1,500,1,320\n1,500,1,\n2,500,9,\n3,500,1:0.5 2:0.4,\n4,-5,1,\n"
        "5,500,,\n6,1600,3,290\n",
        encoding="utf-8",
    )
    body = asked("loadout", CARGO_FILE, "--sublots", str(sheet))
    assert codes(body) == {
        "loadout-sublot-twice", "loadout-source-unknown", "loadout-sublot-unusable", "loadout-overdrawn",
    }  # fmt: skip
    assert [r["number"] for r in body["running"]] == [1, 6]


def test_more_than_the_bins_hold(tmp_path: Path) -> None:
    cargo = changed(tmp_path, CARGO_FILE, ("tonnes = 6000", "tonnes = 60000"))
    assert "loadout-no-recipe" in codes(asked("loadout", cargo, code=1))


@pytest.mark.parametrize(
    ("page", "keys"), [("receive", (*SITE, *GRADE, *SITE_BIN)), ("loadout", (*CARGO, *CARGO_BIN))]
)
def test_every_key_of_a_file_is_on_its_page(page: str, keys: tuple[Any, ...]) -> None:
    text = (ROOT / "docs" / f"{page}.md").read_text("utf-8")
    assert [k.name for k in keys if f"`{k.name}`" not in text and k.name not in {"grade", "bin"}] == []


def keys_of(value: object, prefix: str = "") -> set[str]:
    """Paths of a JSON object; shares are named by bins, so any bin stands for all."""
    if isinstance(value, dict):
        inner = [keys_of(v, f"{prefix}.{k}" if prefix else str(k)) for k, v in value.items()]
        found = set[str]().union(*inner)
        return {re.sub(r"shares\.\w+$", "shares.*", path) for path in found} or {prefix}
    if isinstance(value, list) and any(isinstance(v, dict) for v in value):
        return set[str]().union(*(keys_of(v, f"{prefix}[]") for v in value))
    return {prefix}


@pytest.mark.parametrize(
    ("section", "words"),
    [
        ("receive", ["receive", SITE_FILE, "--loads", LOADS]),
        ("loadout", ["loadout", CARGO_FILE, "--sublots", SUBLOTS, "--replay", "2"]),
    ],
)
def test_every_key_of_the_answer_is_on_the_page(section: str, words: list[str]) -> None:
    text = (ROOT / "docs" / "json.md").read_text("utf-8")
    part = next(
        p for p in re.split(r"^## ", text, flags=re.MULTILINE) if p.splitlines()[0].strip() == section
    )
    page = set(re.findall(r"^\| `([^`]+)` \|", part, flags=re.MULTILINE))
    met = keys_of({k: v for k, v in asked(*words).items() if k != "findings"})
    assert {k for k in met if k != "moments[].event.shares"} == page

"""The result line and the line for the phone."""

from __future__ import annotations

from dataclasses import replace

import pytest

from lodestarch.method.reading import Kind
from lodestarch.method.shipped import shipped_profile
from lodestarch.method.table import RESULTS
from lodestarch.words.limits import NamedLimit, limit_words, short_limits
from lodestarch.words.result import (
    Reported,
    basis_words,
    correction_words,
    phone_line,
    reported,
    result_line,
    seconds_text,
    tubes_words,
)

PAIR = Reported("8814", 287.0, Kind.EXACT, 7.2, 2, True, "14 % mb", "none", "preliminary", "mean")


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u202f", " ")


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({}, "287 s  u 7 · two tubes · 14 % mb · not pressure-corrected · preliminary"),
        (
            {"seconds": 62.0, "kind": Kind.AT_OR_BELOW, "u_s": None},
            "≤ 62 s  two tubes · 14 % mb · not pressure-corrected · preliminary",
        ),
        (
            {"seconds": 400.0, "kind": Kind.ABOVE, "u_s": None, "correction": "by instrument"},
            "> 400 s (stopped)  two tubes · 14 % mb · pressure-corrected by the instrument · preliminary",
        ),
        (
            {"tubes": 1, "tubes_stated": False, "status": "screen", "correction": "not stated"},
            "287 s  u 7 · number of tubes not stated · 14 % mb · pressure correction not stated · screen",
        ),
        (
            {"tubes": 3, "how": "median", "status": "preliminary"},
            "287 s  u 7 · median · three tubes · 14 % mb · not pressure-corrected · preliminary",
        ),
        ({"status": "none", "seconds": None, "tubes": 0}, "–  no result"),
    ],
)
def test_a_result_is_set_one_way(changes, expected):
    assert plain(str(result_line(replace(PAIR, **changes)))) == expected


def test_the_uncertainty_keeps_a_decimal_only_below_one_second():
    assert "u 0.4" in result_line(replace(PAIR, u_s=0.42)).quiet
    assert "u 1" in result_line(replace(PAIR, u_s=0.96)).quiet


LIMITS = [
    NamedLimit("Quillmere", 300.0, None),
    NamedLimit("Oster Mill", 220.0, 280.0),
    NamedLimit("Hallam", 300.0, None),
    NamedLimit("Nobody", None, None),
]


def test_the_phone_line_is_the_one_of_the_face():
    assert plain(phone_line(PAIR, LIMITS[:1])) == "8814 · 287, limit 300, two tubes, 14 % mb, preliminary"


def test_several_limits_are_said_once_each_and_in_order():
    assert short_limits(LIMITS) == ("220 to 280", "300")
    assert "limits 220 to 280 and 300," in phone_line(PAIR, LIMITS)
    assert "limit" not in phone_line(PAIR, [])


def test_a_held_result_is_not_given_out_on_the_phone():
    line = phone_line(replace(PAIR, status="held"), LIMITS)
    assert line == "8814 · held, run again"
    assert "287" not in line
    assert phone_line(replace(PAIR, status="none", seconds=None)) == "8814 · no result yet"


def test_limits_in_words():
    assert [plain(limit_words(m)) for m in LIMITS] == [
        "at least 300 s", "220 to 280 s", "at least 300 s", "no limit stated",
    ]  # fmt: skip
    assert plain(limit_words(NamedLimit("x", None, 120.0))) == "at most 120 s"


def test_bases_of_the_shipped_profiles():
    said = {name: plain(basis_words(shipped_profile(name))) for name in ("meal-15", "as-is", "rye-9g")}
    assert said == {"meal-15": "15 % mb", "as-is": "weighed as is", "rye-9g": "15 % mb, 9 g portion"}
    assert basis_words(None) == "moisture basis not stated"


def test_a_lab_s_own_correction_is_named():
    assert correction_words("proportional, meal-14@2") == "pressure-corrected (proportional, meal-14@2)"
    assert correction_words(None) == "pressure correction not stated"


def test_tubes_in_words():
    assert [tubes_words(n) for n in (0, 1, 2, 3, 4, 7)] == [
        "no tube", "one tube", "two tubes", "three tubes", "four tubes", "7 tubes",
    ]  # fmt: skip


def test_a_row_of_results_becomes_a_line():
    row = {
        "sample": "S1", "ticket": None, "seconds": 287.0, "kind": 0, "u_s": 4.1, "tubes": 2,
        "tubes_stated": True, "correction": None, "status": "preliminary", "how": "mean",
        "comparable_key": "x",
    }  # fmt: skip
    result = reported(row, shipped_profile("meal-14"))
    assert result.name == "S1"
    assert seconds_text(result) == "287"
    assert plain(str(result_line(result))).startswith(
        "287 s  u 4 · two tubes · 14 % mb · pressure correction"
    )


def test_tubes_all_weighed_at_the_base_mass_say_so():
    profile = shipped_profile("meal-14")
    row = dict.fromkeys(RESULTS) | {"sample": "S1", "comparable_key": profile.as_is_key, "tubes": 2}
    assert reported(row, profile).basis == "weighed as is"
    assert plain(reported(row | {"comparable_key": profile.comparable_key}, profile).basis) == "14 % mb"

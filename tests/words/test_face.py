"""The colours hold what they promise."""

from __future__ import annotations

from itertools import pairwise

import pytest

from lodestarch.words.face import DARK, LIGHT, contrast, drawing_css, roles_css


@pytest.mark.parametrize("roles", [LIGHT, DARK])
def test_contrast_on_the_ground(roles):
    # WCAG 2.2, 1.4.3 and 1.4.11: 4.5 for text, 3 for borders of controls and for marks.
    for name in ("ink", "quiet", "act", "makes-it", "too-close"):
        assert contrast(roles[name], roles["paper"]) >= 4.5, name
    for name in ("control", "outside"):
        assert contrast(roles[name], roles["paper"]) >= 3.0, name


@pytest.mark.parametrize("roles", [LIGHT, DARK])
def test_the_three_states_of_a_lot_differ_in_lightness(roles):
    states = [contrast(roles[n], roles["paper"]) for n in ("makes-it", "too-close", "outside")]
    assert states == sorted(states, reverse=True)
    assert all(a / b > 1.2 for a, b in pairwise(states))


def test_both_faces_name_the_same_roles_and_pictures_use_no_other():
    assert list(LIGHT) == list(DARK)
    used = {part.split(")")[0] for part in drawing_css().split("var(--")[1:]}
    assert used <= set(LIGHT)


def test_paper_is_always_light():
    assert DARK["paper"] not in roles_css(light_only=True)
    assert "@media screen" in roles_css()

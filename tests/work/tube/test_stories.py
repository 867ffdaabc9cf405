"""Every step of every story runs, its text has its figures, and what it claims holds in the runs."""

from __future__ import annotations

import re

import pytest

from lodestarch.common.findings import Finding
from lodestarch.words.catalogues import placeholders, term
from lodestarch.words.tube_page import story_text
from lodestarch.work.tube.stories import STORIES, scene, story_named

STEPS = [(story, number) for story in STORIES for number in range(1, len(story.steps) + 1)]


def values(story: str, step: str) -> dict[str, float]:
    found = story_named(story)
    number = [s.name for s in found.steps].index(step) + 1
    return dict(scene(found, number).values)


@pytest.mark.parametrize(("story", "number"), STEPS, ids=lambda x: getattr(x, "name", x))
def test_a_step_runs_and_every_figure_of_its_text_is_one_of_its_runs(story, number):
    shown = scene(story, number)
    assert all(a.history is not None for a in shown.pair.answers)
    assert 0.0 <= shown.start_s <= shown.stop_s <= shown.pair.end_s
    wanted = placeholders(term(f"story.{story.name}.{shown.step.name}"))
    assert wanted <= set(shown.values)
    said = story_text(story.name, shown.step.name, shown.values)
    assert not re.search(r"[{}]|\bnan\b|–", said)
    assert len(said) < 420


def test_the_five_questions_are_there():
    assert [s.name for s in STORIES] == ["sprout", "floor", "halves", "unknown", "altitude"]
    assert isinstance(story_named("none"), Finding)
    assert scene(STORIES[0], 99).number == len(STORIES[0].steps)
    assert scene(STORIES[0], 0).number == 1


def test_a_little_sprout_costs_more_than_as_much_again():
    first = values("sprout", "first-costs-most")
    assert first["apart_ac"] > 1.4 * first["apart"]
    same = values("sprout", "same-paste")
    assert 85.0 < same["stiffness"] < 95.0
    assert same["times"] > 2.5


def test_nothing_reads_below_the_stirring_time():
    for step in ("a-minute", "as-through-water", "twice"):
        assert values("floor", step)["b"] > 60.0
    twice = values("floor", "twice")
    assert twice["times"] > 2.0
    assert twice["a"] - twice["b"] < 15.0


def test_halves_do_not_average_and_liquefaction_numbers_nearly_do():
    half = values("halves", "half-and-half")
    assert half["mean_ac"] - half["b"] > 100.0
    adds = values("halves", "ln-adds")
    assert abs(adds["law"] - adds["b"]) < 3.0


def test_one_number_has_several_causes():
    assert values("unknown", "origin")["apart"] < 0.5
    cause = values("unknown", "cause")
    assert cause["apart"] < 2.0
    assert cause["ln_apart"] > 2.0
    above = values("unknown", "above-400")
    assert above["apart"] / above["ln_apart"] > 10.0


def test_higher_up_the_bath_is_cooler_the_enzyme_lives_longer_and_the_number_rises():
    up = values("altitude", "two-ways")
    assert up["bath_b"] < up["bath_a"] - 2.5
    assert up["half_b"] > up["half_a"] + 10.0
    assert up["b"] > up["a"] + 20.0
    assert values("altitude", "low")["apart"] < 10.0
    assert 3.0 < values("altitude", "weather")["apart"] < 12.0

"""Errors carry where, what, what is allowed and what to do, and say it in one line."""

from __future__ import annotations

import pytest

from wearlab.core.errors import ArgumentError, FileProblem, NotConverged, Refusal, WearlabError, WearlabWarning


def test_the_message_joins_the_four_facts() -> None:
    error = WearlabError(
        "speed never varied", where="Taylor exponent", allowed="two speeds", hint="hold a handbook exponent"
    )
    assert str(error) == "Taylor exponent: speed never varied; allowed: two speeds. Hold a handbook exponent"
    assert (error.where, error.found, error.allowed, error.hint) == (
        "Taylor exponent", "speed never varied", "two speeds", "hold a handbook exponent",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("facts", "text"),
    [
        ({}, "x"),
        ({"where": "line 3"}, "line 3: x"),
        ({"allowed": "y"}, "x; allowed: y"),
        ({"hint": "do z"}, "x. Do z"),
    ],
)
def test_what_is_not_known_is_not_said(facts: dict[str, str], text: str) -> None:
    assert str(WearlabError("x", **facts)) == text


def test_the_tree() -> None:
    assert issubclass(ArgumentError, ValueError)
    for kind in (ArgumentError, FileProblem, Refusal):
        assert issubclass(kind, WearlabError)
    assert not issubclass(Refusal, ValueError)  # a refusal is an answer, no wrong argument
    assert issubclass(NotConverged, WearlabWarning)
    assert issubclass(WearlabWarning, UserWarning)

"""Every key of a trial file is stated in the report: what the file says, or the default that was used."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from wearlab.logbook.read import read_log
from wearlab.logbook.samples import sample_path
from wearlab.logbook.settings import _SECTIONS, TrialSettings, read_settings
from wearlab.report.analysis import analyse
from wearlab.report.sections.provenance import provenance_of, provenance_section

TOML = """
[trial]
question = "which?"
[decision]
level = 0.9
[zones]
corner = [0, 0.4]
[cost]
machine_per_min = 1.5
[[response]]
name = "load"
unit = "%"
[columns]
"Tool" = "cutter"
"""


def stated(settings: TrialSettings) -> dict[str, tuple[str, str]]:
    trial = replace(read_log(sample_path("groover_coated")), settings=settings)
    analysis = analyse(trial)
    section = provenance_section(analysis, provenance_of(analysis, "", ""))
    rows: list[dict[str, Any]] = next(
        block.to_dict()["rows"] for block in section.blocks if block.to_dict().get("key") == "settings"
    )
    return {row["setting"]: (row["value"], row["stated"]) for row in rows}


@pytest.fixture(scope="module")
def defaults() -> dict[str, tuple[str, str]]:
    return stated(TrialSettings())


def test_every_key_has_a_line(defaults: dict[str, tuple[str, str]]) -> None:
    elsewhere = {"trial.seed", "trial.plan", "criterion.name", "criterion.text", "response.name", "response.unit",
                 "response.direction"}  # fmt: skip  # seed, plan and criteria stand in lines of their own
    lines = set(defaults)
    for section, keys in _SECTIONS.items():
        for key in keys:
            if f"{section}.{key}" in elsewhere:
                continue
            words = key.replace("_", " ")
            forms = {words, f"{section} {words}", f"{section}s"}
            assert lines & forms, f"{section}.{key}"
    assert {"criteria", "zones", "responses", "shop words"} <= lines


def test_defaults_are_named_as_such(defaults: dict[str, tuple[str, str]]) -> None:
    assert defaults["margin"] == ("1.25", "")
    assert defaults["level"] == ("0.95", "")
    assert defaults["break in"] == ("0.1", "")
    assert defaults["outcome"] == ("life", "")
    assert defaults["match rule"] == ("not stated", "")
    assert defaults["cost machine per min"] == ("not stated", "")
    assert {where for _, where in defaults.values()} == {""}


def test_what_the_trial_file_states_says_so(tmp_path: Any) -> None:
    (tmp_path / "t.toml").write_text(TOML, encoding="utf-8")
    found = stated(read_settings(tmp_path / "t.toml"))
    assert found["question"] == ("which?", "trial file")
    assert found["level"] == ("0.9", "trial file")
    assert found["margin"] == ("1.25", "")
    assert found["zones"] == ("corner 0 to 0.4 mm", "trial file")
    assert found["cost machine per min"] == ("1.5", "trial file")
    assert found["cost scrap"] == ("not stated", "")
    assert found["responses"] == ("load (%, rises)", "trial file")
    assert found["shop words"] == ("tool = cutter", "trial file")

"""Workings: where everything came from, so that it can be made again."""

from __future__ import annotations

import platform
from importlib.metadata import PackageNotFoundError, version
from typing import Any

import pandas as pd

from wearlab.decide.shop import STATED_IN_FILE
from wearlab.report.analysis import Analysis
from wearlab.report.record import Block, Paragraph, Section, TableBlock
from wearlab.words.counting import sentence
from wearlab.words.labels import Label, label

PACKAGES = ("wearlab", "numpy", "pandas", "scipy", "statsmodels", "matplotlib", "seaborn", "jinja2")


def provenance_of(analysis: Analysis, command: str, date: str) -> dict[str, Any]:
    """Files, versions, settings, seed and command; a date only where one was given."""
    settings = analysis.trial.settings
    made: dict[str, Any] = {
        "files": [{"name": one.name, "sha256": one.sha256, "bytes": one.size} for one in analysis.whole.sources],
        "trial_file": settings.file,
        "plan": analysis.held.plan if analysis.held is not None else "",
        "versions": {name: _version(name) for name in PACKAGES} | {"python": platform.python_version()},
        "command": command,
        "seed": analysis.seed,
        "settings": {
            "criteria": [at.criterion.text for at in analysis.at],
            "criteria_chosen": analysis.chosen,
            "clock": analysis.clock,
            "by": analysis.by,
            "standard": analysis.standard,
            "only": list(analysis.only),
            "factors": list(analysis.factors),
            "held_exponent": "none" if analysis.held_n is None else analysis.held_n,
            "margin": analysis.margin,
            "level": analysis.level,
            "break_in": settings.break_in,
            "units": analysis.units,
            **_stated(analysis),
            "from_the_trial_file": sorted(settings.given),
        },
    }
    return made | ({"date": date} if date else {})


NOT_STATED = "not stated"


def _stated(analysis: Analysis) -> dict[str, Any]:
    """What belongs to the whole trial, with the default where the trial file is silent."""
    settings = analysis.trial.settings
    zones = [f"{name} {low:g} to {high:g} mm" for name, (low, high) in settings.zones.items()]
    responses = [
        f"{one.name} ({', '.join(part for part in (one.unit, one.direction) if part)})"
        for one in settings.responses.values()
    ]
    tolerance = settings.wall_tolerance_um
    return {
        "question": settings.question or NOT_STATED,
        "outcome": settings.outcome or "life",
        "match_rule": settings.match_rule or NOT_STATED,
        "zones": zones or NOT_STATED,
        "wall_tolerance_um": NOT_STATED if tolerance is None else tolerance,
        "counting_part": settings.part or NOT_STATED,
        "responses": responses or "none",
        "shop_words": [f"{word} = {name}" for word, name in settings.columns.items()] or "none",
        "cost": {name: settings.cost.get(name, NOT_STATED) for name in STATED_IN_FILE},
    }


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "not installed as a package"


def provenance_section(analysis: Analysis, facts: dict[str, Any], operators: bool = False) -> Section:
    """The same facts to read."""
    seed = sentence(
        f"seed {facts['seed']}; chance enters the plausible cases behind the money, and p in a trial of so many "
        "cutters that their arrangements cannot be counted out"
    )
    texts = [
        sentence(f"made with the command: {facts['command']}") if facts["command"] else "",
        sentence(f"date as given: {facts['date']}") if "date" in facts else "",
        seed,
        sentence("the same log, settings and versions give the same report to the byte"),
        sentence(
            f"raw readings {'' if operators else 'and initials of operators '}stay in the log, which is named by its "
            "SHA-256; downloads hold the full figures in metric units, with the unit in the name of each column, "
            "whatever units the page shows"
        ),
    ]
    blocks: list[Block] = [
        Paragraph(tuple(text for text in texts if text)),
        _files(facts),
        _versions(facts),
        _settings(facts),
    ]
    who = _operators(analysis) if operators else None
    blocks += [who] if who is not None else []
    return Section("provenance", "Where it comes from", "researcher", tuple(blocks))


def _files(facts: dict[str, Any]) -> TableBlock:
    frame = pd.DataFrame(facts["files"])
    labels = {"name": Label("file"), "sha256": Label("SHA-256"), "bytes": Label("bytes", "count")}
    note = (
        sentence(f"settings of the trial were read from {facts['trial_file']}")
        if facts["trial_file"]
        else sentence("there was no trial file, so every setting is a default or was given on the command line")
    )
    return TableBlock("files", frame, "Files read", labels, note=note)


def _versions(facts: dict[str, Any]) -> TableBlock:
    frame = pd.DataFrame([{"software": name, "version": held} for name, held in facts["versions"].items()])
    return TableBlock("versions", frame, "Software", {"software": Label("software"), "version": Label("version")})


def _operators(analysis: Analysis) -> TableBlock | None:
    """Who read how much on how many cutters; None where the log names nobody. Made only where it was asked for."""
    tables = [one for one in (analysis.trial.wear, analysis.trial.walls, analysis.trial.responses) if "operator" in one]
    rows = pd.concat([one[["operator", "cutter"]].astype(str) for one in tables]) if tables else pd.DataFrame()
    rows = rows[~rows["operator"].isin(["", "nan", "None", "<NA>"])] if len(rows) else rows
    if rows.empty:
        return None
    frame = rows.groupby("operator")["cutter"].agg(["size", "nunique"]).reset_index()
    frame.columns = pd.Index(["initials", "readings", "cutters"])
    counts = {name: Label(name, "count") for name in ("readings", "cutters")}
    labels = {"initials": Label("initials"), **counts}
    note = sentence("for the study of the readings alone; these figures must not be used to rank people")
    return TableBlock("operators", frame, "Who read what", labels, note=note)


def _setting(name: str, value: object) -> str:
    """A setting in words; columns of the log by their labels."""
    return label(str(value)).text if name in ("clock", "by", "factors") else str(value)


_FROM_FILE = {
    "question": "trial.question",
    "standard": "trial.standard",
    "margin": "decision.margin",
    "level": "decision.level",
    "outcome": "decision.outcome",
    "match_rule": "match.rule",
    "break_in": "wear.break_in",
    "wall_tolerance_um": "wall.tolerance_um",
    "counting_part": "counting.part",
}
"""Settings of the report and the keys of a trial file that state them."""


def _settings(facts: dict[str, Any]) -> TableBlock:
    given = set(facts["settings"]["from_the_trial_file"])
    rows = []
    for name, value in facts["settings"].items():
        if name == "from_the_trial_file":
            continue
        for key, own in value.items() if isinstance(value, dict) else [("", value)]:
            text = ", ".join(_setting(name, one) for one in (own if isinstance(own, list) else [own]))
            stated = f"{name}.{key}" in given if key else _in_file(name, given, facts)
            words = f"{name} {key}".replace("_", " ").strip()
            rows.append({"setting": words, "value": text or "none", "stated": "trial file" if stated else ""})
    labels = {"setting": Label("setting"), "value": Label("value"), "stated": Label("stated in")}
    note = sentence("what no file states is a default, or was given on the command line that stands above")
    return TableBlock("settings", pd.DataFrame(rows), "Settings as used", labels, note=note)


def _in_file(name: str, given: set[str], facts: dict[str, Any]) -> bool:
    if name == "zones":
        return any(key.startswith("zones.") for key in given)
    if name in ("responses", "shop_words"):
        return facts["settings"][name] != "none"
    if name == "criteria":
        return "trial file" in str(facts["settings"]["criteria_chosen"])
    return _FROM_FILE.get(name, "") in given

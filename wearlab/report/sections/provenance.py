"""Workings: where everything came from, so that it can be made again."""

from __future__ import annotations

import platform
from importlib.metadata import PackageNotFoundError, version
from typing import Any

import pandas as pd

from wearlab.report.analysis import Analysis
from wearlab.report.record import Block, Paragraph, Section, TableBlock
from wearlab.words.counting import sentence
from wearlab.words.labels import Label

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
            "from_the_trial_file": sorted(settings.given),
        },
    }
    return made | ({"date": date} if date else {})


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "not installed as a package"


def provenance_section(analysis: Analysis, facts: dict[str, Any]) -> Section:
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
            "raw readings and initials of operators stay in the log, which is named by its SHA-256; downloads hold "
            "the full "
            "figures in metric units, with the unit in the name of each column, whatever units the page shows"
        ),
    ]
    blocks: list[Block] = [
        Paragraph(tuple(text for text in texts if text)),
        _files(facts),
        _versions(facts),
        _settings(facts),
    ]
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


def _settings(facts: dict[str, Any]) -> TableBlock:
    rows = [
        {
            "setting": name.replace("_", " "),
            "value": ", ".join(map(str, value)) if isinstance(value, list) else str(value),
        }
        for name, value in facts["settings"].items()
    ]
    return TableBlock(
        "settings", pd.DataFrame(rows), "Settings as used", {"setting": Label("setting"), "value": Label("value")}
    )

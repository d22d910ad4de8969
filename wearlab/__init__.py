"""wearlab: wear trials on end mills, from the plan to the verdict.

Public names are looked up when they are used, so that `import wearlab` costs no heavy library:

>>> import wearlab
>>> trial = wearlab.read_log(wearlab.sample_path("nasa_milling"))
>>> lives = wearlab.tool_lives(trial, [wearlab.parse_criterion("VB=0.3mm")], ["cutting_time_min"])
>>> round(lives.lives[0].life, 3)
29.333
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

_NAMES: dict[str, tuple[str, str]] = {
    "ArgumentError": ("wearlab.core.errors", "ArgumentError"),
    "FileProblem": ("wearlab.core.errors", "FileProblem"),
    "Interval": ("wearlab.core.interval", "Interval"),
    "Refusal": ("wearlab.core.errors", "Refusal"),
    "Trial": ("wearlab.logbook.trial", "Trial"),
    "TrialSettings": ("wearlab.logbook.settings", "TrialSettings"),
    "WearlabError": ("wearlab.core.errors", "WearlabError"),
    "analyse": ("wearlab.report.analysis", "analyse"),
    "build_report": ("wearlab.report.build", "build_report"),
    "compare_groups": ("wearlab.compare.compare", "compare"),
    "exposure_of_trial": ("wearlab.compare.trial_exposure", "exposure_of_trial"),
    "exposures": ("wearlab.compare.exposures", "exposures"),
    "fit_tool_life": ("wearlab.fit.tool_life", "fit_tool_life"),
    "life_at": ("wearlab.fit.laws", "life_at"),
    "life_ratio": ("wearlab.fit.laws", "life_ratio"),
    "log_schema": ("wearlab.logbook.schema", "log_schema"),
    "parameters": ("wearlab.fit.parameters", "parameters"),
    "parse_criterion": ("wearlab.logbook.criterion", "parse_criterion"),
    "practices_of_texts": ("wearlab.compare.practice_text", "practices_of_texts"),
    "predict_life": ("wearlab.fit.predict", "predict_life"),
    "published_values": ("wearlab.published.lookup", "published"),
    "read_log": ("wearlab.logbook.read", "read_log"),
    "render_html": ("wearlab.report.render", "render_html"),
    "sample_names": ("wearlab.logbook.samples", "sample_names"),
    "sample_path": ("wearlab.logbook.samples", "sample_path"),
    "speed_for": ("wearlab.fit.laws", "speed_for"),
    "tool_lives": ("wearlab.life.lives", "tool_lives"),
    "trial_criteria": ("wearlab.life.lives", "trial_criteria"),
    "trial_walls": ("wearlab.compare.walls", "trial_walls"),
    "wear_curves": ("wearlab.wear.curves", "wear_curves"),
    "wear_rates": ("wearlab.wear.rate", "wear_rates"),
}

__all__ = sorted(_NAMES)


def __getattr__(name: str) -> Any:
    if name == "__version__":
        from importlib.metadata import version

        return version("wearlab")
    if name not in _NAMES:
        raise AttributeError(f"module 'wearlab' has no attribute {name!r}; it has: {', '.join(__all__)}")
    module, attribute = _NAMES[name]
    return getattr(import_module(module), attribute)


def __dir__() -> list[str]:
    return [*__all__, "__version__"]

"""wearlab: wear trials on end mills, from the plan to the verdict.

Read a log, then ask it; every answer is a record that a notebook shows as a table, with `to_frame()` and `to_dict()`:

>>> import wearlab
>>> trial = wearlab.read_log(wearlab.sample_path("nasa_milling"))
>>> trial
<Trial nasa_milling: 16 cutters, 167 wear and 0 wall readings; 167 rows read, 167 used, 0 set aside>
>>> lives = wearlab.tool_lives(trial, "VB=0.3mm", "min")
>>> round(lives.lives[0].life, 3)
29.333
>>> fit = wearlab.fit_tool_life(lives, trial, ["feed_per_rev", "axial_depth", "work_material"])
>>> wearlab.compare_groups(trial, "VB=0.3mm", by="work_material")
<Comparison by work_material: 2 contrasts at VB=0.3mm on cutting_time_min>

In the order of the job:

- plan: `read_plan`, `make_plan`, `against_plan`
- log: `read_log`, `read_logs`, `trial_from_frame` (a pandas table), `check_log` (millions of rows), `blank_log`
- wear: `wear_curves`, `wear_rates`, `read_study`, `measurement_study`
- life: `tool_lives`, `trial_criteria`, `parse_criterion`
- equation: `fit_tool_life`, `parameters`, `predict_life`, `next_cutter`, `life_at`, `speed_for`, `published_values`
- practices: `compare_groups`, `trial_walls`, `exposure_of_trial`, `exposures`
- money: `decide_practices`, `standard_of`, `render_card`
- report: `analyse`, `build_report`, `render_html`

Public names are looked up when they are used, so that `import wearlab` costs no heavy library.
"""

# ruff: noqa: F401 - names that an editor looks up
from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:  # what an editor and a type checker see; at run time `_NAMES` is asked
    from wearlab.compare.compare import compare as compare_groups
    from wearlab.compare.exposures import exposures as exposures
    from wearlab.compare.practice_text import practices_of_texts as practices_of_texts
    from wearlab.compare.trial_exposure import exposure_of_trial as exposure_of_trial
    from wearlab.compare.walls import trial_walls as trial_walls
    from wearlab.core.errors import ArgumentError as ArgumentError
    from wearlab.core.errors import FileProblem as FileProblem
    from wearlab.core.errors import Refusal as Refusal
    from wearlab.core.errors import WearlabError as WearlabError
    from wearlab.core.interval import Interval as Interval
    from wearlab.decide.decide import decide as decide_practices
    from wearlab.decide.standard import standard_of as standard_of
    from wearlab.fit.laws import life_at as life_at
    from wearlab.fit.laws import life_ratio as life_ratio
    from wearlab.fit.laws import speed_for as speed_for
    from wearlab.fit.next_cutter import next_cutter as next_cutter
    from wearlab.fit.parameters import parameters as parameters
    from wearlab.fit.predict import predict_life as predict_life
    from wearlab.fit.tool_life import fit_tool_life as fit_tool_life
    from wearlab.life.lives import tool_lives as tool_lives
    from wearlab.life.lives import trial_criteria as trial_criteria
    from wearlab.logbook.criterion import Criterion as Criterion
    from wearlab.logbook.criterion import parse_criterion as parse_criterion
    from wearlab.logbook.frame import trial_from_frame as trial_from_frame
    from wearlab.logbook.large import check_log as check_log
    from wearlab.logbook.read import read_log as read_log
    from wearlab.logbook.read import read_logs as read_logs
    from wearlab.logbook.samples import sample_names as sample_names
    from wearlab.logbook.samples import sample_path as sample_path
    from wearlab.logbook.schema import log_schema as log_schema
    from wearlab.logbook.settings import TrialSettings as TrialSettings
    from wearlab.logbook.template import blank_log as blank_log
    from wearlab.logbook.trial import Trial as Trial
    from wearlab.plan.against import against_plan as against_plan
    from wearlab.plan.plan import make_plan as make_plan
    from wearlab.plan.plan import read_plan as read_plan
    from wearlab.published.lookup import published as published_values
    from wearlab.report.analysis import analyse as analyse
    from wearlab.report.build import build_report as build_report
    from wearlab.report.card.page import render_card as render_card
    from wearlab.report.render import render_html as render_html
    from wearlab.wear.curves import wear_curves as wear_curves
    from wearlab.wear.rate import wear_rates as wear_rates
    from wearlab.wear.study import measurement_study as measurement_study
    from wearlab.wear.study import read_study as read_study

_NAMES: dict[str, tuple[str, str]] = {
    "ArgumentError": ("wearlab.core.errors", "ArgumentError"),
    "Criterion": ("wearlab.logbook.criterion", "Criterion"),
    "FileProblem": ("wearlab.core.errors", "FileProblem"),
    "Interval": ("wearlab.core.interval", "Interval"),
    "Refusal": ("wearlab.core.errors", "Refusal"),
    "Trial": ("wearlab.logbook.trial", "Trial"),
    "TrialSettings": ("wearlab.logbook.settings", "TrialSettings"),
    "WearlabError": ("wearlab.core.errors", "WearlabError"),
    "against_plan": ("wearlab.plan.against", "against_plan"),
    "analyse": ("wearlab.report.analysis", "analyse"),
    "blank_log": ("wearlab.logbook.template", "blank_log"),
    "build_report": ("wearlab.report.build", "build_report"),
    "check_log": ("wearlab.logbook.large", "check_log"),
    "compare_groups": ("wearlab.compare.compare", "compare"),
    "decide_practices": ("wearlab.decide.decide", "decide"),
    "exposure_of_trial": ("wearlab.compare.trial_exposure", "exposure_of_trial"),
    "exposures": ("wearlab.compare.exposures", "exposures"),
    "fit_tool_life": ("wearlab.fit.tool_life", "fit_tool_life"),
    "life_at": ("wearlab.fit.laws", "life_at"),
    "life_ratio": ("wearlab.fit.laws", "life_ratio"),
    "log_schema": ("wearlab.logbook.schema", "log_schema"),
    "make_plan": ("wearlab.plan.plan", "make_plan"),
    "measurement_study": ("wearlab.wear.study", "measurement_study"),
    "next_cutter": ("wearlab.fit.next_cutter", "next_cutter"),
    "parameters": ("wearlab.fit.parameters", "parameters"),
    "parse_criterion": ("wearlab.logbook.criterion", "parse_criterion"),
    "practices_of_texts": ("wearlab.compare.practice_text", "practices_of_texts"),
    "predict_life": ("wearlab.fit.predict", "predict_life"),
    "published_values": ("wearlab.published.lookup", "published"),
    "read_log": ("wearlab.logbook.read", "read_log"),
    "read_logs": ("wearlab.logbook.read", "read_logs"),
    "read_plan": ("wearlab.plan.plan", "read_plan"),
    "read_study": ("wearlab.wear.study", "read_study"),
    "render_card": ("wearlab.report.card.page", "render_card"),
    "render_html": ("wearlab.report.render", "render_html"),
    "sample_names": ("wearlab.logbook.samples", "sample_names"),
    "sample_path": ("wearlab.logbook.samples", "sample_path"),
    "speed_for": ("wearlab.fit.laws", "speed_for"),
    "standard_of": ("wearlab.decide.standard", "standard_of"),
    "tool_lives": ("wearlab.life.lives", "tool_lives"),
    "trial_criteria": ("wearlab.life.lives", "trial_criteria"),
    "trial_from_frame": ("wearlab.logbook.frame", "trial_from_frame"),
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

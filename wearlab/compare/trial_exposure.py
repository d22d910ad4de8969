"""Exposure of the practices of a log beside the wear that was measured, on the ground that all of them share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from wearlab.compare.exposures import Exposures, trial_exposures
from wearlab.compare.groups import common_ground, make_groups, only
from wearlab.compare.predicted import CLOCKS
from wearlab.compare.zone_wear import ZoneWear, zone_wear
from wearlab.core.errors import Refusal
from wearlab.core.tables import ShownAsTable
from wearlab.fit.factors import resolve
from wearlab.life.lives import criteria_of, trial_criteria
from wearlab.logbook.columns import COLUMNS
from wearlab.logbook.criterion import Criterion
from wearlab.logbook.trial import Trial
from wearlab.wear.curves import WearCurves

ALL = "cutters"
"""The one group where the column that makes groups is not recorded."""


@dataclass(frozen=True, eq=False)
class TrialExposure(ShownAsTable):
    """Exposure of the practices of a log, and the wear that was measured beside it.

    `wear` is None, with the reason among the notes, where no rate can be set beside an exposure.
    """

    exposures: Exposures
    wear: ZoneWear | None
    notes: tuple[str, ...]

    def to_frame(self) -> pd.DataFrame:
        """One row a practice and zone, as `exposures`."""
        return self.exposures.to_frame()

    def __repr__(self) -> str:
        beside = "no measured wear beside it" if self.wear is None else "measured wear beside it"
        return f"<TrialExposure of {', '.join(one.name for one in self.exposures.practices)}; {beside}>"


def exposure_of_trial(
    trial: Trial,
    criterion: Criterion | str = "",
    clock: str | None = None,
    *,
    by: str = "strategy",
    standard: str = "",
    choose: Sequence[str] = (),
    zones: dict[str, tuple[float, float]] | None = None,
    level: float | None = None,
    curves: WearCurves | None = None,
) -> TrialExposure:
    """Exposure of every group of a log on the ground that the groups share, with measured wear by zone.

    Parameters
    ----------
    trial : Trial
    criterion : Criterion or str
        Its limit ends the steady stage of the rates: a record, a text, or a name from the trial file; the trial's first
        when left out.
    clock : str, optional
        Column name of the clock, or its short name; volume where the log holds it, else the first that it holds.
    by, standard, choose, zones, level
        As `trial_exposures` and `compare.compare.compare`.

    Raises
    ------
    Refusal
        No group has an exposure.

    Examples
    --------
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> found = exposure_of_trial(read_log(sample_path("shoulder_demo")), "VB=0.2mm")
    >>> [one.name for one in found.exposures.practices], found.wear.reference
    (['layered', 'side'], ('layered', 'lower'))
    """
    level = trial.settings.level if level is None else level
    standard = standard or trial.settings.standard
    held = trial.clocks()
    criterion = (criteria_of(trial, criterion) or trial_criteria(trial)[0])[0]
    column = trial.clock(clock) if clock else ("volume_cm3" if "volume_cm3" in held or not held else held[0])
    facts, notes = _shared_facts(trial, by, choose)
    found = trial_exposures(trial, by=by, standard=standard, clock=CLOCKS[column], zones=zones, facts=facts)
    try:
        wear = zone_wear(
            trial, found, facts, criterion, column, by=by, standard=standard, choose=choose, level=level, curves=curves
        )
    except Refusal as reason:
        return TrialExposure(found, None, (*notes, f"no measured wear beside the prediction: {reason.found}"))
    return TrialExposure(found, wear, tuple(notes))


def _shared_facts(trial: Trial, by: str, choose: Sequence[str]) -> tuple[pd.DataFrame, list[str]]:
    """Cutters with their group, at the conditions that all groups met; a log with one group keeps all of them."""
    facts = only(trial.facts(), choose)
    try:
        grouping = make_groups(facts, by)
    except Refusal:
        groups = groups_of(facts, by)
        return facts.assign(group=[groups[str(cutter)] for cutter in facts["cutter"]]), []
    return common_ground(grouping.facts, grouping.names, grouping.by, ())


def groups_of(facts: pd.DataFrame, by: str) -> dict[str, str]:
    """Cutter -> group, also where there is one group only, or the column is not recorded.

    Raises
    ------
    ArgumentError
        `by` names no column that a log can have.

    Examples
    --------
    >>> groups_of(pd.DataFrame({"cutter": ["E1", "E2"], "strategy": ["side", ""]}), "strategy")
    {'E1': 'side', 'E2': 'cutters'}
    """
    columns = [str(name) for name in facts.columns]
    if by in COLUMNS and by not in columns:
        return dict.fromkeys(map(str, facts["cutter"]), ALL)
    labels = (_label(cell) for cell in facts[resolve(by, columns)])
    return {str(cutter): label or ALL for cutter, label in zip(facts["cutter"], labels, strict=True)}


def _label(cell: object) -> str:
    return f"{cell:g}" if isinstance(cell, float) and cell == cell else "" if cell != cell else str(cell)

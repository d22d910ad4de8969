"""The measurement study before the trial: its sheet, and what its figures mean for this trial.

The analysis is that of `wearlab.wear.study`; here it is set against the wear limit, the looks and the scatter between
cutters of the plan.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from wearlab.core.errors import ArgumentError
from wearlab.core.tables import plain
from wearlab.plan.request import StudyRequest
from wearlab.wear.study import CONDITIONAL, GOOD, MeasurementStudy

CATEGORIES = 5
"""Distinct categories that a gauge should tell apart (AIAG, Measurement Systems Analysis)."""


@dataclass(frozen=True, slots=True)
class StudyRow:
    """One reading of the study, in the order in which it is made."""

    order: int
    part: str
    operator: str
    repeat: int


@dataclass(frozen=True, slots=True)
class StudySheet:
    """A study to be filled in; a part is one zone of one flute, picked from new to worn."""

    request: StudyRequest
    rows: tuple[StudyRow, ...]

    @property
    def degrees_of_freedom(self) -> int:
        """That the repeatability will have."""
        one = self.request
        return one.parts * len(one.operators) * (one.repeats - 1)

    @property
    def tells_people_apart(self) -> bool:
        """Whether there are enough people to say anything of people."""
        return len(self.request.operators) > 2

    def csv_text(self, unit: str = "um") -> str:
        """The file that is filled in, in that unit, and read back by `wearlab.wear.study.read_study`."""
        lines = [f"{row.order},{row.part},{row.operator},{row.repeat},,{unit}" for row in self.rows]
        return "\n".join(["order,part,operator,repeat,value,unit", *lines]) + "\n"

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "parts": self.request.parts,
            "operators": list(self.request.operators),
            "repeats": self.request.repeats,
            "rows": [{name: getattr(row, name) for name in StudyRow.__slots__} for row in self.rows],
        }


@dataclass(frozen=True, slots=True)
class StudyMeaning:
    """What a gauge means for a trial.

    Attributes
    ----------
    share : float
        Gauge over total scatter of the study's parts.
    fitness : str
        good, conditional or unfit by that share (AIAG: 10 and 30 %).
    share_of_limit : float
        Six gauge standard deviations over the wear limit: the share of the range of the trial that is noise.
    categories : float
    mean_land_mm : float
        Standard error of one mean land over the flutes.
    life_error_min : float
        What that is in minutes of life at the wear rate.
    sigma, sigma_seen : float
        Scatter of ln life between cutters, and with the reading error on top.
    """

    share: float
    fitness: str
    share_of_limit: float
    categories: float
    mean_land_mm: float
    life_error_min: float
    sigma: float
    sigma_seen: float

    @property
    def cutters_factor(self) -> float:
        """Factor that reading error puts on the number of cutters."""
        return (self.sigma_seen / self.sigma) ** 2

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        made: dict[str, Any] = plain({name: getattr(self, name) for name in self.__slots__})
        return made | {"cutters_factor": self.cutters_factor, "categories_wanted": CATEGORIES}


def study_sheet(request: StudyRequest, rng: int | np.random.Generator | None = None) -> StudySheet:
    """Draw the order of a study: everyone reads all parts once before anyone reads them again, in random order.

    Examples
    --------
    >>> sheet = study_sheet(StudyRequest(parts=5, operators=("A", "B"), repeats=3), rng=1)
    >>> len(sheet.rows), sheet.tells_people_apart
    (30, False)
    """
    generator = np.random.default_rng(rng)
    rows: list[StudyRow] = []
    for repeat in range(1, request.repeats + 1):
        for person in generator.permutation(len(request.operators)):
            for part in generator.permutation(request.parts):
                rows.append(StudyRow(len(rows) + 1, f"P{part + 1}", request.operators[int(person)], repeat))
    return StudySheet(request, tuple(rows))


def study_meaning(
    study: MeasurementStudy, limit_mm: float, expected_life_min: float, sigma: float, flutes: int
) -> StudyMeaning:
    """Set a study against a trial.

    Parameters
    ----------
    study : MeasurementStudy
    limit_mm : float
        Land of the tool-life criterion.
    expected_life_min : float
        Life to that land; the mean rate over it turns mm into minutes.
    sigma : float
        Scatter of ln life between cutters.
    flutes : int
        Flutes that are read at a look.

    Examples
    --------
    A reading error of 0.01 mm at 0.005 mm/min is 2 min of life (derived).
    """
    if not (limit_mm > 0 and expected_life_min > 0 and sigma > 0 and flutes >= 1):
        raise ArgumentError(
            f"limit {limit_mm:g} mm, life {expected_life_min:g} min, scatter {sigma:g}, {flutes} flutes",
            where="measurement study",
            allowed="above 0",
        )
    share = study.share
    error = study.life_error(limit_mm / expected_life_min, flutes)
    return StudyMeaning(
        share=share,
        fitness="good" if share < GOOD else "conditional" if share <= CONDITIONAL else "unfit",
        share_of_limit=6.0 * study.gauge_mm / limit_mm,
        categories=study.categories,
        mean_land_mm=study.standard_error_mm(flutes),
        life_error_min=error,
        sigma=sigma,
        sigma_seen=math.hypot(sigma, error / expected_life_min),
    )

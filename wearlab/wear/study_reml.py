"""A measurement study by restricted maximum likelihood, beside the mean squares or instead of them where readings miss.

A complete study with components above 0 gives the same figures both ways; with a negative one, or with readings
missing, the likelihood uses what is there. Where repeats agree to the last digit the likelihood has no maximum and the
mean squares stand alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import pandas as pd

from wearlab.core.errors import Refusal
from wearlab.core.interval import Interval
from wearlab.core.tables import plain
from wearlab.stats.gauge import Components
from wearlab.stats.gauge_reml import RemlStudy, reml_study
from wearlab.stats.reml_intervals import NAMES, reml_interval
from wearlab.wear.study import MeasurementStudy, measurement_study

GAUGE = (0.0, 1.0, 1.0, 1.0)
"""Weights of part, operator, interaction and repeatability in one reading by anyone."""


@dataclass(frozen=True, slots=True)
class RemlFindings:
    """Components of a measurement study by REML, in mm2.

    Attributes
    ----------
    study : RemlStudy
    readings : pandas.DataFrame
        What was fitted.
    """

    study: RemlStudy
    readings: pd.DataFrame

    @property
    def gauge_mm(self) -> float:
        """Standard deviation of one reading by anyone."""
        return math.sqrt(self.study.components.gauge)

    def variance_of(self, weights: tuple[float, float, float, float]) -> float:
        """A weighted sum of the components (part, operator, interaction, repeatability), mm2."""
        parts = self.study.components
        values = (parts.part, parts.operator, parts.interaction, parts.repeatability)
        return sum(weight * value for weight, value in zip(weights, values, strict=True))

    def interval_of(self, weights: tuple[float, float, float, float], level: float = 0.95) -> Interval:
        """Interval of the standard deviation that belongs to `variance_of`, mm."""
        rows = self.readings
        value = rows["value_mm"].to_numpy(float)
        found = reml_interval(
            rows["part"].tolist(), rows["operator"].tolist(), value, self.study.components, weights, level
        )
        return found.map(math.sqrt)

    def life_error(self, rate_mm: float, flutes: int, level: float = 0.95) -> tuple[float, Interval]:
        """Standard deviation that reading error alone gives a life, and its interval, in units of the rate's clock.

        Raises
        ------
        Refusal
            The rate is not above 0.
        """
        if not rate_mm > 0:
            raise Refusal(
                "the wear rate is not above 0: a reading error is no error of life", where="measurement study"
            )
        weights = (0.0, 1.0, 1.0, 1.0 / flutes)
        limits = self.interval_of(weights, level)
        return math.sqrt(self.variance_of(weights)) / rate_mm, limits.map(lambda sd: sd / rate_mm)


@dataclass(frozen=True, slots=True)
class StudyBothWays:
    """A measurement study by mean squares and by REML.

    Attributes
    ----------
    anova : MeasurementStudy or None
        None where the study has gaps; `why_no_anova` says which.
    reml : RemlFindings or None
        None where the likelihood has no maximum; `why_no_reml` says why.
    readings : pandas.DataFrame
        What was analysed.
    """

    anova: MeasurementStudy | None
    reml: RemlFindings | None
    readings: pd.DataFrame
    why_no_anova: str = ""
    why_no_reml: str = ""

    @property
    def components(self) -> Components:
        """Variances in mm2: by REML, where it could be had, else by mean squares."""
        if self.reml is not None:
            return self.reml.study.components
        assert self.anova is not None  # a study has one of the two
        return self.anova.components

    def to_frame(self, level: float = 0.95) -> pd.DataFrame:
        """One row a component: standard deviations in mm and their intervals, both ways; NaN where there is none."""
        rows = []
        for name, weights in _rows():
            both = self._by_mean_squares(name, level) | self._by_reml(weights, level)
            rows.append({"component": name, **both})
        return pd.DataFrame(rows)

    def _by_reml(self, weights: tuple[float, float, float, float], level: float) -> dict[str, float]:
        if self.reml is None:
            return dict.fromkeys(("reml_mm", "reml_low", "reml_high"), math.nan)
        limits = self.reml.interval_of(weights, level)
        return {"reml_mm": math.sqrt(self.reml.variance_of(weights)), "reml_low": limits.low, "reml_high": limits.high}

    def _by_mean_squares(self, name: str, level: float) -> dict[str, float]:
        if self.anova is None:
            return dict.fromkeys(("anova_mm", "anova_low", "anova_high"), math.nan)
        study, parts = self.anova.study, self.anova.components
        limits = {
            "repeatability": lambda: study.repeatability_interval(level),
            "operator": lambda: study.operator_interval(level).map(math.sqrt),
            "interaction": lambda: study.interaction_interval(level).map(math.sqrt),
            "part": lambda: study.part_interval(level).map(math.sqrt),
            "gauge": lambda: study.gauge_interval(level).map(math.sqrt),
        }[name]()
        return {"anova_mm": math.sqrt(getattr(parts, name)), "anova_low": limits.low, "anova_high": limits.high}

    def to_dict(self, level: float = 0.95) -> dict[str, Any]:
        """JSON-ready: the study by mean squares in the published keys, and the components both ways."""
        rows = self.readings
        if self.anova is None:
            nothing = {"repeats": None, "why_missing": self.why_no_anova, "unit": "mm"}
            people = {"parts": rows["part"].nunique(), "operators": rows["operator"].nunique()}
            made: dict[str, Any] = people | nothing
        else:
            made = self.anova.to_dict(level)
        made["readings"] = len(rows)
        made["components"] = self.to_frame(level).to_dict("records")
        made["reml_log_likelihood"] = self.reml.study.loglik if self.reml is not None else None
        if self.reml is None:
            made["why_missing"] = f"REML: {self.why_no_reml}"
        shown: dict[str, Any] = plain(made)
        return shown


def _rows() -> list[tuple[str, tuple[float, float, float, float]]]:
    own = {name: tuple(float(name == other) for other in NAMES) for name in NAMES}
    order = ("repeatability", "operator", "interaction", "gauge", "part")
    return [(name, GAUGE if name == "gauge" else own[name]) for name in order]  # type: ignore[misc]


def study_both_ways(readings: pd.DataFrame) -> StudyBothWays:
    """Analyse a study by mean squares, where it is complete, and by REML.

    Parameters
    ----------
    readings : pandas.DataFrame
        `part`, `operator`, `value_mm`.

    Raises
    ------
    Refusal
        One part only, nothing was read twice, all readings are equal, or neither way is open: readings miss and the
        repeats agree to the last digit.

    Examples
    --------
    >>> readings = pd.DataFrame({"part": [1, 1, 1, 1, 2, 2, 2, 2], "operator": list("aabbaabb"),
    ...                          "value_mm": [0.10, 0.12, 0.11, 0.15, 0.20, 0.21, 0.24, 0.22]})
    >>> found = study_both_ways(readings)
    >>> round(found.anova.part_mm, 4), round(found.reml.variance_of((1, 0, 0, 0)) ** 0.5, 4)
    (0.0689, 0.0685)
    """
    if readings["part"].nunique() < 2:
        raise Refusal("one part only", where="measurement study", allowed="at least two parts")
    anova, why_no_anova, reml, why_no_reml = None, "", None, ""
    try:
        anova = measurement_study(readings)
    except Refusal as refusal:
        why_no_anova = refusal.found
    rows = readings["part"].tolist(), readings["operator"].tolist(), readings["value_mm"].to_numpy(float)
    try:
        reml = RemlFindings(reml_study(*rows), readings)
    except Refusal as refusal:
        if anova is None or not anova.components.total > 0:
            raise
        why_no_reml = refusal.found
    return StudyBothWays(anova, reml, readings, why_no_anova, why_no_reml)

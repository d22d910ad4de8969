"""Log-rank test of two groups, and its scores for an exact test."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wearlab.core.errors import Refusal
from wearlab.stats.design import FloatArray
from wearlab.stats.lives import Lives


@dataclass(frozen=True)
class LogRank:
    """Log-rank test of two groups.

    Attributes
    ----------
    observed, expected : float
        Failures of the first group, and those expected without a difference.
    variance : float
        Hypergeometric variance of the observed.
    """

    observed: float
    expected: float
    variance: float

    @property
    def chi_square(self) -> float:
        """Chi-square with one degree of freedom."""
        return (self.observed - self.expected) ** 2 / self.variance if self.variance > 0 else math.nan

    @property
    def p_value(self) -> float:
        """Large-sample p; too small on few lives."""
        from scipy.special import chdtrc

        return float(chdtrc(1, self.chi_square))


def log_rank(a: Lives, b: Lives) -> LogRank:
    """Log-rank test of exact and right-censored lives.

    Parameters
    ----------
    a, b : Lives

    Returns
    -------
    LogRank

    Raises
    ------
    Refusal
        When a life is only known between two looks, or there are no failures.

    Examples
    --------
    >>> test = log_rank(Lives([3, 4, 6], [3, 4, 6]), Lives.right_censored([5, 7, 8], [1, 1, 0]))
    >>> round(test.chi_square, 3)
    2.557
    """
    times, failed = _together(a, b)
    in_a = np.arange(len(times)) < len(a)
    points = np.unique(times[failed])
    at_risk = (times[:, None] >= points).sum(axis=0)
    at_risk_a = (times[in_a, None] >= points).sum(axis=0)
    events = ((times[:, None] == points) & failed[:, None]).sum(axis=0)
    share = at_risk_a / at_risk
    spare = np.where(at_risk > 1, (at_risk - events) / np.maximum(at_risk - 1, 1), 0.0)
    return LogRank(
        float(failed[in_a].sum()),
        float(np.sum(events * share)),
        float(np.sum(events * share * (1 - share) * spare)),
    )


def log_rank_scores(lives: Lives) -> FloatArray:
    """Log-rank scores for an exact test with `score_test`, larger for longer lives, shape (n,).

    Expected less observed failures of each row by the cumulative hazard of all; summed over a group they are expected
    less observed failures.

    Raises
    ------
    Refusal
        When a life is only known between two looks, or there are no failures.

    Examples
    --------
    >>> log_rank_scores(Lives.right_censored([3, 5, 8], [1, 1, 0])).round(3).tolist()
    [-0.667, -0.167, 0.833]
    """
    times, failed = _together(lives, None)
    points = np.unique(times[failed])
    at_risk = (times[:, None] >= points).sum(axis=0)
    events = ((times[:, None] == points) & failed[:, None]).sum(axis=0)
    hazard = np.where(times[:, None] >= points, events / at_risk, 0.0).sum(axis=1)
    return np.asarray(hazard - failed, dtype=float)


def _together(a: Lives, b: Lives | None) -> tuple[FloatArray, np.ndarray]:
    groups = [a] if b is None else [a, b]
    if any((one.interval | one.left).any() for one in groups):
        raise Refusal(
            "lives known only between two looks",
            where="log-rank test",
            hint="use scores of a life regression",
        )
    times = np.concatenate([one.lower for one in groups])
    failed = np.concatenate([one.exact for one in groups])
    if not failed.any():
        raise Refusal("no failures", where="log-rank test", allowed="at least one failure")
    return times, failed

"""One-way analysis of variance, and the F test of one linear model inside another."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.stats.design import as_vector
from wearlab.stats.line import LinearFit


@dataclass(frozen=True)
class FTest:
    """An F test of a term against what is left.

    Attributes
    ----------
    ss, df : float
        Sum of squares and degrees of freedom of the term.
    ss_error, df_error : float
        Those of what it is judged by.
    why_missing : str or None
        Why there is no F.
    """

    ss: float
    df: int
    ss_error: float
    df_error: int
    why_missing: str | None = None

    @property
    def ms_error(self) -> float:
        """Mean square that the term is judged by."""
        return self.ss_error / self.df_error if self.df_error > 0 else math.nan

    @property
    def f(self) -> float:
        """F statistic; NaN where `why_missing` says why."""
        return math.nan if self.why_missing else self.ss / self.df / self.ms_error

    @property
    def p_value(self) -> float:
        """p of no effect; NaN where `why_missing` says why."""
        from scipy.special import fdtrc

        return math.nan if self.why_missing else float(fdtrc(self.df, self.df_error, max(self.f, 0.0)))


def one_way(groups: Sequence[ArrayLike]) -> FTest:
    """F test of equal means.

    Parameters
    ----------
    groups : sequence of array_like
        Values of each group.

    Returns
    -------
    FTest

    Raises
    ------
    ArgumentError
        When a group is empty or a value is not finite.
    Refusal
        When there are fewer than two groups.

    Examples
    --------
    >>> test = one_way([[7, 8, 15, 11, 9, 10], [12, 17, 13, 18, 19, 15], [14, 18, 19, 17, 16, 18]])
    >>> round(test.f, 3), test.df, test.df_error
    (13.042, 2, 15)
    """
    values = [as_vector(group, f"group {k + 1}") for k, group in enumerate(groups)]
    if len(values) < 2:
        raise Refusal(f"{len(values)} groups", where="one-way analysis", allowed="at least two")
    for k, group in enumerate(values):
        if not len(group):
            raise ArgumentError("an empty group", where=f"group {k + 1}", allowed="at least one value")
    # Centring on one value keeps the digits of readings that share their leading ones.
    origin = values[0][0]
    moved = [group - origin for group in values]
    sizes = np.array([len(group) for group in moved])
    means = np.array([group.mean() for group in moved])
    grand = float(sizes @ means) / sizes.sum()
    between = float(sizes @ (means - grand) ** 2)
    within = float(sum(((group - mean) ** 2).sum() for group, mean in zip(moved, means, strict=True)))
    df_error = int(sizes.sum()) - len(moved)
    return FTest(between, len(moved) - 1, within, df_error, _why(within, df_error))


def nested_f(small: LinearFit, large: LinearFit) -> FTest:
    """F test of the terms that a larger linear model has beyond a smaller one.

    Parameters
    ----------
    small, large : LinearFit
        Fits to the same response; the columns of `small` are combinations of those of `large`.

    Returns
    -------
    FTest

    Raises
    ------
    ArgumentError
        When the fits differ in their rows, or the larger one is not larger.
    """
    if small.n != large.n or large.df >= small.df:
        raise ArgumentError(
            f"{small.df} and {large.df} degrees of freedom on {small.n} and {large.n} rows",
            where="nested models",
            allowed="the same rows, and more coefficients in the larger",
        )
    term = max(small.rss - large.rss, 0.0)
    return FTest(term, small.df - large.df, large.rss, large.df, large.why_missing)


def _why(ss_error: float, df_error: int) -> str | None:
    if df_error == 0:
        return "one value a group: nothing to judge the scatter by"
    return "no scatter inside any group" if ss_error == 0 else None

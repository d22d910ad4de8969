"""Fit a tool-life equation to the lives of a trial."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.interval import Interval
from wearlab.core.tables import ShownAsTable
from wearlab.fit.factors import SPEED, Factor, factor_columns, make_factor, resolve
from wearlab.fit.laws import Law, law_for
from wearlab.life.lives import ToolLives
from wearlab.logbook.trial import Trial
from wearlab.stats.censored import LifeRegression, fit_lives
from wearlab.stats.collinearity import collinearity
from wearlab.stats.line import LinearFit, fit_line
from wearlab.stats.lives import Lives
from wearlab.stats.scatter import scatter_law

GROUPS_ADDED = ("strategy", "work_material")
"""Groups that enter a fit of their own accord when they vary: lives of different practices are no replicates."""
OF_A_LIFE = ("criterion", "zone", "clock", "life", "low", "high", "status", "cause", "bracket_low", "bracket_high",
             "first_crossing", "last_crossing", "why_missing")  # fmt: skip
"""Columns that belong to a life and are no factor of it."""
SAME_SPEED = 1.01
"""Speeds whose ratio is no larger are one speed, set or worked out with rounding: no exponent comes of them."""


@dataclass(frozen=True, repr=False)
class ToolLifeFit(ShownAsTable):
    """A fitted tool-life equation.

    Attributes
    ----------
    law : Law
    method : str
        How it was estimated.
    criterion, clock : str
        Of the lives.
    factors : tuple of Factor
    lives : int
        Lives used.
    censored : int
        Of these, how many are not known exactly.
    held_n : float or None
        Taylor exponent that was held, not fitted.
    used : pandas.DataFrame
        One row a cutter used: `cutter`, `low`, `high`, `status`, the factors, `fitted` (median life).
    left_out : tuple of (str, str)
        Cutters without a life, and why.
    added : tuple of str
        Groups that entered of their own accord.
    line : LinearFit or None
        Least-squares fit of ln life; None where some lives are censored.
    regression : LifeRegression or None
        Maximum-likelihood fit; None where the lives leave no scatter to judge by.
    why_no_interval : str
        Why there is no uncertainty.
    tested_range : dict
        Envelope of the cutters used.
    distribution : str
        Scatter of ln life about the equation.
    X : array, shape (lives, coefficients)
        Design of ln life.
    offset : array or None
        Part of ln life that a held exponent fixes.
    """

    law: Law
    method: str
    criterion: str
    clock: str
    factors: tuple[Factor, ...]
    lives: int
    censored: int
    held_n: float | None
    used: pd.DataFrame
    left_out: tuple[tuple[str, str], ...]
    added: tuple[str, ...]
    names: tuple[str, ...]
    line: LinearFit | None
    regression: LifeRegression | None
    why_no_interval: str = ""
    tested_range: dict[str, Any] = field(default_factory=dict)
    distribution: str = "lognormal"
    X: np.ndarray = field(default_factory=lambda: np.empty((0, 0)))
    offset: np.ndarray | None = None

    @property
    def median_shift(self) -> float:
        """What must be added to the equation for the ln of the median life; 0 for lognormal scatter."""
        if self.distribution == "lognormal":
            return 0.0
        return float(self.sigma * scatter_law(self.distribution).quantile(0.5))

    def median_interval(self, row: np.ndarray, level: float = 0.95) -> Interval:
        """Interval of the ln median life at a design row (offset left out)."""
        if self.line is not None:
            return self.line.interval(row, level)
        assert self.regression is not None
        return self.regression.log_quantile_interval(row, 0.5, level)

    @property
    def beta(self) -> np.ndarray:
        """Coefficients of ln life, in the order of `names`."""
        if self.line is not None:
            return self.line.beta
        assert self.regression is not None
        return self.regression.beta

    @property
    def sigma(self) -> float:
        """Standard deviation of ln life about the equation."""
        if self.line is not None:
            return self.line.sigma
        assert self.regression is not None
        return self.regression.sigma

    def interval(self, contrast: np.ndarray, level: float = 0.95) -> Interval:
        """Interval of a combination of the coefficients; unbounded where `why_no_interval` says why."""
        if self.line is not None:
            return self.line.interval(contrast, level)
        assert self.regression is not None
        return self.regression.interval(contrast, level)

    def standard_error(self, contrast: np.ndarray) -> float:
        """Standard error of a combination of the coefficients."""
        if self.line is not None:
            return self.line.standard_error(contrast)
        assert self.regression is not None
        covariance = self.regression.covariance[:-1, :-1]
        return float(math.sqrt(contrast @ covariance @ contrast))

    def row(self, settings: dict[str, Any]) -> np.ndarray:
        """Design row at a setting; factors that are not given stand at their centre or reference.

        Raises
        ------
        ArgumentError
            A setting names no factor of the fit, or a group that was not in it.
        """
        unknown = [name for name in settings if name not in {factor.column for factor in self.factors}]
        if unknown and not (self.held_n is not None and unknown == [SPEED]):
            raise ArgumentError(
                f"{unknown[0]} is no factor of this fit",
                where="setting",
                allowed=", ".join(factor.column for factor in self.factors),
            )
        parts = [np.ones(1)]
        for factor in self.factors:
            value = settings.get(factor.column, self.centre(factor))
            if not factor.numeric and value not in factor.levels:
                raise ArgumentError(f"{factor.column} {value!r}", where="setting", allowed=", ".join(factor.levels))
            if factor.numeric and not (isinstance(value, int | float | np.number) and 0 < value < math.inf):
                raise ArgumentError(f"{factor.column} {value!r}", where="setting", allowed="a number above 0")
            parts.append(factor.columns(pd.Series([value]))[0])
        return np.concatenate(parts)

    def centre(self, factor: Factor) -> Any:
        """Geometric mean of a number over the cutters used; the first group of a text."""
        if factor.numeric:
            return float(np.exp(np.log(self.used[factor.column].astype(float)).mean()))
        return factor.levels[0]

    def slope_of(self, column: str) -> int | None:
        """Position of a numeric factor's coefficient."""
        name = f"ln {column}"
        return self.names.index(name) if name in self.names else None

    def to_frame(self) -> pd.DataFrame:
        """One row a cutter used, with its fitted median life."""
        return self.used

    def __repr__(self) -> str:
        terms = ", ".join(f"{name} {value:.4g}" for name, value in zip(self.names, self.beta, strict=True))
        return f"<ToolLifeFit {self.law.name}: {self.lives} lives, {self.censored} censored; ln T: {terms}>"


def fit_tool_life(
    lives: pd.DataFrame | ToolLives,
    facts: pd.DataFrame | Trial,
    factors: Sequence[str] | None = None,
    held_n: float | None = None,
    distribution: str = "lognormal",
) -> ToolLifeFit:
    """Fit a law to lives at one criterion on one clock.

    Parameters
    ----------
    lives : pandas.DataFrame or ToolLives
        At one criterion on one clock; a table as `ToolLives.select` gives it: `cutter`, `criterion`, `clock`, `life`,
        `low`, `high`, `status`, `why_missing`.
    facts : pandas.DataFrame or Trial
        The trial, or a table as `Trial.facts` gives it: one row a cutter.
    factors : sequence of str, optional
        Columns or their unambiguous starts; Taylor's law when left out, with practice and work material as groups
        where they vary.
    held_n : float, optional
        Hold the Taylor exponent at this value instead of fitting it.
    distribution : str
        Scatter of ln life: lognormal, weibull or loglogistic.

    Raises
    ------
    Refusal
        No life can be used, a factor never varied, or there are fewer lives than coefficients.
    ArgumentError
        A word names no column, or the lives are at several criteria or on several clocks.

    Examples
    --------
    >>> from wearlab.life.lives import tool_lives
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> trial = read_log(sample_path("nasa_milling"))
    >>> fit = fit_tool_life(tool_lives(trial, "VB=0.3mm", "min"), trial, ["feed_per_rev", "axial_depth"])
    >>> fit.lives, fit.censored, fit.names
    (15, 0, ('ln k', 'ln feed_per_rev_mm', 'ln axial_depth_mm'))
    """
    lives = one_kind(lives if isinstance(lives, pd.DataFrame) else lives.to_frame())
    facts = facts if isinstance(facts, pd.DataFrame) else facts.facts()
    table = lives.merge(facts, on="cutter", how="left", suffixes=("", "_fact"))
    usable = table["status"].isin(["exact", "interval", "left", "right"])
    left_out = tuple((str(r.cutter), str(r.why_missing)) for r in table[~usable].itertuples())
    used = table[usable].reset_index(drop=True)
    if used.empty:
        raise Refusal(
            "no cutter has a life at this criterion",
            where=_where(lives),
            hint="look at the statuses with `wearlab life`",
        )
    columns, added = _columns(used, factors, held_n)
    made = tuple(make_factor(used, column) for column in columns)
    names = ("ln k", *(name for factor in made for name in factor.names))
    X = np.hstack([np.ones((len(used), 1)), *(factor.columns(used[factor.column]) for factor in made)])
    plain = tuple(dict.fromkeys(factor.column for factor in made))
    offset = _offset(used, held_n)
    line, regression, why = _estimate(X, used, names, offset, distribution)
    law = law_for(columns if held_n is None else (SPEED, *columns), SPEED)
    fit = ToolLifeFit(
        law=law,
        method=_method(line, held_n, distribution),
        criterion=str(used["criterion"].iloc[0]),
        clock=str(used["clock"].iloc[0]),
        factors=made,
        lives=len(used),
        censored=int((used["status"] != "exact").sum()),
        held_n=held_n,
        used=used[["cutter", "low", "high", "status", *plain, *_speed_too(used, plain, held_n)]],
        left_out=left_out,
        added=added,
        names=names,
        line=line,
        regression=regression,
        why_no_interval=why,
        tested_range=_tested(used),
        distribution=distribution,
        X=X,
        offset=offset,
    )
    fit.used["fitted"] = np.exp(X @ fit.beta + fit.median_shift + (0.0 if offset is None else offset))
    return fit


def one_kind(lives: pd.DataFrame) -> pd.DataFrame:
    """The lives, when they are at one criterion on one clock: a cutter counts once in a fit.

    Raises
    ------
    ArgumentError
        There are several of either.
    """
    if lives["cutter"].duplicated().any() and {"criterion", "clock"} <= set(lives):
        kinds = lives[["criterion", "clock"]].drop_duplicates()
        raise ArgumentError(
            f"lives at {', '.join(dict.fromkeys(kinds['criterion']))} on {', '.join(dict.fromkeys(kinds['clock']))}",
            where="lives",
            allowed="one criterion on one clock",
            hint="take one with lives.select(criterion, clock)",
        )
    return lives


def _where(lives: pd.DataFrame) -> str:
    return f"criterion {lives['criterion'].iloc[0]}" if len(lives) else "the log"


def _columns(
    used: pd.DataFrame, factors: Sequence[str] | None, held_n: float | None
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    available = [name for name in factor_columns(used) if name not in OF_A_LIFE]
    if factors is not None:
        columns = tuple(dict.fromkeys(resolve(word, available) for word in factors))
        return tuple(column for column in columns if not (held_n is not None and column == SPEED)), ()
    added = tuple(name for name in GROUPS_ADDED if name in available and used[name].nunique() > 1)
    if held_n is not None:
        return added, added
    _refuse_one_speed(used)
    return (SPEED, *added), added


def _refuse_one_speed(used: pd.DataFrame) -> None:
    """A Taylor exponent is how life answers to speed; without different speeds there is none."""
    speeds = np.sort(used[SPEED].dropna().unique())
    if len(speeds) > 1 and speeds[-1] > SAME_SPEED * speeds[0]:
        return
    if len(speeds) > 1:
        found = f"speed varied by less than 1 %: {speeds[0]:g} to {speeds[-1]:g} m/min"
    elif len(speeds) == 1:
        found = f"speed never varied: {speeds[0]:g} m/min in every cutter"
    elif used["spindle_rpm"].nunique() == 1:
        found = f"speed never varied: {used['spindle_rpm'].iloc[0]:g} rev/min in every cutter"
    else:
        found = "no cutting speed is recorded, and without the diameter none follows from rev/min"
    raise Refusal(
        found,
        where="Taylor exponent",
        allowed="lives at two speeds or more",
        hint="fit other factors with --factors, or hold a handbook exponent with --hold n=...",
    )


def _offset(used: pd.DataFrame, held_n: float | None) -> np.ndarray | None:
    if held_n is None:
        return None
    if not 0.02 < held_n < 2.0:
        raise ArgumentError(
            f"n = {held_n:g}", where="--hold", allowed="between 0.02 and 2; textbooks print 0.08 to 0.7"
        )
    if used[SPEED].isna().any():
        raise Refusal("no cutting speed is recorded", where="held Taylor exponent")
    return -np.log(used[SPEED].to_numpy(float)) / held_n


def _estimate(
    X: np.ndarray, used: pd.DataFrame, names: tuple[str, ...], offset: np.ndarray | None, distribution: str
) -> tuple[LinearFit | None, LifeRegression | None, str]:
    _refuse_tangled(X, names)
    complete = bool((used["status"] == "exact").all()) and distribution == "lognormal"
    lives = Lives(used["low"].to_numpy(float), used["high"].to_numpy(float))
    line = None
    if complete:
        response = np.log(used["life"].to_numpy(float))
        line = fit_line(X, response if offset is None else response - offset, names)
        if line.why_missing is not None:
            return line, None, _why_no_interval(line)
    return line, fit_lives(X, lives, distribution, names, offset), ""


def _refuse_tangled(X: np.ndarray, names: tuple[str, ...]) -> None:
    """Settings that moved together have no exponents of their own."""
    hopeless = collinearity(X, names).hopeless if len(X) > X.shape[1] else ()
    if hopeless:
        raise Refusal(
            f"{' and '.join(hopeless)} moved together: their single exponents cannot be told apart",
            where="factors",
            allowed="a variance inflation of up to 10",
            hint="leave one of them out, or vary them apart",
        )


def _why_no_interval(line: LinearFit) -> str:
    if line.df > 0:
        return "every life lies exactly on the equation: no scatter to judge by"
    constants = f"{len(line.beta)} constant{'s' if len(line.beta) > 1 else ''}"
    return f"{line.n} {'life' if line.n == 1 else 'lives'} for {constants}: nothing is left to judge the scatter by"


def _method(line: LinearFit | None, held_n: float | None, distribution: str) -> str:
    how = (
        "least squares of ln T on the settings, t intervals"
        if line is not None
        else f"maximum likelihood of {distribution} lives with censoring, profile-likelihood intervals with the F cut"
    )
    return f"{how}; n held at {held_n:g}, not fitted" if held_n is not None else how


def _speed_too(used: pd.DataFrame, columns: tuple[str, ...], held_n: float | None) -> list[str]:
    return [SPEED] if SPEED in used and SPEED not in columns and used[SPEED].notna().any() else []


def _tested(used: pd.DataFrame) -> dict[str, Any]:
    """Envelope of the cutters used: outside it no number is printed without its brand."""
    envelope: dict[str, Any] = {}
    for column in factor_columns(used):
        if column in OF_A_LIFE:
            continue
        cells = used[column]
        if cells.dtype.kind in "if" and cells.notna().all():
            envelope[column] = [float(cells.min()), float(cells.max())]
    for column in ("work_material", "cutter_material", "strategy", "coating"):
        if column in used and (used[column].astype(object) != "").all():
            envelope[column] = sorted(used[column].unique())
    return envelope

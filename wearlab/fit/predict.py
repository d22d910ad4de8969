"""Life at a setting, with the guard that keeps answers inside what was tested.

Inside the tested range of every factor: a plain answer. Up to 10 % outside: an answer with its brand. Beyond that, or
where the leverage is over 1.5 times the largest of any cutter: refused, unless it is asked for, and then branded. A
bend that the trial could not see makes lives beyond the slowest speed wrong by a third, however many cutters there were
(own simulation).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.interval import Interval, exp_or_inf
from wearlab.core.tables import ShownAsFacts
from wearlab.fit.factors import SPEED, resolve
from wearlab.fit.tool_life import ToolLifeFit
from wearlab.stats.line import fit_line

MARGIN = 0.10
LEVERAGE = 1.5


@dataclass(frozen=True, slots=True)
class LifePrediction(ShownAsFacts):
    """Median life at a setting.

    Attributes
    ----------
    settings : dict
        Every factor's value, those that were not given at their centre.
    life : float
        In the unit of the fit's clock.
    interval : Interval
        Of the median life.
    brand : str
        "inside the tested range", or what lies outside it.
    """

    settings: dict[str, Any]
    life: float
    interval: Interval
    brand: str
    why_missing: str = ""

    @property
    def tested(self) -> bool:
        """Whether the setting lies inside the tested range."""
        return self.brand == "inside the tested range"

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        facts = self.interval.to_dict()
        return {
            "settings": self.settings,
            "life": self.life,
            "low": facts["low"],
            "high": facts["high"],
            "level": facts["level"],
            "unbounded": facts["unbounded"],
            "tested": self.tested,
            "brand": self.brand,
            "why_missing": self.why_missing or None,
        }


def read_setting(fit: ToolLifeFit, text: str) -> dict[str, Any]:
    """Read `cutting_speed=75,feed_per_tooth=0.05`.

    Raises
    ------
    ArgumentError
        A part has no `=`, names no factor, or holds no number where one is needed.
    """
    columns = [factor.column for factor in fit.factors] + ([SPEED] if fit.held_n is not None else [])
    settings: dict[str, Any] = {}
    for part in text.split(","):
        word, equals, value = part.partition("=")
        if not equals:
            raise ArgumentError(f"{part!r}", where="--at", allowed="factor=value, such as cutting_speed=75")
        column = resolve(word, columns)
        numeric = column == SPEED or next(factor for factor in fit.factors if factor.column == column).numeric
        settings[column] = _number(value, column) if numeric else value.strip()
    return settings


def _number(text: str, column: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not value > 0 or math.isinf(value):
        raise ArgumentError(f"{column} {text!r}", where="--at", allowed="a number above 0")
    return value


def predict_life(
    fit: ToolLifeFit, settings: dict[str, Any], level: float = 0.95, beyond: bool = False
) -> LifePrediction:
    """Median life at a setting.

    Parameters
    ----------
    fit : ToolLifeFit
    settings : dict
        Column -> value; what is left out stands at its centre or first group.
    level : float
    beyond : bool
        Answer outside the guard too, with its brand.

    Raises
    ------
    Refusal
        The setting lies beyond the guard and `beyond` is not set.
    ArgumentError
        A setting names no factor.

    Examples
    --------
    >>> from wearlab.fit.tool_life import fit_tool_life
    >>> from wearlab.life.lives import tool_lives
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> trial = read_log(sample_path("nasa_milling"))
    >>> fit = fit_tool_life(tool_lives(trial, "VB=0.3mm", "min"), trial, ["feed_per_rev", "axial_depth"])
    >>> at = predict_life(fit, {"feed_per_rev_mm": 0.5, "axial_depth_mm": 1.5})
    >>> round(at.life, 1), at.brand
    (11.0, 'inside the tested range')
    """
    row = fit.row(settings)
    outside = _outside(fit, settings)
    far = [words for words, gap in outside if gap > MARGIN]
    if _leverage_too_high(fit, row):
        far.append("a combination of settings unlike any that was tested")
    if far and not beyond:
        raise Refusal(
            f"no figure for {far[0]}",
            where="life at a setting",
            hint="test it; or ask for it with --beyond and take it as a guess",
        )
    shift = -math.log(settings.get(SPEED, _speed_centre(fit))) / fit.held_n if fit.held_n is not None else 0.0
    brand = (
        "not tested: " + "; ".join([words for words, _ in outside] or far)
        if outside or far
        else "inside the tested range"
    )
    full = {factor.column: settings.get(factor.column, fit.centre(factor)) for factor in fit.factors} | settings
    log_life = float(row @ fit.beta) + fit.median_shift + shift
    why, limits = fit.why_no_interval, Interval(-math.inf, math.inf, level, "none")
    if not why:
        try:
            inner = fit.median_interval(row, level)
            limits = Interval(inner.low + shift, inner.high + shift, level, inner.method).exp()
        except Refusal as refusal:
            why = refusal.found
    if not why and limits.unbounded == "both":
        why = "not bounded by these lives"
    return LifePrediction(full, exp_or_inf(log_life), limits, brand, why)


def _speed_centre(fit: ToolLifeFit) -> float:
    return float(np.exp(np.log(fit.used[SPEED].astype(float)).mean()))


def _outside(fit: ToolLifeFit, settings: dict[str, Any]) -> list[tuple[str, float]]:
    """Numbers outside the tested range, in words, and by what share."""
    found = []
    for column, value in settings.items():
        cells = fit.used[column]
        if cells.dtype.kind not in "if":
            continue
        low, high = float(cells.min()), float(cells.max())
        gap = max(low / value, value / high) - 1.0
        if gap > 1e-9:
            tested = f"{low:g} to {high:g}" if high > low else f"{low:g} only"
            found.append((f"{column} {value:g} (tested: {tested})", gap))
    return found


def _leverage_too_high(fit: ToolLifeFit, row: np.ndarray) -> bool:
    # Leverage is a matter of the settings alone; any response serves to find it, so censored lives have it too.
    design = fit.line or fit_line(fit.X, np.zeros(len(fit.X)), fit.names)
    return design.leverage_at(row) > LEVERAGE * float(design.leverage.max()) + 1e-12

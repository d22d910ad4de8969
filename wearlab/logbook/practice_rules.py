"""Conditions against the practice and the feature: depth and width exchanged, a width beyond the cutter."""

from __future__ import annotations

from collections import defaultdict

import numpy as np
import pandas as pd

from wearlab.logbook.draft import Draft
from wearlab.logbook.findings import listed

_JUDGED = (
    "strategy",
    "axial_depth_mm",
    "radial_width_mm",
    "diameter_mm",
    "flute_length_mm",
    "passes",
    "feature_width_mm",
    "feature_depth_mm",
)
WIDER = 1.02
"""A radial width may be this many times the diameter: diameters are nominal."""

_SHALLOW, _DEEP = ("layered", "ramp", "helical"), ("side", "trochoidal", "finish")


def check_practices(draft: Draft, facts: pd.DataFrame) -> None:
    """Apply every rule that compares engagement, practice, feature and cutter."""
    names = [name for name in _JUDGED if name in facts]
    if names:
        for _, same in facts.groupby(names, dropna=False, sort=False):
            row = {str(name): value for name, value in same.iloc[0].items()}
            cutters = same["cutter"].tolist()
            if not _swapped(draft, row, cutters):
                _impossible(draft, row, cutters)
    _two_engagements(draft, facts)


def _number(row: dict[str, object], name: str) -> float:
    value = row.get(name, np.nan)
    return float(value) if isinstance(value, (int, float)) else np.nan


def _swapped(draft: Draft, row: dict[str, object], cutters: list[str]) -> bool:
    """Whether depth and width would fit the practice and the feature if they were exchanged, and do not as they are."""
    depth, width = _number(row, "axial_depth_mm"), _number(row, "radial_width_mm")
    if not depth > 0 or not width > 0 or depth == width:
        return False
    evidence = _evidence(row, depth, width)
    if not evidence or _evidence(row, width, depth):
        return False
    found = f"axial depth {depth:g} mm and radial width {width:g} mm: {listed(evidence)}"
    _say(
        draft,
        cutters,
        "depth_and_width_swapped",
        found,
        "axial_depth_mm",
        "Were depth and width exchanged? Then it would fit",
    )
    return True


def _evidence(row: dict[str, object], depth: float, width: float) -> list[str]:
    """What speaks against an engagement."""
    diameter, flute = _number(row, "diameter_mm"), _number(row, "flute_length_mm")
    strategy, passes = str(row.get("strategy", "")), _number(row, "passes")
    against = []
    if strategy in _SHALLOW and depth > width and (np.isnan(diameter) or width < 0.5 * diameter):
        against.append(f"a {strategy} cut is wide and shallow")
    if strategy in _DEEP and width > depth and (np.isnan(diameter) or width >= 0.5 * diameter):
        against.append(f"a {strategy} cut is narrow and deep")
    if width > WIDER * diameter:
        against.append(f"the width is beyond the diameter of {diameter:g} mm")
    if depth > WIDER * flute:
        against.append(f"the depth is beyond the flutes of {flute:g} mm")
    step, whole, name = (
        (depth, _number(row, "feature_depth_mm"), "depth")
        if strategy in _SHALLOW
        else (width, _number(row, "feature_width_mm"), "width")
    )
    other_step, other_whole = (
        (width, _number(row, "feature_width_mm")) if strategy in _SHALLOW else (depth, _number(row, "feature_depth_mm"))
    )
    known = strategy in (*_SHALLOW, *_DEEP) and passes > 0 and whole > 0
    if known and not _near(passes * step, whole) and not _near(other_step, other_whole):
        against.append(f"{passes:g} passes of {step:g} mm do not make the feature's {name} of {whole:g} mm")
    return against


def _near(a: float, b: float) -> bool:
    return bool(abs(a - b) <= 0.05 * b)


def _impossible(draft: Draft, row: dict[str, object], cutters: list[str]) -> None:
    depth, width = _number(row, "axial_depth_mm"), _number(row, "radial_width_mm")
    diameter, flute = _number(row, "diameter_mm"), _number(row, "flute_length_mm")
    if width > WIDER * diameter:
        hint = "In inches, or the width of the whole slot?" if width < 26 * diameter else "Is one of them in inches?"
        _say(
            draft,
            cutters,
            "wider_than_the_cutter",
            f"radial width {width:g} mm with a cutter of {diameter:g} mm",
            "radial_width_mm",
            hint,
            f"up to the diameter of {diameter:g} mm",
        )
    if depth > WIDER * flute:
        _say(
            draft,
            cutters,
            "deeper_than_the_flutes",
            f"axial depth {depth:g} mm with flutes of {flute:g} mm",
            "axial_depth_mm",
            "The whole depth of the feature, or inches?",
            f"up to the flute length of {flute:g} mm",
        )


def _say(draft: Draft, cutters: list[str], code: str, found: str, column: str, hint: str, allowed: str = "") -> None:
    """One finding for all cutters on the same condition."""
    rows = draft.word("cutter").equal(*cutters) & draft.good()
    who = f" (cutters {listed(cutters)})" if len(cutters) > 1 else ""
    draft.warn(code, found + who, rows, cutter=cutters[0], column=column, hint=hint, allowed=allowed)


def _two_engagements(draft: Draft, facts: pd.DataFrame) -> None:
    """One word for two ways of cutting is worth knowing before they are compared under it."""
    names = ("axial_depth_mm", "radial_width_mm")
    if "strategy" not in facts or not set(names) <= set(facts.columns):
        return
    ways: dict[str, set[tuple[float, float]]] = defaultdict(set)
    for strategy, depth, width in facts[["strategy", *names]].itertuples(index=False, name=None):
        if strategy and depth == depth and width == width:
            ways[str(strategy)].add((float(depth), float(width)))
    for strategy, pairs in ways.items():
        if len(pairs) > 1:
            words = listed([f"{depth:g} deep and {width:g} wide" for depth, width in sorted(pairs)], most=4)
            rows = draft.word("strategy").equal(strategy) & draft.good()
            draft.note(
                "two_engagements", f"{strategy} stands for {len(pairs)} engagements: {words}", rows, column="strategy"
            )

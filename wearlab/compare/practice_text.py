"""Practices written on one line, such as `layered:layers=3` or `deep=layered:layers=1,feed_per_tooth_mm=0.02`."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any

from wearlab.compare.exposures import AnyPractice
from wearlab.compare.practice_of import PlainCut
from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.tables import nearest
from wearlab.milling.cut import Cut
from wearlab.milling.kinematics import spindle_rpm
from wearlab.milling.matching import RULES, match_settings
from wearlab.milling.practices import PRACTICES, Cutter, Feature, Practice, Settings

CUT = "cut"
"""The word for one cut at constant depth and width, with no feature around it."""
CUT_KEYS = {"axial_depth_mm": "float", "radial_width_mm": "float"}
SPEED = "cutting_speed_m_min"
SHARED = ("feature", "cutter", "settings")
FORM = "[NAME=]PRACTICE[:key=value,...], such as layered:layers=3 or plunge:pitch_mm=2"
_YES, _NO = ("yes", "true", "1"), ("no", "false", "0")


def practices_of_texts(
    texts: Sequence[str], cutter: Cutter, settings: Settings, feature: Feature | None = None
) -> dict[str, AnyPractice]:
    """Read several practices.

    Parameters
    ----------
    texts : sequence of str
        Each `[NAME=]PRACTICE[:key=value,...]`. Keys are the parameters of that practice and those of `Settings`, or
        `cutting_speed_m_min`; a start of a key that fits one alone is enough. The practice `cut` takes
        `axial_depth_mm` and `radial_width_mm` and needs no feature.
    cutter, settings : Cutter, Settings
        Of all of them, unless a text says otherwise.
    feature : Feature, optional

    Returns
    -------
    dict of str to Practice or PlainCut
        By name; a practice without one is called by its word, or by its whole text where that word is taken.

    Raises
    ------
    ArgumentError
        A text has another form, or names what does not exist.

    Examples
    --------
    >>> step, tool, run = Feature(12, 9, 100, sides="one"), Cutter(12, 4), Settings(1857, 0.05)
    >>> made = practices_of_texts(["layered:layers=3", "side:steps=3"], tool, run, step)
    >>> [round(one.removal_rate_cm3_min, 2) for one in made.values()]
    [13.37, 13.37]
    """
    if not texts:
        raise ArgumentError("no practice", where="--practice", allowed=FORM)
    made: dict[str, AnyPractice] = {}
    for text in texts:
        name, kind, options = _split(text)
        if name in made:
            name = text.strip()
        if name in made:
            raise ArgumentError(f"{text!r} twice", where="--practice", hint="name them, such as a=layered:layers=3")
        made[name] = _make(text, kind, options, cutter, settings, feature)
    return made


def matched_practice(reference: AnyPractice, practice: AnyPractice, rule: str) -> AnyPractice:
    """The same practice with the feed per tooth that shares one more quantity with the reference.

    Parameters
    ----------
    rule : str
        As `milling.matching.match_settings`.

    Raises
    ------
    Refusal
        One of the two has no constant depth and width.

    Examples
    --------
    >>> step, tool, run = Feature(10, 8, 120, sides="one"), Cutter(10, 4), Settings(1910, 0.05)
    >>> made = practices_of_texts(["layered:layers=4", "side:steps=4"], tool, run, step)
    >>> side = matched_practice(made["layered"], made["side"], "mean_chip")
    >>> round(side.settings.feed_per_tooth_mm, 4)
    0.0667
    """
    if rule not in RULES:
        raise ArgumentError(f"rule {rule!r}", where="--match", allowed=", ".join(RULES), hint=nearest(rule, RULES))
    base, cut = reference.main_cut(), practice.main_cut()
    if base is None or cut is None:
        which = reference if base is None else practice
        raise Refusal(
            f"{which.name} has no one depth and width of cut, so no feed can be matched",
            where="--match",
            hint="state its feed with the practice: feed_per_tooth_mm=...",
        )
    found = match_settings(
        base, cut.axial_depth_mm, cut.radial_width_mm, rule, diameter_mm=cut.diameter_mm, teeth=cut.teeth
    )
    if isinstance(practice, PlainCut):
        return replace(practice, cut=replace(found, helix_deg=cut.helix_deg, overhang_mm=cut.overhang_mm))
    settings = replace(practice.settings, feed_per_tooth_mm=found.feed_per_tooth_mm, spindle_rpm=found.spindle_rpm)
    return replace(practice, settings=settings)


def _split(text: str) -> tuple[str, str, dict[str, str]]:
    head, _, tail = text.strip().partition(":")
    name, equals, word = head.partition("=")
    kind = (word if equals else name).strip()
    if kind not in (*PRACTICES, CUT) or not name.strip():
        words = [*PRACTICES, CUT]
        raise ArgumentError(f"{text!r}", where="--practice", allowed=f"{FORM}; practices: {', '.join(words)}",
                            hint=nearest(kind, words))  # fmt: skip
    options: dict[str, str] = {}
    for part in filter(None, (part.strip() for part in tail.split(","))):
        key, equals, cell = part.partition("=")
        if not equals or not cell.strip():
            raise ArgumentError(f"{part!r} in {text!r}", where="--practice", allowed="key=value")
        options[key.strip()] = cell.strip()
    return name.strip(), kind, options


def _make(
    text: str, kind: str, options: dict[str, str], cutter: Cutter, settings: Settings, feature: Feature | None
) -> AnyPractice:
    own = CUT_KEYS if kind == CUT else {f.name: str(f.type) for f in fields(PRACTICES[kind]) if f.name not in SHARED}
    of_settings = {f.name: str(f.type) for f in fields(Settings)}
    types = own | of_settings | {SPEED: "float"}
    found = {}
    for word, cell in options.items():
        key = _resolved(word, list(own), [*of_settings, SPEED], text)
        found[key] = _value(cell, types[key], key, text)
    if SPEED in found:
        found["spindle_rpm"] = float(spindle_rpm(cutter.diameter_mm, found.pop(SPEED)))
    settings = replace(settings, **{key: found.pop(key) for key in list(found) if key in of_settings})
    if kind == CUT:
        return _plain_cut(text, found, cutter, settings)
    if feature is None:
        raise ArgumentError(
            f"{text!r} without a feature",
            where="--practice",
            allowed="--width-mm, --depth-mm and --length-mm beside it",
            hint="or describe one cut: cut:axial_depth_mm=3,radial_width_mm=12",
        )
    made: Practice = PRACTICES[kind](feature=feature, cutter=cutter, settings=settings, **found)
    return made


def _plain_cut(text: str, found: dict[str, Any], cutter: Cutter, settings: Settings) -> PlainCut:
    lacking = [key for key in CUT_KEYS if key not in found]
    if lacking:
        left = " and ".join(lacking)
        raise ArgumentError(f"{text!r} without {left}", where="--practice", allowed=", ".join(CUT_KEYS))
    cut = Cut(
        cutter.diameter_mm,
        cutter.teeth,
        settings.spindle_rpm,
        settings.feed_per_tooth_mm,
        **found,
        helix_deg=cutter.helix_deg,
        overhang_mm=cutter.overhang_mm,
    )
    return PlainCut(cut)


def _resolved(word: str, own: list[str], shared: list[str], text: str) -> str:
    """A key, or the one that begins like the word; the practice's own come before those of the settings."""
    keys = [*own, *shared]
    if word in keys:
        return word
    starts = [key for key in own if key.startswith(word)] or [key for key in shared if key.startswith(word)]
    if len(starts) != 1:
        raise ArgumentError(f"key {word!r} in {text!r}", where="--practice", allowed=", ".join(starts or keys),
                            hint=nearest(word, keys))  # fmt: skip
    return starts[0]


def _value(cell: str, kind: str, key: str, text: str) -> Any:
    where = f"{key} in {text!r}"
    if "bool" in kind:
        if cell.lower() not in (*_YES, *_NO):
            raise ArgumentError(f"{cell!r}", where=where, allowed="yes, no")
        return cell.lower() in _YES
    if "str" in kind:
        return cell
    try:
        number = float(cell)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise ArgumentError(f"{cell!r}", where=where, allowed="a number")
    if kind == "int" and number != int(number):
        raise ArgumentError(f"{cell!r}", where=where, allowed="a whole number")
    return int(number) if kind == "int" else number

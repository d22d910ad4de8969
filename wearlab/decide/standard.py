"""The content of the one-page standard: what to run, when to change, what to check, and what it rests on.

No number outside what was tested goes in without its brand; one that is asked for without the brand is refused.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.tables import ShownAsTable, natural_sorted, nearest, plain
from wearlab.decide.change_interval import ChangeInterval
from wearlab.decide.condition_rule import ConditionRule, looked_at
from wearlab.decide.decision import Decision, PracticeDecision
from wearlab.decide.practices import criterion_for, typical
from wearlab.life.lives import trial_criteria
from wearlab.logbook.columns import COLUMNS
from wearlab.logbook.criterion import Criterion
from wearlab.logbook.trial import Trial
from wearlab.milling.kinematics import cutting_speed_m_min, feed_rate_mm_min, spindle_rpm

SETTINGS = (
    "cutting_speed_m_min", "spindle_rpm", "feed_per_tooth_mm", "feed_rate_mm_min", "axial_depth_mm", "radial_width_mm",
    "passes", "allowance_wall_mm", "allowance_floor_mm", "wall_clearance_mm", "plunge_pitch_mm",
    "plunge_feed_per_tooth_mm", "drill_diameter_mm", "drill_pitch_mm", "ramp_angle_deg", "overhang_mm", "runout_um",
)  # fmt: skip
"""Numbers of a practice that the standard states, in its order."""
WORDS = ("strategy_note", "direction", "coolant", "holder", "machine")
"""Words of a practice that the standard states."""
CUTTER = (
    "cutter_material", "coating", "diameter_mm", "teeth", "helix_deg", "relief_deg", "rake_deg", "corner_radius_mm",
    "corner_chamfer_mm", "flute_length_mm", "centre_cutting", "cutter_batch",
)  # fmt: skip
MATERIAL = ("work_material", "work_group", "hardness", "hardness_scale")
FEATURE = ("feature_width_mm", "feature_depth_mm", "feature_length_mm", "feature_sides")
NOT_TESTED = "not tested"
REACTIONS = ("pin_first", "change_and_hold", "check_back", "log_it", "twice_stop")
"""What to do when a check fails, in this order."""


@dataclass(frozen=True, slots=True)
class Setting:
    """One number of the standard with the range that was tested.

    Attributes
    ----------
    column : str
        Column of the log.
    value, low, high : float
        What to run, and the least and greatest that the trial's cutters of this practice ran.
    brand : str
        Empty, or "not tested".
    """

    column: str
    value: float
    low: float
    high: float
    brand: str = ""

    @property
    def unit(self) -> str:
        """Unit of the column."""
        return COLUMNS[self.column].unit


@dataclass(frozen=True, slots=True)
class PinSeen:
    """What the trial saw of one pin.

    Attributes
    ----------
    pin_mm : float
    readings : int
        Made up to the change interval.
    highest_mm : float
        Greatest height above the floor at which it stopped among them.
    """

    pin_mm: float
    readings: int
    highest_mm: float


@dataclass(frozen=True, slots=True)
class PinCheck:
    """The check on the first and on the last part of a cutter.

    Attributes
    ----------
    pin_mm, permitted_mm : float
        Pin, and the height above the floor at which it may still stop; NaN where it was not stated.
    seen : tuple of PinSeen
    brand : str
        "not tested" where the trial did not use this pin.
    why_missing : str
    """

    pin_mm: float
    permitted_mm: float
    seen: tuple[PinSeen, ...]
    brand: str = ""
    why_missing: str = ""

    @property
    def exceeded(self) -> bool:
        """Whether this pin stopped higher in the trial, before the change was due, than it may."""
        return any(abs(one.pin_mm - self.pin_mm) < 1e-6 and one.highest_mm > self.permitted_mm for one in self.seen)


@dataclass(frozen=True, slots=True)
class MemberStandard:
    """One cutter of the practice.

    Attributes
    ----------
    role : str
        Empty for a cutter alone.
    cutter, words : dict of str to str or float
        What it is, and the words of its conditions; what varied is listed.
    settings : tuple of Setting
    criterion : Criterion
        What ends its life.
    interval_parts : int or None
        Parts between changes.
    interval_brand : str
        Empty, "not tested", or why it is longer than the evidence supports.
    change : ChangeInterval
    condition : ConditionRule or None
    why_no_condition : str
    """

    role: str
    strategy: str
    cutter: dict[str, Any]
    words: dict[str, Any]
    settings: tuple[Setting, ...]
    criterion: Criterion
    interval_parts: int | None
    interval_brand: str
    change: ChangeInterval
    condition: ConditionRule | None
    why_no_condition: str = ""


@dataclass(frozen=True, repr=False)
class Standard(ShownAsTable):
    """The one-page standard.

    Attributes
    ----------
    practice : str
    feature, material : dict
    members : tuple of MemberStandard
    pin : PinCheck
    may_exceed : str
        Who may run a cutter beyond its interval; empty where it was not stated.
    evidence : dict
        Trial, file, its SHA-256, days, cutters, chance of being the cheapest, cost.
    review : tuple of str
        What opens the standard again: keys.
    reactions : tuple of str
        What to do when a check fails: keys.
    cautions : tuple of str
        Keys of cautions.
    not_tested : tuple of str
        Everything on it that carries the brand.
    date : str
        Day of issue, as given.
    """

    practice: str
    by: str
    feature: dict[str, Any]
    material: dict[str, Any]
    members: tuple[MemberStandard, ...]
    pin: PinCheck
    may_exceed: str
    evidence: dict[str, Any]
    review: tuple[str, ...]
    reactions: tuple[str, ...]
    cautions: tuple[str, ...]
    not_tested: tuple[str, ...]
    date: str

    def to_frame(self) -> pd.DataFrame:
        """One row a setting."""
        return pd.DataFrame(
            [
                {
                    "role": member.role,
                    "setting": one.column,
                    "value": one.value,
                    "tested_low": one.low,
                    "tested_high": one.high,
                    "unit": one.unit,
                    "brand": one.brand,
                }
                for member in self.members
                for one in member.settings
            ]
        )

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        members = [
            {
                "role": one.role,
                "strategy": one.strategy,
                "cutter": one.cutter,
                "words": one.words,
                "settings": self.to_frame().query("role == @one.role").to_dict("records"),
                "criterion": one.criterion.text,
                "interval_parts": one.interval_parts,
                "interval_brand": one.interval_brand or None,
                "change_interval": one.change.to_dict(),
                "condition": None if one.condition is None else one.condition.to_dict(),
                "why_no_condition": one.why_no_condition or None,
            }
            for one in self.members
        ]
        pin = self.pin
        seen = [{"pin_mm": one.pin_mm, "readings": one.readings, "highest_mm": one.highest_mm} for one in pin.seen]
        return plain(
            {
                "practice": self.practice,
                "by": self.by,
                "feature": self.feature,
                "material": self.material,
                "members": members,
                "pin": {
                    "pin_mm": pin.pin_mm,
                    "permitted_mm": pin.permitted_mm,
                    "exceeded": pin.exceeded,
                    "seen": seen,
                    "brand": pin.brand or None,
                    "why_missing": pin.why_missing or None,
                },
                "may_exceed": self.may_exceed or None,
                "evidence": self.evidence,
                "review": list(self.review),
                "reactions": list(self.reactions),
                "cautions": list(self.cautions),
                "not_tested": list(self.not_tested),
                "date": self.date,
            }
        )

    def __repr__(self) -> str:
        brand = f", not tested: {', '.join(self.not_tested)}" if self.not_tested else ""
        return f"<Standard {self.practice}, {len(self.members)} cutter(s){brand}>"


def standard_of(
    trial: Trial,
    decision: Decision,
    practice: str = "",
    *,
    settings: Mapping[str, float] | None = None,
    interval_parts: int | None = None,
    pin_mm: float | None = None,
    permitted_mm: float | None = None,
    look_every: int | None = None,
    may_exceed: str = "",
    branded: bool = False,
    date: str = "",
) -> Standard:
    """The standard for one practice of a decision.

    Parameters
    ----------
    trial : Trial
    decision : Decision
        Made from it.
    practice : str
        The decision's choice when left out.
    settings : mapping of str to float, optional
        Numbers to put in place of the trial's, by column; of a set they go to every member that has the column.
    interval_parts : int, optional
        Parts between changes, in place of the recommended ones.
    pin_mm, permitted_mm : float, optional
        Pin for the first and the last part, and the height above the floor at which it may still stop.
    look_every : int, optional
        Parts between two looks at the edge; gives the land at which to change.
    may_exceed : str
        Who may run a cutter beyond its interval.
    branded : bool
        Print numbers outside the tested range with the brand "not tested" instead of refusing them.
    date : str
        Day of issue.

    Raises
    ------
    Refusal
        There is no choice to write down, or a number lies outside what was tested and `branded` is not set.
    ArgumentError
        A setting is no number of the standard, or the practice is not in the decision.

    Examples
    --------
    >>> from wearlab.decide.decide import decide
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> trial = read_log(sample_path("shoulder_demo"))
    >>> standard = standard_of(trial, decide(trial, draws=2000, sensitivity=False))
    >>> standard.practice
    'side'
    """
    name = practice or decision.choice
    if not name:
        raise Refusal(
            f"no practice was chosen: {decision.why_no_choice}", where="standard",
            hint="name the practice that the shop settled on",
        )  # fmt: skip
    made = decision.practice(name)
    if made.cost is None:
        raise Refusal(f"{name}: {made.why_missing}", where="standard")
    asked = _check_settings(settings or {})
    facts = _facts(trial, decision, made)
    members = tuple(
        _member(trial, decision, role, change, facts, asked, interval_parts, look_every, len(made.changes) > 1)
        for role, change in made.changes
    )
    pin = _pin(trial, facts, members, pin_mm, permitted_mm)
    brands = _brands(members, pin)
    if brands and not branded:
        raise Refusal(
            f"outside what was tested: {'; '.join(brands)}", where="standard",
            hint="test it, or have it printed with the brand: not tested (--not-tested)",
        )  # fmt: skip
    return Standard(
        name, decision.by, _levels(facts, FEATURE), _levels(facts, MATERIAL), members, pin, may_exceed,
        _evidence(trial, decision, made), _review(decision), REACTIONS, _cautions(facts),
        tuple(brands), date,
    )  # fmt: skip


def _check_settings(settings: Mapping[str, float]) -> dict[str, float]:
    for column, value in settings.items():
        if column not in SETTINGS:
            raise ArgumentError(
                f"{column!r}", where="setting of the standard", allowed=", ".join(SETTINGS),
                hint=nearest(column, list(SETTINGS)),
            )  # fmt: skip
        if not (math.isfinite(value) and value >= 0):
            raise ArgumentError(f"{column} {value:g}", where="setting of the standard", allowed="from 0")
    return dict(settings)


def _facts(trial: Trial, decision: Decision, made: PracticeDecision) -> pd.DataFrame:
    """Facts of the practice's own cutters."""
    from wearlab.decide.practices import practices_of

    found = practices_of(
        trial, trial_criteria(trial, decision.criteria)[0], decision.clock, decision.shop, by=decision.by,
        choose=decision.chosen,
    )  # fmt: skip
    return next(one.facts for one in found.practices if one.group == made.group).reset_index(drop=True)


def _member(
    trial: Trial, decision: Decision, role: str, change: ChangeInterval, facts: pd.DataFrame, asked: dict[str, float],
    interval: int | None, look_every: int | None, in_set: bool,
) -> MemberStandard:  # fmt: skip
    own = facts[facts["member"] == role] if in_set else facts
    wanted = _consistent(asked, own)
    settings = tuple(one for column in SETTINGS if (one := _setting(own, column, wanted)) is not None)
    parts, brand = _interval(change, interval)
    if any(one.brand for one in settings) and parts is not None:
        # Lives at other settings are not known, so neither is how long a cutter may run.
        brand = NOT_TESTED
    criterion = criterion_for(role, trial_criteria(trial, decision.criteria)[0])
    condition, why = None, "no distance between looks was stated"
    if look_every:
        condition, why = looked_at(trial, criterion, change.clock, look_every * change.per_part, own["cutter"].tolist())
    strategy = ", ".join(natural_sorted(own["strategy"].unique())) if "strategy" in own else ""
    return MemberStandard(
        role, strategy, _levels(own, CUTTER), _levels(own, WORDS), settings, criterion, parts, brand, change,
        condition, why,
    )  # fmt: skip


def _consistent(asked: dict[str, float], own: pd.DataFrame) -> dict[str, float]:
    """Asked numbers with those that follow from them: speed, revolutions and feed speed belong together."""
    diameter, teeth = typical(own, "diameter_mm"), typical(own, "teeth")
    made = dict(asked)
    if "cutting_speed_m_min" in made and diameter > 0:
        made.setdefault("spindle_rpm", float(spindle_rpm(diameter, made["cutting_speed_m_min"])))
    elif "spindle_rpm" in made and diameter > 0:
        made["cutting_speed_m_min"] = float(cutting_speed_m_min(diameter, made["spindle_rpm"]))
    changed = {"spindle_rpm", "feed_per_tooth_mm"} & set(made)
    feed = made.get("feed_per_tooth_mm", typical(own, "feed_per_tooth_mm"))
    rpm = made.get("spindle_rpm", typical(own, "spindle_rpm"))
    if changed and all(value > 0 for value in (feed, teeth, rpm)):
        made.setdefault("feed_rate_mm_min", float(feed_rate_mm_min(feed, teeth, rpm)))
    return made


def _setting(own: pd.DataFrame, column: str, asked: dict[str, float]) -> Setting | None:
    known = column in own and own[column].notna().any()
    if not known and column not in asked:
        return None
    if not known:
        return Setting(column, asked[column], math.nan, math.nan, NOT_TESTED)
    low, high = float(own[column].min()), float(own[column].max())
    value = asked.get(column, typical(own, column))
    inside = low * (1 - 1e-9) <= value <= high * (1 + 1e-9)
    return Setting(column, value, low, high, "" if inside else NOT_TESTED)


def _interval(change: ChangeInterval, asked: int | None) -> tuple[int | None, str]:
    """Parts between changes, and the brand that they need."""
    if asked is None:
        return change.parts, "" if change.tested or change.parts is None else NOT_TESTED
    if asked < 1:
        raise ArgumentError(f"{asked} parts", where="change interval", allowed="1 or more")
    longest = change.longest_run / change.per_part if change.per_part > 0 else math.nan
    if not asked <= longest:
        return asked, NOT_TESTED
    if change.parts is not None and asked > change.parts:
        return asked, f"longer than the {change.parts} parts that the trial supports"
    return asked, ""


def _pin(
    trial: Trial, facts: pd.DataFrame, members: tuple[MemberStandard, ...], pin: float | None, permitted: float | None
) -> PinCheck:
    seen = _pins_seen(trial, facts, members)
    if pin is None or permitted is None:
        why = "pin and permitted height follow from the drawing and were not stated"
        given = math.nan if pin is None else pin
        return PinCheck(given, math.nan if permitted is None else permitted, seen, "", why)
    if not (pin > 0 and permitted >= 0):
        raise ArgumentError(f"pin {pin:g} mm, height {permitted:g} mm", where="pin", allowed="above 0, from 0")
    used = any(abs(one.pin_mm - pin) < 1e-6 for one in seen)
    return PinCheck(pin, permitted, seen, "" if used else NOT_TESTED)


def _pins_seen(trial: Trial, facts: pd.DataFrame, members: tuple[MemberStandard, ...]) -> tuple[PinSeen, ...]:
    """Hang-up heights of every pin up to the change of the cutter that makes the wall."""
    walls = trial.walls
    rows = walls[(walls["measure"] == "hang_up") & walls["cutter"].isin(facts["cutter"]) & walls["value_mm"].notna()]
    last = members[-1]
    if rows.empty:
        return ()
    if last.interval_parts is not None and "parts" in rows and rows["parts"].notna().all():
        rows = rows[rows["parts"] <= last.interval_parts]
    return tuple(
        PinSeen(float(pin), int((rows["pin_mm"] == pin).sum()), float(rows["value_mm"][rows["pin_mm"] == pin].max()))
        for pin in sorted(rows["pin_mm"].dropna().unique())
    )


def _brands(members: tuple[MemberStandard, ...], pin: PinCheck) -> list[str]:
    found = []
    for member in members:
        of = f" of {member.role}" if member.role else ""
        for one in member.settings:
            if one.brand:
                tested = "never recorded" if math.isnan(one.low) else f"tested {one.low:g} to {one.high:g}"
                found.append(f"{one.column} {one.value:g}{of} ({tested})")
        if member.interval_brand:
            found.append(f"change interval of {member.interval_parts} parts{of} ({member.interval_brand})")
    if pin.brand:
        pins = ", ".join(f"{one.pin_mm:g}" for one in pin.seen) or "none"
        found.append(f"pin {pin.pin_mm:g} mm (pins tried: {pins})")
    return found


def _levels(facts: pd.DataFrame, columns: Sequence[str]) -> dict[str, Any]:
    """What was recorded of these columns: the one value, or all of them in order."""
    found: dict[str, Any] = {}
    for column in columns:
        if column not in facts:
            continue
        cells = [cell for cell in facts[column].unique() if cell == cell and cell not in ("", None)]
        if cells:
            found[column] = cells[0] if len(cells) == 1 else natural_sorted(cells)
    return found


def _evidence(trial: Trial, decision: Decision, made: PracticeDecision) -> dict[str, Any]:
    days = pd.concat([table["date"] for table in (trial.wear, trial.walls) if "date" in table]).dropna().astype(str)
    days = days[days != ""]
    source = trial.sources[0]
    return {
        "trial": trial.name,
        "file": source.name,
        "sha256": source.sha256,
        "first_day": days.min() if len(days) else None,
        "last_day": days.max() if len(days) else None,
        "cutters": made.cutters,
        "all_cutters": sum(one.cutters for one in decision.practices),
        "others": [one.group for one in decision.practices if one.group != made.group],
        "chance_best": made.chance_best,
        "verdict": decision.verdict or None,
        "why_no_chance": made.why_no_chance or None,
        "cost_per_part": made.cost.per_part if made.cost is not None else None,
        "low": made.interval.low,
        "high": made.interval.high,
        "level": made.interval.level,
        "currency": decision.shop.currency,
        "parts_known": made.parts_known,
        "fractures": made.fractures,
        "cutters_run": made.ran,
        "seed": decision.seed,
    }


def _review(decision: Decision) -> tuple[str, ...]:
    keys = ["new_bar", "new_cutter", "new_setup", "alarm", "ten_cutters"]
    return tuple(keys) if decision.verdict == "settled" else (*keys, "trial_unsettled")


def _cautions(facts: pd.DataFrame) -> tuple[str, ...]:
    keys = ["range", "authority", "limits", "fragments", "handling", "mist"]
    text = " ".join(str(word).lower() for word in facts.get("work_material", pd.Series(dtype=str)).unique())
    if "titan" in text or "magnes" in text:
        keys.append("fire")
    return (*keys, "people")

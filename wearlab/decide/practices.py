"""From a log to what the money needs: practices, their cutters, and what one part takes of each.

A set of cutters that made the same parts together (rougher and finisher, drill and mill) is one practice with several
members; a cutter alone is a practice with one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from wearlab.compare.groups import common_ground, only
from wearlab.core.errors import Refusal
from wearlab.core.tables import natural_sorted
from wearlab.decide.cost import edge_cost
from wearlab.decide.shop import ShopCosts
from wearlab.fit.factors import factor_columns, resolve
from wearlab.life.lives import EVENTS, tool_lives
from wearlab.logbook.criterion import Criterion
from wearlab.logbook.trial import Trial
from wearlab.milling.kinematics import approach_mm

ROLE_ORDER = ("drill", "rough", "both", "", "finish")
"""Order of the members of a set."""
APPROACHED = ("layered", "side", "full_slot", "finish")
"""Practices whose passes start beside the part, so that each has an approach."""


@dataclass(frozen=True)
class Member:
    """One cutter's place in a practice.

    Attributes
    ----------
    role : str
        Of the set; empty for a cutter alone.
    criterion : str
    clock_per_part : float
        Clock that one part takes of this cutter (of one cm3, where parts are not known).
    cutting_min, other_min : float
        Minutes a part in the metal, and of approach.
    price, edge_cost : float
        Money for a new cutter, and for one edge of it with regrinds and salvage.
    lives : pandas.DataFrame
        One row a cutter with a life: `cutter`, `low`, `high`, `status`.
    fractures : int
        Cutters that chipped or broke.
    exposure, longest : float
        Clock that all its cutters ran together, and the one that ran longest.
    """

    role: str
    criterion: str
    clock_per_part: float
    cutting_min: float
    other_min: float
    price: float
    edge_cost: float
    lives: pd.DataFrame
    fractures: int
    exposure: float
    longest: float

    @property
    def failures(self) -> int:
        """Cutters whose life ended by the criterion."""
        return int((self.lives["status"] != "right").sum())


@dataclass(frozen=True)
class Practice:
    """One practice as the log shows it.

    Attributes
    ----------
    group : str
        Its name; a set's is made of its members' (layered + finish).
    members : tuple of Member
    facts : pandas.DataFrame
        Of its cutters.
    volume_cm3 : float
        Of one part; 1 where parts are not known.
    parts_known : bool
    drilled : bool
        Predrilled, and the drill is no member.
    notes : tuple of str
    """

    group: str
    members: tuple[Member, ...]
    facts: pd.DataFrame
    volume_cm3: float
    parts_known: bool
    drilled: bool
    notes: tuple[str, ...]

    @property
    def cutters(self) -> int:
        """Cutters with a life, over all members."""
        return sum(len(member.lives) for member in self.members)

    @property
    def fewest(self) -> int:
        """Cutters with a life of the member that has the fewest."""
        return min(len(member.lives) for member in self.members)


@dataclass(frozen=True)
class Practices:
    """All practices of a log, with what was left out, and the lives of all cutters by the text of the criterion."""

    by: str
    clock: str
    criteria: tuple[str, ...]
    practices: tuple[Practice, ...]
    left_out: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]
    lives: dict[str, pd.DataFrame] = field(default_factory=dict, repr=False, compare=False)


def practices_of(
    trial: Trial,
    criteria: Sequence[Criterion],
    clock: str,
    shop: ShopCosts,
    *,
    by: str = "strategy",
    choose: Sequence[str] = (),
) -> Practices:
    """Gather every practice of a log.

    Parameters
    ----------
    trial : Trial
    criteria : sequence of Criterion
        The first counts for every cutter, but one whose name is a role (finish, rough) counts for cutters of that
        role.
    clock : str
        Clock of the lives.
    shop : ShopCosts
    by : str
        Column that makes the practices.
    choose : sequence of str
        `column=value` texts that cutters must meet.

    Raises
    ------
    Refusal
        No cutter has a life; a price, a speed or a size that the money needs is not known, and is named.
    """
    facts = only(trial.facts(), choose)
    column = _column(facts, by)
    labelled = _label_sets(facts, column)
    blank = labelled["group"] == ""
    left = [(str(cutter), f"no {column}") for cutter in labelled["cutter"][blank]]
    labelled = labelled[~blank].reset_index(drop=True)
    if labelled.empty:
        raise Refusal(f"no cutter has a {column}", where="practices")
    names = natural_sorted(labelled["group"].unique())
    notes: list[str] = []
    if (labelled["member"] == "").all() and len(names) > 1:
        labelled, notes = common_ground(labelled, names, column, ())
        left += [(cutter, "at a condition that not every practice met") for cutter in _gone(facts, labelled, left)]
    found = []
    lives: dict[str, pd.DataFrame] = {}
    for name in names:
        rows = labelled[labelled["group"] == name]
        if len(rows):
            found.append(_practice(trial, name, rows, criteria, clock, shop, lives))
    left += [pair for _, pairs in found for pair in pairs]
    used = tuple(dict.fromkeys(m.criterion for one, _ in found for m in one.members))
    return Practices(column, clock, used, tuple(one for one, _ in found), tuple(left), tuple(notes), lives)


def lives_of(trial: Trial, criterion: Criterion, clock: str, held: dict[str, pd.DataFrame]) -> pd.DataFrame:
    """Lives of all cutters at a criterion, worked out once and held by its text."""
    if criterion.text not in held:
        held[criterion.text] = tool_lives(trial, [criterion], [clock]).to_frame()
    return held[criterion.text]


def criterion_for(role: str, criteria: Sequence[Criterion]) -> Criterion:
    """The criterion that counts for a role: the one of its name, else the first."""
    return next((one for one in criteria if role and one.name == role), criteria[0])


def _column(facts: pd.DataFrame, by: str) -> str:
    available = factor_columns(facts)
    if by not in available and not any(column.startswith(by) for column in available):
        raise Refusal(f"{by} is not recorded", where="--by", allowed=", ".join(available))
    return resolve(by, available)


def _label_sets(facts: pd.DataFrame, column: str) -> pd.DataFrame:
    """Facts with `group` and `member`: of a set all its members' values, joined in the order of the work."""
    label = facts[column].map(_text)
    table = facts.assign(group=label, member="")
    if "set" not in facts:
        return table
    role = facts["role"].fillna("") if "role" in facts else pd.Series("", index=facts.index)
    rank = role.map(lambda word: ROLE_ORDER.index(word) if word in ROLE_ORDER else len(ROLE_ORDER))
    for name, rows in facts.groupby(facts["set"].fillna("").astype(str)):
        if name == "" or len(rows) < 2:
            continue
        order = rank.loc[rows.index].sort_values(kind="stable").index
        words = list(dict.fromkeys(label.loc[order]))
        table.loc[rows.index, "group"] = " + ".join(word for word in words if word)
        table.loc[rows.index, "member"] = [role[i] or label[i] for i in rows.index]
    return table


def _text(cell: Any) -> str:
    if isinstance(cell, float):
        return "" if math.isnan(cell) else f"{cell:g}"
    return "" if cell is None else str(cell)


def _gone(facts: pd.DataFrame, kept: pd.DataFrame, left: list[tuple[str, str]]) -> list[str]:
    known = set(kept["cutter"]) | {cutter for cutter, _ in left}
    return [str(cutter) for cutter in facts["cutter"] if cutter not in known]


def _practice(
    trial: Trial, name: str, rows: pd.DataFrame, criteria: Sequence[Criterion], clock: str, shop: ShopCosts,
    held: dict[str, pd.DataFrame],
) -> tuple[Practice, list[tuple[str, str]]]:  # fmt: skip
    notes: list[str] = []
    left: list[tuple[str, str]] = []
    size, parts_known = _size(rows, notes)
    members = []
    roles = list(dict.fromkeys(rows["member"]))
    for role in sorted(roles, key=lambda word: ROLE_ORDER.index(word) if word in ROLE_ORDER else len(ROLE_ORDER)):
        own = rows[rows["member"] == role]
        criterion = criterion_for(role, criteria)
        lives = lives_of(trial, criterion, clock, held)
        lives = lives[lives["cutter"].isin(own["cutter"])].reset_index(drop=True)
        known = lives["status"] != "none"
        left += [(str(row.cutter), str(row.why_missing)) for row in lives[~known].itertuples()]
        members.append(_member(role, criterion, own, lives[known], clock, size, parts_known, shop, notes))
    drilled = bool(rows["strategy"].eq("predrilled").any()) if "strategy" in rows else False
    drilled = drilled and "drill" not in roles
    volume = size if math.isfinite(size) else math.nan
    return Practice(name, tuple(members), rows, volume, parts_known, drilled, tuple(dict.fromkeys(notes))), left


def _size(rows: pd.DataFrame, notes: list[str]) -> tuple[float, bool]:
    """Volume of one part, and whether parts are known; without parts the part is one cm3."""
    sides = ("feature_width_mm", "feature_depth_mm", "feature_length_mm")
    counted = "parts" in rows and bool((rows["parts"] > 0).any())
    if all(name in rows and rows[name].notna().all() for name in sides):
        made = rows[list(sides)].drop_duplicates()
        if len(made) == 1:
            return float(np.prod(made.to_numpy(float))) / 1000.0, True
    if counted and "volume_cm3" in rows and bool((rows["volume_cm3"] > 0).any()):
        both = rows[(rows["parts"] > 0) & (rows["volume_cm3"] > 0)]
        return float(both["volume_cm3"].sum() / both["parts"].sum()), True
    if counted:
        notes.append("the volume of a part is not known: no cost a cm3")
        return math.nan, True
    notes.append("parts are not counted and the feature has no size: the cost is a cm3, not a part")
    return 1.0, False


def _member(
    role: str, criterion: Criterion, own: pd.DataFrame, lives: pd.DataFrame, clock: str, size: float,
    parts_known: bool, shop: ShopCosts, notes: list[str],
) -> Member:  # fmt: skip
    minutes = _amount(own, "cutting_time_min", size, parts_known)
    per_part = 1.0 if clock == "parts" and parts_known else _amount(own, clock, size, parts_known)
    who = f"{role or 'cutters'} of {own['group'].iloc[0]}"
    if not minutes > 0:
        raise Refusal(
            f"minutes in the metal a part are not known for {who}", where="costs",
            hint="log cutting_time_min beside parts or volume_cm3, or the feature's size with speed, feed and depths",
        )  # fmt: skip
    if not per_part > 0:
        raise Refusal(f"how much of the clock {clock} a part takes is not known for {who}", where="costs")
    price = _price(own, shop, who)
    edge = edge_cost(price, shop.regrinds or 0.0, _regrind(shop), shop.salvage or 0.0)
    reasons = own["end_reason"].map(lambda word: EVENTS.get(str(word), ""))
    ran = own[clock] if clock in own else pd.Series(dtype=float)
    return Member(
        role, criterion.text, per_part, minutes, _approach_min(own, notes), price, edge,
        lives[["cutter", "low", "high", "status"]].reset_index(drop=True), int((reasons == "fracture").sum()),
        float(ran.sum()), float(ran.max()) if len(ran) else math.nan,
    )  # fmt: skip


def _amount(own: pd.DataFrame, clock: str, size: float, parts_known: bool) -> float:
    """How much of a clock one part takes: from the counters, else from removal rate or feed."""
    base = "parts" if parts_known else "volume_cm3"
    if clock in own and base in own:
        both = own[(own[clock] > 0) & (own[base] > 0)]
        if len(both):
            return float(both[clock].sum() / both[base].sum())
    if clock == "volume_cm3":
        return size
    if clock == "cutting_time_min" and math.isfinite(size):
        rate = typical(own, "removal_rate_cm3_min")
        return size / rate if rate > 0 else math.nan
    return math.nan


def typical(rows: pd.DataFrame, column: str) -> float:
    """The value that most cutters have; NaN where none has one."""
    if column not in rows or rows[column].isna().all():
        return math.nan
    return float(rows[column].mode().iloc[0])


def costs_needed(facts: pd.DataFrame, shop: ShopCosts) -> tuple[str, ...]:
    """Names of the costs that these cutters call for, so that all that are missing can be asked for at once.

    Examples
    --------
    >>> facts = pd.DataFrame({"cutter": ["A"], "strategy": ["predrilled"], "cutter_price": [28.0]})
    >>> costs_needed(facts, ShopCosts(regrinds=2))
    ('machine_per_min', 'change_min', 'scrap', 'failure', 'drill', 'regrind_price')
    """
    names = ["machine_per_min", "change_min", "scrap", "failure"]
    sets = facts["set"].fillna("").astype(str) if "set" in facts else pd.Series("", index=facts.index)
    role = facts["role"].fillna("").astype(str) if "role" in facts else pd.Series("", index=facts.index)
    shared = (sets != "") & sets.duplicated(keep=False)
    if shared.any():
        names.append("swap_min")
    if "strategy" in facts:
        with_drill = set(sets[shared & (role == "drill")])
        bare = (facts["strategy"] == "predrilled") & ~sets.isin(with_drill)
        names += ["drill"] if bare.any() else []
    if "cutter_price" not in facts or facts["cutter_price"].isna().all():
        names.append("edge_price")
    if shop.regrinds:
        names.append("regrind_price")
    return tuple(names)


def metres_per_part(practice: Practice) -> float:
    """Minutes in the metal of a part (of a cm3 where parts are not known) times the cutting speed.

    It is a figure of the path and the feed per tooth alone. NaN where no cutter has both a counter and a speed.
    """
    own = practice.facts
    base = "parts" if practice.parts_known else "volume_cm3"
    names = ("cutting_time_min", "cutting_speed_m_min", base)
    if all(name in own for name in names):
        both = own[(own[list(names)] > 0).all(axis=1)]
        if len(both):
            return float((both["cutting_time_min"] * both["cutting_speed_m_min"]).sum() / both[base].sum())
    speed = typical(own, "cutting_speed_m_min")
    return practice.members[0].cutting_min * speed


def _price(own: pd.DataFrame, shop: ShopCosts, who: str) -> float:
    if "cutter_price" in own and own["cutter_price"].notna().any():
        return float(own["cutter_price"].mean())
    if shop.edge_price is None:
        raise Refusal(
            f"not stated: the price of a cutter ({who})", where="costs",
            hint="log cutter_price, or give --cost edge_price=...",
        )  # fmt: skip
    return float(shop.edge_price)


def _regrind(shop: ShopCosts) -> float:
    return shop.figure("regrind_price") if shop.regrinds else 0.0


def _approach_min(own: pd.DataFrame, notes: list[str]) -> float:
    """Minutes of approach a part: the clock in the metal does not hold them."""
    names = ("passes", "radial_width_mm", "diameter_mm", "feed_rate_mm_min")
    passes, width, diameter, feed = (typical(own, name) for name in names)
    practice = str(own["strategy"].iloc[0]) if "strategy" in own else ""
    if practice not in APPROACHED or not all(math.isfinite(value) for value in (passes, width, diameter, feed)):
        notes.append("approach and moves between passes are not in the time of a part")
        return 0.0
    return passes * float(approach_mm(min(width, diameter), diameter)) / feed


def rows_of(practices: Sequence[Practice], role: str) -> list[tuple[str, Any]]:
    """Lives of one role over all practices, as (practice, life) pairs."""
    return [
        (practice.group, row)
        for practice in practices
        for member in practice.members
        if member.role == role
        for row in member.lives.itertuples()
    ]

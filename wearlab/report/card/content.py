"""What stands on the card, as text: every figure rounded and with its unit, every key turned into its sentence."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from wearlab.core.tables import natural_sorted
from wearlab.decide.standard import MemberStandard, Setting, Standard
from wearlab.report.card.sentences import in_hundred, look_sentence, money
from wearlab.words.cautions import CAUTIONS
from wearlab.words.counting import counted, listed
from wearlab.words.criteria import criterion_words
from wearlab.words.labels import label
from wearlab.words.rounding import quantity, with_unit
from wearlab.words.units import clock_kind

REACTIONS = {
    "pin_first": "Pin stops above its height, or a wall is out: stop. Do not run the next part.",
    "change_and_hold": "Change the cutter, set it, run one part and check that part before going on.",
    "check_back": "Check back, part by part, to the last good one. Hold what fails.",
    "log_it": "Log every early change: parts, reason, pin, initials.",
    "twice_stop": "Two early changes in a row: stop and call the process engineer.",
}
"""What to do, by key."""

REVIEWS = {
    "new_bar": "new heat or grade of bar",
    "new_cutter": "cutter of another maker, batch or regrind",
    "new_setup": "other machine, holder, overhang, coolant or program",
    "alarm": "an alarm in service",
    "ten_cutters": "every ten cutters",
    "trial_unsettled": "the trial did not settle the choice: look again within the year",
}
"""What opens the standard again, by key."""

SIDES = {"open": "open on both sides", "one": "one wall", "closed": "two walls"}
BLANK = "________________"
SHORT_BLANK = "________"
ALLOWANCES = {
    "allowance_wall_mm": "allowance on the wall",
    "allowance_floor_mm": "on the floor",
    "wall_clearance_mm": "held off the wall while roughing",
}


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a table of the card."""

    name: str
    value: str
    tested: str
    brand: str = ""


@dataclass(frozen=True, slots=True)
class Cutter:
    """One cutter's part of the card."""

    heading: str
    what: str
    rows: tuple[Row, ...]
    missing: str
    entry: str
    change: str
    change_brand: str
    change_note: str
    look: str


@dataclass(frozen=True)
class Card:
    """The card."""

    title: str
    feature: str
    material: str
    cutters: tuple[Cutter, ...]
    may_exceed: str
    checks: tuple[str, ...]
    reactions: tuple[str, ...]
    evidence: tuple[str, ...]
    hash: str
    review: str
    cautions: tuple[tuple[str, str], ...]
    not_tested: tuple[str, ...]
    date: str


def card_content(standard: Standard, units: str = "metric") -> Card:
    """Turn a standard into the text of its card.

    Parameters
    ----------
    standard : Standard
    units : {"metric", "inch"}
    """
    known = {one.key: one for one in CAUTIONS}
    return Card(
        title=f"{standard.practice[0].upper()}{standard.practice[1:]}",
        feature=_feature(standard.feature, units),
        material=_material(standard.material),
        cutters=tuple(_cutter(one, len(standard.members) > 1, units) for one in standard.members),
        may_exceed=standard.may_exceed or BLANK,
        checks=_checks(standard, units),
        reactions=tuple(REACTIONS[key] for key in standard.reactions),
        evidence=_evidence(standard),
        hash=str(standard.evidence["sha256"]),
        review="; ".join(REVIEWS[key] for key in standard.review),
        cautions=tuple((known[key].title, known[key].text) for key in standard.cautions if key in known),
        not_tested=branded_texts(standard, units),
        date=standard.date or BLANK,
    )


def _several(value: Any) -> str:
    values = value if isinstance(value, (list, tuple)) else [value]
    return listed([f"{one:g}" if isinstance(one, float) else str(one) for one in natural_sorted(values)], 3, "or")


def _size(value: Any, units: str) -> str:
    if isinstance(value, (list, tuple)):
        return " or ".join(quantity(float(one), "length", units) for one in value)
    return quantity(float(value), "length", units)


def _feature(feature: dict[str, Any], units: str) -> str:
    names = (("feature_width_mm", "wide"), ("feature_depth_mm", "deep"), ("feature_length_mm", "long"))
    sizes = [f"{_size(feature[key], units)} {word}" for key, word in names if key in feature]
    sides = feature.get("feature_sides")
    if isinstance(sides, str):
        sizes.append(SIDES.get(sides, sides))
    return ", ".join(sizes) or f"not recorded in the log: {BLANK}"


def _material(material: dict[str, Any]) -> str:
    said = [_several(material["work_material"])] if "work_material" in material else []
    if "work_group" in material:
        said.append(f"class {_several(material['work_group'])}")
    if "hardness" in material:
        said.append(f"{_several(material['hardness'])} {_several(material.get('hardness_scale', ''))}".strip())
    return ", ".join(said) or f"not recorded in the log: {BLANK}"


def _cutter(member: MemberStandard, in_set: bool, units: str) -> Cutter:
    heading = f"{member.role or 'cutter'}: {member.strategy}" if in_set else ""
    return Cutter(
        heading, _what(member, units), tuple(_row(one, units) for one in member.settings),
        _missing(member), _entry(member), _change(member),
        "not tested" if member.interval_brand == "not tested" else "", _change_note(member, units),
        _look(member, units),
    )  # fmt: skip


def _what(member: MemberStandard, units: str) -> str:
    cutter = member.cutter
    said = []
    if "diameter_mm" in cutter:
        said.append(f"D {_size(cutter['diameter_mm'], units)}")
    if "teeth" in cutter:
        said.append(f"{_several(cutter['teeth'])} teeth")
    said += [_several(cutter[name]) for name in ("cutter_material", "coating") if name in cutter]
    for name in ("helix_deg", "relief_deg", "rake_deg"):
        if name in cutter:
            said.append(f"{label(name).text.removesuffix(' angle')} {with_unit(_several(cutter[name]), '°')}")
    for name in ("corner_radius_mm", "corner_chamfer_mm", "flute_length_mm"):
        if name in cutter:
            said.append(f"{label(name).text} {_size(cutter[name], units)}")
    if "centre_cutting" in cutter:
        said.append("centre cutting" if cutter["centre_cutting"] == "yes" else "not centre cutting: never plunge")
    if "cutter_batch" in cutter:
        said.append(f"batch {_several(cutter['cutter_batch'])}")
    return ", ".join(said) or f"not recorded in the log: {BLANK}"


def _row(one: Setting, units: str) -> Row:
    words = label(one.column)
    text, kind = ALLOWANCES.get(one.column, words.text), words.kind or "number"
    digits = 4 if one.column in ("spindle_rpm", "feed_rate_mm_min") else 3

    def shown(value: float) -> str:
        return quantity(value, kind, units, digits)

    if math.isnan(one.low):
        tested = "never recorded"
    elif one.low == one.high:
        tested = f"{shown(one.low)} only"
    else:
        tested = f"{shown(one.low)} to {shown(one.high)}"
    value = shown(one.value)
    if one.column == "runout_um" and not one.brand:
        value = f"at most {shown(one.high)}"
    return Row(text, value, tested, one.brand.upper())


def _missing(member: MemberStandard) -> str:
    """What a standard has to say and the log did not, to be filled in."""
    if member.strategy == "finish" or member.role == "drill":
        return ""
    stated = {one.column for one in member.settings}
    lacking = [f"{text} {SHORT_BLANK}" for name, text in ALLOWANCES.items() if name not in stated]
    return f"Not recorded in the log: {', '.join(lacking)}" if lacking else ""


def _entry(member: MemberStandard) -> str:
    words = [f"{name} {_several(member.words[name])}" for name in ("direction", "coolant") if name in member.words]
    stated = {one.column: one for one in member.settings}
    if "ramp_angle_deg" in stated:
        entry = f"by ramp, at most {stated['ramp_angle_deg'].value:g}°"
    elif "plunge_pitch_mm" in stated:
        entry = "straight down"
    else:
        entry = member.words.get("strategy_note") or f"not recorded in the log: {BLANK}"
    return "; ".join([f"entry {_several(entry)}", *words])


def _change(member: MemberStandard) -> str:
    if member.interval_parts is None:
        return "when it is worn" if math.isinf(member.change.interval) else "not known in parts"
    return f"every {counted(member.interval_parts, 'part')}"


def _change_note(member: MemberStandard, units: str) -> str:
    change = member.change
    if math.isinf(change.interval):
        return "No planned change pays; look at the edge."
    said = f"Worn out when {criterion_words(member.criterion, units)}." if member.criterion.measure != "end" else ""
    if member.interval_parts == change.parts:
        clock = quantity(change.interval, clock_kind(change.clock), units)
        said = f"That is {clock} of cutting; about {in_hundred(change.failing)} cutters fail before. " + said
    elif member.interval_brand not in ("", "not tested"):
        said = f"Set by the shop: {member.interval_brand}. " + said
    else:
        said = f"Set by the shop; the trial supports {counted(change.parts or 0, 'part')}. " + said
    return said


def _look(member: MemberStandard, units: str) -> str:
    rule = member.condition
    if rule is None or rule.why_missing:
        return ""
    per_part = member.change.per_part
    parts = max(round(rule.step / per_part), 1) if per_part > 0 else 0
    return f"Or by the edge: {look_sentence(rule, member.criterion, parts, units)}."


def _checks(standard: Standard, units: str) -> tuple[str, ...]:
    pin = standard.pin
    if pin.why_missing:
        size = BLANK if math.isnan(pin.pin_mm) else quantity(pin.pin_mm, "length", units, 5)
        said = [f"First and last part of every cutter: pin {size} may stop at most {BLANK} above the floor "
                "(from the drawing)."]  # fmt: skip
    else:
        brand = " (NOT TESTED: this pin was not used in the trial)" if pin.brand else ""
        height = "must reach the floor"
        if pin.permitted_mm > 0:
            height = f"may stop at most {quantity(pin.permitted_mm, 'length', units)} above the floor"
        size = quantity(pin.pin_mm, "length", units, 5)
        said = [f"First and last part of every cutter: pin {size} {height}{brand}."]
    if pin.seen:
        each = [f"{quantity(one.pin_mm, 'length', units, 5)} {_stopped(one.highest_mm, units)}" for one in pin.seen]
        said.append(f"At worst in the trial up to the change, pin {listed(each)}.")
        if pin.exceeded:
            said.append("In the trial it stopped higher than that before the change was due: expect to change sooner.")
    said.append("Clean and cool the part first; write both heights into the log.")
    return tuple(said)


def _evidence(standard: Standard) -> tuple[str, ...]:
    facts = standard.evidence
    days = ""
    if facts["first_day"]:
        days = f", {facts['first_day']} to {facts['last_day']}"
    others = f" beside {listed(facts['others'])}" if facts["others"] else ""
    said = [
        f"Trial “{facts['trial']}”, file {facts['file']}{days}: {counted(facts['cutters'], 'cutter')}{others}, "
        f"{facts['all_cutters']} in all; {facts['fractures']} of {facts['cutters_run']} chipped or broke.",
    ]
    if facts["why_no_chance"] or facts["chance_best"] != facts["chance_best"]:
        said.append(f"Not judged against the others: {facts['why_no_chance']}.")
    else:
        said.append(f"The cheapest in {in_hundred(facts['chance_best'])} plausible cases.")
    if facts["cost_per_part"] is not None:
        what = "a part" if facts["parts_known"] else "a cm³"
        cost = money(facts["cost_per_part"], facts["currency"], facts["low"], facts["high"])
        said.append(f"About {cost} {what} at the costs stated then.")
    return tuple(said)


def _stopped(height: float, units: str) -> str:
    return "reached the floor" if height == 0 else f"stopped at {quantity(height, 'length', units)}"


def branded_texts(standard: Standard, units: str) -> tuple[str, ...]:
    """Everything that carries a brand, in the reader's units."""
    found = []
    for member in standard.members:
        of = f" of the {member.role} cutter" if member.role else ""
        found += [
            f"{row.name}{of} {row.value} (tested: {row.tested})"
            for row in (_row(one, units) for one in member.settings)
            if row.brand
        ]
        if member.interval_brand:
            found.append(f"change{of} {_change(member)} ({member.interval_brand})")
    if standard.pin.brand:
        found.append(f"pin {quantity(standard.pin.pin_mm, 'length', units, 5)}")
    return tuple(found)

"""What `wearlab life` prints."""

from __future__ import annotations

from typing import Any

from wearlab.cli import screen

STATUS_WORDS = {
    "exact": "reached",
    "interval": "between",
    "left": "already past",
    "right": "not reached",
    "none": "unknown",
}
"""What each status says of the limit."""
SAID_ALREADY = "the limit was not reached"


def print_lives(lives: Any, table: Any, how: str, error: Any, units: str) -> None:
    """The lives at each criterion on each clock."""
    screen.say(f"Criteria: {', '.join(one.text for one in lives.criteria)} ({how}).")
    screen.say(f"Rule: {lives.rule}. Before, past: the looks on either side of it.")
    if table["life_low"].notna().any():
        common = f", people {1000 * error.common_mm:.2g} um" if error.common_mm else ""
        screen.say(
            f"From, to: {100 * table['level'].iloc[0]:g} % interval of the life itself, for the error of the readings "
            f"({1000 * error.one_mm:.2g} um each{common}; {error.source}) and the straight line between two looks."
        )
    for criterion in lives.criteria:
        for clock in lives.clocks:
            own = table[(table["criterion"] == criterion.text) & (table["clock"] == clock)]
            _one_table(own, criterion.text, clock, units)


def print_doubts(doubts: Any) -> None:
    """Where the readings disagree about the crossing, or are too far apart."""
    if doubts:
        screen.say()
        screen.heading("Doubts about a crossing")
        for one in doubts:
            screen.say(f"- cutter {one.cutter}, {one.criterion}: {one.text}")


def _one_table(table: Any, criterion: str, clock: str, units: str) -> None:
    from wearlab.words.labels import life_label

    known = table["life_low"].notna().any()
    screen.say()
    screen.heading(f"{criterion}, {life_label(clock).heading(units)}")
    columns: list[tuple[str, Any]] = [
        ("cutter", "cutter"),
        ("said", "limit"),
        ("life", life_label(clock)),
        *([("life_low", life_label(clock, "from")), ("life_high", life_label(clock, "to"))] if known else []),
        ("bracket_low", life_label(clock, "before")),
        ("bracket_high", life_label(clock, "past")),
        ("zone", "zone"),
        ("cause", "cause"),
        ("why_missing", "remark"),
    ]
    remark = table["why_missing"].where(table["why_missing"] != SAID_ALREADY, "")
    screen.table(table.assign(said=table["status"].map(STATUS_WORDS), why_missing=remark), columns, units=units)


def print_flutes(found: Any, left_out: Any, units: str) -> None:
    """Lives of single flutes beside those of the worst flute and of the mean, one table a criterion and clock."""
    from wearlab.life.per_flute import side_by_side
    from wearlab.words.labels import clock_kind, life_label
    from wearlab.words.units import unit_of

    for reason in left_out:
        screen.say()
        screen.say(f"No lives by flute at {reason}.")
    for lives in found:
        clock, kind = lives[0].clock, clock_kind(lives[0].clock)
        factor = unit_of(kind, units).factor if kind else 1.0
        table = side_by_side(lives, factor)
        screen.say()
        screen.heading(f"By flute: {lives[0].criterion}, {life_label(clock).heading(units)}")
        names = [(one, f"flute {one}" if one.isdigit() and len(table.columns) < 8 else one) for one in table.columns]
        screen.table(table, names, units=units)
    if found:
        screen.say()
        screen.say("> still good at that age; < already past the limit there; - not read on that flute.")

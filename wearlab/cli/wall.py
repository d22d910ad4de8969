"""`wearlab wall`: what the walls and the pins say, beside what the wear of the edge predicts."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wearlab.cli import options, screen
from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.units import MM_PER_INCH
from wearlab.words.reasons import in_plain_words
from wearlab.words.units import clock_kind, unit_of

if TYPE_CHECKING:
    from wearlab.wall.walls import Walls

SCHEMA = "wearlab.wall/1"
TREND_LINES = ("size", "shift", "taper", "lean")


@click.command()
@options.log_argument
@options.by
@options.only
@options.clock
@options.level
@options.units
@click.option(
    "--zone-line-mm", type=float, default=None, metavar="NUMBER",
    help="How well the line between two zones of the edge is known as a height [0.25].",
)  # fmt: skip
@click.option(
    "--plot", type=click.Path(path_type=Path), default=None, metavar="FILE", help="Draw slots and pins as SVG."
)
@options.output
def command(
    log: Path,
    by: str,
    choose: tuple[str, ...],
    clock: str | None,
    level: float | None,
    units: str,
    zone_line_mm: float | None,
    plot: Path | None,
    as_json: bool,
    csv_file: Path | None,
    force: bool,
) -> None:
    """Walls by side and height: deviation, taper against lean, straightness, hang-up of each pin, change with age.

    Wear is told from deflection by each cutter's own first slot, tram from deflection by how the two walls answer.
    Beside every pin stands the height at which the measured wear of the same cutter says it should stop.

    \b
    Example:
      wearlab wall trial.csv --csv profiles.csv --plot slots.svg
    """
    from wearlab.compare.walls import trial_walls
    from wearlab.logbook.read import read_log
    from wearlab.wall.recession import ZONE_LINE_MM

    if zone_line_mm is not None and not 0 <= zone_line_mm < 100:
        raise ArgumentError(f"{zone_line_mm:g}", where="--zone-line-mm", allowed="0 or more, in mm")
    trial = read_log(log)
    column = options.clock_column(clock, trial.clocks()) if clock else ""
    chosen, groups = _chosen(trial, choose, by)
    line = ZONE_LINE_MM if zone_line_mm is None else zone_line_mm
    try:
        found = trial_walls(chosen, groups=groups, clock=column, level=level, zone_line_mm=line)
    except Refusal as refusal:
        if not as_json:
            raise
        from wearlab.cli.fit import refusal_facts

        screen.print_json(SCHEMA, {"profiles": [], "hang_up": [], "refusal": refusal_facts(refusal)})
        return
    if as_json:
        screen.print_json(SCHEMA, found.to_dict())
    else:
        screen.findings_summary(trial)
        _print(found, units)
    if plot is not None:
        _draw(found, plot, force, units)
    if csv_file is not None:
        screen.write_csv(found.to_frame(), csv_file, force)
    screen.leave(trial)


def _chosen(trial: Any, choose: tuple[str, ...], by: str) -> tuple[Any, dict[str, str]]:
    """The trial with the walls of the chosen cutters, and each cutter's group."""
    from dataclasses import replace

    from wearlab.compare.groups import only
    from wearlab.compare.trial_exposure import groups_of

    facts = only(trial.facts(), choose)
    walls = trial.walls[trial.walls["cutter"].isin(set(facts["cutter"]))].reset_index(drop=True)
    return replace(trial, walls=walls), groups_of(facts, by)


def _draw(found: Walls, plot: Path, force: bool, units: str) -> None:
    from wearlab.report.sections.walls import walls_svg

    picture = walls_svg(found, units)
    if picture is None:
        raise Refusal("no width was read, so there is no slot to draw", where="--plot")
    options.write_whole(plot, picture, force)
    click.echo(f"Wrote {plot}", err=True)


def _scales(units: str) -> tuple[float, str, float, str, str]:
    """Factor and name of deviations (from um), of lengths (from mm); name of a slope: 1 um/mm is 1 thou/in."""
    if units == "inch":
        return 1 / MM_PER_INCH, "thou", 1 / MM_PER_INCH, "in", "thou/in"
    return 1.0, "um", 1.0, "mm", "um/mm"


def _inches(cells: Any) -> Any:
    """Heights to a tenth of a thou: more would not be read, and would not fit beside the rest."""
    return (cells / MM_PER_INCH).round(4)


def _print(found: Walls, units: str) -> None:
    nominal = found.nominal
    _, small, factor, length, _ = _scales(units)
    width = f"nominal width {factor * nominal.width_mm:.5g} {length}, from {nominal.source}"
    text = width if nominal.source else in_plain_words(nominal.why_missing, units)
    screen.say(f"{len(found.profiles)} slots of {len(found.groups)} cutters; {text}.")
    if found.profiles:
        screen.say(f"Deviations in {small}, + = metal left; taper + = narrower at the floor, lean + = to the right up.")
        screen.say()
        _print_shapes(found, units)
    _print_pins(found, units)
    _print_causes(found, units)
    _print_trends(found, units)


def _print_shapes(found: Walls, units: str) -> None:
    factor, small, _, _, slope = _scales(units)
    inch = units == "inch"
    screen.heading(f"Shape of every slot, {small}; taper and lean in {slope}" if inch else "Shape of every slot")
    unit, per = ("", "") if inch else (f" {small}", f" {slope}")
    shapes = _shapes(found)
    deviations = ["size", "shift", "straight"]
    digits = 2 if units == "metric" else 3
    shapes = shapes.assign(**{name: (factor * shapes[name]).round(digits) for name in deviations})
    columns = [
        ("cutter", "cutter"),
        ("part", "part"),
        ("size", f"size{unit}"),
        ("shift", f"shift{unit}"),
        ("taper", f"taper{per}"),
        ("lean", f"lean{per}"),
        ("straight", f"straight{unit}"),
    ]
    screen.table(shapes, columns)
    for remark in dict.fromkeys(shapes["remark"]):
        if remark:
            own = shapes.loc[shapes["remark"] == remark, "cutter"].unique()
            screen.say(f"{', '.join(own)}: {remark}.")


def _shapes(found: Walls) -> Any:
    import numpy as np
    import pandas as pd

    rows = []
    for one in found.profiles:
        shape = one.shape
        numbers = {"size": np.nan, "shift": np.nan, "taper": one.opening_um_mm / 2, "lean": np.nan, "straight": np.nan}
        if shape is not None:
            straight = [s for s in (shape.straightness_left_mm, shape.straightness_right_mm) if s == s]
            numbers = {
                "size": 1000 * shape.size_mm,
                "shift": 1000 * shape.shift_mm,
                "taper": shape.taper_um_mm,
                "lean": shape.lean_um_mm,
                "straight": 1000 * max(straight) if straight else np.nan,
            }
        remark = one.why_missing or (next(iter(shape.why.values()), "") if shape else "")
        rows.append({"cutter": one.cutter, "part": one.part, **numbers, "remark": remark})
    frame = pd.DataFrame(rows)
    figures = ["size", "shift", "taper", "lean", "straight"]
    return frame.assign(**{name: frame[name].round(2) + 0.0 for name in figures})


def _print_pins(found: Walls, units: str) -> None:
    table = found.hang_ups.table
    if table.empty:
        return
    screen.say()
    _, _, factor, length, _ = _scales(units)
    depth = found.hang_ups.depth_mm * factor
    out = f", {depth:.4g} = stays out" if depth == depth else "; depth not known"
    screen.heading(f"Hang-up height of every pin, {length} (0 = floor{out})")
    lengths = ["pin_mm", "height_mm", "from_widths_mm", "predicted_mm", "low", "high"]
    screen.table(
        table.assign(**{name: _inches(table[name]) for name in lengths}) if units == "inch" else table,
        [
            ("cutter", "cutter"),
            ("part", "part"),
            ("pin_mm", f"pin {length}"),
            ("pin_class", "class"),
            ("height_mm", "measured"),
            ("from_widths_mm", "by widths"),
            ("predicted_mm", "predicted"),
            ("low", "from"),
            ("high", "to"),
        ],
    )
    counts = found.hang_ups.agreement()
    if counts.pins:
        screen.say(
            f"{counts.same_outcome} of {counts.pins} did as predicted (floor, hang, out). For {counts.settled} the "
            f"prediction names one place: {counts.settled_inside} were found there. The others stand in walls about as "
            "wide as themselves, where the least difference in width decides over much height."
        )
    why: dict[str, list[str]] = {}
    for (cutter, _, part), reason in found.missing.items():
        why.setdefault(reason, []).append(f"{cutter} {part}".strip())
    for reason, named in why.items():
        slots = list(dict.fromkeys(named))
        screen.say(f"Not predicted: {', '.join(slots[:6])}{' ...' if len(slots) > 6 else ''}: {reason}.")


def _print_causes(found: Walls, units: str) -> None:
    factor, small, _, _, slope = _scales(units)
    screen.say()
    screen.heading("Wear, and what was there before")
    part = found.separation
    limits = part.interval(found.level)
    if part.why_missing:
        screen.say(f"Growth was not set beside the lands: {part.why_missing}.")
    else:
        within = "" if limits.unbounded else f" ({limits.low:.2f} to {limits.high:.2f})"
        screen.say(f"Walls grew {part.ratio.mean:.2f} times as much as the lands predict{within}; 1 = wear alone.")
    for one in found.causes:
        numbers = ", ".join(
            f"{name} {scale * item.mean:.2g} {unit}{_range(item, scale, found.level)}"
            for name, item, scale, unit in (
                ("size", one.size, 1000.0 * factor, small),
                ("taper", one.taper, 1.0, slope),
                ("shift", one.shift, 1000.0 * factor, small),
                ("lean", one.lean, 1.0, slope),
            )
        )
        screen.say(f"{one.group}, before wear: {numbers}.")
        if one.why_missing:
            screen.say(f"causes: {one.why_missing}.", 2)
        else:
            sign = {True: "is that of deflection", False: "is not that of deflection", None: "settles nothing"}
            screen.say(
                f"by the log walls were cut {one.direction}: size and taper are deflection and the cutter's size (sign "
                f"{sign[one.deflection_sign]}); lean is tram or clamping.", 2,
            )  # fmt: skip


def _range(item: Any, scale: float, level: float) -> str:
    limits = item.interval(level)
    return "" if limits.unbounded else f" ({scale * limits.low:.2g} to {scale * limits.high:.2g})"


def _print_trends(found: Walls, units: str) -> None:
    table = found.trends.by_group
    table = table[table["what"].isin([*TREND_LINES, "width"])]
    if table.empty:
        return
    screen.say()
    factor, small, height, length, slope = _scales(units)
    clock = unit_of(clock_kind(found.trends.clock), units)
    per = "part" if clock.name == "parts" else clock.name
    screen.heading(f"Change per {per}")
    screen.say(f"Width, size and shift in {small}, taper and lean in {slope}; mean over the cutters.")
    scale = table["unit"].map({"mm": 1000.0 * factor, "um_mm": 1.0}) / clock.factor
    shown = table.assign(**{name: table[name] * scale for name in ("slope", "low", "high")})
    shown = shown.assign(height_mm=height * shown["height_mm"])
    screen.table(
        shown,
        [
            ("group", "group"),
            ("what", "what"),
            ("height_mm", f"height {length}"),
            ("slope", "change"),
            ("low", "low"),
            ("high", "high"),
            ("cutters", "cutters"),
        ],
    )

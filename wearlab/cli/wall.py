"""`wearlab wall`: what the walls and the pins say, beside what the wear of the edge predicts."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wearlab.cli import options, screen
from wearlab.core.errors import ArgumentError, Refusal

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
        _print(found)
    if plot is not None:
        _draw(found, plot, force)
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


def _draw(found: Walls, plot: Path, force: bool) -> None:
    from wearlab.report.sections.walls import walls_svg

    picture = walls_svg(found)
    if picture is None:
        raise Refusal("no width was read, so there is no slot to draw", where="--plot")
    options.write_whole(plot, picture, force)
    click.echo(f"Wrote {plot}", err=True)


def _print(found: Walls) -> None:
    nominal = found.nominal
    text = f"nominal width {nominal.width_mm:.5g} mm, from {nominal.source}" if nominal.source else nominal.why_missing
    screen.say(f"{len(found.profiles)} slots of {len(found.groups)} cutters; {text}.")
    if found.profiles:
        screen.say("Deviations in um, + = metal left; taper + = narrower at the floor, lean + = to the right going up.")
        screen.say()
        _print_shapes(found)
    _print_pins(found)
    _print_causes(found)
    _print_trends(found)


def _print_shapes(found: Walls) -> None:
    screen.heading("Shape of every slot")
    shapes = _shapes(found)
    columns = [
        ("cutter", "cutter"),
        ("part", "part"),
        ("size", "size um"),
        ("shift", "shift um"),
        ("taper", "taper um/mm"),
        ("lean", "lean um/mm"),
        ("straight", "straight um"),
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


def _print_pins(found: Walls) -> None:
    table = found.hang_ups.table
    if table.empty:
        return
    screen.say()
    depth = found.hang_ups.depth_mm
    out = f", {depth:g} = stays out" if depth == depth else "; depth not known"
    screen.heading(f"Hang-up height of every pin, mm (0 = floor{out})")
    screen.table(
        table,
        [
            ("cutter", "cutter"),
            ("part", "part"),
            ("pin_mm", "pin mm"),
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
            "wide as themselves, where micrometres decide over millimetres."
        )
    why: dict[str, list[str]] = {}
    for (cutter, _, part), reason in found.missing.items():
        why.setdefault(reason, []).append(f"{cutter} {part}".strip())
    for reason, named in why.items():
        slots = list(dict.fromkeys(named))
        screen.say(f"Not predicted: {', '.join(slots[:6])}{' ...' if len(slots) > 6 else ''}: {reason}.")


def _print_causes(found: Walls) -> None:
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
                ("size", one.size, 1000.0, "um"),
                ("taper", one.taper, 1.0, "um/mm"),
                ("shift", one.shift, 1000.0, "um"),
                ("lean", one.lean, 1.0, "um/mm"),
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


def _print_trends(found: Walls) -> None:
    table = found.trends.by_group
    table = table[table["what"].isin([*TREND_LINES, "width"])]
    if table.empty:
        return
    screen.say()
    screen.heading(f"Change per unit of {found.trends.clock}")
    screen.say("Width, size and shift in um, taper and lean in um/mm; mean over the cutters.")
    scale = table["unit"].map({"mm": 1000.0, "um_mm": 1.0})
    shown = table.assign(**{name: table[name] * scale for name in ("slope", "low", "high")})
    screen.table(
        shown,
        [
            ("group", "group"),
            ("what", "what"),
            ("height_mm", "height mm"),
            ("slope", "change"),
            ("low", "low"),
            ("high", "high"),
            ("cutters", "cutters"),
        ],
    )

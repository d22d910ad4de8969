"""`wearlab exposure`: what each practice does to the edge, from a log or from numbers alone."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wearlab.cli import options, screen
from wearlab.core.errors import ArgumentError, Refusal

if TYPE_CHECKING:
    from wearlab.compare.exposures import Exposures
    from wearlab.compare.zone_wear import ZoneWear

SCHEMA = "wearlab.exposure/1"
AMOUNTS = "contact_time_min_cm3", "sliding_m_cm3", "chip_mm3_mm_cm3"


@dataclass(frozen=True)
class Asked:
    """What the command line asks for when there is no log."""

    practices: tuple[str, ...]
    diameter_mm: float | None
    teeth: int | None
    feed_per_tooth_mm: float | None
    spindle_rpm: float | None
    cutting_speed: float | None
    axial_feed_per_tooth_mm: float | None
    helix_deg: float
    flute_length_mm: float | None
    overhang_mm: float | None
    centre_cutting: bool | None
    width_mm: float | None
    depth_mm: float | None
    length_mm: float | None
    sides: str
    ends: str
    match: str | None


def _number(name: str, text: str, **more: Any) -> Any:
    return click.option(f"--{name}", type=float, default=None, metavar="NUMBER", help=text, **more)


@click.command()
@click.argument("log", type=click.Path(path_type=Path), required=False)
@click.option(
    "--practice",
    "practices",
    multiple=True,
    metavar="TEXT",
    help="Without a log: [NAME=]PRACTICE[:key=value,...], such as layered:layers=3. Repeatable.",
)
@_number("diameter-mm", "Diameter of the cutter.")
@click.option("--teeth", type=int, default=None, metavar="NUMBER", help="Teeth of the cutter.")
@_number("feed-per-tooth-mm", "Feed per tooth.")
@_number("spindle-rpm", "Spindle speed; or --cutting-speed.")
@_number("cutting-speed", "Cutting speed in m/min.")
@_number("axial-feed-per-tooth-mm", "Feed per tooth along the axis, for plunging.")
@click.option("--helix-deg", type=float, default=30.0, show_default=True, metavar="NUMBER", help="Helix angle.")
@_number("flute-length-mm", "Length of the flutes.")
@_number("overhang-mm", "From the holder to the end face.")
@click.option("--centre-cutting/--no-centre-cutting", default=None, help="Whether the end cuts to its centre.")
@_number("width-mm", "Width of the feature that one part has taken away.")
@_number("depth-mm", "Depth of the feature.")
@_number("length-mm", "Length of the feature.")
@click.option(
    "--sides", type=click.Choice(["closed", "one", "open"]), default="closed", show_default=True,
    help="Walls along the length: a slot, a step, none.",
)  # fmt: skip
@click.option(
    "--ends", type=click.Choice(["open", "closed"]), default="open", show_default=True, help="Of the feature."
)
@click.option("--zone", "zones", multiple=True, metavar="NAME=FROM:TO", help="Zone of the edge in mm. Repeatable.")
@click.option(
    "--match", default=None, metavar="RULE",
    help="Give the others the feed that shares one more quantity with the standard (or the first): removal_rate, "
    "mean_chip, max_chip, power.",
)  # fmt: skip
@options.criterion
@options.by
@options.standard
@options.only
@click.option("--clock", metavar="|".join(options.CLOCKS), default=None, help="What wear growth is counted on [cm3].")
@options.level
@options.units
@click.option("--plot", type=click.Path(path_type=Path), default=None, metavar="FILE", help="Draw the edge as SVG.")
@options.output
def command(
    log: Path | None,
    zones: tuple[str, ...],
    criteria: tuple[str, ...],
    by: str,
    standard: str,
    choose: tuple[str, ...],
    clock: str | None,
    level: float | None,
    units: str,
    plot: Path | None,
    as_json: bool,
    csv_file: Path | None,
    force: bool,
    **numbers: Any,
) -> None:
    """What each practice does to a point of the edge per cm3 removed: contact time, metres slid, chip cut per mm of
    edge, zone by zone; ratios between practices, and the band that a measured ratio of wear should lie in.

    From a log: its own practices at their usual conditions, and the measured wear beside the prediction. Without one:
    describe cutter, cut and feature.

    \b
    Examples:
      wearlab exposure trial.csv --standard layered
      wearlab exposure --diameter-mm 12 --teeth 4 --feed-per-tooth-mm 0.05 \\
        --spindle-rpm 1857 --width-mm 12 --depth-mm 9 --length-mm 90 --sides one \\
        --practice layered:layers=3 --practice side:steps=3 --standard layered
      wearlab exposure --diameter-mm 10 --teeth 4 --feed-per-tooth-mm 0.05 \\
        --cutting-speed 60 --practice cut:axial_depth_mm=2,radial_width_mm=10
    """
    asked = Asked(**numbers)
    chosen_zones = _zones(zones)
    if log is not None:
        _refuse_numbers(asked)
        _from_log(
            log, chosen_zones, criteria, by, standard, choose, clock, level, units, plot, as_json, csv_file, force
        )
        return
    word = _clock_word(clock, "cm3")
    try:
        found = _from_numbers(asked, chosen_zones, standard, word)
    except Refusal as refusal:
        _refused(refusal, as_json)
        return
    _show(found, None, as_json, csv_file, plot, force, units)


def _from_log(
    log: Path,
    zones: dict[str, tuple[float, float]],
    criteria: tuple[str, ...],
    by: str,
    standard: str,
    choose: tuple[str, ...],
    clock: str | None,
    level: float | None,
    units: str,
    plot: Path | None,
    as_json: bool,
    csv_file: Path | None,
    force: bool,
) -> None:
    from wearlab.compare.trial_exposure import exposure_of_trial
    from wearlab.life.lives import trial_criteria
    from wearlab.logbook.read import read_log

    trial = read_log(log)
    criterion = trial_criteria(trial, criteria)[0][0]
    column = options.clock_column(clock, trial.clocks()) if clock else None
    try:
        found = exposure_of_trial(
            trial, criterion, column, by=by, standard=standard, choose=choose, zones=zones, level=level
        )
    except Refusal as refusal:
        _refused(refusal, as_json)
        return
    if not as_json:
        screen.findings_summary(trial)
        screen.say()
    _show(found.exposures, found.wear, as_json, csv_file, plot, force, units, found.notes)
    screen.leave(trial)


def _from_numbers(asked: Asked, zones: dict[str, tuple[float, float]], standard: str, clock: str) -> Exposures:
    from wearlab.compare.exposures import exposures
    from wearlab.compare.practice_text import matched_practice, practices_of_texts
    from wearlab.milling.kinematics import spindle_rpm
    from wearlab.milling.practices import Cutter, Feature, Settings

    diameter = _needed(asked.diameter_mm, "--diameter-mm")
    teeth = int(_needed(asked.teeth, "--teeth"))
    feed = _needed(asked.feed_per_tooth_mm, "--feed-per-tooth-mm")
    if (asked.spindle_rpm is None) == (asked.cutting_speed is None):
        raise ArgumentError("one speed is needed, not two or none", where="exposure",
                            allowed="--spindle-rpm or --cutting-speed")  # fmt: skip
    rpm = asked.spindle_rpm or float(spindle_rpm(diameter, asked.cutting_speed or 0.0))
    cutter = Cutter(diameter, teeth, asked.helix_deg, asked.flute_length_mm, asked.overhang_mm, asked.centre_cutting)
    sizes = (asked.width_mm, asked.depth_mm, asked.length_mm)
    width, depth, length = sizes
    feature = None
    if width is not None and depth is not None and length is not None:
        feature = Feature(width, depth, length, asked.sides, asked.ends)
    elif any(size is not None for size in sizes):
        raise ArgumentError(
            "half a feature", where="exposure", allowed="--width-mm, --depth-mm and --length-mm together"
        )
    settings = Settings(rpm, feed, asked.axial_feed_per_tooth_mm)
    practices = practices_of_texts(asked.practices, cutter, settings, feature)
    if asked.match:
        reference = practices.get(standard) or next(iter(practices.values()))
        practices = {
            name: one if one is reference else matched_practice(reference, one, asked.match)
            for name, one in practices.items()
        }
    return exposures(practices, zones or None, standard=standard, clock=clock)


def _needed(value: float | None, option: str) -> float:
    if value is None:
        raise ArgumentError(f"no {option}", where="exposure", allowed="a log, or a cutter and its cut in numbers",
                            hint="see wearlab exposure --help")  # fmt: skip
    return value


def _refuse_numbers(asked: Asked) -> None:
    given = [f"--{name.replace('_', '-')}" for name, value in vars(asked).items()
             if value not in (None, (), 30.0, "closed", "open")]  # fmt: skip
    if given:
        raise ArgumentError(f"{', '.join(given)} beside a log", where="exposure", allowed="a log, or numbers, not both")


def _zones(texts: tuple[str, ...]) -> dict[str, tuple[float, float]]:
    made = {}
    for text in texts:
        name, equals, limits = text.partition("=")
        low, colon, high = limits.partition(":")
        try:
            made[name.strip()] = (float(low), float(high))
        except ValueError:
            equals = ""
        if not (equals and colon and name.strip()):
            raise ArgumentError(f"{text!r}", where="--zone", allowed="NAME=FROM:TO in mm, such as lower=0.5:3")
    return made


def _clock_word(clock: str | None, default: str) -> str:
    if clock is not None and clock not in options.CLOCKS:
        raise ArgumentError(f"clock {clock!r}", where="--clock", allowed=", ".join(options.CLOCKS))
    return clock or default


def _refused(refusal: Refusal, as_json: bool) -> None:
    """A refusal is an answer, in JSON as well."""
    if not as_json:
        raise refusal
    from wearlab.cli.fit import refusal_facts

    empty: dict[str, Any] = {key: [] for key in ("practices", "ratios", "matched", "unmatched")}
    screen.print_json(SCHEMA, empty | {"refusal": refusal_facts(refusal)})


def _show(
    found: Exposures,
    wear: ZoneWear | None,
    as_json: bool,
    csv_file: Path | None,
    plot: Path | None,
    force: bool,
    units: str,
    notes: tuple[str, ...] = (),
) -> None:
    from wearlab.cli.exposure_screen import print_exposures, print_zone_wear
    from wearlab.words.reasons import in_plain_words

    if as_json:
        nothing: dict[str, Any] = {"rate_clock": None, "reference": None, "measured": [], "measured_ratios": []}
        more = wear.to_dict() if wear else nothing
        screen.print_json(SCHEMA, found.to_dict() | more | {"notes": list(notes)})
    else:
        print_exposures(found, units)
        if wear is not None:
            print_zone_wear(wear, units)
        for note in notes:
            screen.say()
            screen.say(f"Note: {in_plain_words(note, units)}.")
    if plot is not None:
        from wearlab.report.sections.exposure import exposure_svg

        options.write_whole(plot, exposure_svg(found, units), force)
        click.echo(f"Wrote {plot}", err=True)
    if csv_file is not None:
        screen.write_csv(found.to_frame(), csv_file, force)

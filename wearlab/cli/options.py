"""Options that several commands share, each written once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from wearlab.cli import completion
from wearlab.core.errors import ArgumentError, FileProblem
from wearlab.core.tables import nearest

F = TypeVar("F", bound=Callable[..., Any])

CLOCKS = {"min": "cutting_time_min", "cm3": "volume_cm3", "parts": "parts", "m": "cut_length_m"}
LIFE_CLOCKS = CLOCKS | {"slid_m": "slid_m", "cm3_per_mm": "cm3_per_mm"}
"""Clocks of lives: beside those of the log, metres slid and volume per mm of width, which follow from minutes."""

def stem_of(log: Path) -> str:
    """What files made from a log are named after: the log's name without its ending, or the name of the folder."""
    return log.resolve().name if log.is_dir() else log.stem


log_argument = click.argument("log", type=click.Path(path_type=Path))


def output(command: F) -> F:
    """--json, --csv FILE, --force."""
    command = click.option("--force", is_flag=True, help="Replace a file that is already there.")(command)
    command = click.option(
        "--csv", "csv_file", type=click.Path(path_type=Path), help="Write the main table to FILE.", metavar="FILE"
    )(command)
    return click.option("--json", "as_json", is_flag=True, help="Print one JSON object, full precision.")(command)


criterion = click.option(
    "--criterion",
    "criteria",
    multiple=True,
    metavar="TEXT",
    shell_complete=completion.criteria,
    help="Tool-life criterion, such as lower:VB.mean=0.2mm, or end. Repeatable.",
)
clock = click.option(
    "--clock",
    metavar="|".join(CLOCKS),
    default=None,
    shell_complete=lambda ctx, parameter, start: completion.beginning(start, CLOCKS),
    help="Clock of the lives: minutes in the metal, cm3 removed, parts, or m fed.",
)
life_clock = click.option(
    "--clock",
    metavar="|".join(LIFE_CLOCKS),
    default=None,
    shell_complete=lambda ctx, parameter, start: completion.beginning(start, LIFE_CLOCKS),
    help="Clock of the lives: minutes in the metal, cm3 removed, parts, m fed, m slid by the edge, or cm3 per mm of "
    "radial width.",
)
only = click.option(
    "--only", "choose", multiple=True, metavar="COLUMN=VALUE", help="Use these cutters only. Repeatable."
)
by = click.option(
    "--by",
    default="strategy",
    show_default=True,
    metavar="COLUMN",
    help="Column that makes the groups.",
    shell_complete=completion.columns,
)
standard = click.option(
    "--standard",
    default="",
    metavar="GROUP",
    help="Compare everything with this group.",
    shell_complete=completion.groups,
)
factors = click.option(
    "--factors",
    default=None,
    metavar="COLUMN,...",
    shell_complete=completion.column_list,
    help="Factors of the equation; numbers go in as ln, text as groups.",
)
def _level(_: click.Context, __: click.Parameter, typed: float | None) -> float | None:
    """The level as typed; below 0.5 a two-sided test at its limits would ask for a level that nobody named."""
    if typed is not None and not 0.5 < typed < 1.0:
        what = f"confidence level {str(typed).removesuffix('.0')}"
        hint = f"{typed / 100:g} for {typed:g} %" if 50 < typed < 100 else ""
        raise ArgumentError(what, where="--level", allowed="above 0.5 and below 1, such as 0.95", hint=hint)
    return typed


level = click.option(
    "--level", type=float, default=None, metavar="0.95", callback=_level, help="Confidence level of the intervals."
)
margin = click.option("--margin", type=float, default=None, metavar="1.25", help="Smallest ratio worth acting on.")
units = click.option(
    "--units",
    type=click.Choice(["metric", "inch"]),
    default="metric",
    show_default=True,
    help="Units to print in; JSON and CSV stay metric.",
)


def clock_column(word: str | None, held: list[str], derived: bool = False) -> str:
    """Column of a clock by its short name; the first that the log holds when none is asked for.

    With `derived`, clocks that follow from minutes count too.

    Raises
    ------
    ArgumentError
        The word names no clock, or the log does not hold it.
    """
    names = {column: short for short, column in CLOCKS.items()}
    if word is None:
        return held[0] if held else "cutting_time_min"
    known = LIFE_CLOCKS if derived else CLOCKS
    column = known.get(word, word)
    if derived and column not in names and column in known:
        return column
    if column not in names:
        raise ArgumentError(
            f"clock {word!r}", where="--clock", allowed=", ".join(known), hint=nearest(word, list(known))
        )
    if column not in held:
        raise ArgumentError(
            f"the log does not hold the clock {names[column]!r}",
            where="--clock",
            allowed=", ".join(names[one] for one in held) or "none",
        )
    return column


def words(text: str | None) -> list[str] | None:
    """A comma-separated list, or None where nothing was given.

    >>> words("feed, depth")
    ['feed', 'depth']
    """
    return None if text is None else [part.strip() for part in text.split(",") if part.strip()]


def file_beside(path: Path) -> tuple[int, str]:
    """An empty file of its own beside another, open to write and read: it has the mode that the shell's umask gives.

    Returns
    -------
    tuple of int and str
        The descriptor and the name.
    """
    import os
    import secrets

    flags = os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    name = str(path.parent / f".{path.name}.{secrets.token_hex(8)}")
    return os.open(name, flags, 0o666), name


def write_whole(path: Path, data: str | bytes, force: bool = False) -> bool:
    """Write a file whole or not at all; a file with the same content is left as it is.

    Returns
    -------
    bool
        Whether anything was written.

    Raises
    ------
    FileProblem
        Another file stands there and `force` is not set, or the folder cannot be written to.
    """
    import os

    content = data.encode("utf-8") if isinstance(data, str) else data
    try:
        if path.is_dir():
            raise FileProblem("a folder stands there", where=str(path), allowed="the name of a file")
        if path.exists() and not force:
            if path.read_bytes() == content:
                return False
            raise FileProblem(
                "a file stands there already", where=str(path), hint="use --force to replace it, or another name"
            )
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = file_beside(path)
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(content)
            os.replace(temporary, path)
        except BaseException:
            os.unlink(temporary)
            raise
    except OSError as error:
        raise FileProblem(f"cannot be written ({error.strerror})", where=str(path)) from None
    return True


def exponent(text: str | None, option: str) -> float | None:
    """A Taylor exponent as typed: n=0.25, or the number alone.

    >>> exponent("n=0.25", "--hold"), exponent(None, "--hold")
    (0.25, None)
    """
    if text is None:
        return None
    try:
        return float(text.removeprefix("n=").strip())
    except ValueError:
        raise ArgumentError(f"{text!r}", where=option, allowed="n=NUMBER, such as n=0.25") from None

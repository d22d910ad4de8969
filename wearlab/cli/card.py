"""`wearlab card`: the one-page standard for the machine."""

from __future__ import annotations

from pathlib import Path

import click

from wearlab.cli import options, screen
from wearlab.cli.decide import cost, draws, interval, make_decision, practice, reliability, rule, seed
from wearlab.cli.fit import refusal_facts
from wearlab.core.errors import ArgumentError, Refusal


@click.command()
@options.log_argument
@click.option("--out", type=click.Path(path_type=Path), default=None, metavar="FILE",
              help="Default: LOG.card.html, here.")  # fmt: skip
@practice
@click.option("--set", "settings", multiple=True, metavar="COLUMN=VALUE",
              help="A number in place of the trial's, such as cutting_speed_m_min=72. Repeatable.")  # fmt: skip
@interval
@click.option("--pin", type=float, default=None, metavar="MM", help="Pin for the first and the last part.")
@click.option("--hang-up", type=float, default=None, metavar="MM", help="Height above the floor at which it may stop.")
@click.option("--look-every", type=int, default=None, metavar="PARTS",
              help="Parts between two looks at the edge: adds the land at which to change.")  # fmt: skip
@click.option("--may-exceed", default="", metavar="WHO", help="Who may run a cutter beyond its interval.")
@click.option("--not-tested", "branded", is_flag=True, help="Print numbers that were not tested, with that brand.")
@click.option("--date", default=None, metavar="YYYY-MM-DD", help="Day of issue; today without it.")
@click.option("--paper", type=click.Choice(["A4", "letter"]), default="A4", show_default=True)
@options.criterion
@options.clock
@options.by
@options.only
@cost
@rule
@reliability
@options.level
@options.units
@seed
@draws
@options.output
def command(
    log: Path, out: Path | None, practice: str, settings: tuple[str, ...], interval: int | None, pin: float | None,
    hang_up: float | None, look_every: int | None, may_exceed: str, branded: bool, date: str | None, paper: str,
    criteria: tuple[str, ...], clock: str | None, by: str, choose: tuple[str, ...], cost_words: tuple[str, ...],
    rule: str, reliability: float, level: float | None, units: str, seed: int | None, draws: int | None,
    as_json: bool, csv_file: Path | None, force: bool,
) -> None:  # fmt: skip
    """Write the one-page standard: what to run, when to change, what to check, and what it rests on.

    It prints on one side of A4 or letter, in black and white. A number outside what was tested is refused, or printed
    with the brand "not tested" when --not-tested says so. With --json the content is printed, and no file is written
    unless --out names one.

    \b
    Examples:
      wearlab card trial.csv --pin 12.54 --hang-up 0.5 --look-every 10
      wearlab card trial.csv --practice layered --interval 28 --out layered.html
    """
    import datetime

    from wearlab.decide.standard import standard_of
    from wearlab.logbook.read import read_log
    from wearlab.report.card.content import branded_texts
    from wearlab.report.card.page import render_card

    trial = read_log(log)
    try:
        decision = make_decision(
            trial, criteria, clock, by=by, choose=choose, cost_words=cost_words, rule=rule, reliability=reliability,
            speed_limit=None, level=level, seed=seed, draws=draws, sensitivity=False,
        )  # fmt: skip
        made = standard_of(
            trial, decision, practice, settings=_numbers(settings), interval_parts=interval, pin_mm=pin,
            permitted_mm=hang_up, look_every=look_every, may_exceed=may_exceed, branded=branded or not as_json,
            date=datetime.date.today().isoformat() if date is None else date,
        )  # fmt: skip
        if made.not_tested and not branded:
            _refuse(branded_texts(made, units))
    except Refusal as refusal:
        if not as_json:
            raise
        screen.print_json("wearlab.card/1", {"practice": practice or None, "refusal": refusal_facts(refusal)})
        return
    if as_json:
        screen.print_json("wearlab.card/1", made.to_dict())
    if out is not None or not as_json:
        path = out or Path(f"{options.stem_of(log)}.card.html")
        written = options.write_whole(path, render_card(made, units, paper), force)
        click.echo(f"{'Wrote' if written else 'Unchanged:'} {path}", err=as_json)
    if not as_json:
        said = f"not tested: {'; '.join(made.not_tested)}" if made.not_tested else "every number on it was tested"
        screen.say(f"The standard for {made.practice}; {said}.")
    if csv_file is not None:
        screen.write_csv(made.to_frame(), csv_file, force)
    screen.leave(trial)


def _refuse(texts: tuple[str, ...]) -> None:
    """Say in the reader's words what was not tested."""
    raise Refusal(
        f"outside what was tested: {'; '.join(texts)}", where="standard",
        hint="test it, or have it printed with the brand: not tested (--not-tested)",
    )  # fmt: skip


def _numbers(words: tuple[str, ...]) -> dict[str, float]:
    """Read `--set COLUMN=VALUE` texts."""
    found = {}
    for word in words:
        column, equals, value = word.partition("=")
        try:
            found[column.strip()] = float(value) if equals else float("nan")
        except ValueError:
            raise ArgumentError(f"{word!r}", where="--set", allowed="COLUMN=NUMBER") from None
        if not equals:
            raise ArgumentError(f"{word!r}", where="--set", allowed="COLUMN=NUMBER")
    return found

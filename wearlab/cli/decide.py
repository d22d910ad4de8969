"""`wearlab decide`: what to run, what it costs, when to change the cutter."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from wearlab.cli import options, screen
from wearlab.cli.fit import refusal_facts
from wearlab.core.errors import ArgumentError, Refusal

cost = click.option(
    "--cost",
    "cost_words",
    multiple=True,
    metavar="NAME=VALUE",
    help="A cost beside those of the trial file, such as failure=120 or regrinds=3. Repeatable.",
)
rule = click.option(
    "--rule",
    type=click.Choice(["least_cost", "reliability"]),
    default="least_cost",
    show_default=True,
    help="Change interval of least cost, or the one that most cutters outlast.",
)
reliability = click.option(
    "--reliability", type=float, default=0.9, show_default=True, help="Share of cutters that outlasts the lower bound."
)
practice = click.option("--practice", default="", metavar="GROUP", help="Practice; the choice without it.")
interval = click.option("--interval", type=int, default=None, metavar="PARTS", help="Adopted parts between changes.")
draws = click.option("--draws", type=int, default=None, metavar="N", help="Plausible cases; 4000 without it.")
seed = click.option("--seed", type=int, default=None, metavar="N", help="Seed of the draws; the trial file's without.")


@click.command()
@options.log_argument
@options.criterion
@options.clock
@options.by
@options.only
@cost
@rule
@reliability
@click.option("--speed-limit", type=float, default=None, metavar="M_MIN", help="Limit of maker, holder or machine.")
@click.option("--look-every", type=int, default=None, metavar="PARTS",
              help="Parts between two looks at the edge: adds the land at which to change.")  # fmt: skip
@click.option("--follow", "service", type=click.Path(path_type=Path), default=None, metavar="LOG",
              help="Records in service: does the interval still hold?")  # fmt: skip
@practice
@interval
@click.option("--role", default="", metavar="ROLE", help="Cutter of a set to follow.")
@click.option("--reading", default=None, metavar="MEASURE[@PIN_MM]", help="Reading to follow, such as hang_up@12.54.")
@options.level
@options.units
@seed
@draws
@options.output
def command(
    log: Path, criteria: tuple[str, ...], clock: str | None, by: str, choose: tuple[str, ...],
    cost_words: tuple[str, ...], rule: str, reliability: float, speed_limit: float | None, look_every: int | None,
    service: Path | None, practice: str, interval: int | None, role: str, reading: str | None, level: float | None,
    units: str, seed: int | None, draws: int | None, as_json: bool, csv_file: Path | None, force: bool,
) -> None:  # fmt: skip
    """What to run: cost of each practice, how sure the choice is, when to change the cutter.

    Costs come from [cost] in the trial file and from --cost; a missing one is asked for by name. A practice is changed
    at its own interval, and failures before it are in its cost. With --follow, records in service are held against the
    interval: a log, or a tally of changes with the columns cutter, parts and end_reason (planned, worn, size, chipped,
    broken; blank = still in the spindle).

    \b
    Examples:
      wearlab decide trial.csv
      wearlab decide trial.csv --cost regrinds=3 --cost regrind_price=14
      wearlab decide trial.csv --follow service.csv --interval 80
    """
    from wearlab.decide.conditions import condition_rules
    from wearlab.decide.service import read_service
    from wearlab.logbook.read import read_log

    trial = read_log(log)
    records = None if service is None else read_service(service)
    try:
        found = make_decision(
            trial, criteria, clock, by=by, choose=choose, cost_words=cost_words, rule=rule, reliability=reliability,
            speed_limit=speed_limit, level=level, seed=seed, draws=draws, sensitivity=service is None,
        )  # fmt: skip
        followed = _follow(trial, found, records, practice, role, interval, reading) if records is not None else None
        looks = condition_rules(trial, found, look_every) if look_every is not None else ()
    except Refusal as refusal:
        if not as_json:
            raise
        screen.print_json(
            "wearlab.decide/1", {"by": by, "practices": [], "worth_of_more": [], "refusal": refusal_facts(refusal)}
        )
        return
    if as_json:
        more: dict[str, Any] = {} if followed is None else {"follow": followed.to_dict()}
        more |= {"conditions": [one.to_dict() for one in looks]} if looks else {}
        screen.print_json("wearlab.decide/1", found.to_dict() | more)
    elif followed is not None and records is not None:
        screen.findings_summary(records)
        _print_follow(followed)
    else:
        screen.findings_summary(trial)
        _print(found, looks, units)
    if csv_file is not None:
        screen.write_csv(found.to_frame() if followed is None else followed.to_frame(), csv_file, force)
    screen.leave(trial)


def make_decision(
    trial: Any, criteria: tuple[str, ...], clock: str | None, *, by: str, choose: tuple[str, ...],
    cost_words: tuple[str, ...], rule: str, reliability: float, speed_limit: float | None, level: float | None,
    seed: int | None, draws: int | None, sensitivity: bool,
) -> Any:  # fmt: skip
    """The decision that both commands work on."""
    import math

    from wearlab.decide.decide import decide
    from wearlab.decide.posterior import DRAWS
    from wearlab.decide.shop import read_cost_words
    from wearlab.life.lives import trial_criteria

    return decide(
        trial, trial_criteria(trial, criteria)[0], options.clock_column(clock, trial.clocks()), by=by, choose=choose,
        costs=read_cost_words(cost_words), rule=rule, reliability=reliability,
        speed_limit_m_min=math.inf if speed_limit is None else speed_limit, level=level, seed=seed,
        draws=DRAWS if draws is None else draws, sensitivity=sensitivity,
    )  # fmt: skip


def _follow(
    trial: Any, found: Any, records: Any, practice: str, role: str, interval: int | None, reading: str | None
) -> Any:
    from wearlab.decide.follow_practice import follow_practice

    readings = None if reading is None else _reading(reading)
    return follow_practice(
        trial, found, records, practice, role=role, interval_parts=interval, readings=readings
    )


def _reading(text: str) -> tuple[str, float]:
    measure, at, pin = text.partition("@")
    try:
        return measure.strip(), float(pin.removesuffix("mm")) if at else float("nan")
    except ValueError:
        raise ArgumentError(f"{text!r}", where="--reading", allowed="MEASURE or MEASURE@PIN_MM") from None


def _print(found: Any, looks: Any, units: str) -> None:
    from wearlab.report.card import sentences as said

    screen.heading("What to run")
    for text in said.choice_sentences(found):
        screen.say(text)
    for one in found.practices:
        for role, change in one.changes:
            if one.group == found.choice or not found.choice:
                name = f"{one.group}: " if not found.choice else ""
                screen.say(name + said.change_sentence(role, change, units))
                if text := said.bound_sentence(change, units):
                    screen.say(text, 2)
    for one in looks:
        who = f"{one.group}, {one.role}" if one.role else one.group
        if one.rule is not None and not one.why_missing:
            screen.say(f"{who}, by the edge: {said.look_sentence(one.rule, one.criterion, one.parts, units)}.")
        else:
            screen.say(f"{who}, by the edge: no rule ({one.why_missing}).")
    screen.say()
    _table(found, units)
    _switches(found)
    _pairs(found)
    _speeds(found, units)
    _notes(found)


def _table(found: Any, units: str) -> None:
    import pandas as pd

    from wearlab.report.card.sentences import in_hundred, per_what
    from wearlab.words.units import unit_of

    volume = unit_of("volume", units)
    rows = []
    for one in found.practices:
        change = one.changes[0][1] if len(one.changes) == 1 else None
        cost = one.cost
        rows.append(
            {
                "group": one.group,
                "cost": cost.per_part if cost else float("nan"),
                "time": cost.time_money if cost else float("nan"),
                "cutters": cost.cutter_money if cost else float("nan"),
                "volume": cost.per_cm3 / volume.factor if cost else float("nan"),
                "parts": "-" if change is None or change.parts is None else str(change.parts),
                "best": "-" if one.chance_best != one.chance_best else in_hundred(one.chance_best),
            }
        )
    table = pd.DataFrame(rows)
    what = per_what(all(one.parts_known for one in found.practices))
    screen.say(f"Money in {found.shop.currency or 'the currency of the costs'} {what}: time is machine and changes; "
               "cutters is edges and what their failures lose.")  # fmt: skip
    screen.table(
        table,
        [("group", "practice"), ("cost", "all"), ("time", "time"), ("cutters", "cutters"),
         ("volume", f"a {volume.name}"), ("parts", "change at part"), ("best", "cheapest in")],
    )  # fmt: skip
    for one in found.practices:
        if one.why_missing:
            screen.say(f"{one.group}: {one.why_missing}.")


def _switches(found: Any) -> None:
    from wearlab.report.card.sentences import steady_inputs, switch_sentence

    if not found.switches:
        return
    screen.say()
    screen.heading("What would change the choice")
    texts = [text for one in found.switches if (text := switch_sentence(one, found.shop.currency))]
    for text in texts:
        screen.say(f"- {text[0].upper()}{text[1:]}.")
    steady = steady_inputs(found.switches)
    if steady:
        screen.say(f"- Nothing within 20 times to either side: {'; '.join(steady)}.")


def _pairs(found: Any) -> None:
    from wearlab.report.card.sentences import pair_sentences

    if not found.pairs:
        return
    screen.say()
    screen.heading("One cutter, or a cutter each")
    for one in found.pairs:
        for text in pair_sentences(one, found.shop.currency, all(each.parts_known for each in found.practices)):
            screen.say(text)
    if found.shop.demoted_parts is None:
        screen.say(
            "Note: worn finishers are taken as thrown away; --cost demoted_parts=... lets them go on as roughers."
        )


def _speeds(found: Any, units: str) -> None:
    from wearlab.report.card.sentences import speed_sentence

    if not found.speeds:
        return
    screen.say()
    screen.heading("Speeds")
    for name, one in found.speeds.items():
        screen.say(speed_sentence(name, one, units))


def _notes(found: Any) -> None:
    screen.say()
    for one in found.practices:
        if one.fractures or one.ran:
            screen.say(f"{one.group}: {one.fractures} of {one.ran} cutters chipped or broke.")
    for note in (*found.notes, *dict.fromkeys(note for one in found.practices for note in one.notes)):
        screen.say(f"Note: {note}.")
    if found.shop.regrinds is None:
        screen.say(
            "Note: worn cutters are taken as thrown away; --cost regrinds=... and regrind_price=... change that."
        )
    if found.shop.idle_min is None:
        screen.say("Note: loading and other idle time, the same for every practice, is left out (--cost idle_min=...).")
    if found.why_no_speeds and not found.speeds:
        screen.say(f"No speeds: {found.why_no_speeds}.")
    screen.say(f"Seed {found.seed}, {found.draws} plausible cases.")


def _print_follow(found: Any) -> None:
    from wearlab.report.card.sentences import follow_sentences

    screen.heading(f"{found.group}: does the interval of {found.interval_parts} parts still hold?")
    for text in follow_sentences(found):
        screen.say(text)
    for cutter, why in found.service.left_out:
        screen.say(f"Left out: {cutter} ({why}).")
    if found.why_no_limits:
        screen.say(f"No sloped limits: {found.why_no_limits}.")

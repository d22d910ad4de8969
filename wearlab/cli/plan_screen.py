"""What `wearlab plan` prints."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from wearlab.cli import screen
from wearlab.core.units import M_PER_FOOT, MM_PER_INCH

if TYPE_CHECKING:
    from wearlab.plan.plan import Plan
    from wearlab.plan.speeds import SpeedDesign

OUTCOMES = {"life": "lives", "rate": "wear rates", "wall": "wall errors"}
FITNESS = {"good": "good", "conditional": "to be used with care", "unfit": "not good enough"}
ADVICE = {
    "stop_shown": "Stop: the difference is shown at the limit that the plan allows this look.",
    "stop_unlikely": "Stopping is reasonable: the chance that the whole trial would show the ratio that must "
    "not be missed is below the plan's limit. Stopping so costs no false alarm.",
    "carry_on": "Carry on: neither shown nor hopeless.",
    "finished": "This was the last look: the verdict stands at this limit.",
}


def show_plan(plan: Plan) -> None:
    """Question, settings, sizes, looks, order."""
    request = plan.request
    screen.heading(f"Plan {plan.trial_name}, seed {request.seed}")
    if request.question:
        screen.say(f"Question: {request.question}")
    screen.say(f"Criteria: {', '.join(one.text for one in plan.criteria)}.")
    if plan.limit is not None:
        wall, land = (_small(one, request.units) for one in (plan.limit.wall_mm, plan.limit.land_mm))
        screen.say(f"From the drawing: {wall} of one wall are left for wear, a land of {land}.")
    _settings(plan)
    _sizes(plan)
    _speeds(plan)
    _looks(plan)
    _order(plan)
    for doubt in plan.doubts:
        screen.say(f"Look again: {doubt}.")


def _settings(plan: Plan) -> None:
    from wearlab.plan.sheets import settings_table
    from wearlab.words.units import unit_of

    screen.say()
    screen.heading(f"Settings, matched by speed and {plan.matched.rule.replace('_', ' ')}")
    table = settings_table(plan)
    units = plan.request.units
    one_speed = table["cutting_speed_m_min"].nunique() == 1
    columns = [
        ("strategy", "practice"),
        *([] if one_speed else [("cutting_speed_m_min", unit_of("speed", units).name)]),
        ("spindle_rpm", "rev/min"),
        ("feed_rate_mm_min", unit_of("feed_rate", units).name),
        ("axial_depth_mm", f"axial {unit_of('length', units).name}"),
        ("radial_width_mm", f"radial {unit_of('length', units).name}"),
        ("removal_rate_cm3_min", unit_of("removal", units).name.replace("³", "3")),
        ("expected_life_min", "life"),
        ("cutters", "cutters"),
    ]
    kinds = {"cutting_speed_m_min": "speed", "feed_rate_mm_min": "feed_rate", "axial_depth_mm": "length",
             "radial_width_mm": "length", "removal_rate_cm3_min": "removal"}  # fmt: skip
    table = table.assign(**{name: table[name] * unit_of(kind, units).factor
                            for name, kind in kinds.items() if name in table})  # fmt: skip
    screen.table(table, [(name, head) for name, head in columns if name in table])
    for one in plan.matched.fair:
        screen.say(f"{one.a} beside {one.b}: equal in {_named(one.named(True))}.")
        if one.named(False):
            ratios = [f"{_named((row['quantity'],))} x {row['ratio']:.2f}" for row in one.rows(False)]
            screen.say(f"not equal: {', '.join(ratios)}", 2)
        bands = [
            f"{zone} {low:.2f} to {high:.2f}" for zone, (low, high) in one.predicted.items() if math.isfinite(high)
        ]
        if bands:
            screen.say(f"growth of the land a minute by edge exposure: {', '.join(bands)} times", 2)


def _sizes(plan: Plan) -> None:
    import pandas as pd

    from wearlab.plan.inch import KG_PER_LB

    if not plan.power:
        return
    size, scatter = plan.request.size, plan.request.scatter
    screen.say()
    screen.heading(f"How many cutters ({size.outcome} decides)")
    screen.say(
        f"Scatter of life between cutters {100 * scatter.cv:.0f} % ({scatter.source}), correlation in a block "
        f"{scatter.correlation:g}, {100 * scatter.drop_out:g} of 100 cutters lost."
    )
    uses = {one.cutters: one for one in plan.budgets}
    wall, inch = size.outcome == "wall", plan.request.units == "inch"
    what, asked = ("difference", f"{size.wall_um:g} um") if wall else ("ratio", f"{size.ratio:g}")
    rows = [
        {
            "cutters": f"{row.cutters}{' *' if row.cutters == plan.cutters else ''}",
            "power": _chance(row.power),
            "detectable": f"{row.detectable:.2f}" if math.isfinite(row.detectable) else "none",
            "alike": _chance(row.alike_power),
            "kg": _whole(uses[row.cutters].kg / (KG_PER_LB if inch else 1.0)),
            "hours": _whole(uses[row.cutters].machine_hours),
            "money": _whole(uses[row.cutters].money),
        }
        for row in plan.power
        if row.outcome == size.outcome
    ]
    screen.table(
        pd.DataFrame(rows),
        [
            ("cutters", "cutters"),
            ("power", f"finds {asked}"),
            ("detectable", "usually finds"),
            ("alike", "calls alike"),
            ("kg", "bar lb" if inch else "bar kg"),
            ("hours", "machine h"),
            ("money", plan.request.money.currency or "money"),
        ],
    )
    screen.say(
        f"* the plan; finds {asked}: share of trials that show a true {what} of {asked}, lost cutters "
        "allowed for; usually "
        f"finds: smallest {what} shown {100 * size.power:g} times in 100, none lost; calls alike: share "
        "that call equal "
        f"practices alike within {asked if wall else format(size.margin, 'g')}."
    )
    for outcome, one in plan.simulated().items():
        screen.say(
            f"simulated, {outcome}: {one.shown:.3f} (Monte-Carlo error {one.std_error:.3f}, {one.runs} "
            f"trials; {one.method}" + ("" if outcome == "life" else ", none lost") + ")",
            2,
        )
    _needs(plan)
    if math.isnan(uses[plan.cutters].money):
        screen.say(f"No sum of money: {uses[plan.cutters].why_missing or 'expected lives'} not stated.")


def _needs(plan: Plan) -> None:
    """What every question takes, beside the size of the plan."""
    import pandas as pd

    from wearlab.plan.needs import MOST

    share = f"{100 * plan.request.size.power:g} %"
    rows = [
        {
            "question": f"{OUTCOMES[one.outcome]} {_asked(one.question, one.outcome, one.truth)}",
            "chance": _chance(one.chance),
            "least": "-" if math.isnan(one.detectable) else _smallest(one.outcome, one.detectable),
            "cutters": f"over {MOST}" if one.cutters is None else str(one.cutters),
        }
        for one in plan.needs()
    ]
    screen.say()
    screen.table(
        pd.DataFrame(rows),
        [
            ("question", "question"),
            ("chance", f"with {plan.cutters}"),
            ("least", "usually finds"),
            ("cutters", f"cutters for {share}"),
        ],
    )


def _asked(question: str, outcome: str, truth: float) -> str:
    size = _smallest(outcome, truth)
    return f"differ by {size}" if question == "different" else f"alike within {size}, being equal"


def _smallest(outcome: str, value: float) -> str:
    if not math.isfinite(value):
        return "none"
    return f"{value:.3g} um" if outcome == "wall" else f"{value:.3g}"


def _speeds(plan: Plan) -> None:
    import pandas as pd

    from wearlab.words.units import unit_of

    if plan.speeds is None:
        return
    screen.say()
    screen.heading("Which speeds for the exponent n")
    units = plan.request.units
    rows = [
        {
            "design": ("-> " if one is plan.speeds.chosen else "") + one.name,
            "speeds": "/".join(_speed(v, units) for v in one.speeds_m_min),
            "counts": "/".join(map(str, one.counts)),
            **_surety(one),
        }
        for one in plan.speeds.weighed
    ]
    screen.table(
        pd.DataFrame(rows),
        [
            ("design", "design"),
            ("speeds", unit_of("speed", units).name),
            ("counts", "cutters"),
            ("error", "error of n"),
            ("half", "+/- %"),
            ("v60", "of v60"),
            ("bend", "sees a bend"),
            ("minutes", "min"),
        ],
    )
    screen.say(
        f"Twice the cutters would leave {100 * plan.speeds.error_with_twice_the_cutters:.0f} % of the "
        "error, a fastest speed a "
        f"quarter higher {100 * plan.speeds.error_with_a_wider_range:.0f} %: spread beats number. Two "
        "ends are blind to a bend."
    )
    _speed_sizes(plan.speeds.sizes)


def _surety(one: SpeedDesign) -> dict[str, str]:
    """What a design knows of n, in figures that it supports."""
    return {
        "error": f"{one.std_error_n:.3f}",
        "half": f"{100 * one.half_width:.0f}" if math.isfinite(one.half_width) else "open",
        "v60": f"{100 * one.std_error_v60:.1f} %" if math.isfinite(one.std_error_v60) else "-",
        "bend": _chance(one.chance_of_bend()) if len(one.speeds_m_min) > 2 else "never",
        "minutes": _whole(one.minutes),
    }


def _speed_sizes(sizes: tuple[SpeedDesign, ...]) -> None:
    """The chosen speeds with other numbers of cutters."""
    import pandas as pd

    if not sizes:
        return
    screen.say()
    rows = [{"cutters": str(one.cutters), "counts": "/".join(map(str, one.counts)), **_surety(one)} for one in sizes]
    heads = [("cutters", "in all"), ("counts", "cutters"), ("error", "error of n"), ("half", "+/- %"),
             ("v60", "of v60"), ("bend", "sees a bend"), ("minutes", "min")]  # fmt: skip
    screen.table(pd.DataFrame(rows), heads)


def _looks(plan: Plan) -> None:
    from wearlab.words.units import unit_of

    units = plan.request.units
    if not plan.looks:
        return
    screen.say()
    screen.heading("When to look, in parts")
    for (name, speed), one in plan.looks.items():
        cost = one.cost
        at = f"{_speed(speed, units)} {unit_of('speed', units).name}"
        screen.say(f"{name} at {at}: {', '.join(map(str, one.parts))}")
        screen.say(
            f"about {one.expected_looks:.1f} looks and {one.expected_looks * one.stop_min:.0f} min of "
            "stops a cutter; were lands "
            f"only judged good or past, {100 * (cost.inflation - 1):.1f} % more cutters would be needed",
            2,
        )
    _looks_weighed(plan)


def _looks_weighed(plan: Plan) -> None:
    """Looking less and more often: stops of the spindle beside what is lost."""
    import pandas as pd

    now = plan.looks.get((plan.request.reference.name, plan.request.cutting_speed_m_min))
    rows = [
        {
            "looks": f"{count}{' *' if now is not None and one.parts == now.parts else ''}",
            "stops": f"{one.expected_looks * one.stop_min:.0f}",
            "more": f"{100 * (one.cost.inflation - 1):.1f} %",
        }
        for count, one in plan.looks_weighed()
    ]
    if rows:
        screen.say()
        heads = [("looks", "looks a life"), ("stops", "stops, min a cutter"), ("more", "more cutters, if good or past")]
        screen.table(pd.DataFrame(rows), heads)


def _order(plan: Plan) -> None:
    from wearlab.plan.sheets import run_table
    from wearlab.words.units import unit_of

    screen.say()
    screen.heading("Order, drawn by lot")
    units = plan.request.units
    table = run_table(plan)
    table["speed"] = [_speed(v, units) for v in table["cutting_speed_m_min"]]
    columns = [
        ("order", "run"),
        ("cutter", "cutter"),
        ("block", "block"),
        ("machine", "machine"),
        ("holder", "holder"),
        ("strategy", "practice"),
        ("speed", unit_of("speed", units).name),
    ]
    screen.table(table, [(name, head) for name, head in columns if (table[name] != "").any()])
    if plan.interim is not None:
        screen.say()
        screen.heading("Looks at the verdict before the end")
        for look, yes, no in zip(
            plan.interim.boundaries.looks, plan.interim.at_truth, plan.interim.at_equal, strict=True
        ):
            screen.say(
                f"after {look.pairs} blocks: called at p up to {look.nominal:.2g}; {100 * yes:.0f} of 100 "
                "trials stop here with "
                f"a true ratio of {plan.request.size.ratio:g}, {100 * no:.1f} with none"
            )


def show_against(found: dict[str, Any]) -> None:
    """Departures from the plan, and their cost."""
    screen.heading("Plan against log")
    screen.say(f"{len(found['run'])} planned cutters are in the log, {len(found['not_run'])} are not.")
    for severity in ("error", "warning", "note"):
        for one in (one for one in found["findings"] if one["severity"] == severity):
            where = f"cutter {one['cutter']}: " if one["cutter"] else ""
            allowed = f"; allowed: {one['allowed']}" if one["allowed"] else ""
            screen.say(f"- {severity}: {where}{one['found']}{allowed}" + (f". {one['hint']}" if one["hint"] else ""))
    if not found["findings"]:
        screen.say("Run as planned.")
    for cost in found["costs"]:
        screen.say()
        screen.say(
            f"{cost['a']} over {cost['b']}: {cost['left_a']} and {cost['left_b']} of {cost['planned']} "
            "cutters have a "
            f"{cost['outcome']}, {cost['left_blocks']} of {cost['planned_blocks']} blocks hold both."
        )
        if cost["why_none"]:
            screen.say(f"No verdict: {cost['why_none']}.", 2)
            continue
        screen.say(
            f"smallest ratio usually shown {screen.number(cost['detectable'])} (planned "
            f"{screen.number(cost['planned_detectable'])}); "
            f"the ratio asked for is shown in {100 * cost['power']:.0f} of 100 such trials (planned "
            f"{100 * cost['planned_power']:.0f})",
            2,
        )


def show_standing(found: dict[str, Any]) -> None:
    """What is known at a look."""
    look = found["look"]
    screen.heading(f"Look {look['number']}, after {look['pairs']} blocks")
    screen.say(f"Limit of this look: p up to {look['nominal']:.2g}. Written to {found['written_to']}.")
    for one in found["pairs"]:
        contrast = one["contrast"]
        screen.say()
        screen.say(f"{contrast['a']} over {contrast['b']}, {contrast['cutters_a']} and {contrast['cutters_b']} cutters")
        screen.say(
            f"ratio {screen.number(contrast['estimate'])}, repeated interval {screen.number(contrast['low'])} to "
            f"{screen.number(contrast['high'])}",
            2,
        )
        if contrast["verdict"]:
            screen.say(f"verdict at this limit: {contrast['verdict'].replace('_', ' ')}", 2)
        if contrast["why_missing"]:
            screen.say(f"no verdict: {contrast['why_missing']}", 2)
        if one["if_planned"] is not None:
            screen.say(
                f"chance that the whole trial shows a difference: {one['if_planned']:.2f} if the ratio "
                "that must not be missed "
                f"is true, {one['if_seen']:.2f} if the one seen is, {one['if_none']:.2f} if there is none",
                2,
            )
        if one["worth"]:
            worth = ", ".join(f"{w['more']} more: {_share(w['expected'])}" for w in one["worth"])
            screen.say(
                "worth of more cutters a practice for choosing the better one, as a share of the money "
                f"that hangs on it: {worth} "
                f"(knowing for certain: {_share(one['worth'][0]['certainty'])})",
                2,
            )
    screen.say()
    screen.say(ADVICE[found["advice"]])
    if found["waiting"]:
        screen.say(f"Left out, in no complete block of this look: {', '.join(found['waiting'])}.")


def show_study(found: dict[str, Any]) -> None:
    """What the gauge means for the trial."""
    screen.heading("The gauge and this trial")
    screen.say(
        f"Gauge over total scatter {100 * found['share']:.0f} %: {FITNESS[found['fitness']]} (AIAG: under "
        "10 % good, over 30 % "
        f"not good enough). It tells {found['categories']:.1f} classes of land apart "
        f"({found['categories_wanted']} are wanted)."
    )
    screen.say(
        f"Six standard deviations of a reading are {100 * found['share_of_limit']:.0f} % of the wear "
        "limit. A mean land is good "
        f"to {1000 * found['mean_land_mm']:.1f} um, which is {found['life_error_min']:.1f} min of life; "
        f"{found['cutters_factor']:.3f} "
        f"times the cutters make up for it."
    )


def _named(names: tuple[str, ...]) -> str:
    from wearlab.report.sheets.content import QUANTITIES

    return ", ".join(QUANTITIES.get(name, name) for name in names) or "nothing"


def _share(part: float) -> str:
    """A small share in per cent.

    >>> _share(0.0123), _share(1e-9)
    ('1.2 %', 'under 0.01 %')
    """
    return f"{100 * part:.2g} %" if part >= 1e-4 else "under 0.01 %"


def _speed(m_min: float, units: str) -> str:
    """A cutting speed as the shop types it.

    >>> _speed(70.0, "metric"), _speed(60.96, "inch")
    ('70', '200')
    """
    return f"{m_min:g}" if units == "metric" else f"{m_min / M_PER_FOOT:.0f}"


def _small(mm: float, units: str) -> str:
    """A land or a wall.

    >>> _small(0.111, "metric"), _small(0.0254, "inch")
    ('111 um', '1.0 thou')
    """
    return f"{1000 * mm:.0f} um" if units == "metric" else f"{1000 * mm / MM_PER_INCH:.1f} thou"


def _whole(value: float) -> str:
    return "-" if math.isnan(value) else f"{value:,.0f}"


def _chance(share: float) -> str:
    """A chance in whole per cent, never 0 or 100.

    >>> _chance(0.8695), _chance(0.99999), _chance(0.0001)
    ('87 %', '> 99 %', '< 1 %')
    """
    return "> 99 %" if share > 0.995 else "< 1 %" if share < 0.005 else f"{100 * share:.0f} %"

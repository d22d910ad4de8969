"""What `wearlab fit` prints."""

from __future__ import annotations

from typing import Any

from wearlab.cli import screen


def print_fit(fit: Any, frame: Any, how: str) -> None:
    """The equation and its constants."""
    lives = "1 life" if fit.lives == 1 else f"{fit.lives} lives"
    screen.heading(f"{fit.law.formula}: {lives}" + (f", {fit.censored} of them still good" if fit.censored else ""))
    screen.say(f"Criterion {fit.criterion} ({how}), clock {fit.clock}.")
    screen.say(f"Method: {fit.method}.")
    if fit.added:
        screen.say(f"Groups added because they vary: {', '.join(fit.added)}; one slope is assumed for all of them.")
    for cutter, why in fit.left_out:
        screen.say(f"Left out: {cutter} ({why}).")
    screen.say()
    columns = [("name", "constant"), ("estimate", "estimate"), ("low", "low"), ("high", "high")]
    screen.table(frame, [*columns, ("level", "level"), ("why_missing", "remark")])
    if fit.line is not None and fit.line.r_squared == fit.line.r_squared:
        screen.say(f"R2 of ln T: {fit.line.r_squared:.3f}.")


def print_answers(answers: Any, following: Any) -> None:
    """Lives at settings, and the next cutter there."""
    for one, after in zip(answers, following, strict=True):
        parts = [
            f"{key} {value:g}" if isinstance(value, float) else f"{key} {value}" for key, value in one.settings.items()
        ]
        limits = "" if one.why_missing else f" ({one.interval.low:.4g} to {one.interval.high:.4g})"
        screen.say()
        screen.say(f"Median life at {', '.join(parts)}: {one.life:.4g}{limits}. {one.brand[0].upper()}{one.brand[1:]}.")
        if after.why_missing:
            screen.say(f"Nothing is said of the next cutter: {after.why_missing}.", 2)
            continue
        screen.say(f"The next cutter should last {after.interval.low:.4g} to {after.interval.high:.4g}.", 2)
        bound = after.bound
        screen.say(
            f"{100 * bound.reliability:.0f} of 100 cutters should outlast {bound.bound:.4g}, and we are "
            f"{100 * bound.confidence:.0f} % sure of that ({bound.distribution}). The median is no change interval: "
            "half fail before it.",
            2,
        )


def print_beside(groups: Any, beside: Any, checks: Any) -> None:
    """Exponents by group, a published exponent thrown in, published ranges."""
    if groups is not None:
        screen.say()
        screen.say(f"Exponents by {groups.by}, scatter pooled ({groups.method}):")
        columns = [("group", "group"), ("cutters", "cutters"), ("n", "n"), ("low", "low"), ("high", "high"), ("C", "C")]
        screen.table(groups.to_frame(), [*columns, ("why_missing", "remark")])
    if beside is not None:
        screen.say()
        screen.say(
            f"With the published n of {beside.prior_n:g} (spread {beside.spread:g}) thrown in: {beside.n:.3g} "
            f"({beside.interval.low:.3g} to {beside.interval.high:.3g}); without it: {beside.n_without:.3g}. The "
            f"published figure carries {100 * beside.weight:.0f} % of the weight; a gap this large would come by "
            f"chance in {beside.conflict_p:.2g} of cases."
        )
    if checks:
        screen.say()
        screen.say("Beside published values of n (they annotate, they decide nothing):")
        for one in checks:
            limits = one.row.limits
            printed = one.row.value is not None or limits is None
            span = one.row.value if printed else f"{limits[0]:g} to {limits[1]:g}"
            screen.say(f"- {one.position}: {one.row.cutter_material} {span}; {one.row.source} ({one.row.how_known})", 2)


def print_rivals(found: Any) -> None:
    """Which of two equations predicts unseen cutters better."""
    if found is None:
        return
    screen.say()
    screen.say(
        f"Rival equations, {found.groups} {found.held_out}s held out one at a time ({found.kind}, larger is better):"
    )
    for name, score in zip(found.names, found.mean_scores, strict=True):
        screen.say(f"{name}: {screen.number(score)}", 2)
    settled = found.low > 0 or found.high < 0
    screen.say(
        f"{found.better or 'Neither'} predicts better"
        + ("." if settled else ", but by no more than chance may explain: keep the simpler one."),
        2,
    )


def print_judgement(found: Any) -> None:
    """Residuals, bends and other laws of scatter."""
    screen.say()
    screen.heading("Judgement")
    columns = [("cutter", "cutter"), ("life", "life"), ("fitted", "fitted"), ("residual", "residual of ln")]
    screen.table(found.points, [*columns, ("leverage", "leverage"), ("n_without", "n without it")])
    if found.why_missing:
        screen.say(f"{found.why_missing[0].upper()}{found.why_missing[1:]}.")
    for name, test in (("Against repeats at one setting", found.replicates), ("A bend along ln speed", found.bend)):
        if test is not None:
            screen.say(f"{name}: " + (f"{test.why_missing}." if test.why_missing else f"p {test.p_value:.2g}."))
    if found.bend is not None and not found.bend.why_missing:
        screen.say(f"This trial would have shown a bend of {found.bend.detectable:.3g} or more four times in five.", 2)
    screen.say()
    with_speeds = found.other_laws["v60"].notna().any()
    speeds = [("v60", "v60"), ("v60_low", "low"), ("v60_high", "high")] if with_speeds else []
    screen.table(
        found.other_laws,
        [
            ("distribution", "scatter"),
            ("n", "n"),
            ("low", "low"),
            ("high", "high"),
            *speeds,
            ("log_likelihood", "log-likelihood"),
            ("why_missing", "remark"),
        ],
    )

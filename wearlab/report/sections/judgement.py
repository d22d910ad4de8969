"""Workings: what may be said of the equation."""

from __future__ import annotations

import math
from functools import partial

import pandas as pd

from wearlab.core.errors import WearlabError
from wearlab.core.tables import each_row
from wearlab.fit.judgement import Judgement, judge_fit
from wearlab.report.analysis import Analysis
from wearlab.report.figures.residuals import draw_residuals
from wearlab.report.figures.style import both_svgs
from wearlab.report.record import Block, FigureBlock, Paragraph, Section, TableBlock
from wearlab.words.counting import sentence
from wearlab.words.labels import Label, label
from wearlab.words.lives import status_words
from wearlab.words.reasons import in_plain_words
from wearlab.words.rounding import significant


def judgement_section(analysis: Analysis) -> Section | None:
    """Residuals, pull of each cutter, other laws, bend and lack of fit; None where there is no equation."""
    fit = analysis.main.fit
    if isinstance(fit, WearlabError):
        return None
    try:
        found = judge_fit(fit, analysis.level)
    except WearlabError as reason:
        text = sentence(f"the equation could not be judged: {in_plain_words(reason.found, analysis.units)}")
        return Section("judgement", "How far the equation can be trusted", "researcher", (Paragraph((text,)),))
    figure = _figure(found)
    blocks: list[Block] = [Paragraph(tuple(_sentences(found)))]
    blocks += [figure] if figure is not None else []
    blocks += [_points(found, analysis), _laws(found)]
    return Section("judgement", "How far the equation can be trusted", "researcher", tuple(blocks))


def _sentences(found: Judgement) -> list[str]:
    said = [sentence(in_plain_words(found.why_missing))] if found.why_missing else []
    if found.replicates is not None:
        test = found.replicates
        said.append(
            sentence(f"lack of fit cannot be judged: {in_plain_words(test.why_missing)}")
            if test.why_missing
            else sentence(
                f"the equation misses the means of equal settings by {significant(test.f)} times what the scatter "
                f"there explains (F with {test.df:g} and {test.df_error:g} degrees of freedom, p {test.p_value:.2g})"
            )
        )
    if found.bend is not None:
        said.append(_bend(found))
    if math.isfinite(found.n_other_way):
        said.append(
            sentence(
                f"regressing speed on life would give n = {significant(found.n_other_way)}; it is not used, since "
                "life is what scatters"
            )
        )
    return said


def _bend(found: Judgement) -> str:
    bend = found.bend
    assert bend is not None
    if bend.why_missing:
        return sentence(f"a bend of the line cannot be judged: {in_plain_words(bend.why_missing)}")
    return sentence(
        f"along ln speed the line bends by {significant(bend.curvature)} (p {bend.p_value:.2g}); this trial would have "
        f"shown a bend of {significant(bend.detectable)} {round(100 * bend.power)} times in 100, so a smaller one is "
        "not ruled out"
    )


def _figure(found: Judgement) -> FigureBlock | None:
    table = found.points.dropna(subset=["residual", "leverage"])
    if table.empty:
        return None
    title = "Residuals and leverage"
    furthest = table.iloc[int(table["residual"].abs().to_numpy().argmax())]
    description = sentence(
        f"each cutter's ln life less the equation, against its leverage; furthest off is {furthest['cutter']} with "
        f"{significant(float(furthest['residual']))}"
    )
    svg, phone = both_svgs(partial(draw_residuals, table), "residuals", title, description)
    how = sentence("residuals of ln life; leverage is the diagonal of the hat matrix: the pull of a cutter on its own "
                   "fitted life")  # fmt: skip
    return FigureBlock("residuals", table, svg, title, description, how=how, phone=phone)


def _points(found: Judgement, analysis: Analysis) -> TableBlock:
    frame = found.points
    criterion = analysis.main.criterion.text
    labels = {
        "cutter": label("cutter"),
        "status_shown": Label("what is known"),
        "life": Label(f"life ({label(analysis.clock).heading()})", "number", 3),
        "fitted": Label("fitted", "number", 3),
        "residual": Label("residual of ln life", "number", 3),
        "leverage": Label("leverage", "number", 2),
        "n_without": Label("n without it", "number", 3),
    }
    texts = {"status_shown": [status_words(one, criterion) for one in frame["status"]]}
    note = sentence("a cutter without which n is another carries the answer; look at how it was run before leaving it "
                    "out")  # fmt: skip
    return TableBlock("fit-points", frame, "Each cutter in the equation", labels, texts, note)


def _laws(found: Judgement) -> TableBlock:
    frame = found.other_laws.replace({math.inf: math.nan, -math.inf: math.nan})
    labels = {
        "distribution": Label("scatter"),
        "n": Label("n", "number", 3),
        "low": Label("from", "number", 3),
        "high": Label("to", "number", 3),
        "log_likelihood": Label("log-likelihood", "number", 4),
        "why_missing": label("why"),
    }
    texts = {"why_missing": [in_plain_words(str(row.why_missing or "")) for row in each_row(frame)]}
    return TableBlock("other-laws", pd.DataFrame(frame), "The exponent under other laws of scatter", labels, texts)

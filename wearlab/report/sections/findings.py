"""Evidence: what the check of the log found."""

from __future__ import annotations

from wearlab.report.analysis import Analysis
from wearlab.report.record import Block, FindingsBlock, Paragraph, Section
from wearlab.words.counting import counted, grouped, listed, plural, sentence
from wearlab.words.findings import doubts_sentence, findings_sentence, rows_sentence


def findings_section(analysis: Analysis) -> Section:
    """Rows counted, findings listed."""
    trial = analysis.whole
    texts = [rows_sentence(trial.counts), findings_sentence(trial.findings), doubts_sentence(trial.findings)]
    skipped = trial.counts.lines_skipped
    if skipped:
        parts = [f"{grouped(count)} {kind}" for kind, count in skipped.items()]
        lines = sum(skipped.values())
        texts.append(sentence(f"skipped as no readings: {listed(parts)} {'line' if lines == 1 else plural('line')}"))
    if analysis.only:
        texts.append(
            sentence(
                f"only cutters with {listed([f'“{choice}”' for choice in analysis.only])} entered this report: "
                f"{grouped(len(analysis.trial.cutters))} of {counted(len(trial.cutters), 'cutter')}"
            )
        )
    blocks: list[Block] = [Paragraph(tuple(text for text in texts if text))]
    if trial.findings:
        blocks.append(FindingsBlock(trial.findings))
    return Section("findings", "What the check of the log found", "engineer", tuple(blocks))

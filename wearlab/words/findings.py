"""The log check in one line."""

from __future__ import annotations

from collections.abc import Sequence

from wearlab.logbook.findings import Finding, count
from wearlab.logbook.trial import Counts
from wearlab.words.counting import agree, counted, grouped, listed, sentence


def rows_sentence(counts: Counts) -> str:
    """Rows read, used and set aside.

    >>> rows_sentence(Counts(167, 167, 0))
    '167 rows read, all of them used.'
    >>> rows_sentence(Counts(1, 0, 1))
    '1 row read, none used, 1 set aside.'
    """
    read = f"{counted(counts.rows_read, 'row')} read"
    if not counts.rows_set_aside:
        return sentence(
            f"{read}, {'all of them' if counts.rows_read > 1 else 'and'} used" if counts.rows_read else read
        )
    used = grouped(counts.rows_used) if counts.rows_used else "none"
    return sentence(f"{read}, {used} used, {grouped(counts.rows_set_aside)} set aside")


def findings_sentence(findings: Sequence[Finding]) -> str:
    """How many findings of each kind.

    >>> findings_sentence(())
    'The check found nothing to report.'
    """
    parts = [counted(n, kind) for kind in ("error", "warning", "note") if (n := count(findings, kind))]
    if not parts:
        return sentence("the check found nothing to report")
    return sentence(f"the check of the log found {listed(parts)}")


def severity_meaning(severity: str) -> str:
    """What a severity means for the figures."""
    return {
        "error": "the row could not be used and was set aside",
        "warning": "used, but doubtful",
        "note": "a fact or an assumption; nothing to mend",
    }[severity]


def doubts_sentence(findings: Sequence[Finding]) -> str:
    """What the findings mean for the answer; empty where nothing is wrong or doubtful."""
    errors, warnings = count(findings, "error"), count(findings, "warning")
    if not errors and not warnings:
        return ""
    parts = []
    if errors:
        parts.append(f"{counted(errors, 'error')} {agree(errors, 'was')} found, and the rows concerned were left out")
    if warnings:
        parts.append(
            f"{counted(warnings, 'warning')} {agree(warnings, 'does')} not stop a row from being used, but should be "
            "read"
        )
    return sentence("; ".join(parts))

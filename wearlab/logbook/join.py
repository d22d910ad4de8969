"""Several drafts -> one: the same columns, one below the other, each row still knowing its file and line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from wearlab.logbook.draft import Blame, Draft, Part, Tell, Words
from wearlab.logbook.sheet import Floats


def joined(drafts: Sequence[Draft]) -> Draft:
    """Put drafts of one sheet each below each other.

    Parameters
    ----------
    drafts : sequence of Draft
        With typed cells; a draft alone is given back as it is.
    """
    if len(drafts) == 1:
        return drafts[0]
    starts = np.concatenate([[0], np.cumsum([draft.size for draft in drafts])])
    parts = [
        Part(draft.parts[0].sheet, int(start), draft.parts[0].at) for draft, start in zip(drafts, starts, strict=False)
    ]
    whole = Draft(parts)
    for name in dict.fromkeys(name for draft in drafts for name in draft.numbers):
        whole.numbers[name] = _numbers(drafts, name)
    for name in dict.fromkeys(name for draft in drafts for name in draft.words):
        whole.words[name] = _words(drafts, name)
    whole.bad = np.concatenate([draft.bad for draft in drafts])
    whole.broken = np.concatenate([draft.broken for draft in drafts])
    for at, draft in enumerate(drafts):
        whole.blames += [_moved(blame, at, int(starts[at])) for blame in draft.blames]
    return whole


def _numbers(drafts: Sequence[Draft], name: str) -> Floats:
    return np.concatenate([draft.number(name) for draft in drafts])


def _words(drafts: Sequence[Draft], name: str) -> Words:
    """One vocabulary for all."""
    columns = [draft.word(name) for draft in drafts]
    code = {word: at for at, word in enumerate(dict.fromkeys(word for column in columns for word in column.vocabulary))}
    codes = [np.array([code[word] for word in column.vocabulary], dtype=np.int32)[column.codes] for column in columns]
    return Words(np.concatenate(codes), list(code))


def _moved(blame: Blame, part: int, start: int) -> Blame:
    """The same blame on rows that have moved down."""

    def told(tell: Tell) -> Tell:
        return tell if isinstance(tell, str) else lambda row: tell(row - start)

    return replace(
        blame,
        rows=blame.rows + start,
        found=told(blame.found),
        allowed=told(blame.allowed),
        hint=told(blame.hint),
        at=(part, blame.at[1]),
    )

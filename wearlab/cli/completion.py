"""What the Tab key offers: commands and options by themselves, and words that stand in the log itself.

Nothing heavy is imported: the log is looked at with the plain CSV reader, and only its first lines.
"""

from __future__ import annotations

import csv
import itertools
import os
import re
import shlex
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import click
from click.shell_completion import CompletionItem

SHELLS = {
    "bash": 'eval "$(wearlab --completion bash)"        # in ~/.bashrc',
    "zsh": 'eval "$(wearlab --completion zsh)"         # in ~/.zshrc, after compinit',
    "fish": "wearlab --completion fish | source        # in ~/.config/fish/config.fish",
}
"""Shells for which there is completion, and the line that turns it on."""
_PLAIN = re.compile(r"[\w.,:=+/@% -]+")
"""Letters, digits and signs that no shell takes for anything else, and spaces."""
MOST_ROWS = 20_000
"""Rows that are looked at for the words of a column."""


def script(shell: str) -> str:
    """The script that a shell reads to complete `wearlab`."""
    from click.shell_completion import get_completion_class

    from wearlab.cli.main import app

    found = get_completion_class(shell)
    assert found is not None, shell
    return f"# {SHELLS[shell]}\n{found(app, {}, 'wearlab', '_WEARLAB_COMPLETE').source()}\n"


def print_script(ctx: click.Context, _: click.Parameter, shell: str | None) -> None:
    """Print the script and leave."""
    if shell is not None and not ctx.resilient_parsing:
        click.echo(script(shell), nl=False)
        ctx.exit()


def beginning(start: str, words: Iterable[str]) -> list[CompletionItem]:
    """Words that begin as typed, each as a shell takes it for one word; what a shell might take otherwise is left out.

    Cells of a log come from anybody: signs that a shell expands, divides at or runs never reach the line.
    """
    offered = (_one_word(word) for word in words if word.startswith(start))
    return [CompletionItem(word) for word in offered if word]


def _one_word(word: str) -> str:
    """The word as the line needs it; empty where it is not offered.

    bash puts it into the line as it is, so that spaces need quotes there, unless one was typed; zsh and fish quote
    for themselves.
    """
    if _PLAIN.fullmatch(word) is None or not word.strip():
        return ""
    bash = os.environ.get("_WEARLAB_COMPLETE") == "bash_complete"
    return shlex.quote(word) if bash and " " in word and not _quote_is_open() else word


def _quote_is_open() -> bool:
    """Whether the word under the Tab key begins with a quote: bash adds the other one."""
    typed = os.environ.get("COMP_WORDS", "").split("\n")
    at = os.environ.get("COMP_CWORD", "")
    return at.isdigit() and int(at) < len(typed) and typed[int(at)][:1] in ("'", '"')


def columns(ctx: click.Context, _: click.Parameter, start: str) -> list[CompletionItem]:
    """Columns of the log that is named in the line; all columns where it cannot be read."""
    return beginning(start, _columns(ctx))


def column_list(ctx: click.Context, _: click.Parameter, start: str) -> list[CompletionItem]:
    """The same behind the last comma."""
    before, comma, last = start.rpartition(",")
    return beginning(start, [f"{before}{comma}{one}" for one in _columns(ctx) if one.startswith(last)])


def groups(ctx: click.Context, _: click.Parameter, start: str) -> list[CompletionItem]:
    """Words that stand in the column that makes the groups."""
    by = ctx.params.get("by") or "strategy"
    return beginning(start, dict.fromkeys(row[by] for row in _rows(ctx) if row.get(by)))


def criteria(ctx: click.Context, _: click.Parameter, start: str) -> list[CompletionItem]:
    """Names of the criteria in the trial file beside the log; without one the usual criteria."""
    return beginning(start, _criteria(ctx) or ["VB.mean=0.3mm", "VB.worst=0.5mm", "end"])


def _log(ctx: click.Context) -> Path | None:
    """The log that is named in the line; where the line breaks off behind an option it is still among the rest."""
    named = [Path(one) for one in (ctx.params.get("log"), *ctx.args) if one]
    return next((one for one in named if one.suffix.lower() in (".csv", ".tsv")), None)


def _rows(ctx: click.Context) -> list[dict[str | Any, Any]]:
    log = _log(ctx)
    try:
        with open(log or "", encoding="utf-8-sig", errors="replace", newline="") as file:
            head = file.readline()
            lines = itertools.chain([head], itertools.islice(file, MOST_ROWS))
            return list(csv.DictReader(lines, delimiter=max(",;\t", key=head.count), restval="", skipinitialspace=True))
    except (OSError, csv.Error):
        return []


def _columns(ctx: click.Context) -> list[str]:
    from wearlab.logbook.columns import COLUMNS

    held = [name for name in next(iter(_rows(ctx)), {}) if name in COLUMNS]
    return held or list(COLUMNS)


def _criteria(ctx: click.Context) -> list[str]:
    import tomllib

    log = _log(ctx)
    if log is None:
        return []
    for path in (log.with_suffix(".toml"), log.parent / "trial.toml"):
        try:
            data: dict[str, Any] = tomllib.loads(path.read_text(encoding="utf-8-sig"))
            return [str(one["name"]) for one in data.get("criterion", [])]
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            continue
    return []

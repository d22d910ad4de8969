"""Entry point: finds the command, runs it, and turns every failure into a message and an exit code.

0 done (a refusal with its reason is an answer), 1 done with error findings in the log, 2 not done.
Only the command that is asked for is imported, so that help costs no heavy library.
"""

from __future__ import annotations

import gc
import importlib
import io
import os
import sys

import click

from wearlab.cli.completion import SHELLS, print_script
from wearlab.cli.waiting import waiting
from wearlab.core.errors import Refusal, WearlabError
from wearlab.core.tables import nearest

COMMANDS: dict[str, tuple[str, str]] = {
    "demo": ("demo", "Run the whole job on the built-in, invented trial."),
    "plan": ("plan", "Plan a trial: settings, cutters, looks, order, sheets, blank log."),
    "blank": ("blank", "Write a form to fill in: log, workbook, bench sheets, pages."),
    "check": ("check", "Check a log: what is wrong, doubtful or assumed, line by line."),
    "wear": ("wear", "Wear curves and steady-stage wear rates."),
    "life": ("life", "Tool lives at each criterion on each clock."),
    "fit": ("fit", "Fit a tool-life equation: Taylor's, or any factors."),
    "wall": ("wall", "Walls and pins beside what the wear of the edge predicts."),
    "exposure": ("exposure", "What each practice does to the edge, from a log or numbers."),
    "compare": ("compare", "Compare practices, or any other groups of cutters."),
    "decide": ("decide", "What to run: cost, risk, when to change the cutter."),
    "report": ("report", "Write the whole answer as one HTML file."),
    "card": ("card", "Write the one-page standard for the machine."),
}
"""Commands in the order of the job, each with its module and its line of help."""

GREETING = """\
wearlab settles with evidence how to spend the edges of end mills.

New here?    wearlab demo            the whole job on an invented trial
No log yet?  wearlab blank           a log to fill in
A log?       wearlab check LOG.csv   is it sound? what is missing?
             wearlab report LOG.csv  the whole answer as one page
All help:    wearlab --help          and  wearlab COMMAND --help
"""


class Commands(click.Group):
    """Loads a command's module when it is asked for, and suggests a name for a mistyped one."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names in the order of the job."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import one command."""
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"wearlab.cli.{COMMANDS[cmd_name][0]}")
        command: click.Command = module.command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Look a name up; a mistyped one gets its nearest."""
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            hint = nearest(args[0], list(COMMANDS))
            ctx.fail(
                f"No command {args[0]!r}. Commands: {', '.join(COMMANDS)}." + (f" {hint.capitalize()}" if hint else "")
            )
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])


@click.group(cls=Commands, invoke_without_command=True, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="wearlab", message="wearlab %(version)s")
@click.option(
    "--completion",
    type=click.Choice(list(SHELLS)),
    is_eager=True,
    expose_value=False,
    callback=print_script,
    help="Print what a shell needs to complete wearlab with the Tab key.",
)
@click.pass_context
def app(ctx: click.Context) -> None:
    """Wear trials on end mills: from a log to tool lives, equations, verdicts and a report.

    \b
    The usual order:
      wearlab check trial.csv
      wearlab life trial.csv --criterion lower:VB.mean=0.2mm
      wearlab fit trial.csv
      wearlab compare trial.csv --standard layered
      wearlab report trial.csv

    Every command takes --help, with a worked example; all but `blank` take
    --json and --csv FILE.
    """
    if ctx.invoked_subcommand is None:
        click.echo(GREETING, nl=False)


def run(arguments: list[str] | None = None) -> None:
    """Run the command line and leave with its exit code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # an old console shows a sign that it lacks as a question mark
    # A command is short, and what it loads stays: fewer looks for garbage take a tenth off a report.
    gc.set_threshold(50_000, 20, 20)
    try:
        with waiting("wearlab is working"):
            code = app.main(args=arguments, prog_name="wearlab", standalone_mode=False)
    except click.exceptions.Exit as stop:
        code = stop.exit_code
    except click.ClickException as error:
        _show(error)
        code = 2
    except (click.Abort, KeyboardInterrupt):
        click.echo("Stopped; nothing was half written.", err=True)
        code = 130
    except Refusal as refusal:
        _say(f"No answer: {refusal.message()}")
        code = 0
    except WearlabError as error:
        _say(f"Error: {error.message()}", err=True)
        code = 2
    except SystemExit:  # the reader of the pipe has gone, and the library that parses options leaves by this door
        code = 0
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        code = 0
    except MemoryError:
        click.echo("Error: not enough memory for this log", err=True)
        code = 2
    except Exception as fault:
        if os.environ.get("WEARLAB_TRACE"):
            raise
        _say(
            f"Error inside wearlab: {type(fault).__name__}: {fault}. This is a fault of the program, not of your log; "
            "set WEARLAB_TRACE=1 to see where, and report it",
            err=True,
        )
        code = 2
    sys.exit(code if isinstance(code, int) else 0)


def _show(error: click.ClickException) -> None:
    """What was wrong with the line that was typed; where the log is missing, how to name or make one."""
    missing = isinstance(error, click.MissingParameter) and error.param is not None and error.param.name == "log"
    if not missing or not isinstance(error, click.MissingParameter) or error.ctx is None:
        context = getattr(error, "ctx", None)
        if context is not None:
            click.echo(f"{context.get_usage()}\nTry `{context.command_path} --help`.\n", err=True)
        _say(f"Error: {error.format_message()}", err=True)
        return
    command = error.ctx.command_path
    _say(
        f"Error: no log is named. Name one, such as `{command} trial.csv`. No log yet? `wearlab blank trial.csv` "
        f"writes one to fill in, and `wearlab demo` one that is filled. All of it: `{command} --help`",
        err=True,
    )


def _say(text: str, err: bool = False) -> None:
    import textwrap

    click.echo(textwrap.fill(text, 80, break_long_words=False, break_on_hyphens=False), err=err)

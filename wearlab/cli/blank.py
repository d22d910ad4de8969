"""`wearlab blank`: a log, a workbook or bench sheets to fill in, or the columns as a Table Schema."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from wearlab.cli import options
from wearlab.core.errors import ArgumentError

if TYPE_CHECKING:
    from wearlab.logbook.bench_write import BenchPage
    from wearlab.logbook.settings import TrialSettings

_ZONES = "corner,lower,middle,upper"


@click.command()
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option("--bench", is_flag=True, help="Bench sheets: a page a cutter, a line an inspection.")
@click.option("--cutter", "cutters", multiple=True, metavar="NAME", help="A bench sheet for this cutter. Repeatable.")
@click.option("--zones", default=None, metavar="NAME,...", help=f"Zones that are read (default: {_ZONES}).")
@click.option("--flutes", type=int, default=None, metavar="N", help="Teeth of the cutter (default: 4).")
@click.option("--looks", type=int, default=None, metavar="N", help="Inspections to make room for (default: 12).")
@click.option("--unit", default=None, metavar="UNIT", help="Unit of the lands: um (default), mm, thou or in.")
@click.option("--also", multiple=True, metavar="HEADING", help='A further column, such as "width 2 [mm]". Repeatable.')
@click.option("--paper", default=None, metavar="A4|letter", help="Paper of a page for the pencil (default: A4).")
@click.option("--table-schema", is_flag=True, help="Write the columns as a Frictionless Table Schema (JSON) instead.")
@click.option("--columns", is_flag=True, help="Print every column with its meaning and limits.")
@click.option("--force", is_flag=True, help="Replace a file that is already there.")
def command(
    file: Path | None,
    bench: bool,
    cutters: tuple[str, ...],
    zones: str | None,
    flutes: int | None,
    looks: int | None,
    unit: str | None,
    also: tuple[str, ...],
    paper: str | None,
    table_schema: bool,
    columns: bool,
    force: bool,
) -> None:
    """Write a form to fill in (default: trial.csv, here), or the columns of the log.

    The ending of the file says which form. Every form is read by `wearlab check` as it is, once it is filled in.

    \b
      trial.csv             one row a reading
      trial.xlsx            a workbook: trial, cutters, readings, with lists
      --bench sheets.csv    bench sheets, one below the other (or sheets.xlsx)
      sheets.html           bench sheets to print, for a pencil

    Columns that a shop does not keep can be deleted; `wearlab check` says what is then lost. Zones and readings that a
    trial file in the same folder declares are known.

    \b
    Examples:
      wearlab blank trial.xlsx
      wearlab blank --bench sheets.xlsx --cutter E1 --cutter E2 --flutes 4
      wearlab blank sheets.html --zones corner,lower --also "width 2 [mm]"
      wearlab blank --table-schema columns.json
    """
    if columns:
        _print_columns()
        return
    path = file or Path("columns.json" if table_schema else "trial.csv")
    shape = (("--zones", zones), ("--flutes", flutes), ("--looks", looks), ("--unit", unit), ("--also", also))
    given = [name for name, value in (("--cutter", cutters), *shape) if value]
    kind = _kind(path, bench, table_schema)
    _refuse_idle(given, kind, paper)
    if kind == "schema":
        content: str | bytes = _schema()
    elif kind == "log":
        content = _log(path)
    else:
        settings = _settings(path)
        words = tuple(settings.responses)
        content = _bench(path, _pages(settings, cutters, zones, flutes, looks, unit, also), words, paper)
    written = options.write_whole(path, content, force)
    click.echo(f"{'Wrote' if written else 'Unchanged:'} {path}")


def _kind(path: Path, bench: bool, table_schema: bool) -> str:
    """What is to be written: schema, log or bench."""
    if table_schema:
        return "schema"
    ending = path.suffix.lower()
    if ending not in (".csv", ".xlsx", ".html"):
        raise ArgumentError(
            f"a file that ends in {ending!r}" if ending else f"{path.name}, a file without an ending",
            where="blank",
            allowed=".csv, .xlsx or .html",
        )
    return "bench" if bench or ending == ".html" else "log"


def _refuse_idle(given: list[str], kind: str, paper: str | None) -> None:
    """An option that changes nothing is a mistake."""
    if given and kind != "bench":
        raise ArgumentError(", ".join(given), where="blank", allowed="these options with --bench, or a file .html",
                            hint="a log has no flutes and no looks of its own")  # fmt: skip
    if paper and kind != "bench":
        raise ArgumentError("--paper", where="blank", allowed="with a file .html")


def _print_columns() -> None:
    from wearlab.logbook.document import columns_markdown, measures_markdown

    click.echo(columns_markdown() + "\n" + measures_markdown(), nl=False)


def _schema() -> str:
    import json

    from wearlab.logbook.document import table_schema_descriptor

    return json.dumps(table_schema_descriptor(), indent=2) + "\n"


def _settings(path: Path) -> TrialSettings:
    from wearlab.logbook.settings import settings_beside

    return settings_beside(path)


def _log(path: Path) -> str | bytes:
    if path.suffix.lower() == ".csv":
        from wearlab.logbook.template import blank_log

        return blank_log()
    from wearlab.logbook.workbook_write import blank_workbook

    return blank_workbook(responses=tuple(_settings(path).responses))


def _pages(
    settings: TrialSettings,
    cutters: tuple[str, ...],
    zones: str | None,
    flutes: int | None,
    looks: int | None,
    unit: str | None,
    also: tuple[str, ...],
) -> list[BenchPage]:
    from wearlab.logbook.bench_write import blank_bench_page

    known = settings.zones
    names = options.words(zones) or list(known) or _ZONES.split(",")
    limits = {name: known.get(name) for name in names}
    return [
        blank_bench_page(
            cutter,
            limits,
            4 if flutes is None else flutes,
            12 if looks is None else looks,
            unit or "um",
            also,
            settings.responses,
        )
        for cutter in cutters or ("",)
    ]


def _bench(path: Path, pages: list[BenchPage], responses: tuple[str, ...], paper: str | None) -> str | bytes:
    ending = path.suffix.lower()
    if ending == ".html":
        from wearlab.report.sheets.pages import render_blank_bench_sheets

        return render_blank_bench_sheets(pages, paper or "A4", responses)
    from wearlab.logbook.bench_write import bench_csv, bench_workbook

    return bench_csv(pages) if ending == ".csv" else bench_workbook(pages)

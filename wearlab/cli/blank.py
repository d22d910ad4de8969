"""`wearlab blank`: a log to fill in, or the columns as a Table Schema."""

from __future__ import annotations

from pathlib import Path

import click

from wearlab.cli import options


@click.command()
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option("--table-schema", is_flag=True, help="Write the columns as a Frictionless Table Schema (JSON) instead.")
@click.option("--columns", is_flag=True, help="Print every column with its meaning and limits.")
@click.option("--force", is_flag=True, help="Replace a file that is already there.")
def command(file: Path | None, table_schema: bool, columns: bool, force: bool) -> None:
    """Write a blank log (default: trial.csv, here), or its columns.

    One row is one reading. Columns that a shop does not keep can be deleted; `wearlab check` says what is then lost.

    \b
    Example:
      wearlab blank trial.csv
      wearlab blank --table-schema columns.json
      wearlab blank --columns
    """
    import json

    from wearlab.logbook.document import columns_markdown, measures_markdown, table_schema_descriptor
    from wearlab.logbook.template import blank_log

    if columns:
        click.echo(columns_markdown() + "\n" + measures_markdown(), nl=False)
        return
    if table_schema:
        path, text = file or Path("columns.json"), json.dumps(table_schema_descriptor(), indent=2) + "\n"
    else:
        path, text = file or Path("trial.csv"), blank_log()
    written = options.write_whole(path, text, force)
    click.echo(f"{'Wrote' if written else 'Unchanged:'} {path}")

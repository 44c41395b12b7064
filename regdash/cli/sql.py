"""The command that asks a data cut in SQL."""

import sys
import threading

import click

from regdash.cli.ending import interruptible
from regdash.cli.options import Asked, asking
from regdash.cli.printing import say


@click.command()
@click.argument("statement")
@click.option("--rows", type=click.IntRange(min=1), default=1000, show_default=True, help="Rows at most.")
@click.option(
    "--seconds", type=click.FloatRange(min=0, min_open=True), default=30, show_default=True, help="Time at most."
)
@asking
def sql(asked: Asked, statement: str, rows: int, seconds: float) -> None:
    """
    Ask a data cut in SQL, read-only: one SELECT statement, or - to read it from standard input. Rows come as they
    are: no policy withholds any of them.

    \b
      regdash sql "select class, count(*) as joints from follow_up group by class"
      regdash sql "select table_name, comment from duckdb_tables()"
    """
    from regdash.cli.place import to_read
    from regdash.output.listing import Listing
    from regdash.store.sqlroom import ask

    if statement == "-":
        statement = sys.stdin.read()
    stop = threading.Event()
    with interruptible(stop.set):
        answer = ask(to_read(asked.store), asked.cut, statement, rows, seconds, stop)
    if answer.more:
        say(f"Only the first {rows:,} rows are shown; --rows allows more.")
    facts = {"cut": answer.cut, "statement": statement, "more": answer.more}
    asked.note_export("sql", answer.cut, len(answer.rows), statement=statement)
    asked.show(Listing("sql", answer.columns, answer.rows, facts, wraps=answer.columns))

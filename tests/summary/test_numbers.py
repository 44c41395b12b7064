"""Every figure of every table is the one that the command line gives in JSON; files read back say the same."""

import csv
import io
import json
import re
from typing import Any

import pytest
import python_calamine

from regdash import grouping
from regdash.cohort import parse
from regdash.summary.renderers.workbook import sheet_names
from tests.cli.asking import regdash
from tests.reports.cases import colon
from tests.reports.desks import reference, years_of
from tests.summary.made import SHORT, Made, made_in

# Tables that put answers together, each tested by itself below; all others have one command.
PUT_TOGETHER = (
    "primaries-by-year",
    "characteristics-",
    "rows-received",
    "linked-",
    "revisions-of-the-quarter",
    "commands",
    "withheld-counts",
)
# Lists of an answer beside its rows, by the end of a table's name.
PARTS = {
    **{f"-{part}": part for part in ("tests", "risk", "reasons", "windows", "hospitals")},
    **{f"-{part}": f"explained_{part}" for part in ("excess", "falls", "alike", "nearby")},
}


# A summary of three arms of a trial, which stand as fixations.
ARMS = (
    SHORT.replace('by = "class"', 'by = "fixation"')
    .replace("By class", "By arm")
    .format(words="")
    .replace("[2]", "[5]")
)


def answers(made: Made) -> dict[tuple[str, ...], Any]:
    """What the command line says to each command that a table names, asked once."""
    commands = {table.provenance.command for table in made.document.tables if not table.name.startswith(PUT_TOGETHER)}
    return {words: regdash(*words, "--json", store=made.store).json for words in sorted(commands)}


def rows_of(table: Any, answer: Any) -> list[dict[str, Any]]:
    part = next((part for end, part in PARTS.items() if table.name.endswith(end)), None)
    return answer[part] if part in answer and table.name.startswith(("implant-", "compare-")) else answer["rows"]


def test_every_table_says_what_the_command_line_says(made: Made) -> None:
    told, compared = answers(made), 0
    for table in made.document.tables:
        if table.name.startswith(PUT_TOGETHER):
            continue
        rows = json.loads(json.dumps(table.record.rows))
        for row in rows:
            row.pop("withheld", None) if row.get("withheld", "") is None else None
        assert rows == rows_of(table, told[table.provenance.command]), table.name
        compared += len(rows)
    assert compared > 800


def test_tables_that_put_answers_together_say_the_same_too(made: Made) -> None:
    tables = {table.name: table.record.rows for table in made.document.tables}
    years = regdash("describe", "--by", "joint,implanted", "--json", store=made.store).json["rows"]
    assert [f"{row['joint']}, {row['year']}" for row in tables["primaries-by-year"]] == [row["group"] for row in years]
    assert [row["joints"] for row in tables["primaries-by-year"]] == [row["joints"] for row in years]
    for row in tables["operations-by-quarter-knee"]:
        words = ("describe", "joint=knee", f"implanted={row['period']}", "--json")
        assert row["primaries"] == regdash(*words, store=made.store).json["joints"]
    for name in ("age", "sex", "diagnosis", "fixation"):
        words = ("describe", "joint=knee", "implanted=2024Q3", "--by", name, "--json")
        rows = regdash(*words, store=made.store).json["rows"]
        own = [row for row in tables["characteristics-knee"] if row["field"] == name]
        assert [(row["value"], row["joints"]) for row in own] == [(row["group"], row["joints"]) for row in rows]
        assert sum(row["share"] for row in own) == pytest.approx(1)


def test_mortality_stands_by_class_and_beside_a_fracture_as_its_records_say(made: Made) -> None:
    tables = {table.name: table for table in made.document.tables}
    assert "--beside" in tables["mortality-hip-fracture"].provenance.command
    for name in ("mortality-knee", "mortality-hip", "mortality-shoulder", "mortality-hip-fracture"):
        table = tables[name]
        headings = [column.heading for column in table.columns[1:4]]
        assert headings == ["by 30 days", "by 90 days", "by 1 year"]
        cells = [cell for row in zip(*(column.cells for column in table.columns[1:4]), strict=True) for cell in row]
        for cell, row in zip(cells, table.record.rows, strict=True):
            figures = [f"{100 * row[part]:.2f}" for part in ("estimate", "lower", "upper") if row[part] is not None]
            assert cell.strip() == ("{} ({}–{})".format(*figures) if figures else cell)
            assert bool(figures) == ("withheld" not in row)


def test_the_workbook_read_by_another_program_holds_every_figure_as_a_number(made: Made) -> None:
    book = python_calamine.load_workbook(io.BytesIO(made.files["summary.xlsx"]))
    names = sheet_names([table.name for table in made.document.tables])
    assert book.sheet_names == ["Contents", *names.values()]
    for table in made.document.tables:
        lines = book.get_sheet_by_name(names[table.name]).to_python()
        assert lines[0][0] == table.title
        assert tuple(filter(None, lines[2])) == table.record.columns
        for line, row in zip(lines[3:], table.record.rows):
            for cell, name in zip(line, table.record.columns):
                assert_cell(cell, row, name)


def assert_cell(cell: Any, row: dict[str, Any], name: str) -> None:
    """A number is that number, a text that text, and what is not there is a word."""
    value = row.get(name)
    if value is None:
        assert cell == ("withheld" if row.get("withheld") and name != "withheld" else "–")
    elif isinstance(value, (int, float)) and not isinstance(value, bool):
        assert type(cell) is float or type(cell) is int
        assert cell == pytest.approx(value, rel=1e-14)
    else:
        assert str(cell) == (str(value).lower() if isinstance(value, bool) else str(value))


def test_every_csv_file_reads_back_by_its_descriptor(made: Made) -> None:
    """Read as Table Schema says: missing values first, then the type (specs.frictionlessdata.io/table-schema)."""
    package = json.loads(made.files["tables/datapackage.json"])
    assert [resource["name"] for resource in package["resources"]] == [table.name for table in made.document.tables]
    assert all(re.fullmatch(r"[a-z0-9._-]+", resource["name"]) for resource in package["resources"])
    read = {"integer": int, "number": float, "string": str, "boolean": lambda text: text == "true"}
    for resource, table in zip(package["resources"], made.document.tables):
        text = made.files[f"tables/{resource['path']}"].decode("utf-8")
        kinds = {field["name"]: read[field["type"]] for field in resource["schema"]["fields"]}
        missing = resource["schema"]["missingValues"]
        rows = list(csv.DictReader(io.StringIO(text, newline=""), strict=True))
        assert len(rows) == len(table.record.rows)
        for line, row in zip(rows, table.record.rows):
            assert all(cell != "" for cell in line.values())
            back = {name: None if cell in missing else kinds[name](cell) for name, cell in line.items()}
            assert back == {name: plain(row.get(name)) for name in table.record.columns}


def plain(value: Any) -> Any:
    return "; ".join(map(str, value)) if isinstance(value, list) else value


def test_risks_in_every_form_are_those_of_r(tmp_path) -> None:
    """R: 1 - surv of survfit(Surv(time, status) ~ rx, colon), read from the files of a summary of the same people."""
    found = made_in(tmp_path, colon(), ARMS)
    report = found.desk.risk(parse(("joint=knee",)), grouping.parse("fixation"), [years_of(1826)])
    ours = {row.group: row.estimate for row in report.rows}
    table = next(t for t in found.document.tables if t.name == "risk-by-arm")
    by_five = {row["group"]: row for row in table.record.rows if row["years"] == 5}
    page = found.files["summary.html"].decode()
    assert len(reference("benchmark_difference_colon")) > 2
    for r in reference("benchmark_difference_colon"):
        if r["time"] != "1826":
            continue
        group, risk = {"Obs": "cemented", "Lev": "cementless"}[r["group"]], float(r["fail_group"])
        assert ours[group] == pytest.approx(risk, abs=1e-12)
        assert by_five[group]["estimate"] == pytest.approx(risk, abs=1e-12)
        assert f"an estimated {100 * by_five[group]['estimate']:.1f} % of" in page or f"{100 * risk:.1f} (" in page
    found.desk.close()

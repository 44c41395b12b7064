"""SQL on a data cut: one reading statement, and nothing that a guest should not touch."""

import time
from contextlib import closing
from datetime import date

import duckdb
import pytest

from regdash.errors import StatementError
from regdash.store import sqlroom
from regdash.store.cuts import Cut, cut_path
from regdash.store.sqlroom import ask
from tests.cli.asking import one_line, regdash
from tests.cli.test_processes import ENDLESS

REFUSED = {
    "drop": "drop table follow_up",
    "create": "create temp table t as select 1",
    "insert": "insert into cut_facts values ('a', 'b')",
    "update within a select": "with gone as (delete from cut_facts returning *) select * from gone",
    "setting": "set threads = 8",
    "unlocking": "reset lock_configuration",
    "attaching": "attach 'x.duckdb' as other",
    "copying out": "copy follow_up to 'x.csv'",
    "exporting": "export database 'x'",
    "installing": "install httpfs",
    "calling": "call pragma_version()",
    "explaining": "explain analyze select 1",
    "two statements": "select 1; select 2",
    "no statement": "  -- nothing",
    "a parameter": "select $name",
    "a syntax error": "selct 1",
    "an unknown column": "select hight from follow_up",
    "a file": "select * from read_csv('/etc/hostname', header = false)",
    "a file as a table": "from '/etc/hostname'",
    "a file as text": "select * from read_text('/etc/hostname')",
    "the folder": "select * from glob('/*')",
    "a network": "select * from 'http://127.0.0.1/x.csv'",
    "a network by function": "select * from read_parquet('https://127.0.0.1/x.parquet')",
    "a bucket": "select * from 's3://bucket/x.csv'",
    "another database": "select * from read_duckdb('x.duckdb')",
    "a file looked into": "select * from sniff_csv('/etc/hostname')",
    "a file in a lateral": "select * from follow_up, (select * from read_blob('/etc/hostname')) limit 1",
    "a file in a scalar subquery": "select (select max(content) from read_text('/etc/hostname'))",
    "a file of a described statement": "describe select * from read_csv('/etc/hostname')",
    "loading": "load httpfs",
    "loading a file": "load '/tmp/x.so'",
    "a pragma": "pragma database_list",
    "a pragma that writes": "pragma enable_profiling",
    "setting a variable": "set variable x = 1",
    "using": "use memory",
    "a macro": "create macro x() as 1",
    "a macro of a table": "create temp macro x() as table select 1",
    "a view": "create temp view x as select 1",
    "a table beside the cut": "create table memory.main.x as select 1",
    "copying in": "copy follow_up from 'x.csv'",
    "copying a query": "copy (select 1) to 'x.parquet'",
    "importing": "import database 'x'",
    "detaching": "detach data_cut",
    "a checkpoint": "checkpoint",
    "a checkpoint by function": "select * from checkpoint('data_cut')",
    "a checkpoint by force": "select * from force_checkpoint()",
    "a log on disk": "select * from enable_logging('QueryLog', storage = 'file', storage_path = 'x')",
    "a line of the log": "select write_log('x')",
    "a profile on disk": "select * from enable_profiling(save_location = 'x.json')",
    "memory of the process": "select * from pandas_scan(1)",
    "a statement in a text": "select * from query('select 1')",
    "a parsed statement in a text": "select * from json_execute_serialized_sql(json_serialize_sql('select 1'))",
    "a table named by a text": "select * from query_table('follow_up')",
    "secrets": "create secret x (type http)",
    "preparing": "prepare x as select 1",
    "a transaction": "begin",
    "a drop behind a comment": "select 1 /* ; */; drop table follow_up",
    "a pivot, which makes types": "pivot follow_up on class using count(*)",
}


@pytest.fixture(scope="module", autouse=True)
def as_it_was(store):
    """After all of these statements the cut is the same, byte by byte, and nothing lies beside it."""
    path = cut_path(store, "2024-12-31.1")
    before, beside = path.read_bytes(), sorted(path.parent.iterdir())
    yield
    assert path.read_bytes() == before
    assert sorted(path.parent.iterdir()) == beside


@pytest.mark.parametrize("statement", REFUSED.values(), ids=REFUSED.keys())
def test_what_does_not_only_read_the_cut_is_refused_in_one_line(statement, store, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    said = regdash("sql", statement, store=store)
    assert said.code == 1
    assert one_line(said)
    assert list(tmp_path.glob("x*")) == []


@pytest.mark.parametrize(
    "statement",
    ["from follow_up select count(*)", "with t as (select 1 as a) select * from t", "describe follow_up", "values (1)"],
)
def test_every_way_of_reading_is_allowed(statement, store):
    assert regdash("sql", statement, store=store).code == 0


def test_the_answer_is_the_same_as_the_reports(store):
    said = regdash("sql", "select count(*) as joints from follow_up where class = 'partial'", "--json", store=store)
    assert said.json["rows"] == [{"joints": regdash("risk", "class=partial", "--json", store=store).json["joints"]}]
    assert said.json["cut"] == "2024-12-31.1"


def test_values_arrive_in_every_form(store):
    words = ["sql", "select 'a,b' as text, 0.1::double as number, date '2024-12-31' as day, null as nothing"]
    assert regdash(*words, "--json", store=store).json["rows"] == [
        {"text": "a,b", "number": 0.1, "day": "2024-12-31", "nothing": None}
    ]
    assert regdash(*words, "--csv", store=store).stdout == 'text,number,day,nothing\r\n"a,b",0.1,2024-12-31,\r\n'
    assert regdash(*words, store=store).stdout.splitlines()[2].split() == ["a,b", "0.1", "2024-12-31", "–"]


def test_columns_of_one_name_are_told_apart(store):
    said = regdash("sql", "select 1 as n, 2 as n", "--json", store=store)
    assert said.json["rows"] == [{"n": 1, "n_2": 2}]


def test_rows_end_at_the_limit_and_standard_error_says_so(store):
    words = ["sql", "select joint_no from follow_up order by joint_no", "--rows", "3", "--csv"]
    said = regdash(*words, store=store)
    assert said.stdout == "joint_no\r\n0\r\n1\r\n2\r\n"
    assert said.stderr == "Only the first 3 rows are shown; --rows allows more.\n"
    assert regdash("sql", "select 1 as one", "--rows", "1", store=store).stderr == ""


def test_a_statement_that_takes_too_long_is_ended(store):
    began = time.monotonic()
    said = regdash("sql", ENDLESS, "--seconds", "0.5", store=store)
    assert said.code == 1
    assert one_line(said) == "The statement was ended after 0.5 seconds. Ask for less, or allow more."
    assert time.monotonic() - began < 10


ENDLESS_RECURSION = "with recursive r as (select 1 as n union all select n + 1 from r) select count(*) from r"
TOO_LARGE = "select count(distinct (a.range, b.range, repeat('x', 200))) from range(20000) a, range(20000) b"


@pytest.mark.parametrize("statement", [ENDLESS_RECURSION, "select sleep_ms(60000)", TOO_LARGE])
def test_whatever_takes_time_or_memory_without_end_is_ended_in_one_line(statement, store):
    began = time.monotonic()
    said = regdash("sql", statement, "--seconds", "0.4", store=store)
    assert said.code == 1
    assert one_line(said)
    assert time.monotonic() - began < 10


def test_memory_has_an_end_too(store, monkeypatch):
    monkeypatch.setattr(sqlroom, "MEMORY_LIMIT", "30MB")
    said = regdash("sql", "select length(list(range)) from range(20000000)", store=store)
    assert one_line(said) == "The statement needs more than the 30MB of memory that it may have. Ask for less."


def test_a_very_large_answer_is_read_up_to_the_limit_alone(store):
    said = regdash("sql", "select * from range(1000000000)", "--rows", "2", "--csv", store=store)
    assert (said.code, said.stdout) == (0, "range\r\n0\r\n1\r\n")


def test_what_cannot_be_looked_through_is_not_asked():
    with duckdb.connect() as connection, pytest.raises(StatementError, match="cannot be taken apart"):
        sqlroom._refuse_acting(connection, "pivot t on a using count(*)")


def test_what_python_holds_is_no_table(store):
    rows = [("secret",)]  # noqa: F841 - a name that a statement might reach for
    with pytest.raises(StatementError, match="rows"):
        ask(store, None, "select * from rows")


def test_the_cut_can_be_asked_while_this_process_reads_it(store):
    with closing(Cut(store)) as cut:
        counted = cut.manifest.joints
        assert ask(store, None, "select count(*) from follow_up").rows == [(counted,)]


def test_a_statement_may_come_from_standard_input(store):
    assert regdash("sql", "-", "--csv", store=store, stdin="select 1 as one").stdout == "one\r\n1\r\n"


def test_the_views_of_the_cut_can_be_asked(store):
    words = ["sql", "select count(*) as n from revision_causes", "--json"]
    assert regdash(*words, store=store).json["rows"][0]["n"] > 0


def test_an_answer_keeps_its_types(store):
    answer = ask(store, None, "select 1::bigint as n, date '2024-12-31' as d, true as b")
    assert answer.rows == [(1, date(2024, 12, 31), True)]
    assert not answer.more


def test_what_the_database_says_is_one_short_line(store):
    with pytest.raises(StatementError) as refused:
        ask(store, None, "select " + ", ".join(f"no_such_column_{n}" for n in range(100)) + " from follow_up")
    assert "\n" not in str(refused.value)
    assert len(str(refused.value)) < 320

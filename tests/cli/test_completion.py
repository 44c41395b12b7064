"""Completion of commands, filter words and codes, in a real bash where it matters."""

import subprocess
import sys
from pathlib import Path

import pytest
from click.shell_completion import ShellComplete

from regdash.cli.main import cli
from regdash.store.words import CLASSES
from tests.cli.asking import CHECKOUT, one_line, regdash


def completed(*words: str) -> list[str]:
    """What the last word may become."""
    complete = ShellComplete(cli, {}, "regdash", "_REGDASH_COMPLETE")
    return [item.value for item in complete.get_completions(list(words[:-1]), words[-1])]


def test_commands_are_completed():
    assert completed("re") == ["receive", "return-files", "restore", "revisions", "reasons", "requests"]


@pytest.mark.parametrize(
    ("words", "found"),
    [
        (["risk", "bea"], ["bearing="]),
        (["risk", "class="], [f"class={word}" for word in CLASSES]),
        (["risk", "class=p"], ["class=partial", "class=patellofemoral"]),
        (["risk", "class!=par"], ["class!=partial"]),
        (["risk", "asa=I,I"], ["asa=I,I", "asa=I,II", "asa=I,III", "asa=I,IV"]),
        (["risk", "class=total", "--by", "sex,te"], ["sex,technology"]),
        (["risk", "joint=knee", "class="], ["class=total", "class=partial", "class=patellofemoral"]),
        (["risk", "joint=hip", "--by", "sex", "bearing=c"], ["bearing=constrained"]),
        (["risk", "joint=shoulder", "bearing="], ["bearing=not-applicable", "bearing=not-recorded"]),
        (["risk", "joint=knee", "bearing!=m"], ["bearing!=mobile"]),
        (["risk", "--reason", "loosening-t"], ["loosening-tibial"]),
        (["risk", "--view", "p"], ["patient"]),
        (["rates", "--endpoint", "a"], ["any-revision", "aseptic", "anatomic-to-reverse"]),
        (["gap", "--endpoint", "removed:ti"], ["removed:tibial"]),
        (["--store", "x", "risk", "patel"], ["patella="]),
    ],
)
def test_words_of_the_trade_are_completed_without_a_store(words, found):
    assert completed(*words) == found


def test_words_about_what_happened_later_are_offered_for_lists_of_joints_alone():
    assert completed("joints", "ende") == ["ended="]
    assert completed("risk", "ende") == []


def test_codes_come_from_the_cut(store):
    own = ["--store", str(store)]
    assert completed("risk", *own, "hospital=H00") == [f"hospital=H00{n}" for n in (1, 2, 3, 4, 5, 6, 7, 8, 9)]
    assert "KT-001" in completed("implant", *own, "kt-")
    assert "H001" in completed("units", "hospitals", *own, "--code", "h0")
    assert "S0010" in completed("units", "surgeons", *own, "--code", "s00")
    assert completed("risk", *own, "--cut", "20") == ["2024-12-31.1"]
    assert completed("held", "--rule", "side-m") == ["side-missing"]


def test_without_a_store_codes_are_not_completed_and_nothing_is_said(capsys, tmp_path):
    assert completed("risk", "--store", str(tmp_path), "hospital=") == []
    assert completed("risk", "--store", str(tmp_path), "--cut", "") == []
    assert completed("risk", "hospital=") == []
    assert capsys.readouterr() == ("", "")


def test_completing_a_word_list_opens_no_database():
    lines = """
import sys
from click.shell_completion import ShellComplete
from regdash.cli.main import cli
from regdash.store.words import CLASSES
assert ShellComplete(cli, {}, "regdash", "_REGDASH_COMPLETE").get_completions(["risk"], "class=")
assert "duckdb" not in sys.modules
"""
    done = subprocess.run([sys.executable, "-c", lines], capture_output=True, text=True, check=False, cwd=CHECKOUT)
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_each_shell_gets_a_script_of_its_own(shell):
    said = regdash("completion", shell)
    assert said.code == 0
    assert f"_REGDASH_COMPLETE={shell}_complete" in said.stdout


def test_without_a_shell_it_tells_the_line_for_each():
    said = regdash("completion")
    assert [line.split(" ")[0] for line in said.stdout.splitlines()] == ["eval", "eval", "regdash"]


def test_an_unknown_shell_is_wrong_usage():
    said = regdash("completion", "csh")
    assert said.code == 2
    assert "csh" in one_line(said)


# How bash splits a line: "=" and ":" are words of their own (COMP_WORDBREAKS, bash(1)).
LINES = {
    "a key": (["regdash", "risk", "cl"], ["class="]),
    "a value": (["regdash", "risk", "class", "=", "par"], ["partial"]),
    "all values": (["regdash", "risk", "class", "="], list(CLASSES)),
    "a second value": (["regdash", "risk", "class", "=", "total,par"], ["total,partial"]),
    "not a value": (["regdash", "risk", "class!", "=", "par"], ["partial"]),
    "after a whole word": (["regdash", "risk", "class", "=", "partial", "bear"], ["bearing="]),
    "an option's value": (["regdash", "risk", "--view", "=", "pat"], ["patient"]),
    "a command": (["regdash", "rea"], ["reasons"]),
}


@pytest.mark.parametrize(("words", "found"), LINES.values(), ids=LINES.keys())
def test_bash_puts_in_the_part_that_is_missing(words, found, tmp_path):
    program = tmp_path / "regdash"
    program.write_text(f"#!{sys.executable}\nfrom regdash.cli.main import main\nmain()\n")
    program.chmod(0o755)
    assert in_bash(program, words) == found


def in_bash(program: Path, words: list[str]) -> list[str]:
    """Let bash load the script, and ask its function as readline does with the cursor at the end of the line."""
    script = tmp_script(words)
    environ = {"PATH": f"{program.parent}:/usr/bin:/bin", "PYTHONPATH": str(CHECKOUT), "HOME": str(program.parent)}
    command = ["bash", "--norc", "-c", script]
    done = subprocess.run(command, capture_output=True, text=True, check=True, env=environ, timeout=60)
    assert done.stderr == ""
    return done.stdout.splitlines()


def tmp_script(words: list[str]) -> str:
    quoted = " ".join(f"'{word}'" for word in words)
    return f"""
eval "$(regdash completion bash)"
compopt() {{ :; }}
COMP_WORDS=({quoted})
COMP_CWORD={len(words) - 1}
_regdash_completion regdash
printf '%s\\n' "${{COMPREPLY[@]}}"
"""

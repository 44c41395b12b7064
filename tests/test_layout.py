"""What stands where, and what no file may say."""

import ast
import re
import subprocess
from pathlib import Path

import pytest

from regdash.store import sqlfiles

ROOT = Path(__file__).resolve().parent.parent
ALLOWED = {"README.md", "DEVELOPERS.md", "pyproject.toml", "regdash", "sql", "tests", "synthetic_registry", "scripts"}
TEXT = {".py", ".sql", ".md", ".toml", ".lock", ".tcss", ".txt", ".json", ".svg", ".csv", ".ambr", ""}

# Written in parts, so that this file does not say what it looks for.
ADDRESS_PARTS = ["py" + r"pi\.org", "python" + "hosted", "index" + r"[-_]url\s*=", "/simp" + "le/"]
INDEX_ADDRESS = re.compile("|".join(ADDRESS_PARTS))
HOME_OF_ONE = re.compile("|".join(["/ro" + "ot/", r"/ho" + r"me/\w+/", "/Us" + r"ers/\w+/", "/wo" + "rk/"]))


def kept_files() -> list[Path]:
    """Every file that is under version control, or would be if all were added."""
    command = ["git", "ls-files", "--cached", "--others", "--exclude-standard"]
    names = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout.splitlines()
    return [path for path in (ROOT / name for name in names) if path.is_file()]


def text_of_kept_files() -> dict[str, str]:
    texts = {path: path.read_text(encoding="utf-8") for path in kept_files() if path.suffix in TEXT}
    assert len(texts) > 30
    return {str(path.relative_to(ROOT)): text for path, text in texts.items()}


def test_the_top_level_holds_the_layout_and_dot_files_only():
    tops = {path.relative_to(ROOT).parts[0] for path in kept_files()}
    assert {top for top in tops if not top.startswith(".")} == ALLOWED


def test_no_file_names_a_package_index_or_a_folder_of_one_machine():
    found = {
        name: match[0]
        for name, text in text_of_kept_files().items()
        for match in [INDEX_ADDRESS.search(text) or HOME_OF_ONE.search(text)]
        if match
    }
    assert found == {}


@pytest.mark.parametrize("text", ["https://py" + "pi.org/x", "--index" + "-url = y", "/ho" + "me/someone/regdash"])
def test_the_search_for_addresses_and_folders_finds_them(text):
    assert INDEX_ADDRESS.search(text) or HOME_OF_ONE.search(text)


SQL = sorted(path.relative_to(ROOT / "sql").with_suffix("").as_posix() for path in (ROOT / "sql").rglob("*.sql"))


@pytest.mark.parametrize("name", SQL)
def test_every_sql_file_says_what_it_is_for(name):
    file = sqlfiles.sql_file(name)
    assert file.about.endswith("."), "the header begins with a sentence"
    assert file.fields, "the header names a grain, what is read, or what is made"
    assert file.query, "a statement follows the header"


def sources(*folders: str) -> list[Path]:
    return [path for folder in folders for path in sorted((ROOT / folder).rglob("*.py"))]


def imports(path: Path) -> set[str]:
    """Every module that a file names, wherever in it: `from scipy import stats` is scipy.stats."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    whole = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    froms = [node for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    return whole | {f"{node.module}.{alias.name}" for node in froms for alias in node.names}


@pytest.mark.parametrize("path", sources("regdash", "synthetic_registry"), ids=lambda path: path.stem)
def test_scipy_means_its_special_functions(path):
    """The rest of it takes half a second to import."""
    scipy = {name for name in imports(path) if name.split(".")[0] == "scipy"}
    assert all(name.startswith("scipy.special") for name in scipy)


@pytest.mark.parametrize("path", sources("regdash", "synthetic_registry", "scripts"), ids=lambda path: path.stem)
def test_no_file_is_longer_than_a_person_reads(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 400

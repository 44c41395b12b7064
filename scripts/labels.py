"""
List every screen of the dashboard with its title, keys and labels, in one file to be read once more.

Run it in the environment of the program: .venv/bin/python scripts/labels.py. It writes tests/dashboard/labels.txt,
which a test compares with the program.
"""

import ast
import importlib
import inspect
import pkgutil
import re
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

from textual.binding import Binding
from textual.screen import Screen

import regdash.dashboard
from regdash.dashboard.place import KEY_NAMES, PLACES, Place
from regdash.dashboard.widgets.prompt import Prompt

LIST = Path(__file__).parent.parent / "tests" / "dashboard" / "labels.txt"
UNSEEN = {"CSS", "DEFAULT_CSS", "BINDINGS", "OWN_KEYS", "WORD", "NAMED", "AFTER_FROM", "QUOTE_OR_REMARK", "__all__"}
WORDS = re.compile(r"[A-Za-z]{2}")


def listed() -> str:
    """Write the list."""
    parts = ["Places: " + " ".join(f"{n} {name}" for n, name in enumerate(PLACES, 1))]
    for module in modules():
        screens = [*screens_of(module)]
        texts = [*labels_of(module)]
        if screens or texts:
            parts.append("\n".join(["", f"== {module.__name__.removeprefix('regdash.dashboard.')}", *screens, *texts]))
    return "\n".join(parts) + "\n"


def modules() -> Iterator[ModuleType]:
    """All modules of the dashboard, by name."""
    found = pkgutil.walk_packages(regdash.dashboard.__path__, "regdash.dashboard.")
    for name in sorted(each.name for each in found):
        yield importlib.import_module(name)


def screens_of(module: ModuleType) -> Iterator[str]:
    """Each screen that a module holds: what it is for, its title, and its own keys."""
    for name, kind in inspect.getmembers(module, inspect.isclass):
        if kind.__module__ != module.__name__ or not issubclass(kind, Screen):
            continue
        yield f"screen {name}: {inspect.getdoc(kind)}".split("\n")[0]
        if issubclass(kind, Prompt):
            yield f"  title: {kind.heading}  [{kind.keys}]"
        if issubclass(kind, Place):
            yield f"  Enter: {kind.ENTER or 'nothing'}; without: {', '.join(kind.WITHOUT) or 'nothing'}"
        yield from (f"  {line}" for line in keys_of(kind))


def keys_of(kind: Any) -> Iterator[str]:
    """The keys that a screen adds to those of all places, with what the list of keys says of each."""
    own = getattr(kind, "OWN_KEYS", {})
    for binding in kind.__dict__.get("BINDINGS", ()):
        if isinstance(binding, Binding):
            said = own.get(binding.action, "")
            hidden = "" if binding.show else " (not in the line of keys)"
            key = KEY_NAMES.get(binding.key, binding.key)
            yield f"key {key}: {binding.description or binding.action}{f' - {said}' if said else ''}{hidden}"


def labels_of(module: ModuleType) -> Iterator[str]:
    """Titles of columns, and every other text of several words; a part that is filled in is {}."""
    tree = ast.parse(Path(str(module.__file__)).read_text(encoding="utf-8"))
    leave_out(tree)
    titles = {id(node.args[0]) for node in ast.walk(tree) if isinstance(node, ast.Call) and called(node) == "Column"}
    inside = {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in ast.walk(node)}
    texts = [n for n in ast.walk(tree) if isinstance(n, (ast.Constant, ast.JoinedStr))]
    found: dict[str, None] = {}
    for node in sorted(texts, key=lambda node: (node.lineno, node.col_offset)):
        text = written(node)
        if id(node) in titles and text:
            found[f"  column: {text}"] = None
        elif " " in text and WORDS.search(text) and (isinstance(node, ast.JoinedStr) or id(node) not in inside):
            found[f"  text: {text}"] = None
    yield from found


def leave_out(tree: ast.AST) -> None:
    """Take out what nobody reads on a screen: docstrings, style sheets, keys, which are listed apart."""
    for node in ast.walk(tree):
        body = getattr(node, "body", None)
        if isinstance(body, list):
            node.body = [each for each in body if not is_unseen(each)]  # type: ignore[attr-defined]


def is_unseen(node: ast.stmt) -> bool:
    """Whether a statement is a docstring, a style sheet or a list of keys."""
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return True
    targets = [node.target] if isinstance(node, ast.AnnAssign) else getattr(node, "targets", [])
    return any(isinstance(target, ast.Name) and target.id in UNSEEN for target in targets)


def called(call: ast.Call) -> str:
    """The name of what is called."""
    return call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")


def written(node: ast.expr) -> str:
    """The text of a literal, its parts that are filled in as {}; empty for anything else."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return " ".join(node.value.split())
    if isinstance(node, ast.JoinedStr):
        parts = [str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values]
        return " ".join("".join(parts).split())
    return ""


if __name__ == "__main__":
    LIST.write_text(listed(), encoding="utf-8")
    print(f"Written: {LIST}")

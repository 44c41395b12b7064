"""Signs that stand in for others: as wide, never a question mark for a sign that the program writes itself."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest
from rich.cells import cell_len

import regdash
from regdash.charts.ascii_signs import STAND_IN, UNKNOWN, in_ascii

WRITES = ("charts", "cli", "dashboard", "errors.py", "fields.py", "output", "reports", "signals")


def signs_of_the_program() -> Iterator[tuple[str, str]]:
    root = Path(regdash.__file__).parent
    for path in sorted(file for part in WRITES for file in [root / part, *(root / part).rglob("*.py")]):
        if path.suffix != ".py" or path.name == "ascii_signs.py":
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                yield from ((sign, f"{path.name}:{node.lineno}") for sign in node.value if not sign.isascii())


def test_every_sign_that_the_program_writes_has_a_stand_in_of_its_width():
    found = dict(signs_of_the_program())
    assert {"●", "├", "…", "–"} <= found.keys()
    found.pop("\ufffd", None)  # stands for what is not known itself
    lacking = {sign: where for sign, where in found.items() if in_ascii(sign) in ("", UNKNOWN)}
    assert not lacking
    assert all(in_ascii(sign).isascii() and len(in_ascii(sign)) == cell_len(sign) for sign in found)


def test_dots_of_a_curve_stay_a_curve():
    every = [chr(sign) for sign in range(0x2801, 0x2900)]
    assert set(map(in_ascii, every)) == set("'-_|/\\")
    rising, falling = "⣀⡠⠔⠊⠉", "⠉⠑⠢⢄⣀"
    assert in_ascii(rising)[0] == in_ascii(falling)[-1] == "_"
    assert in_ascii(rising)[-1] == in_ascii(falling)[0] == "'"


@pytest.mark.parametrize(("text", "written"), [("Åse Müller", "Ase Muller"), ("a日b", "a??b"), ("e\u0301", "e")])
def test_letters_keep_their_columns(text: str, written: str):
    assert in_ascii(text) == written
    assert cell_len(written) == cell_len(text)


def test_an_encoding_that_lacks_a_sign_gets_its_stand_in():
    assert "1.2–3.4 × 5 …".encode("ascii", STAND_IN) == b"1.2-3.4 x 5 ~"
    assert "Müller ● 1".encode("latin-1", STAND_IN) == "Müller * 1".encode("latin-1")

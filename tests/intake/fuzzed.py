"""Files spoilt at random: bytes put in, taken out, turned, cut, repeated, shuffled, quoted anew."""

import random
from pathlib import Path

from tests.intake.spoiling import COMPONENTS, OPERATIONS, REASONS, Spoil


def fuzzed(seed: int) -> Spoil:
    """Spoil one file in one to three ways drawn by a seed."""

    def spoil(folder: Path) -> None:
        rng = random.Random(seed)
        name = rng.choice((OPERATIONS, OPERATIONS, COMPONENTS, REASONS))
        text = (folder / name).read_bytes()
        for _ in range(rng.randint(1, 3)):
            text = rng.choice(_WAYS)(rng, text)
        (folder / name).write_bytes(text)

    return spoil


_TOKENS = (
    b",",
    b'"',
    b"\n",
    b"\r",
    b"\r\n",
    b";",
    b"\t",
    b"\0",
    b"\xff",
    b"\xc3",
    b"''",
    b'""',
    b"\\",
    b"\x1a",
    b"\xe2\x80\xa8",
)


def _at(rng: random.Random, text: bytes) -> int:
    return rng.randint(0, len(text))


def _put_in(rng: random.Random, text: bytes) -> bytes:
    place = _at(rng, text)
    return text[:place] + rng.choice(_TOKENS) * rng.randint(1, 3) + text[place:]


def _take_out(rng: random.Random, text: bytes) -> bytes:
    place = _at(rng, text)
    return text[:place] + text[place + rng.randint(1, 40) :]


def _flip(rng: random.Random, text: bytes) -> bytes:
    if not text:
        return text
    place = rng.randrange(len(text))
    return text[:place] + bytes([text[place] ^ 1 << rng.randrange(8)]) + text[place + 1 :]


def _cut(rng: random.Random, text: bytes) -> bytes:
    return text[: _at(rng, text)]


def _repeat(rng: random.Random, text: bytes) -> bytes:
    lines = text.splitlines(keepends=True)
    return text + rng.choice(lines) if lines else text


def _shuffle(rng: random.Random, text: bytes) -> bytes:
    lines = text.splitlines(keepends=True)
    rng.shuffle(lines)
    return b"".join(lines)


def _swap_cells(rng: random.Random, text: bytes) -> bytes:
    cells = text.split(b",")
    one, other = rng.randrange(len(cells)), rng.randrange(len(cells))
    cells[one], cells[other] = cells[other], cells[one]
    return b",".join(cells)


def _requote(rng: random.Random, text: bytes) -> bytes:
    cells = text.split(b",")
    place = rng.randrange(len(cells))
    cells[place] = b'"' + cells[place].replace(b'"', b'""') + b'"'
    return b",".join(cells)


_WAYS = (_put_in, _put_in, _take_out, _flip, _cut, _repeat, _shuffle, _swap_cells, _requote)

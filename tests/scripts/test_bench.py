"""The bench makes what it measures: one register drawn at once, or a cut of its lives several times over."""

from collections.abc import Iterator
from pathlib import Path

import bench
import pytest


@pytest.mark.parametrize(
    ("joints", "kept", "made"),
    [
        (1_000_000, [], ["draw 1000000"]),
        (1_000_000, ["store"], []),
        (3_000_000, [], ["draw 1000000", "3 times into store-3-times"]),
        (3_000_000, ["store"], ["3 times into store-3-times"]),
        (3_000_000, ["store", "store-3-times"], []),
    ],
)
def test_what_is_not_there_yet_is_made_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, joints: int, kept: list[str], made: list[str]
) -> None:
    done: list[str] = []

    def drawn(folder: Path, joints: int) -> Iterator[bench.Line]:
        done.append(f"draw {joints}")
        yield bench.Line("drawn", "")

    def several(store: Path, times: int, larger: Path) -> Iterator[bench.Line]:
        done.append(f"{times} times into {larger.name}")
        yield bench.Line("several", "")

    def alone(store: Path) -> Iterator[bench.Line]:
        done.append(f"measure {store.name}")
        yield bench.Line("measured", "")

    for name in kept:
        (tmp_path / name).mkdir()
    monkeypatch.setattr(bench, "whole_way", drawn)
    monkeypatch.setattr(bench, "several_times", several)
    bench.measure(tmp_path, joints, alone)
    assert done == [*made, "measure store-3-times" if joints > 1_000_000 else "measure store"]

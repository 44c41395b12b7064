"""Two data cuts of one store side by side, read-only, and what moves the counts of the one to those of the other."""

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

import duckdb

from regdash.cohort import Predicate
from regdash.errors import Cancelled, StoreError
from regdash.store.cuts import MEMORY_LIMIT, Manifest, Question, check_layout, cut_path
from regdash.store.run import Rows, run
from regdash.store.sqlfiles import statement
from regdash.store.words import quoted

DEFINITIONS, LATE = 1, 5  # steps, as sql/changes/causes.sql numbers them
STEPS = 7  # the earlier cut itself, then each cause


@dataclass(frozen=True)
class Move:
    """Joints that one step puts into a cell of the event table, or takes out where they are negative."""

    step: int  # 0 for the earlier cut itself
    place: tuple[str, ...]  # words of its group
    day: int  # end of follow-up, days since implantation
    is_revised: bool
    joints: int


@dataclass(frozen=True)
class ChosenUnits:
    """Some implants, constructs, or sizes or lots of implants, whose joints are to be told apart."""

    codes: tuple[str, ...]
    part: str | None = None  # size or lot; None: of implants
    constructs: bool = False

    @property
    def path(self) -> str:
        """The statement that finds who holds them."""
        return "chosen_constructs" if self.constructs else "chosen_components"

    @property
    def parts(self) -> dict[str, str]:
        """What that statement needs."""
        if self.constructs:
            return {}
        return {"code": statement("changes/part_code", part=self.part) if self.part else "implant::varchar"}

    @property
    def values(self) -> dict[str, Any]:
        """What it binds."""
        return {"codes": list(self.codes), "implants": sorted({code.split(" ", 1)[0] for code in self.codes})}

    @staticmethod
    def of(place: str) -> list[tuple[str, str]]:
        """
        Read which units a joint holds: their roles and codes.

        >>> ChosenUnits.of("femoral\\tKF-001\\ntibial\\tKT-001")
        [('femoral', 'KF-001'), ('tibial', 'KT-001')]
        """
        return [(role, code) for role, _, code in (unit.partition("\t") for unit in place.split("\n"))]


class TwoCuts:
    """
    Two cuts of a store, open together for one question, and ended with it.

    Raises:
        StoreError: a cut is of another layout, its file is missing, or it cannot be opened.
    """

    def __init__(self, store: Path, earlier: Manifest, later: Manifest, question: Question | None = None) -> None:
        self._earlier, self._later, self._question = earlier, later, question
        self._spill = tempfile.TemporaryDirectory(prefix="regdash-")
        config: dict[str, Any] = {"memory_limit": MEMORY_LIMIT, "temp_directory": self._spill.name}
        config |= {"autoinstall_known_extensions": "false", "autoload_known_extensions": "false"}
        self._connection = duckdb.connect(config=config)
        for name, manifest in (("earlier", earlier), ("later", later)):
            check_layout(manifest)
            self._attach(name, cut_path(store, manifest.cut))
        self._connection.execute("set enable_external_access = false")

    def _attach(self, name: str, path: Path) -> None:
        if not path.is_file():
            raise StoreError(f"The data cut {path} is listed but its file is missing. Restore it from a backup.")
        try:
            self._connection.execute(f"attach {quoted(str(path))} as {name} (read_only)")
        except duckdb.Error as fault:
            raise StoreError(f"The data cut {path} cannot be opened: {str(fault).splitlines()[0]}") from None

    def moves(self, predicate: Predicate, groups: Sequence[str], chosen: ChosenUnits | None = None) -> list[Move]:
        """
        Say what moves the event table of a cohort from the earlier cut to the later one.

        Args:
            predicate: the cohort, in both cuts.
            groups: how joints are grouped, in SQL that gives texts.
            chosen: units whose joints alone are looked at; the first word of a place then lists those a joint holds, as
                `ChosenUnits.of` reads it.

        Raises:
            Cancelled: from another thread.
        """
        if chosen is not None:
            groups = (statement("changes/units_held"), *groups)
            predicate = replace(predicate, sql=f"({predicate.sql}) and {statement('changes/holds_units')}")
        try:
            if self._question:
                self._question.start(self._connection)
            for which in ("earlier", "later"):
                if chosen is not None:
                    self._run(chosen.path, chosen.values, which, **chosen.parts)
                parts = {"which": which, "groups": ", ".join(groups), "predicate": predicate.sql}
                self._run("states", predicate.parameters, which, **parts)
            known, through = self._earlier.known_as_of, self._earlier.through_date
            self._run("records", {"known_before": date.fromisoformat(known)})
            anew = DEFINITIONS if self.other_definitions else LATE
            self._run("causes", {"through": date.fromisoformat(through), "worked_out_anew": anew})
            found = self._run("moves", {})
        except duckdb.InterruptException:
            raise Cancelled("The question was cancelled.") from None
        finally:
            if self._question:
                self._question.done(self._connection)
        return [Move(step, tuple(place), day, revised, int(joints)) for step, place, day, revised, joints in found]

    @property
    def other_definitions(self) -> bool:
        """Whether rules, catalogue or code lists differ between the cuts."""
        one, other = self._earlier, self._later
        return (one.rule_set, one.catalogue, one.code_lists) != (other.rule_set, other.catalogue, other.code_lists)

    def _run(self, path: str, values: dict[str, Any], current: str = "later", **parts: str) -> Rows:
        # Types of codes are each cut's own, and are looked up in the current database.
        self._connection.execute(f"use {current}")
        return run(self._connection, f"changes/{path}", values, **parts)

    def close(self) -> None:
        """Close both cuts."""
        self._connection.close()
        self._spill.cleanup()

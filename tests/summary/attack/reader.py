"""
One hostile reader: what it has, all that follows from it, and how closely it tells each small count of others.

It is granted more than any reader has. A figure of others is taken to tell the count behind it exactly, however it is
rounded; a whole number of 100 tells it to its rounding, of joints whose number is known; it knows its own joints one by
one; a maker knows which of its implants were ever put in together. It does not use that small numbers are left out, but
knows that what is left out is at least 1.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise, permutations

import numpy as np

from regdash.summary.plain import REASONS
from tests.summary.attack.folder import Folder
from tests.summary.attack.meaning import ALL, EVERYBODY, OTHERS, Meaning, meanings
from tests.summary.attack.program import Program
from tests.summary.attack.register import Register

BESIDE = {"knee": ("total", "partial", "patellofemoral"), "hip": ("total", "hemi", "resurfacing")}
BESIDE |= {"shoulder": ("anatomic", "reverse", "hemi")}
LEFT_OUT = "would tell one"  # in the reason for what is withheld because a count is small
WHOLE = 800  # unknowns up to which bounds are found in whole numbers too; those of the linear program are wider


@dataclass(frozen=True)
class Breach:
    """A small count that is told more closely than is stated."""

    reader: str
    what: str
    count: int
    low: int
    high: int


@dataclass
class Attack:
    """A reader with its folders; one program for each joint, over all data cuts that the folders are of."""

    folders: list[Folder]
    registers: dict[str, Register]  # by the name of the cut
    under: int = 5
    width: int = 4
    own: tuple[tuple[str, str], ...] = ()  # kind and code of those who read together; else of the first folder
    attacked: int = 0
    breaches: list[Breach] = field(default_factory=list)

    @property
    def reader(self) -> str:
        return " and ".join(f"{kind}:{code}".rstrip(":") for kind, code in self.readers)

    @property
    def readers(self) -> tuple[tuple[str, str], ...]:
        return self.own or ((self.folders[0].kind, self.folders[0].code),)

    @cached_property
    def meanings(self) -> list[tuple[str, str, Meaning]]:
        return [
            (folder.record["cut"]["name"], folder.quarter, one) for folder in self.folders for one in meanings(folder)
        ]

    def run(self) -> "Attack":
        joints = list(dict.fromkeys(one.joint for _, _, one in self.meanings))
        for joint in joints:
            Revised(self, joint).run()
            told = [quarter for _, quarter, one in self.meanings if one.age and one.joint == joint]
            for quarter in dict.fromkeys(told):
                Quarter(self, joint, quarter).run()
        return self

    def owned(self, cut: str) -> np.ndarray:
        """Which joints of a cut the reader knows one by one."""
        register = self.registers[cut]
        treating = [(kind, code) for kind, code in self.readers if kind in ("hospital", "surgeon")]
        return np.any([register.owned(*one) for one in treating] or [np.zeros(len(register.days), dtype=bool)], axis=0)

    def aim(self, program: Program, parts: np.ndarray, what: str, least: int = 1) -> None:
        """Attack one sum where it is small, or of `least` or more."""
        true = round(sum(program.truth[n] for n in parts.ravel()))
        if not least <= true < (self.under if least == 1 else np.inf):
            return
        self.attacked += 1
        low, high = program.bounds(parts, whole=False)
        assert low <= true <= high, what
        if low + self.width <= high < low + 2 * self.width and len(program.truth) < WHOLE:
            low, high = program.bounds(parts)
        if high - low < self.width:
            self.breaches.append(Breach(self.reader, what, true, low, high))


@dataclass
class Revised:
    """Joints and revisions of one joint by class (and own implants), reason and time, cut by cut."""

    attack: Attack
    joint: str
    program: Program = field(default_factory=Program)

    def __post_init__(self) -> None:
        mine = [(cut, one) for cut, _, one in self.attack.meanings if one.joint == self.joint and not one.age]
        self.told = mine
        self.cuts = sorted({cut for cut, _ in mine})
        self.times = sorted({one.years for _, one in mine if one.years is not None})
        chosen = {cut: self._chosen(cut) for cut in self.cuts}
        self.reasons = sorted({r for cut, of in chosen.items() for r in self.attack.registers[cut].reason[of] if r})
        self.makers = {code for kind, code in self.attack.readers if kind == "maker"}
        labels = {cut: [self._label(cut, n) for n in np.flatnonzero(of)] for cut, of in chosen.items()}
        usual = [(kind, frozenset()) for kind in BESIDE.get(self.joint, ())]
        self.kinds = list(dict.fromkeys([*usual, *(one for of in labels.values() for one in of)]))
        self.revised = {cut: self.program.unknown(self._counted(cut, chosen[cut], labels[cut])) for cut in self.cuts}
        self.joints = {}
        if self.makers:
            for cut in self.cuts:
                number = np.array([labels[cut].count(kind) for kind in self.kinds])
                self.joints[cut] = self.program.unknown(number)
                for place, parts in zip(self.joints[cut], self.revised[cut]):
                    self.program.know(np.array([place]), 0, less=parts)

    def run(self) -> None:
        for cut, one in self.told:
            self._learn(cut, one)
        for folder in self.attack.folders:
            self._ranks(folder)
        for sooner, later in pairwise(self.cuts):
            self._never_fall(sooner, later)
        seen: set[bytes] = set()
        for name, parts in self._aims():
            key = np.sort(parts.ravel()).tobytes()
            if parts.size and key not in seen:
                seen.add(key)
                self.attack.aim(self.program, parts, name)

    def _chosen(self, cut: str) -> np.ndarray:
        return (self.attack.registers[cut].joint == self.joint) & ~self.attack.owned(cut)

    def _label(self, cut: str, number: int) -> tuple[str, frozenset]:
        register = self.attack.registers[cut]
        used = frozenset((role, code) for role, code, maker in register.implants[number] if maker in self.makers)
        return register.kind[number], used

    def _counted(self, cut: str, chosen: np.ndarray, labels: list) -> np.ndarray:
        register, table = (
            self.attack.registers[cut],
            np.zeros((len(self.kinds), len(self.reasons), len(self.times) + 1)),
        )
        kinds = {kind: n for n, kind in enumerate(self.kinds)}
        for number, label in zip(np.flatnonzero(chosen), labels):
            if register.revised[number]:
                time = sum(not register.by(years)[number] for years in self.times) if len(self.times) else 0
                table[kinds[label], self.reasons.index(register.reason[number]), time] += 1
        return table

    def _main(self, cut: str, code: str) -> str:
        """In which class most joints have an implant, which is the one that its page is of."""
        number: dict[str, int] = {}
        for place, (kind, used) in zip(self.joints[cut], self.kinds):
            if code in {one for _, one in used}:
                number[kind] = number.get(kind, 0) + round(self.program.truth[place])
        return max(number, key=lambda kind: number[kind])

    def of_kinds(self, cut: str, one: Meaning) -> np.ndarray:
        """Choose kinds by the classes and implants of a line."""
        classes = set(one.classes)
        is_code = one.who not in (OTHERS, EVERYBODY)
        if is_code and not classes:
            classes = {self._main(cut, one.who)}
        chosen = []
        for kind, used in self.kinds:
            has = any(code == one.who and one.role in ("", role) for role, code in used)
            chosen.append((not classes or kind in classes) and (not is_code or has != one.but))
        return np.array(chosen)

    def parts(self, cut: str, one: Meaning, years: float | None = None) -> np.ndarray:
        """Choose the unknowns that a number counts."""
        kinds = self.of_kinds(cut, one)
        if one.quantity == "joints":
            return self.joints[cut][kinds]
        reasons = [not one.reason or one.reason == reason for reason in self.reasons]
        years = one.years if years is None else years
        last = len(self.times) + 1 if years is None else self.times.index(years) + 1
        return self.revised[cut][np.ix_(kinds, reasons)][..., :last]

    def _learn(self, cut: str, one: Meaning) -> None:
        parts = self.parts(cut, one)
        true = sum(self.program.truth[n] for n in parts.ravel())
        if one.value is None:
            if one.why and LEFT_OUT in one.why and true >= 1:
                self.program.know(parts, 1)
        elif one.quantity == "revised in 100":
            self.program.know(parts, *self._in_100(cut, one, true))
        else:
            assert not one.is_exact or one.value == true, one
            self.program.know(parts, true, true)

    def _in_100(self, cut: str, one: Meaning, others: float) -> tuple[float, float]:
        """Bound others' revisions by a whole number of 100 of all, whose effective number is known."""
        register = self.attack.registers[cut]
        everybody = (register.joint == self.joint) & (np.isin(register.kind, one.classes) if one.classes else True)
        revised = int((everybody & register.by(one.years or 0)).sum())
        if not revised:
            return 0, 0
        effective = revised / risk_of(register, everybody, one.years or 0)
        low, high = ((one.value or 0) + by for by in (-0.5, 0.5))
        own = revised - others
        return max(np.ceil(low * effective / 100 - 1e-9) - own, 0), np.floor(high * effective / 100 - 1e-9) - own

    def _ranks(self, folder: Folder) -> None:
        """Learn from lists of the most frequent reasons: each is at least as frequent as any that is not named."""
        cut = folder.record["cut"]["name"]
        plain = {said: reason for reason, said in REASONS.items()}
        for question in folder.edition.get("reasons", []):
            said = folder.bullets.get(question["title"], ())
            if f"joint={self.joint}" not in question["filter"] or not said or cut not in self.revised:
                continue
            named = [plain[one] for one in said]
            register, own = self.attack.registers[cut], self.attack.owned(cut)
            everybody = register.revised & (register.joint == self.joint)
            count = {r: int((everybody & (register.reason == r)).sum()) for r in self.reasons if r in REASONS}
            mine = {r: int((everybody & own & (register.reason == r)).sum()) for r in count}
            place = {r: self.revised[cut][:, self.reasons.index(r)] for r in count}
            for one in named:
                self.program.know(place[one], self.attack.under - mine[one])
            for other in set(count) - set(named):
                for one in named if len(named) == 3 else ():
                    self.program.know(place[one], mine[other] - mine[one], less=place[other])
                if len(named) < 3:
                    self.program.know(place[other], 0, self.attack.under - 1 - mine[other])

    def _never_fall(self, sooner: str, later: str) -> None:
        truth = np.array(self.program.truth)
        for before, after in zip(self.revised[sooner].ravel(), self.revised[later].ravel()):
            if truth[before] <= truth[after]:
                self.program.know(np.array([after]), 0, less=np.array([before]))

    def _aims(self) -> Iterator[tuple[str, np.ndarray]]:
        """Name what must not be told: counts of lines of others by any time, and between two times."""
        for cut, one in self.told:
            times = sorted({other.years for c, other in self.told if c == cut and other.table == one.table} - {None})
            for name, parts in self._of_line(cut, one, [time for time in times if time is not None]):
                yield f"{cut} {one.table} {name}", parts
        if self.makers:
            yield from self._differences()

    def _of_line(self, cut: str, one: Meaning, times: list[float]) -> Iterator[tuple[str, np.ndarray]]:
        said = f"{one.who}{' others' if one.but else ''} {one.reason}{one.role}"
        yield f"{said} {one.quantity} {one.years or 'ever'}", self.parts(cut, one)
        if one.years is not None:
            whole = self.parts(cut, one)
            at = times.index(one.years)
            first = 0 if at == 0 else self.times.index(times[at - 1]) + 1
            yield f"{said} between {times[at - 1] if at else 0} and {one.years}", whole[..., first:]

    def _differences(self) -> Iterator[tuple[str, np.ndarray]]:
        """Name joints that have one own implant and not another, for those that are told."""
        shown = [(c, one) for c, one in self.told if one.quantity == "joints" and one.value is not None]
        for (cut, one), (other_cut, other) in permutations(shown, 2):
            kinds = self.of_kinds(cut, one) & ~self.of_kinds(cut, other)
            together = self.of_kinds(cut, one) & self.of_kinds(cut, other)
            if cut != other_cut or one.classes != other.classes or not together.any():
                continue
            name = f"{cut} {one.who} and not {other.who} {one.classes}"
            yield f"{name}: joints", self.joints[cut][kinds]
            yield f"{name}: revised", self.revised[cut][kinds]
            for place, reason in enumerate(self.reasons):
                yield f"{name}: {reason}", self.revised[cut][kinds][:, place]
            for place, time in enumerate(self.times):
                yield f"{name}: by {time}", self.revised[cut][kinds][..., : place + 1]


@dataclass
class Quarter:
    """Primaries of one quarter by class and age, as everybody is told, from one data cut or several."""

    attack: Attack
    joint: str
    quarter: str
    program: Program = field(default_factory=Program)

    def run(self) -> None:
        self.told = [
            (cut, one)
            for cut, quarter, one in self.attack.meanings
            if (quarter, one.joint) == (self.quarter, self.joint) and one.age
        ]
        self.classes = list(dict.fromkeys(one.classes[0] for _, one in self.told if one.classes))
        self.ages = list(dict.fromkeys(one.age for _, one in self.told if one.age != ALL))
        cuts = sorted({cut for cut, _ in self.told})
        others = {cut: self._counted(cut, ~self.attack.owned(cut)) for cut in cuts}
        own = {cut: self._counted(cut, self.attack.owned(cut)) for cut in cuts}
        places = {cut: self.program.unknown(others[cut]) for cut in cuts}
        for cut, one in self.told:
            parts, mine = places[cut][self._at(one)], int(own[cut][self._at(one)].sum())
            low, high = (max(1 - mine, 0), np.inf) if one.value is None else (one.value - mine, one.value - mine)
            self.program.know(parts, low, high)
        late = {pair: self._late(others, places, *pair) for pair in pairwise(cuts)}
        for cut, one in self.told:
            name = f"{cut} {one.table} {self.quarter} {one.classes or ALL} {one.age}"
            self.attack.aim(self.program, places[cut][self._at(one)], name)
            for (_, later), parts in late.items():
                if cut == later:
                    self.attack.aim(self.program, parts[self._at(one)], f"{name}: late")

    def _at(self, one: Meaning) -> tuple:
        line = slice(None) if not one.classes else self.classes.index(one.classes[0])
        return line, slice(None) if one.age == ALL else self.ages.index(one.age)

    def _counted(self, cut: str, whose: np.ndarray) -> np.ndarray:
        register = self.attack.registers[cut]
        chosen = register.quarter(self.quarter) & (register.joint == self.joint) & whose
        of = [
            [chosen & (register.kind == one) & _of_age(register.age, age) for age in self.ages] for one in self.classes
        ]
        return np.array([[int(both.sum()) for both in line] for line in of])

    def _late(self, others: dict, places: dict, sooner: str, later: str) -> np.ndarray:
        """Know that records come late and seldom go: what a later cut has more is unknown, and not below 0."""
        more = others[later] - others[sooner]
        late = self.program.unknown(np.maximum(more, 0))
        for place in np.ndindex(more.shape):
            if more[place] >= 0:
                parts = np.array([places[sooner][place], late[place]])
                self.program.know(parts, 0, 0, less=np.array([places[later][place]]))
        return late


def _of_age(ages: np.ndarray, label: str) -> np.ndarray:
    """Choose ages by a label: under 50, 50–59, 80 and over."""
    if label.startswith("under "):
        return ages < int(label.split()[1])
    if label.endswith(" and over"):
        return ages >= int(label.split()[0])
    first, last = map(int, label.split("–"))
    return (ages >= first) & (ages <= last)


def risk_of(register: Register, chosen: np.ndarray, years: float) -> float:
    """Give the cumulative incidence of revision by a time, death competing: what a whole number of 100 rounds."""
    from regdash.stats.years import days_in

    days, revised, died = register.days[chosen], register.revised[chosen], register.died[chosen]
    event_free, risk = 1.0, 0.0
    for day in np.unique(days[(revised | died) & (days <= days_in(years))]):
        at_risk, on = (days >= day).sum(), days == day
        risk += event_free * (on & revised).sum() / at_risk
        event_free *= 1 - (on & (revised | died)).sum() / at_risk
    return float(risk)

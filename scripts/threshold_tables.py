"""What the study of thresholds found, as tables and as a chart."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from textwrap import wrap

import numpy as np
from threshold_seeds import Seed, mean_false_share
from threshold_study import RATIOS, Planted, Studied, Thresholds

from regdash.stats.binomial import binomial_limits

YEARS = (2.0, 5.0, 10.0)
WIDTH, HEIGHT = 176, 110  # of one panel of the chart
TOP, LEFT, GAP, ROW = 22, 44, 14, 42  # above all, left of them, between columns and between rows
DASHES = dict(zip(RATIOS, ("1 4", "4 4", "9 3 2 3", "14 4", "")))


@dataclass(frozen=True)
class Chance:
    """How many of some planted implants were called out, with exact limits of the share."""

    seen: int
    of: int

    @property
    def limits(self) -> tuple[float, float]:
        """Lower and upper, 95 %."""
        lower, upper = binomial_limits(np.array([self.seen]), np.array([self.of]))
        return float(lower[0]), float(upper[0])

    def __str__(self) -> str:
        """In percent, as in 95 (75 to 100)."""
        lower, upper = self.limits
        return f"{100 * self.seen / self.of:.0f} ({100 * lower:.0f} to {100 * upper:.0f})" if self.of else "–"


@dataclass(frozen=True)
class Summary:
    """All planted implants of one use and ratio, under one threshold set."""

    within: tuple[Chance, ...]  # YEARS after first use; the last is by the end of the study
    median_quarters: float | None  # None: most of them are not called out by the end

    @classmethod
    def of(cls, planted: Sequence[Planted], place: int) -> "Summary":
        """Count them, under the set of that place."""
        years = [one.signals[place] for one in planted]
        within = tuple(Chance(sum(y is not None and y <= limit for y in years), len(years)) for limit in YEARS)
        quarters = [one.quarters[place] for one in planted]
        middle = median(float("inf") if q is None else q for q in quarters)
        return cls(within, None if middle == float("inf") else middle)


def planted_of(studied: Sequence[Studied], uses: int, ratio: float) -> list[Planted]:
    """All planted implants of one use and ratio."""
    return [one for each in studied for one in each.planted if (one.uses, one.ratio) == (uses, ratio)]


def all_uses(studied: Sequence[Studied]) -> list[int]:
    """The numbers of uses that were planted, rising."""
    return sorted({one.uses for each in studied for one in each.planted})


def mean_signals(studied: Sequence[Studied], place: int) -> float:
    """How many signals a register has at the last quarter, on average."""
    return float(np.mean([one.signals[place] for one in studied]))


def false_share(studied: Sequence[Studied], place: int) -> float:
    """The mean over registers of the share of false signals at the last quarter."""
    return float(np.mean([one.false[place] / max(one.signals[place], 1) for one in studied]))


def csv_lines(studied: Sequence[Studied], sets: Sequence[Thresholds]) -> list[str]:
    """Everything, a line a set, use and ratio."""
    named = [f"{what}_{year:g}_years" for year in YEARS for what in ("within", "lower", "upper")]
    of_set = ["stated_ratio", "q", "correction", "signals_a_register", "false_share"]
    lines = [",".join([*of_set, "uses", "ratio", "implants", *named, "median_quarters"])]
    for place, one in enumerate(sets):
        told = [f"{one.stated_ratio:g}", f"{one.q:g}", one.correction]
        told += [f"{mean_signals(studied, place):.2f}", f"{false_share(studied, place):.5f}"]
        for uses in all_uses(studied):
            for ratio in RATIOS:
                planted = planted_of(studied, uses, ratio)
                found = Summary.of(planted, place)
                shares = [x for each in found.within for x in (each.seen / each.of, *each.limits)]
                middle = "" if found.median_quarters is None else f"{found.median_quarters:g}"
                figures = [str(uses), f"{ratio:g}", str(len(planted)), *(f"{share:.4f}" for share in shares), middle]
                lines.append(",".join([*told, *figures]))
    return lines


def shipped_table(studied: Sequence[Studied]) -> list[str]:
    """The shipped set: by ten years of use, and after how many quarters."""
    lines = ["| uses in ten years | " + " | ".join(f"ratio {ratio:g}" for ratio in RATIOS) + " |"]
    lines.append("|---|" + "---|" * len(RATIOS))
    for uses in all_uses(studied):
        found = [Summary.of(planted_of(studied, uses, ratio), 0) for ratio in RATIOS]
        lines.append(f"| {uses:,} | " + " | ".join(_cell(one) for one in found) + " |")
    return lines


def _cell(found: Summary) -> str:
    return f"{found.within[-1]}" + ("" if found.median_quarters is None else f"; {found.median_quarters:g}")


COMPARED = ((300, 2.5), (1000, 2.0), (3000, 1.5), (3000, 2.0), (10_000, 1.5))  # uses and ratio


def sets_table(studied: Sequence[Studied], sets: Sequence[Thresholds]) -> list[str]:
    """All sets beside each other, on a few kinds of implants."""
    named = " | ".join(f"{uses:,} uses, ratio {ratio:g}" for uses, ratio in COMPARED)
    lines = [f"| stated ratio | q | signals | false, % | called out at ratio 1 | at 1.25 | {named} |"]
    lines.append("|---|---|---|---|---|---|" + "---|" * len(COMPARED))
    for place, one in enumerate(sets):
        harmless = []
        for ratio in (1.0, 1.25):
            planted = [each for uses in all_uses(studied) for each in planted_of(studied, uses, ratio)]
            harmless.append(str(Summary.of(planted, place).within[-1]))
        cells = [_cell(Summary.of(planted_of(studied, *each), place)) for each in COMPARED]
        name = f"{one.q:g}" + (" (Yekutieli)" if "yekutieli" in one.correction else "")
        stated = f"**{one.stated_ratio:g}**" if place == 0 else f"{one.stated_ratio:g}"
        lines.append(
            f"| {stated} | {name} | {mean_signals(studied, place):.1f} | {100 * false_share(studied, place):.1f} | "
            + " | ".join([*harmless, *cells])
            + " |"
        )
    return lines


def seeds_table(seeds: Sequence[Seed]) -> list[str]:
    """What was planted in large registers, kind by kind."""
    lines = ["| planted | window | cases | true ratio | revisions due | signalled |", "|---|---|---|---|---|---|"]
    kinds = dict.fromkeys((one.joint, one.kind, one.window) for seed in seeds for one in seed.planted)
    for joint, kind, window in kinds:
        found = [one for seed in seeds for one in seed.planted if (one.joint, one.kind) == (joint, kind)]
        ratios, due = [one.ratio for one in found], [one.due for one in found]
        lines.append(
            f"| {joint}: {kind} | {window} | {len(found)} | {min(ratios):.2f} to {max(ratios):.2f} | "
            f"{min(due):,.0f} to {max(due):,.0f} | {sum(one.signal for one in found)} |"
        )
    return lines


def seeds_sentences(seeds: Sequence[Seed], joints: int) -> list[str]:
    """Say whether what is promised holds."""
    promised = [one for seed in seeds for one in seed.planted if one.promised]
    looks = [one for seed in seeds for one in seed.planted if one.only_looks_poor]
    signals, false = sum(one.signals for one in seeds), sum(one.false for one in seeds)
    sizes, wrong = sum(one.size_signals for one in seeds), sum(one.size_false for one in seeds)
    seen, looking = sum(one.signal for one in promised), sum(one.signal for one in looks)
    named = sum(one.without is not None and one.without.named for one in looks)
    share = 100 * mean_false_share(seeds)
    said = (
        f"{len(seeds)} registers of {joints:,} joints of three kinds, one screen each at the last day, with about "
        f"{round(seeds[0].tests, -2):,} tests. Of planted implants with a true ratio of 2 or more and 40 or more "
        f"revisions due in the window they affect, {seen} of {len(promised)} were signalled. Of those that only look "
        f"poor, since one poor surgeon uses them, {looking} of {len(looks)} were, and the ratio of {named} falls "
        f"furthest without that surgeon. Of {signals:,} signals {false} were false, a mean share of {share:.2f} % in a "
        f"register; of {sizes:,} signals of sizes {wrong} were."
    )
    return wrap(said, 120)


def chart(studied: Sequence[Studied], sets: Sequence[Thresholds]) -> str:
    """
    Draw how likely a signal is by years since first use, as SVG: a panel for each number of uses, and a row for each
    stated ratio with what else is shipped.
    """
    shipped, panels = sets[0], all_uses(studied)
    rows = [place for place, one in enumerate(sets) if (one.q, one.correction) == (shipped.q, shipped.correction)]
    rows.sort(key=lambda place: sets[place].stated_ratio)
    width, bottom = LEFT + len(panels) * (WIDTH + GAP), TOP + len(rows) * (HEIGHT + ROW)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {bottom + 50}" width="{width}" '
        f'height="{bottom + 50}" font-family="sans-serif" font-size="11" fill="#222">',
        "<title>Probability of a signal by years since first use, by number of uses and true ratio</title>",
        f'<rect width="{width}" height="{bottom + 50}" fill="#fff"/>',
    ]
    for number, uses in enumerate(panels):
        parts.append(_text(LEFT + number * (WIDTH + GAP), 16, f"{uses:,} uses in ten years", bold=True))
    for row, place in enumerate(rows):
        top = TOP + ROW + row * (HEIGHT + ROW)
        said = f"stated ratio {sets[place].stated_ratio:g}" + (", shipped" if place == 0 else "")
        parts.append(_text(LEFT, top - 8, said))
        for number, uses in enumerate(panels):
            parts += _panel((LEFT + number * (WIDTH + GAP), top), uses, studied, place, first=number == 0)
    parts.append(_text(LEFT, bottom + 34, "years since first use; true ratio:"))
    for place, ratio in enumerate(RATIOS):
        x = LEFT + 200 + place * 110
        parts.append(_line([(x, bottom + 30), (x + 44, bottom + 30)], ratio))
        parts.append(_text(x + 50, bottom + 34, f"{ratio:g}"))
    return "\n".join([*parts, "</svg>", ""])


def _panel(at: tuple[float, float], uses: int, studied: Sequence[Studied], place: int, *, first: bool) -> list[str]:
    """Draw one panel; `at` is its left upper corner."""
    left, top = at
    parts = []
    for share in (0.0, 0.5, 1.0):
        y = top + HEIGHT * (1 - share)
        parts.append(f'<path d="M{left:.1f} {y:.1f}h{WIDTH}" stroke="#ccc" stroke-width="1"/>')
        parts += [_text(left - 6, y + 4, f"{100 * share:.0f} %", anchor="end")] if first else []
    for tick, anchor in ((0, "start"), (5, "middle"), (10, "end")):
        parts.append(_text(left + WIDTH * tick / YEARS[-1], top + HEIGHT + 13, f"{tick}", anchor=anchor))
    for ratio in RATIOS:
        years = [one.signals[place] for one in planted_of(studied, uses, ratio)]
        points = [(0.0, 0.0)]
        for year in sorted(y for y in years if y is not None):
            points += [(year, points[-1][1]), (year, points[-1][1] + 1 / len(years))]
        points.append((YEARS[-1], points[-1][1]))
        drawn = [(left + WIDTH * min(x, YEARS[-1]) / YEARS[-1], top + HEIGHT * (1 - y)) for x, y in points]
        parts.append(_line(drawn, ratio))
    return parts


def _line(points: Sequence[tuple[float, float]], ratio: float) -> str:
    path = "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
    dash = f' stroke-dasharray="{DASHES[ratio]}"' if DASHES[ratio] else ""
    return f'<path d="M{path}" fill="none" stroke="#124" stroke-width="1.6"{dash}/>'


def _text(x: float, y: float, words: str, *, bold: bool = False, anchor: str = "start") -> str:
    weight = ' font-weight="bold"' if bold else ""
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"{weight}>{words}</text>'

"""The page that goes with an extract: what it holds of whom, how it was made coarse, and how it may mislead."""

from collections.abc import Sequence

import regdash
from regdash.endpoints import ANY_REVISION
from regdash.extracts.coarseness import DAY
from regdash.extracts.descriptor import meaning, what_a_row_is
from regdash.extracts.model import Counted, Wanted
from regdash.extracts.sources import COMPONENTS, NEVER, SOURCES
from regdash.output.wording import cohort_in_words, percent
from regdash.reports.wording import NOT_CHOSEN_BY_CHANCE, NOT_FOR_ONE_PATIENT
from regdash.store.cuts import Manifest

README = "README.md"
ALIKE = (
    "Of each combination of {fields} there are {k} patients or more in these rows. That speaks of these fields alone:"
    " who knows more of a patient, from another file or from having treated them, may tell rows apart. Whoever gets "
    "this file does not try to find out who anybody is, does not join it with other files of persons, and passes it "
    "on to nobody."
)
ALL_SAME = (
    "In {same} of {classes} such combinations all rows ended in the same way, in {revised} of them in a revision: who "
    "knows that somebody is among them knows how their joint ended."
)
BY_TIME = (
    "Who knows when somebody died, was operated on again or left may find their row by its time: {few} of {all} rows "
    "that ended so share their time and the fields above with fewer than {k} patients."
)
NOT_THE_REGISTER = (
    "What is left out is not left out by chance: rare combinations go, so the very young and the very old, rare "
    "classes and years with few operations are too few here, and a risk of all rows together is not that of the "
    "register."
)
ENDS_EARLY = (
    "Follow-up is told to the last whole {step} that every joint with the same {field} has been followed for; what "
    "came later counts nowhere here, and a joint is then in place. More would tell when each joint was put in. It "
    "censors all alike, whatever became of them, so estimates stay right, on less follow-up; the last {step} is "
    "hardly followed at all. Where a hospital's records end earlier, a joint in place ends on a whole {step} before "
    "that."
)
PAIRS = (
    "Which rows are of one patient, or of one joint, is not told: {rows:,} rows are of {patients:,} patients. Limits "
    "that count rows as independent are a little too narrow."
)
OF_JOINTS = (
    "How a row ended is how its joint ended: a component may have stayed in at a revision. Rows of one joint ended "
    "alike, and count once where joints are meant."
)
HELD = "Revisions that are held back until a hospital answers are not here; that lowers the risk."


def about(wanted: Wanted, cut: Manifest, counted: Counted) -> bytes:
    """Write the page, in Markdown."""
    parts = (_heading(wanted, cut), _rows(wanted, counted), _fields(wanted), _left_out(wanted, counted))
    lines = [line for part in parts for line in (*part, "")]
    return "\n".join([*lines, *_cautions(wanted, counted), "", *_files(wanted)]).encode() + b"\n"


def title_of(wanted: Wanted) -> str:
    """Head the extract."""
    return f"{wanted.fields.title}, for request {wanted.request}" if wanted.request else wanted.fields.title


def _heading(wanted: Wanted, cut: Manifest) -> list[str]:
    fields = wanted.fields
    through = f"events through {cut.through_date}, as known on {cut.known_as_of}"
    return [
        f"# {title_of(wanted)}",
        "",
        f"{fields.purpose}.",
        "",
        f"- Cohort: {cohort_in_words(wanted.cohort)}.",
        f"- Filter words: `{wanted.cohort or 'none'}`.",
        f"- Data cut: {cut.cut}, {through}; hash {cut.content_hash}.",
        f"- Event: {ANY_REVISION.name}. {ANY_REVISION.about}",
        f"- Field list: {fields.name}, version {fields.version}, hash {fields.hash} (`fields.toml`).",
        f"- Made by regdash {regdash.__version__}.",
    ]


def _rows(wanted: Wanted, counted: Counted) -> list[str]:
    row = what_a_row_is(wanted.fields)
    return ["## Rows", "", f"{counted.after.rows:,} rows of {counted.after.patients:,} patients; a row is a {row}."]


def _fields(wanted: Wanted) -> list[str]:
    rows = [f"| `{name}` | {meaning(SOURCES[name], how)} |" for name, how in wanted.fields.told.items()]
    first = "| `row` | number of the row in this extract alone, in an order that says nothing |"
    said = "Types and the values that each field may have stand in `datapackage.json`."
    return ["## Fields", "", "| field | meaning |", "|---|---|", first, *rows, "", said]


def _left_out(wanted: Wanted, counted: Counted) -> list[str]:
    unnamed = [
        name
        for name, one in SOURCES.items()
        if name not in wanted.fields.told and one.of in ("joints", wanted.fields.rows)
    ]
    said = [f"- {NEVER}", f"- Not asked for by the list: {', '.join(unnamed)}."]
    if counted.few_users.rows:
        why = f"used at fewer than {wanted.fields.least_hospitals} hospitals, or nearly all at one"
        said.append(f"- Rows of implants {why}: {_told(counted.few_users.rows, wanted.k)}. They would be a hospital's.")
    if counted.under_k.rows:
        said.append(f"- {_suppressed(wanted, counted)}")
    if counted.lots_hidden:
        said.append(f"- Lots that look like none: {_told(counted.lots_hidden, wanted.k)} are blank.")
    return ["## What is left out", "", *said]


def _suppressed(wanted: Wanted, counted: Counted) -> str:
    left = counted.under_k
    rows = f"{left.rows:,} of {counted.before.rows:,} rows ({percent(left.rows / counted.before.rows)} %)"
    said = f"{rows} whose combination of fields fewer than {wanted.k} patients share, or with them. {NOT_THE_REGISTER}"
    if "ended" not in wanted.fields.told:
        return said
    if min(left.revised, left.rows - left.revised, counted.revised) < wanted.k:
        return f"{said} Too few of them were revised, or not revised, to say how they differ."
    shares = percent(left.revised / left.rows), percent(counted.revised / counted.after.rows)
    return f"{said} Of the rows left out {shares[0]} % ended in a revision, of those that stay {shares[1]} %."


def _told(number: int, k: int) -> str:
    return f"{number:,}" if number >= k else f"fewer than {k}"


def _cautions(wanted: Wanted, counted: Counted) -> Sequence[str]:
    fields = wanted.fields
    said = [ALIKE.format(fields=", ".join(fields.quasi_identifiers), k=wanted.k)]
    if counted.endings and counted.endings.all_same:
        same, revised = f"{counted.endings.all_same:,}", f"{counted.endings.all_revised:,}"
        said.append(ALL_SAME.format(same=same, revised=revised, classes=f"{counted.after.classes:,}"))
    found, ended = counted.found_by_time
    if found:
        said.append(BY_TIME.format(few=_told(found, wanted.k), all=_told(ended, wanted.k), k=wanted.k))
    if "followed" in fields.told and (how := fields.told["implanted"]).way != DAY:
        step = how.way if how.way in ("month", "quarter") else "year"
        said.append(ENDS_EARLY.format(step=step, field=f"{how.said} of the primary"))
    said += [OF_JOINTS] if fields.rows == COMPONENTS else []
    said += [PAIRS.format(rows=counted.after.rows, patients=counted.after.patients), HELD]
    said += [NOT_CHOSEN_BY_CHANCE, NOT_FOR_ONE_PATIENT]
    return ["## Cautions", "", *(f"- {one}" for one in said)]


def _files(wanted: Wanted) -> list[str]:
    data = " and ".join(f"`data.{form}`" for form in wanted.forms)
    same = " (the same rows)" if len(wanted.forms) > 1 else ""
    return [
        "## Files",
        "",
        f"- {data}{same}; `datapackage.json` describes them (Data Package, Table Schema).",
        "- `fields.toml` is the field list, `reproduction.json` says what everything was made from.",
        "- `SHA256SUMS` has a checksum of every file: `sha256sum --check SHA256SUMS`.",
        "- The office makes the same files again, byte for byte, with `regdash verify` and the folder's name.",
    ]

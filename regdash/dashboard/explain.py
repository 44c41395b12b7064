"""The text behind a figure: what it is, of whom, how it was made, with what cautions; and the keys of a place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from regdash.dashboard import wording
from regdash.reports.model import Head

if TYPE_CHECKING:
    from regdash.cohort import Cohort
    from regdash.dashboard.place import Place
    from regdash.reports.mortality_model import MortalityHead
    from regdash.reports.records import RecordsHead
    from regdash.reports.submitted_rows import RowsHead

MOST_WITHHELD = 6
MOST_STATEMENTS = 12


def explained(head: Head, withheld: list[str], also: list[tuple[str, str]], command: str) -> list[tuple[str, str]]:
    """Explain an answer, paragraph by paragraph; `also` tells the methods of what stands beside it."""
    counts = (
        f"{wording.so_many(head.joints, 'joint')} of {wording.so_many(head.patients, 'patient')}, "
        f"{wording.count(head.revisions)} revised"
        + (f", followed for a median of {head.median_follow_up:.1f} years" if head.median_follow_up is not None else "")
        + f"; data cut {head.cut}"
    )
    paragraphs = [
        ("what it is", f"{head.measure}; {f'{head.view} view; ' if head.view else ''}endpoint: {head.endpoint}"),
        ("cohort", wording.cohort_in_words(head.cohort)),
        *([] if head.beside is None else [("beside", wording.cohort_in_words(head.beside))]),
        ("counts", counts),
        ("formula and source", head.method),
        *also,
        (
            "held",
            _held(head.held_revisions),
        ),
        ("withheld", _listed(withheld) or "nothing"),
        *_cautions(head.cautions),
        ("settings", _settings(head.settings)),
        ("command", command),
    ]
    return paragraphs


def explained_mortality(head: MortalityHead, withheld: list[str], command: str) -> list[tuple[str, str]]:
    """Explain mortality, paragraph by paragraph."""
    counts = (
        f"{wording.so_many(head.operations, 'operation')} on {wording.so_many(head.joints, 'joint')} of "
        f"{wording.so_many(head.patients, 'patient')}, {wording.count(head.deaths)} followed by a death; "
        f"data cut {head.cut}"
    )
    return [
        ("what it is", head.measure),
        ("cohort", wording.cohort_in_words(head.cohort)),
        *([] if head.beside is None else [("beside", wording.cohort_in_words(head.beside))]),
        ("counts", counts),
        ("deaths", f"known through {head.deaths_known_through}, where follow-up ends"),
        ("formula and source", head.method),
        ("withheld", _listed(withheld) or "nothing"),
        *_cautions(head.cautions),
        ("settings", _settings(head.settings)),
        ("command", command),
    ]


def _cautions(cautions: Sequence[str]) -> list[tuple[str, str]]:
    return [("caution" if n == 0 else "", caution) for n, caution in enumerate(cautions)]


def _settings(settings: Mapping[str, Any]) -> str:
    return ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in settings.items()) or "none"


def _held(revisions: int | None) -> str:
    one = revisions == 1
    are, them, they = ("is", "it", "It is") if one else ("are", "them", "They are")
    return (
        f"{wording.so_many(revisions, 'revision')} of these joints {are} held back until a hospital corrects {them}. "
        f"{they} in no figure here{' and' if one else '; each'} would raise the risk."
    )


def with_statements(paragraphs: list[tuple[str, str]], statements: Sequence[str]) -> list[tuple[str, str]]:
    """Put the statements that an answer was made with before its command."""
    if not statements:
        return paragraphs
    place = next((n for n, (about, _) in enumerate(paragraphs) if about == "command"), len(paragraphs))
    rest = len(statements) - MOST_STATEMENTS
    said = [("SQL", "what was asked of the data cut, read-only, with its values; place 9 answers it again")]
    said += [(f"  {n}", one) for n, one in enumerate(statements[:MOST_STATEMENTS], 1)]
    said += [("", f"and {rest} more")] if rest > 0 else []
    return [*paragraphs[:place], *said, *paragraphs[place:]]


def explained_rows(
    head: RowsHead | RecordsHead, about: str, followed: Cohort, left_out: tuple[str, ...], command: str
) -> list[tuple[str, str]]:
    """Explain an answer about submitted rows or records, of which a filter's words `left_out` choose none."""
    words = ", ".join(map(str, followed.words)) or "none"
    return [
        ("what it is", f"{about}; data cut {head.cut}"),
        ("cohort", wording.cohort_in_words(followed)),
        ("followed", f"words of the filter: {words}"),
        ("not followed", f"{', '.join(left_out)}: not known of every row" if left_out else "nothing"),
        ("formula and source", head.method),
        *_cautions(head.cautions),
        ("command", command),
    ]


def _listed(withheld: list[str]) -> str:
    rest = len(withheld) - MOST_WITHHELD
    return "; ".join(withheld[:MOST_WITHHELD]) + (f"; and {rest} more" if rest > 0 else "")


def keys_of(place: Place) -> list[tuple[str, str]]:
    """List the keys of a place with what they do."""
    from regdash.dashboard.place import KEY_NAMES, PLACES

    says = {
        "filter": "edit the filter; Tab completes, the list shows how many joints each value keeps",
        "beside": "a second cohort beside the filter's, at risk and reasons: the two are then the groups",
        "named": "cohorts that have a name: look at one, or give the present filter a name",
        "group": "group by one field or several, as in age:10,sex",
        "horizon": "years since implantation up to which risks are given",
        "view": "implant view: deaths censored, how the implant does; patient view: death competes",
        "adjust": "hold fields alike, as in age,sex,asa; none compares groups as they are",
        "gap": "with two groups: the difference in risk between them, reason by reason",
        "corrections": "what was corrected, as the cut under the cursor has it: who, when, why",
        "changes": "what moved from the cut under the cursor to the open one, cause by cause",
        "endpoint": "what counts as a revision, and on which clock: aseptic, major, re-revision…",
        "read(1)": "move along the curves; the table gives the figures at that time",
        "order": "order the list by the chosen column; again turns it round",
        "explain": "what the figures are, of whom, how, with what cautions, and the command for them",
        "write": "copy or write to a file: the list, its figures as CSV, the chart, the command for what is shown",
        "keys": "this list",
        "ask_to_quit": "quit, asked once",
    }
    says |= place.OWN_KEYS
    moving = [("↑ ↓ PgUp PgDn", "move"), ("← →", "choose a column"), ("Tab", "next list on this screen")]
    if place.ENTER:
        moving.append(("Enter", place.ENTER))
    moving.append(("Esc, Backspace", "back to exactly where you were"))
    own = [(KEY_NAMES.get(b.key, b.key), says.get(b.action, b.description)) for b in place.active_keys()]
    always = [
        ("u  U", "undo, redo a filter, grouping, horizon, view, endpoint or adjustment"),
        (f"1 … {len(PLACES)}", ", ".join(PLACES)),
        ("ctrl+x", "cancel the running question"),
        ("r", "ask the same question again"),
        ("ctrl+p", "every command by name"),
        ("ctrl+l", "paint the screen anew, where something else wrote on it"),
    ]
    named = {key for key, _ in own}
    return [pair for pair in moving if pair[0] not in named] + own + always

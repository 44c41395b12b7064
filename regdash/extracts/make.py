"""An extract from a data cut to the files of its folder; made again it is the same, byte for byte."""

import hashlib
import hmac
import io
import json
import platform
from dataclasses import replace
from importlib import metadata
from typing import TYPE_CHECKING, Any

import regdash
from regdash.errors import ExtractError
from regdash.extracts.about import README, about, title_of
from regdash.extracts.classes import Alike, Left, alike, endings, few_users, found_by_time, suppressed, without_each
from regdash.extracts.coarseness import coarser
from regdash.extracts.descriptor import DATA, DESCRIPTOR, GUARDED, descriptor
from regdash.extracts.model import CSV, Counted, Extract, Wanted
from regdash.extracts.rows import REVISED, ROW, SECRET, Rows, rows_of
from regdash.store.checksums import sums_text
from regdash.store.cuts import Cut, Manifest

if TYPE_CHECKING:
    import polars as pl

FIELDS, RECORD, SUMS = "fields.toml", "reproduction.json", "SHA256SUMS"
FORMAT = 1  # of what the record says of an extract
FORMULA = r"^[=+\-@\t\r]"  # how a cell begins that a spreadsheet would take for a formula
_ROWS_TOGETHER = 100_000  # of the Parquet file, so that nothing of the machine decides


def checked(cut: Cut, wanted: Wanted, key: bytes) -> list[Alike]:
    """Count how alike the rows of an extract would be: as the list says, without each field, and with each coarser."""
    return _changes(cut, wanted, key, _told_rows(cut, wanted, key)[0])


def make(cut: Cut, wanted: Wanted, key: bytes) -> Extract:
    """
    Make an extract.

    Raises:
        ExtractError: no row, or rows of classes of fewer than k patients that are not to be left out.
    """
    rows, few = _told_rows(cut, wanted, key)
    before = alike(rows, wanted.k)
    if before.classes_under and not wanted.suppress:
        raise ExtractError(_refusal(_changes(cut, wanted, key, rows), wanted))
    kept, left = suppressed(rows, wanted.k)
    if not len(kept.frame):
        raise ExtractError(_nothing(wanted, before))
    after = alike(kept, wanted.k)
    revised = int((kept.frame["ended"] == REVISED).sum()) if "ended" in kept.frame.columns else 0
    by_time = found_by_time(kept, wanted.k)
    counted = Counted(before, after, few, left, revised, endings(kept), by_time, rows.lots_hidden)
    return Extract(_files(cut.manifest, wanted, kept, counted, key), counted)


def _told_rows(cut: Cut, wanted: Wanted, key: bytes) -> tuple[Rows, Left]:
    """Fetch the rows, and leave out those that would be one hospital's."""
    salt = f"{cut.manifest.content_hash}|{wanted.fields.hash}|{wanted.cohort}|{wanted.request}"
    rows = rows_of(cut, wanted.fields, wanted.cohort, key, salt)
    return few_users(rows, wanted.fields.least_hospitals, wanted.k)


def _changes(cut: Cut, wanted: Wanted, key: bytes, rows: Rows) -> list[Alike]:
    """Count the rows as the list says, and what each change of it would make of them; those need the rows anew."""
    found = without_each(rows, wanted.k)
    if not found[0].classes_under:
        return found
    for name in wanted.fields.quasi_identifiers:
        if how := coarser(wanted.fields.told[name]):
            fields = replace(wanted.fields, told={**wanted.fields.told, name: how})
            other, _ = _told_rows(cut, replace(wanted, fields=fields), key)
            found.append(alike(other, wanted.k, change=f"with {name}: {how.said}"))
    return found


def _refusal(found: list[Alike], wanted: Wanted) -> str:
    """Say how many are too few alike, and the change that leaves the fewest so."""
    every, *changed = found
    best = min(changed, key=lambda one: one.rows_under)
    return (
        f"{every.rows_under:,} of {every.rows:,} rows are in {every.classes_under:,} classes of fewer than {wanted.k} "
        f"patients, the smallest of {every.smallest}. Leave them out with --suppress, or make the list coarser: "
        f"{best.change} it has {best.rows_under:,} such rows. What each change does is told where --out is left out."
    )


def _nothing(wanted: Wanted, before: Alike) -> str:
    if not before.rows:
        return f"No row of this data cut can be told of {str(wanted.cohort) or 'every joint'}."
    if before.rows_under == before.rows:
        return f"All {before.rows:,} rows are in classes of fewer than {wanted.k} patients. Make the list coarser."
    return (
        f"All {before.rows:,} rows would go: {before.rows_under:,} are in classes of fewer than {wanted.k} patients, "
        "and others go with them until as many patients are left out. Make the list coarser."
    )


def _files(cut: Manifest, wanted: Wanted, rows: Rows, counted: Counted, key: bytes) -> dict[str, bytes]:
    frame = rows.frame.sort(SECRET).select(wanted.fields.told.keys()).with_row_index(ROW, 1)
    data = {form: _as_csv(frame) if form == CSV else _as_parquet(frame) for form in wanted.forms}
    files = {f"{DATA}.{form}": content for form, content in data.items()}
    files[DESCRIPTOR] = descriptor(wanted.fields, cut, title_of(wanted), data)
    files[README] = about(wanted, cut, counted)
    files[FIELDS] = wanted.fields.text.encode()
    record = _record(cut, wanted, key, files)
    files[RECORD] = (json.dumps(record, indent=2, ensure_ascii=False, sort_keys=True) + "\n").encode()
    files[SUMS] = sums_text({name: _sha256(content) for name, content in files.items()}).encode()
    return files


def _record(cut: Manifest, wanted: Wanted, key: bytes, files: dict[str, bytes]) -> dict[str, Any]:
    """Say everything that decides the files, and a checksum of each."""
    return {
        "extract": FORMAT,
        "list": {"name": wanted.fields.name, "version": wanted.fields.version, "hash": wanted.fields.hash},
        "filter": str(wanted.cohort),
        "cut": {"name": cut.cut, "content_hash": cut.content_hash, "hash_format": cut.hash_format},
        "k": wanted.k,
        "suppress": wanted.suppress,
        "data": list(wanted.forms),
        "request": wanted.request,
        "order": fingerprint(key),
        "software": software(),
        "files": {name: _sha256(content) for name, content in sorted(files.items())},
    }


def fingerprint(key: bytes) -> str:
    """Name the key that orders rows without telling it."""
    return hmac.digest(key, b"fingerprint", hashlib.sha256).hex()[:12]


def software() -> dict[str, str]:
    """Name the releases that decide rows and bytes."""
    found = {"regdash": regdash.__version__, "python": platform.python_version()}
    return found | {name: metadata.version(name) for name in ("polars", "duckdb")}


def _as_csv(frame: "pl.DataFrame") -> bytes:
    """Write CSV as RFC 4180 has it; no cell of what hospitals or makers typed begins as a formula does."""
    import polars as pl

    guarded = [
        pl.when(pl.col(name).str.contains(FORMULA)).then(pl.concat_str(pl.lit("'"), name)).otherwise(name).alias(name)
        for name in GUARDED
        if name in frame.columns
    ]
    return frame.with_columns(guarded).write_csv(line_terminator="\r\n").encode()


def _as_parquet(frame: "pl.DataFrame") -> bytes:
    file = io.BytesIO()
    frame.write_parquet(file, compression="zstd", row_group_size=_ROWS_TOGETHER)
    return file.getvalue()


def _sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()

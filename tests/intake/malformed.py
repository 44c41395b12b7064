"""
Submissions that are not as they should be: made by hand as hospitals' systems spoil them, and by a seeded fuzzer.

The forms are those that CSV readers meet (RFC 4180, UTF-8) and that spreadsheets write; from practice, no published
list. Each spoils the folder of a good submission: three operations, nine components, no reason.
"""

import gzip
import os
import random
from collections.abc import Iterator
from pathlib import Path

from regdash.dictionary import SCHEMA_VERSION
from tests.intake.spoiling import (
    _BMI,
    _BORN,
    _DAY,
    _ID,
    COMPONENTS,
    ENVELOPE,
    FILES,
    NAMES,
    OPERATIONS,
    REASONS,
    WIDTH,
    Spoil,
    cell,
    columns,
    in_header,
    in_place,
    in_row,
    joined,
    loop,
    moved,
    of_envelope,
    recoded,
    rewritten,
    trailing,
    zipped,
)

# Refused as a whole: what is done to the submission, and a part of the one line that says so.
REFUSED: dict[str, tuple[Spoil, str]] = {
    # encodings
    "UTF-16 with a mark": (recoded("utf-16"), "looks like UTF-16. Save it again as UTF-8"),
    "UTF-16 little-endian, no mark": (recoded("utf-16-le"), "NUL byte in line 1; it is not text. Save it again"),
    "UTF-16 big-endian, no mark": (recoded("utf-16-be"), "NUL byte in line 1"),
    "UTF-32": (recoded("utf-32"), "looks like UTF-16"),
    "Latin-1 with accents": (recoded("latin-1"), "is not in UTF-8: line 2 has the byte 0xe9. Save it again as UTF-8"),
    "Windows-1252 with accents": (recoded("cp1252"), "is not in UTF-8: line 2"),
    "Macintosh Roman with accents": (recoded("mac-roman"), "is not in UTF-8: line 2 has the byte 0x8e"),
    "UTF-8 cut in a letter": (in_row(lambda row: row.replace(b"total", b"\xc3")), "is not in UTF-8: line 3"),
    "an overlong letter": (in_row(lambda row: row.replace(b"total", b"\xc0\xaf")), "is not in UTF-8: line 3"),
    "a surrogate in UTF-8": (in_row(lambda row: row.replace(b"total", b"\xed\xa0\x80")), "is not in UTF-8: line 3"),
    "two marks": (rewritten(OPERATIONS, lambda text: b"\xef\xbb\xbf" * 2 + text), "name of column 1"),
    "EBCDIC": (recoded("cp037"), "is not in UTF-8"),
    # dividers
    "semicolons": (rewritten(OPERATIONS, lambda t: t.replace(b",", b";")), "divided by semicolons; save it again with"),
    "tabs": (rewritten(OPERATIONS, lambda t: t.replace(b",", b"\t")), "divided by tabs; save it again with commas"),
    "bars": (rewritten(OPERATIONS, lambda t: t.replace(b",", b"|")), "divided by bars; save it again with commas"),
    "semicolons in components": (rewritten(COMPONENTS, lambda t: t.replace(b",", b";")), "divided by semicolons"),
    "tabs in reasons": (rewritten(REASONS, lambda t: t.replace(b",", b"\t")), "divided by tabs"),
    "spaces": (rewritten(OPERATIONS, lambda t: t.replace(b",", b" ")), "names none of the columns"),
    "semicolons in one row": (
        in_row(lambda row: row.replace(b",", b";")),
        f"line 3 has 1 cells where the header has {WIDTH}",
    ),
    "semicolons in quotes": (
        rewritten(OPERATIONS, lambda t: t.replace(b",", b'";"').replace(b"\n", b'"\n"')),
        "divided by semicolons",
    ),
    # quotes
    "an unclosed quote": (in_row(lambda row: b'"' + row), "cannot be read at line"),
    "an unclosed quote in the last cell": (in_row(lambda row: row + b'"x'), "cannot be read at line"),
    "a stray quote behind a cell": (
        in_row(lambda row: b'"' + row.replace(b",", b'"x,', 1)),
        "cannot be read at line 3",
    ),
    "a quote closed by another": (in_row(lambda row: row.replace(b"total", b"\"total'")), "cannot be read at line"),
    "a line end in quotes": (in_row(lambda row: row.replace(b"total", b'"to\ntal"')), "runs over the end of line 3"),
    "CR LF in quotes": (in_row(lambda row: row.replace(b"total", b'"to\r\ntal"')), "runs over the end of line 3"),
    "a row in quotes as one cell": (in_row(lambda row: b'"' + row + b'"'), "line 3 has 1 cells"),
    "an unclosed quote in the header": (in_header(lambda row: b'"' + row), "header line that is not as agreed"),
    # bytes that are no text
    "a NUL byte in a cell": (in_row(lambda row: row.replace(b"total", b"to\0tal")), "a NUL byte in line 3"),
    "a NUL byte in the header": (in_header(lambda row: row + b"\0"), "a NUL byte in line 1"),
    "a block of NUL bytes at the end": (rewritten(OPERATIONS, lambda t: t + bytes(4096)), "a NUL byte in line 5"),
    "only NUL bytes": (rewritten(OPERATIONS, lambda t: bytes(len(t))), "a NUL byte in line 1"),
    "CR alone": (rewritten(OPERATIONS, lambda t: t.replace(b"\n", b"\r")), "a carriage return alone in line 1"),
    "one CR alone": (in_row(lambda row: row.replace(b"total", b"to\rtal")), "a carriage return alone in line 3"),
    "CR CR LF": (rewritten(OPERATIONS, lambda t: t.replace(b"\n", b"\r\r\n")), "a carriage return alone in line 1"),
    # disguises
    "a zip archive": (
        rewritten(OPERATIONS, zipped),
        "is not CSV but a zip archive or a spreadsheet. Save it again as CSV",
    ),
    "an old spreadsheet": (rewritten(OPERATIONS, lambda t: b"\xd0\xcf\x11\xe0\xa1\xb1" + t), "but a spreadsheet"),
    "gzip": (rewritten(OPERATIONS, gzip.compress), "is not CSV but compressed with gzip"),
    "Parquet": (rewritten(OPERATIONS, lambda t: b"PAR1" + t + b"PAR1"), "is not CSV but a Parquet file"),
    "a PDF document": (rewritten(OPERATIONS, lambda t: b"%PDF-1.7\n" + t), "is not CSV but a PDF document"),
    "a web page": (rewritten(OPERATIONS, lambda t: b"<html>\n<body>503</body></html>\n"), "names none of the columns"),
    "JSON": (rewritten(OPERATIONS, lambda t: b'[{"operation_id": "H001-1"}]\n'), "names none of the columns"),
    "XML": (rewritten(OPERATIONS, lambda t: b'<?xml version="1.0"?>\n<rows/>\n'), "names none of the columns"),
    "random bytes": (rewritten(OPERATIONS, lambda t: random.Random(1).randbytes(5000)), "operations.csv"),
    # sizes
    "an empty file": (rewritten(OPERATIONS, lambda t: b""), "is empty; without rows it still has its header line"),
    "an empty file of reasons": (rewritten(REASONS, lambda t: b""), "reasons.csv is empty"),
    "one line end": (rewritten(OPERATIONS, lambda t: b"\n"), "header line that is not as agreed"),
    "a mark alone": (rewritten(OPERATIONS, lambda t: b"\xef\xbb\xbf"), "header line that is not as agreed"),
    "the header without its end": (rewritten(OPERATIONS, lambda t: t.split(b"\n")[0]), "in the middle of line 1"),
    "the header alone": (rewritten(OPERATIONS, lambda t: t.split(b"\n")[0] + b"\n"), "has 0 rows where its envelope"),
    "a very long line": (in_row(lambda row: row + b"x" * 5_000_000), "bytes in line 3; no row is that long"),
    "a very long line in quotes": (
        in_row(lambda row: row.replace(b"total", b'"' + b"x" * 5_000_000 + b'"')),
        "bytes in line 3; no row is that long",
    ),
    "a very long header": (in_header(lambda row: row + b",x" * 500_000), "header line that is not as agreed"),
    "a very long name of a column": (in_header(lambda row: row + b"x" * 500_000), f"name of column {WIDTH}"),
    "cut in the last row": (rewritten(OPERATIONS, lambda t: t[:-9]), "in the middle of line 4; it was cut short"),
    "cut behind a row": (rewritten(OPERATIONS, lambda t: t[: t[:-1].rindex(b"\n") + 1]), "has 2 rows where"),
    "the last line without an end": (rewritten(OPERATIONS, lambda t: t[:-1]), "in the middle of line 4"),
    "a row too many": (rewritten(OPERATIONS, lambda t: t + t.split(b"\n")[1] + b"\n"), "has 4 rows where"),
    "the file twice": (rewritten(OPERATIONS, lambda t: t + t), "has 7 rows where its envelope declares 3"),
    # headers
    "a column twice": (in_header(lambda row: row.replace(b"asa", b"sex")), "missing 'asa'; repeated 'sex'"),
    "swapped columns": (
        in_header(lambda row: row.replace(b"sex,joint", b"joint,sex")),
        "in another order, 'joint' stands where 'sex' belongs",
    ),
    "the last column first": (
        rewritten(OPERATIONS, moved),
        f"in another order, '{NAMES[-1]}' stands where 'operation_id'",
    ),
    "a missing column": (in_header(lambda row: row.replace(b",asa", b"")), "missing 'asa'"),
    "an unknown column more": (in_header(lambda row: row + b",weight"), "unknown 'weight'"),
    "a renamed column": (
        in_header(lambda row: row.replace(b"bmi", b"Body Mass")),
        "unknown 'Body Mass'; missing 'bmi'",
    ),
    "capital letters": (in_header(bytes.upper), "header line that is not as agreed"),
    "spaces behind commas": (in_header(lambda row: row.replace(b",", b", ")), "header line that is not as agreed"),
    "a space in front": (in_header(lambda row: b" " + row), "name of column 1; missing 'operation_id'"),
    "no header": (rewritten(OPERATIONS, lambda t: t.split(b"\n", 1)[1]), "its first line names none of the columns"),
    "an empty line first": (rewritten(OPERATIONS, lambda t: b"\n" + t), "header line that is not as agreed"),
    "a title first": (rewritten(OPERATIONS, lambda t: b"Operations 2005\n" + t), "names none of the columns"),
    "a remark first": (rewritten(OPERATIONS, lambda t: b"# made 2005-04-01\n" + t), "names none of the columns"),
    "components under the name of operations": (
        lambda folder: (folder / COMPONENTS).replace(folder / OPERATIONS) and None,
        "unknown 'line_no', 'role', 'catalogue_no'",
    ),
    "operations under the name of reasons": (
        lambda folder: (folder / REASONS).write_bytes((folder / OPERATIONS).read_bytes()) and None,
        "reasons.csv has a header line",
    ),
    # rows
    "a row too short": (
        in_row(lambda row: row.rsplit(b",", 1)[0]),
        f"line 3 has {WIDTH - 1} cells where the header has {WIDTH}",
    ),
    "a row too long": (in_row(lambda row: row + b",x"), f"line 3 has {WIDTH + 1} cells"),
    "a row of commas too many": (in_row(lambda row: row + b"," * 40), f"line 3 has {WIDTH + 40} cells"),
    "a blank line between": (in_row(lambda row: b"\n" + row), "line 3 has 0 cells"),
    "blank lines at the end": (rewritten(OPERATIONS, lambda t: t + b"\n\n\n"), "line 5 has 0 cells"),
    "a line of spaces": (rewritten(OPERATIONS, lambda t: t + b"   \n"), "line 5 has 1 cells"),
    "a line of totals": (rewritten(OPERATIONS, lambda t: t + b"Total,3\n"), "line 5 has 2 cells"),
    "an end-of-file letter": (rewritten(OPERATIONS, lambda t: t + b"\x1a"), "in the middle of line 5"),
    "a decimal comma": (in_row(lambda row: row.replace(b"28.5", b"28,5")), f"line 3 has {WIDTH + 1} cells"),
    "a thousands comma": (in_row(lambda row: row.replace(b"1950", b"1,950")), f"line 3 has {WIDTH + 1} cells"),
    "a short row in components": (in_row(lambda row: row.rsplit(b",", 1)[0], COMPONENTS), "components.csv is ragged"),
    # what spreadsheets add
    "a line sep=;": (
        rewritten(OPERATIONS, lambda t: b"sep=;\n" + t.replace(b",", b";")),
        "begins with the line 'sep='",
    ),
    "a line sep=,": (rewritten(OPERATIONS, lambda t: b"sep=,\r\n" + t), "begins with the line 'sep='"),
    "a line sep=, in quotes": (rewritten(OPERATIONS, lambda t: b'"sep=,"\n' + t), "begins with the line 'sep='"),
    "one empty column at the end": (rewritten(OPERATIONS, trailing(1)), f"unknown column {WIDTH + 1} without a name"),
    "nine empty columns at the end": (rewritten(OPERATIONS, trailing(9)), f"unknown column {WIDTH + 1} without a name"),
    "empty rows at the end": (
        rewritten(OPERATIONS, lambda t: t + (b"," * (WIDTH - 1) + b"\n") * 5),
        "has 8 rows where",
    ),
    "an empty column in front": (
        rewritten(OPERATIONS, lambda t: joined([[b"", *row] for row in columns(t)])),
        "unknown column 1 without a name",
    ),
    "a column of row numbers": (
        rewritten(OPERATIONS, lambda t: joined([[b"" if n == 0 else b"%d" % n, *r] for n, r in enumerate(columns(t))])),
        "unknown column 1 without a name",
    ),
    "a dump of column names in quotes and semicolons": (
        rewritten(OPERATIONS, lambda t: b'"' + t.replace(b",", b'";"').replace(b"\n", b'"\n"')[:-1]),
        "header line that is not as agreed",
    ),
    # in place of a file
    "no file": (lambda folder: (folder / OPERATIONS).unlink(), "is missing, though its envelope names it. Send it too"),
    "another name": (
        lambda folder: (folder / OPERATIONS).rename(folder / "Operations 2005.csv") and None,
        "is missing",
    ),
    "a folder": (in_place(Path.mkdir), "operations.csv cannot be read: Is a directory"),
    "a link to itself": (in_place(loop), "operations.csv cannot be read: Too many levels of symbolic links"),
    "a link to nowhere": (in_place(lambda path: path.symlink_to("gone.csv")), "operations.csv is missing"),
    "a pipe": (in_place(os.mkfifo), "is not a file but a pipe or a device. Put the file itself there"),
    "a link to a device": (in_place(lambda path: path.symlink_to("/dev/zero")), "is not a file but a pipe or a device"),
    # envelopes that still say whose they are
    "another schema": (
        of_envelope(schema="9"),
        f"is of schema '9'; this program reads schema '{SCHEMA_VERSION}'. Write it again",
    ),
    "a schema that is a number": (
        of_envelope(schema=int(SCHEMA_VERSION)),
        f"is of schema {SCHEMA_VERSION}; this program",
    ),
    "a schema of great length": (of_envelope(schema="9" * 100_000), "is of schema '999"),
    "no schema": (of_envelope(schema=None), "does not say: schema. Add it"),
    "no date of receipt": (of_envelope(received_date=None), "does not say: received_date"),
    "a field more": (of_envelope(colour="red"), "has unknown fields: colour. Leave them out"),
    "a date as the trade writes it": (
        of_envelope(received_date="15.04.2005"),
        "is no date as 2024-03-31: '15.04.2005'",
    ),
    "a date without hyphens": (of_envelope(received_date="20050415"), "is no date as 2024-03-31"),
    "a date that is not": (of_envelope(received_date="2005-02-30"), "is no date as 2024-03-31"),
    "a date with a time": (of_envelope(received_date="2005-04-15T00:00:00"), "is no date as 2024-03-31"),
    "a date that is a number": (of_envelope(received_date=38457), "is no date as 2024-03-31: 38457"),
    "complete after it was received": (of_envelope(complete_through="2005-04-16"), "after the day it was received"),
    "no id": (of_envelope(id=""), "has no usable id: ''"),
    "an id over two lines": (of_envelope(id="H0\n01"), "has no usable id: 'H0\\n01'"),
    "an id of great length": (of_envelope(id="H" * 100_000), "has no usable id: 'HHH"),
    "a count that is text": (
        of_envelope(files={OPERATIONS: "3", COMPONENTS: 9, REASONS: 0}),
        "not a whole number: '3'",
    ),
    "a count below nothing": (of_envelope(files={OPERATIONS: -3, COMPONENTS: 9, REASONS: 0}), "not a whole number: -3"),
    "a count with a decimal": (of_envelope(files={OPERATIONS: 3.0, COMPONENTS: 9, REASONS: 0}), "whole number: 3.0"),
    "a huge count": (of_envelope(files={OPERATIONS: 10**40, COMPONENTS: 9, REASONS: 0}), "not a whole number"),
    "another count": (of_envelope(files={OPERATIONS: 4, COMPONENTS: 9, REASONS: 0}), "has 3 rows where its envelope"),
    "a file too few": (
        of_envelope(files={OPERATIONS: 3, COMPONENTS: 9}),
        "names the files components.csv, operations.csv",
    ),
    "a file too many": (
        of_envelope(files={OPERATIONS: 3, COMPONENTS: 9, REASONS: 0, "../x.csv": 1}),
        "names the files ../x.csv",
    ),
    "files as a list": (of_envelope(files=list(FILES)), "names the files ["),
    "an unknown form of numbers": (of_envelope(patient_numbers="clear"), "has the unknown patient_numbers 'clear'"),
    "numbers that are a list": (of_envelope(patient_numbers=["own"]), "has the unknown patient_numbers"),
}

# Nobody can tell whose it is, so nothing beside it may be taken in.
WHOSE = {
    "no JSON": (rewritten(ENVELOPE, lambda t: t[:-1]), "is not readable JSON in UTF-8. Write it again"),
    "an empty envelope": (rewritten(ENVELOPE, lambda t: b""), "is not readable JSON"),
    "an envelope in UTF-16": (rewritten(ENVELOPE, lambda t: t.decode().encode("utf-16")), "is not readable JSON"),
    "an envelope of NUL bytes": (rewritten(ENVELOPE, lambda t: bytes(100)), "is not readable JSON"),
    "an envelope without end": (rewritten(ENVELOPE, lambda t: b"[" * 100_000), "is not readable JSON"),
    "an envelope that is a list": (rewritten(ENVELOPE, lambda t: b"[" + t + b"]"), "is not a JSON object"),
    "a number of great length": (
        rewritten(ENVELOPE, lambda t: t.replace(b'"sequence": 1', b'"sequence": ' + b"9" * 9000)),
        "is not readable JSON",
    ),
    "no sender": (of_envelope(sender=None), "does not say: sender"),
    "a sender that is a number": (of_envelope(sender=1), "has no usable sender: 1"),
    "an unknown kind": (of_envelope(kind="operation"), "is of the unknown kind 'operation'"),
    "a kind that is a list": (of_envelope(kind=["operations"]), "is of the unknown kind"),
    "no sequence": (of_envelope(sequence=None), "does not say: sequence"),
    "a sequence that is text": (of_envelope(sequence="1"), "not a whole number: '1'"),
    "a sequence that is true": (of_envelope(sequence=True), "not a whole number: True"),
    "an envelope that is a link to itself": (in_place(loop, ENVELOPE), "cannot be read"),
    "an envelope that is a folder": (in_place(Path.mkdir, ENVELOPE), "There is no submission in"),
}


# Taken in, one row rejected, held or warned of: the form of the file is right, a cell is not.
IN_ROWS: dict[str, tuple[Spoil, str]] = {
    "a day first": (cell(_DAY, b"01.02.2005"), "date-unreadable"),
    "a day first with strokes": (cell(_DAY, b"01/02/2005"), "date-unreadable"),
    "a month first": (cell(_DAY, b"2/1/05"), "date-unreadable"),
    "a month in letters": (cell(_DAY, b"1-Feb-2005"), "date-unreadable"),
    "no hyphens": (cell(_DAY, b"20050201"), "date-unreadable"),
    "a spreadsheet's serial number": (cell(_DAY, b"38384"), "date-unreadable"),
    "a spreadsheet's narrow column": (cell(_DAY, b"########"), "date-unreadable"),
    "a day and a time": (cell(_DAY, b"2005-02-01 00:00:00"), "date-unreadable"),
    "a day and a time of ISO 8601": (cell(_DAY, b"2005-02-01T00:00Z"), "date-unreadable"),
    "a week of ISO 8601": (cell(_DAY, b"2005-W05-2"), "date-unreadable"),
    "a day of the year of ISO 8601": (cell(_DAY, b"2005-032"), "date-unreadable"),
    "a month alone": (cell(_DAY, b"2005-02"), "date-unreadable"),
    "a thirtieth of February": (cell(_DAY, b"2005-02-30"), "date-unreadable"),
    "a month 13": (cell(_DAY, b"2005-13-01"), "date-unreadable"),
    "a year of two digits": (cell(_DAY, b"05-02-01"), "date-unreadable"),
    "a year of five digits": (cell(_DAY, b"20055-02-01"), "date-unreadable"),
    "a year before Christ": (cell(_DAY, b"-2005-02-01"), "date-unreadable"),
    "nothing for a date": (cell(_DAY, b""), "date-unreadable"),
    "a date behind a space": (cell(_DAY, b" 2005-02-01"), "date-unreadable"),
    "Arabic digits": (cell(_DAY, "٢٠٠٥-٠٢-٠١".encode()), "date-unreadable"),
    "a long dash": (cell(_DAY, "2005–02–01".encode()), "date-unreadable"),
    "a date with a zero-width space": (cell(_DAY, "2005-02-01\u200b".encode()), "date-unreadable"),
    "a formula for a date": (cell(_DAY, b"=TODAY()"), "date-unreadable"),
    "a date of no year": (cell(_DAY, b"0000-00-00"), "date-unreadable"),
    "a date far ahead": (cell(_DAY, b"9999-12-31"), "date-after-receipt"),
    "a decimal year of birth": (cell(_BORN, b"1950.0"), "birth-year-implausible"),
    "a huge year of birth": (cell(_BORN, b"9" * 400), "birth-year-implausible"),
    "a year of birth in powers of ten": (cell(_BORN, b"1.95E3"), "birth-year-implausible"),
    "a negative year of birth": (cell(_BORN, b"-1950"), "birth-year-implausible"),
    "a formula for a year of birth": (cell(_BORN, b"=1949+1"), "birth-year-implausible"),
    "a thousands point": (cell(_BORN, b"1.950"), "birth-year-implausible"),
    "a huge body mass index": (cell(_BMI, b"1e308"), "bmi-implausible"),
    "an endless body mass index": (cell(_BMI, b"inf"), "bmi-implausible"),
    "a body mass index that is no number": (cell(_BMI, b"NaN"), "bmi-implausible"),
    "a body mass index of 500 digits": (cell(_BMI, b"2" * 500), "bmi-implausible"),
    "a spreadsheet's fault": (cell(_BMI, b"#DIV/0!"), "bmi-implausible"),
    "a missing number": (cell(_ID, b""), "operation-number"),
    "a formula in a number": (cell(_ID, b"=HYPERLINK(1)"), "operation-number"),
    "a mark within the file": (cell(_ID, b"\xef\xbb\xbfH001-11"), "operation-number"),
    "a form feed in a word": (cell(b"sex", b"female\x0c"), "word-unknown"),
    "a tab in a word": (cell(b"sex", b"\tfemale"), "word-unknown"),
    "a no-break space in a word": (cell(b"sex", "female\u00a0".encode()), "word-unknown"),
    "a line separator in a word": (cell(b"approach", "medial\u2028parapatellar".encode()), "word-unknown"),
    "a next-line sign in a word": (cell(b"approach", "medial\u0085parapatellar".encode()), "word-unknown"),
    "a bell in a word": (cell(b"approach", b"\x07"), "word-unknown"),
    "an escape in a word": (cell(b"approach", b"\x1b[31mred"), "word-unknown"),
    "a backslash at an end": (cell(b"approach", b"medial\\"), "word-unknown"),
    "a statement in a word": (cell(b"approach", b"'); drop table operations; --"), "word-unknown"),
    "a picture in a word": (cell(b"approach", "🦴".encode()), "word-unknown"),
    "the word null": (cell(b"joint", b"NULL"), "joint-unknown"),
    "the word N/A": (cell(b"joint", b"N/A"), "joint-unknown"),
    "a word in capitals": (cell(b"joint", b"KNEE"), "joint-unknown"),
    "a cell of 50,000 letters": (cell(b"approach", b"x" * 50_000), "word-unknown"),
}


def all_refused() -> Iterator[tuple[str, Spoil, str]]:
    """List every submission that is refused as a whole."""
    for name, (spoil, told) in {**REFUSED, **WHOSE}.items():
        yield name, spoil, told

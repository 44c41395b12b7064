"""
Small data cuts for tests, from explicit rows: neither intake nor the generator is needed.

    store = make_cut(tmp_path, [joint(days=100, ended="revised", reason="infection"), joint(days=900)])
    desk = Desk(store)
"""

import random
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import duckdb

from regdash import vocabulary
from regdash.store.cuts import CUTS_FOLDER, LAYOUT, Manifest
from regdash.store.sqlfiles import sql_file, views_in_order
from regdash.store.words import ROLES, WORDS, quoted
from regdash.vocabulary import NOT_APPLICABLE, NOT_RECORDED

Row = dict[str, Any]
Lists = tuple[tuple[str, tuple[str, ...]], ...]  # each type of words or codes, and what it lists
THROUGH = date(2024, 12, 31)
NAME = "2024-12-31.1"

_CODES = {
    "hospital_codes": "hospital_id",
    "region_codes": "region",
    "surgeon_codes": "surgeon_id",
    "construct_codes": "construct",
    "implant_codes": "implant",
    "maker_codes": "maker",
}
_GROUP_OF = {
    joint: {reason.detail: reason.group for reason in reasons} for joint, reasons in vocabulary.REASONS.items()
}
_CODES_OF = {"knee": ("KF", "KT"), "hip": ("HS", "HC"), "shoulder": ("SH", "SG")}


def joint(**given: Any) -> Row:
    """
    Describe one joint by the columns of `follow_up`; what is not given is an ordinary cemented total knee.

    `class_` stands for the column class; `hip` and `shoulder` describe the other joints. `reason` may be a detail
    or a group. `components` lists rows of `component_life`; left out, they are those that the construct names.
    `episodes` lists rows of
    `revision_episodes`, each with the reasons that followed the leading one under `also`; left out, there is
    the first revision alone. What an episode did to the joint follows from its action unless it is given.
    A revised joint is followed to its `died_day`, or to the end of the cut, unless `followed_days` says otherwise.
    """
    row: Row = {
        "patient": None,
        "joint": "knee",
        "side": "left",
        "class": given.pop("class_", "total"),
        "compartment": "not applicable",
        "bearing": "fixed",
        "constraint_design": "cruciate-retaining",
        "bearing_couple": NOT_APPLICABLE,
        "head_size": None,
        "humeral_design": NOT_APPLICABLE,
        "construct": "KF-001/KT-001",
        "fixation": "cemented",
        "patella": "not resurfaced",
        "approach": "medial parapatellar",
        "technology": "conventional",
        "prophylaxis": "aspirin",
        "diagnosis": "osteoarthritis",
        "sex": "female",
        "age": 68,
        "asa": "II",
        "bmi": 29.0,
        "hospital_id": "H001",
        "region": "R1",
        "surgeon_id": "S0001",
        "surgeon_volume": 20,
        "implanted_date": date(2010, 1, 4),
        "days": 1000,
        "ended": "in place",
        "followed_days": None,
        "followed_end": None,
        "died_day": None,
        "reason": None,
        "action": None,
        "stem_used": None,
        "augment_used": None,
        "graft_used": None,
        "components": None,
        "episodes": None,
    }
    unknown = set(given) - set(row)
    if unknown:
        raise KeyError(f"follow_up has no {sorted(unknown)}")
    return row | given


def hip(**given: Any) -> Row:
    """Describe one hip; what is not given is an ordinary cementless total hip."""
    usual = {
        "joint": "hip",
        "class_": "total",
        "bearing": "standard",
        "constraint_design": NOT_APPLICABLE,
        "bearing_couple": "ceramic on highly cross-linked polyethylene",
        "head_size": 32,
        "construct": "HS-001/HC-001",
        "fixation": "cementless",
        "patella": NOT_APPLICABLE,
        "approach": "posterior",
    }
    if given.get("class_") == "hemi":
        usual |= {"bearing": NOT_APPLICABLE, "bearing_couple": NOT_APPLICABLE, "head_size": None}
    return joint(**usual | given)


def shoulder(**given: Any) -> Row:
    """Describe one shoulder; what is not given is an ordinary reverse one."""
    usual = {
        "joint": "shoulder",
        "class_": "reverse",
        "bearing": NOT_APPLICABLE,
        "constraint_design": NOT_APPLICABLE,
        "humeral_design": "stemmed",
        "construct": "SH-001/SG-001",
        "fixation": "cementless",
        "patella": NOT_APPLICABLE,
        "approach": "deltopectoral",
        "diagnosis": "cuff-tear arthropathy",
    }
    return joint(**usual | given)


def components_of(construct: str, names: Sequence[str] = ("femoral", "tibial"), **shared: Any) -> list[Row]:
    """Describe the components that a construct names, in the roles that name it."""
    codes = construct.split("/") if construct != NOT_RECORDED else [construct] * len(names)
    return [component(role, code, **shared) for role, code in zip(names, codes)]


def component(role: str, implant: str, **given: Any) -> Row:
    """Describe one component, put in at the primary unless `in_day` says otherwise."""
    row: Row = {
        "role": role,
        "implant": implant,
        "maker": "M01",
        "catalogue_no": f"{implant.replace('-', '')}-5",
        "size": "5",
        "lot": "L001",
        "in_day": 0,
        "out_day": None,
        "out_reason": None,
        "operation_id": None,
    }
    return row | given


def make_cut(
    store: Path,
    joints: Iterable[Row],
    held: Sequence[tuple[int | None, str]] = (),
    name: str = NAME,
    settings: Mapping[str, Any] | None = None,
    losses: Mapping[int, date] | None = None,
    deaths_through: str | None = "2024-12-31",
) -> Path:
    """
    Write a data cut of these joints into a store folder, and give the folder.

    Args:
        losses: of patients by number, the date of emigration; of joints alone `ended` says so.
        deaths_through: date through which the feed of deaths is complete; None where there is none.
        held: for each held revision, the place of its joint in `joints` (None where it cannot be told) and its rule.
    """
    followed = [completed(number, row) for number, row in enumerate(joints)]
    folder = store / CUTS_FOLDER
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{name}.duckdb"
    path.write_bytes(_empty_cut(_lists_of(followed)))
    with duckdb.connect(str(path)) as connection:
        connection.execute("begin")
        _append(connection, "follow_up", followed)
        _append(connection, "component_life", [line for row in followed for line in _components(row)])
        episodes = [episode for row in followed for episode in _episodes(row)]
        _append(connection, "revision_episodes", episodes)
        _append(connection, "revision_reasons", [reason for episode in episodes for reason in _reasons(episode)])
        held_rows = [
            {"operation_id": f"H001-9{n:06d}", "joint_no": joint_no, "rule": rule}
            for n, (joint_no, rule) in enumerate(held)
        ]
        _append(connection, "held_revisions", held_rows)
        for patient, lost in (losses or {}).items():
            connection.execute("insert into patients values (?, ?, 1950, 'female')", [patient, f"P{patient:09d}"])
            values = [f"P{patient:09d}", lost, "emigrated", lost]
            connection.execute("insert into losses values (?, ?, ?, ?)", values)
        facts = {"cut": name, "through_date": name.partition(".")[0]}
        connection.executemany("insert into cut_facts values (?, ?)", list(facts.items()))
        connection.execute("commit")
    manifest = _manifest(name, followed, dict(settings or {}), deaths_through)
    (folder / f"{name}.json").write_text(manifest.to_json(), encoding="utf-8")
    return store


def completed(number: int, given: Row) -> Row:
    """Add to a joint's row what follows from the rest: numbers, ids, group of the reason, date of the revision."""
    row = dict(given)
    patient = number if row["patient"] is None else row["patient"]
    row |= {"joint_no": number, "patient_no": patient, "patient_id": f"P{patient:09d}"}
    row["joint_id"] = f"{row['patient_id']}-{row['joint'][0].upper()}{row['side'][0].upper()}" + (
        "" if given["patient"] is None else f"{number}"
    )
    row["implanted_year"] = row["implanted_date"].year
    row["operation_id"] = f"{row['hospital_id']}-{number:07d}"
    row |= {"reason_group": None, "revision_date": None, "revision_operation_id": None}
    if row["ended"] == "revised":
        reason, groups = row["reason"] or NOT_RECORDED, _GROUP_OF[row["joint"]]
        row["reason_group"] = groups.get(reason, reason)
        row["reason"] = reason if reason in groups else None
        row["action"] = row["action"] or "one component exchanged"
        row |= {key: bool(row[key]) for key in ("stem_used", "augment_used", "graft_used")}
        row["revision_date"] = row["implanted_date"] + timedelta(days=row["days"])
        row["revision_operation_id"] = f"{row['hospital_id']}-8{number:06d}"
    if row["ended"] == "died":
        row["died_day"] = row["days"]
    row["primary_roles"] = sum({1 << ROLES.index(line["role"]) for line in _given_components(row) if _is_own(line)})
    return row | _followed(row)


def _followed(row: Row) -> Row:
    """Say how long the joint is followed, revised or not, and what ends that."""
    if row["ended"] != "revised":
        return {"followed_days": row["days"], "followed_end": row["ended"]}
    died = row["died_day"]
    to_end = max((THROUGH - row["implanted_date"]).days, row["days"])
    days, end = (to_end, "in place") if died is None else (died, "died")
    return {
        "followed_days": days if row["followed_days"] is None else row["followed_days"],
        "followed_end": row["followed_end"] or end,
    }


def _is_own(line: Row) -> bool:
    """Whether a component went in at the primary."""
    return line["in_day"] == 0 and line["operation_id"] is None


def _given_components(row: Row) -> list[Row]:
    if row["components"] is not None:
        return row["components"]
    names = vocabulary.NAMING_ROLES[row["joint"]][row["class"]]
    return components_of(row["construct"], [roles[0] for roles in names])


def _components(row: Row) -> list[Row]:
    own = {"joint_no": row["joint_no"]}
    return [
        line | own | {"line_no": n, "operation_id": line["operation_id"] or row["operation_id"]}
        for n, line in enumerate(_given_components(row), 1)
    ]


def _episodes(row: Row) -> list[Row]:
    if row["ended"] != "revised":
        return []
    first = {
        "sequence": 1,
        "operation_id": row["revision_operation_id"],
        "revision_date": row["revision_date"],
        "day": row["days"],
        "stage": "single",
        "reimplanted_day": None,
        "hospital_id": row["hospital_id"],
        "surgeon_id": row["surgeon_id"],
        "reason_group": row["reason_group"],
        "reason": row["reason"],
        "action": row["action"],
        "stem_used": row["stem_used"],
        "augment_used": row["augment_used"],
        "graft_used": row["graft_used"],
    }
    given = row["episodes"] or [{}]
    return [
        _whole_episode(row, first | {"joint_no": row["joint_no"], "sequence": n} | _grouped(row, episode))
        for n, episode in enumerate(given, 1)
    ]


def _grouped(row: Row, episode: Row) -> Row:
    """Add the group of a reason that is given in detail, or leave the detail out where a group is given."""
    reason = episode.get("reason")
    if reason is None or "reason_group" in episode:
        return episode
    groups = _GROUP_OF[row["joint"]]
    detail = reason if reason in groups else None
    return episode | {"reason_group": groups.get(reason, reason), "reason": detail}


def _whole_episode(row: Row, episode: Row) -> Row:
    """Add what follows from an episode's day, stage and action, as freeze does where components are not listed."""
    action, day, stage = episode["action"], episode["day"], episode["stage"]
    on = row["implanted_date"] + timedelta(days=day)
    over = on.replace(year=on.year + 1, day=min(on.day, 28) if on.month == 2 else on.day)
    restart = day if stage != "first of two" else episode["reimplanted_day"] or (over - row["implanted_date"]).days
    is_open = stage == "first of two" and restart > row["followed_days"] and row["followed_end"] != "died"
    return {
        "restart_day": restart,
        "stage_open": is_open,
        "septic": episode["reason_group"] == "infection",
        "bone_fixed_removed": action not in ("bearing exchange only", "component added", "hemi to total", NOT_RECORDED),
        "bearing_only": action == "bearing exchange only",
        "patella_added_only": False,
        "to_total": row["class"] in ("partial", "hemi") and action in ("partial to total", "hemi to total"),
        "to_reverse": row["class"] == "anatomic" and action == "anatomic to reverse",
        "emptied": action in ("removal with spacer", "removal without replacement"),
    } | (episode | {"revision_date": on})


def _reasons(episode: Row) -> list[Row]:
    """List the reasons of a revision as its form did: the leading one, then those that follow."""
    leading = [episode["reason"]] if episode["reason"] else []
    return [
        {"operation_id": episode["operation_id"], "line_no": n, "reason": reason, "leads": n == 1, "has_note": False}
        for n, reason in enumerate([*leading, *episode.get("also", [])], 1)
    ]


def _lists_of(followed: list[Row]) -> Lists:
    """The types that freeze makes, codes in rising order and not recorded last."""
    everything = [*followed, *(line for row in followed for line in _components(row))]
    everything += [episode for row in followed for episode in _episodes(row)]
    codes = {kind: {row[column] for row in everything if column in row} for kind, column in _CODES.items()}
    lists = {f"{name}_words": tuple(words) for name, words in WORDS.items()}
    lists |= {kind: (*sorted(found - {NOT_RECORDED}), NOT_RECORDED) for kind, found in codes.items()}
    return tuple(lists.items())


@lru_cache(maxsize=16)
def _empty_cut(lists: Lists) -> bytes:
    """A cut with its tables and views and no row, as the bytes of its file: that takes longer than all the rest."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "empty.duckdb"
        with duckdb.connect(str(path)) as connection:
            connection.execute("begin")  # or each of some hundred comments would wait for the disk
            for kind, labels in lists:
                connection.execute(f"create type {kind} as enum ({', '.join(map(quoted, labels))})")
            connection.execute(sql_file("schema/cut").query)
            connection.execute(sql_file("schema/copies").query)
            for view in views_in_order():
                connection.execute(f"create view {view.name} as {view.query}")
            connection.execute("commit")
        return path.read_bytes()


_COLUMNS: dict[str, list[str]] = {}  # of the tables of a cut, which are the same in each


def _append(connection: duckdb.DuckDBPyConnection, table: str, rows: list[Row]) -> None:
    if not rows:
        return
    if table not in _COLUMNS:
        _COLUMNS[table] = [column[0] for column in connection.execute(f"describe {table}").fetchall()]
    columns = _COLUMNS[table]
    with connection.appender(table) as appender:
        for row in rows:
            appender.append_row(*(row[column] for column in columns))


def _manifest(name: str, followed: list[Row], settings: dict[str, Any], deaths: str | None) -> Manifest:
    return Manifest(
        cut=name,
        through_date=name.partition(".")[0],
        known_as_of="2025-02-09",
        complete_through={"operations": {}, **({} if deaths is None else {"deaths": deaths})},
        joints=len(followed),
        patients=len({row["patient_no"] for row in followed}),
        revisions=sum(row["ended"] == "revised" for row in followed),
        rows={"follow_up": len(followed)},
        rule_set="1",
        catalogue="1",
        code_lists="1",
        software="test",
        content_hash="test",
        settings=settings,
        layout=LAYOUT,
    )


def random_joints(count: int, seed: int = 1, joints: Sequence[str] = ("knee",)) -> list[Row]:
    """
    Draw joints with every field varied, values missing, ties, day 0 and patients with two joints.

    Args:
        joints: which there are, in turn; knees alone if left out.
    """
    draw = random.Random(seed)
    return [_random_joint(draw, count, joints[n % len(joints)]) for n in range(count)]


def _random_joint(draw: random.Random, count: int, which: str) -> Row:
    row = _random_knee(draw, count)
    return row if which == "knee" else _turned(draw, row, which)


def _turned(draw: random.Random, row: Row, which: str) -> Row:
    """Make a knee another joint: the same life, and the words that the joint can have."""
    class_ = draw.choice(vocabulary.CLASSES[which])
    codes = [f"{letters}-{draw.randrange(1, 6):03d}" for letters in _CODES_OF[which]]
    has_couple = which == "hip" and class_ != "hemi"
    row |= {
        "joint": which,
        "class": class_,
        "compartment": NOT_APPLICABLE,
        "bearing": draw.choice(vocabulary.BEARINGS[3:6]) if has_couple else NOT_APPLICABLE,
        "constraint_design": NOT_APPLICABLE,
        "bearing_couple": draw.choice((*vocabulary.BEARING_COUPLES[:-2], NOT_RECORDED))
        if has_couple
        else NOT_APPLICABLE,
        "head_size": draw.choice((22, 28, 32, 36, 40, None)) if has_couple else None,
        "humeral_design": draw.choice(vocabulary.HUMERAL_DESIGNS[:3]) if which == "shoulder" else NOT_APPLICABLE,
        "construct": NOT_RECORDED if row["construct"] == NOT_RECORDED else "/".join(codes),
        "patella": NOT_APPLICABLE,
        "approach": draw.choice(vocabulary.OF_JOINT["approach"][which]),
        "diagnosis": draw.choice(vocabulary.OF_JOINT["diagnosis"][which]),
    }
    if row["reason"] is not None and row["reason"] != NOT_RECORDED:
        row["reason"] = draw.choice(vocabulary.REASONS[which]).detail
    names = [draw.choice(roles) for roles in vocabulary.NAMING_ROLES[which][class_]]
    row["components"] = components_of(row["construct"], names, size=str(draw.randrange(1, 7)))
    if has_couple:
        row["components"].append(component("head", "HH-001", size=str(row["head_size"] or 0)))
    return row


def _random_knee(draw: random.Random, count: int) -> Row:
    partial = draw.random() < 0.3
    family = f"{'U' if partial else 'K'}%s-{min(int(draw.expovariate(0.6)) + 1, 8):03d}"
    implanted = date(2002, 1, 1) + timedelta(days=draw.randrange(8300))
    to_end = (THROUGH - implanted).days
    revised, died, lost = (int(draw.expovariate(1 / mean)) for mean in (12_000 if partial else 40_000, 7_000, 90_000))
    days = min(revised, died, lost, to_end)
    ended = {revised: "revised", died: "died", lost: "lost", to_end: "in place"}
    how = next(ended[day] for day in (revised, died, lost, to_end) if day == days)
    followed = min(died, lost, to_end)
    end = next(ended[day] for day in (died, lost, to_end) if day == followed)
    hospital = draw.randrange(1, 9)
    row = joint(
        patient=draw.randrange(int(count * 0.8) + 1),
        side=draw.choice(vocabulary.SIDES),
        class_="partial" if partial else "total",
        compartment=draw.choice(("medial", "lateral")) if partial else "not applicable",
        bearing=draw.choice(vocabulary.OF_JOINT["bearing"]["knee"]),
        constraint_design="not applicable" if partial else draw.choice(vocabulary.CONSTRAINTS[:5]),
        construct=NOT_RECORDED if draw.random() < 0.03 else f"{family % 'F'}/{family % 'T'}",
        fixation=draw.choice(vocabulary.FIXATIONS),
        patella=draw.choice((*vocabulary.PATELLAS[:2], NOT_RECORDED)),  # of a primary
        technology=draw.choice(vocabulary.TECHNOLOGIES),
        diagnosis=draw.choice(vocabulary.OF_JOINT["diagnosis"]["knee"]),
        sex=draw.choice(vocabulary.SEXES),
        age=min(max(int(draw.gauss(68, 10)), 30), 96),
        asa=draw.choice(vocabulary.ASA_CLASSES),
        bmi=None if draw.random() < 0.1 else round(draw.gauss(30, 5), 1),
        hospital_id=f"H{hospital:03d}",
        region=f"R{hospital % 3 + 1}",
        surgeon_id=NOT_RECORDED if draw.random() < 0.02 else f"S{hospital * 10 + draw.randrange(4):04d}",
        surgeon_volume=None if draw.random() < 0.1 else draw.randrange(90),
        implanted_date=implanted,
        days=days,
        ended=how,
        followed_days=followed,
        followed_end=end,
        died_day=followed if how == "revised" and end == "died" else None,
        reason=draw.choice(vocabulary.REASONS["knee"]).detail if draw.random() < 0.9 else NOT_RECORDED,
        stem_used=draw.random() < 0.3,
        augment_used=draw.random() < 0.2,
        graft_used=draw.random() < 0.1,
    )
    if how != "revised":
        row |= dict.fromkeys(("reason", "stem_used", "augment_used", "graft_used"))
    row["components"] = _random_components(draw, row["construct"])
    return row


def _random_components(draw: random.Random, construct: str) -> list[Row]:
    shared = {
        "size": str(draw.randrange(1, 7)),
        "maker": f"M0{draw.randrange(1, 4)}",
        "lot": draw.choice(("", "L1", "L2")),
    }
    lines = components_of(construct, **shared)
    if construct != NOT_RECORDED:
        lines.append(component("bearing insert", construct.split("/")[1].replace("T-", "I-"), **shared))
    if draw.random() < 0.1:
        lines += [component("stem", "KS-001"), component("stem", "KS-001")]  # one implant twice in a joint
    return lines

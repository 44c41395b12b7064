"""
A cut of a clean synthetic register is the register: every joint, as its key has it.

The key is written by the generator from what it simulated, not from what it submitted; nothing of
intake or of the cut goes into it.
"""

from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pytest

from regdash.intake.receive import Receipt, receive
from regdash.store.cuts import Manifest, cut_path
from regdash.store.freeze import freeze
from synthetic_registry import make

THROUGH = date(2024, 12, 31)
JOINTS = 3_000


@pytest.fixture(scope="module")
def register(tmp_path_factory) -> tuple[Path, Receipt, Manifest]:
    folder = tmp_path_factory.mktemp("truth")
    make(folder / "files", JOINTS, 3, clean=True, key=folder / "key", through=THROUGH)
    receipt = receive(folder / "store", [folder / "files"])
    return folder, receipt, freeze(folder / "store", THROUGH)


def compared(register: tuple[Path, Receipt, Manifest], condition: str) -> list[tuple[Any, ...]]:
    """Joints of cut and key, side by side, of which something is not so."""
    folder, _, manifest = register
    query = f"""
        select f.operation_id, k.operation_id from follow_up as f
        full join read_csv($key, header = true, all_varchar = true) as k on k.operation_id = f.operation_id
        where not coalesce({condition}, false)
    """
    with duckdb.connect(str(cut_path(folder / "store", manifest.cut)), read_only=True) as cut:
        return cut.execute(query, {"key": str(folder / "key" / "joints.csv")}).fetchall()


def test_everything_of_a_clean_register_is_accepted(register):
    _, receipt, manifest = register
    assert receipt.total("accepted") == receipt.total("received")
    assert manifest.joints == JOINTS


@pytest.mark.parametrize(
    "column", ["joint", "side", "class", "bearing", "fixation", "technology", "sex", "asa", "diagnosis"]
)
def test_each_joint_has_the_words_it_truly_has(column, register):
    assert compared(register, f"replace(replace(f.{column}::varchar, ' ', '-'), ',', '') = k.{column}") == []


def test_each_hip_has_the_couple_and_the_head_it_truly_has(register):
    assert compared(register, "replace(f.bearing_couple::varchar, ' ', '-') = k.couple") == []
    head = "f.joint <> 'hip' or f.class = 'resurfacing' or f.head_size::varchar is not distinct from k.head_size"
    assert compared(register, head) == []


@pytest.mark.parametrize("column", ["patient_id", "construct", "hospital_id", "surgeon_id", "age", "implanted_date"])
def test_each_joint_has_the_codes_and_numbers_it_truly_has(column, register):
    assert compared(register, f"f.{column}::varchar = k.{column}") == []


def test_each_joint_is_followed_as_long_as_it_truly_was_and_ends_as_it_truly_did(register):
    assert compared(register, "f.days::varchar = k.days and replace(f.ended::varchar, ' ', '-') = k.ended") == []


def test_each_revision_is_the_one_that_truly_was_for_its_true_reason(register):
    condition = """
        coalesce(f.revision_operation_id, '') = coalesce(k.revision_operation_id, '')
        and (f.ended <> 'revised' or replace(f.reason_group::varchar, ' ', '-') = k.reason_group)
    """
    assert compared(register, condition) == []
    revised = compared(register, "f.ended <> 'revised'")
    assert len(revised) == register[2].revisions > 50


def test_each_joint_is_followed_past_its_revision_to_its_true_death_or_loss(register):
    last = "least($through, k.death_date::date, k.loss_date::date)"
    condition = f"""
        f.followed_days = {last} - f.implanted_date
        and f.followed_end::varchar = case
            when k.death_date::date = {last} then 'died' when k.loss_date::date = {last} then 'lost' else 'in place'
        end
    """
    assert compared(register, condition.replace("$through", f"date '{THROUGH}'")) == []


def test_components_and_what_was_said_to_be_done_agree_on_every_revision(register):
    """The form says what was done, and lists the components; of a clean register both are right."""
    folder, _, manifest = register
    said = """
        select action, bearing_only, bone_fixed_removed, emptied, count(*) from revision_episodes
        where action <> 'reimplantation' group by all
    """
    with duckdb.connect(str(cut_path(folder / "store", manifest.cut)), read_only=True) as cut:
        found = {row[0]: row[1:4] for row in cut.execute(said).fetchall()}
        kinds = cut.execute(f"select count(*) from ({said})").fetchall()
    assert kinds == [(len(found),)]  # one answer for each action
    assert found == {
        "bearing exchange only": (True, False, False),
        "one component exchanged": (False, True, False),
        "all components exchanged": (False, True, False),
        "component added": (False, False, False),
        "partial to total": (False, True, False),
        "hemi to total": (False, True, False),
        "anatomic to reverse": (False, True, False),
        "removal with spacer": (False, True, True),
    } | {action: (False, True, True) for action in found if action == "removal without replacement"}

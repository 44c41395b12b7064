"""What an edition may say; what it says wrong is refused in one line that names it. And the command around it."""

import shutil
from pathlib import Path

import pytest

from regdash.errors import SummaryError
from regdash.summary.edition import SHIPPED, edition_of, read_edition
from regdash.summary.output import write
from tests.cli.asking import one_line, regdash
from tests.summary.made import SHORT, Made, sections_of

TEXT = (SHIPPED / "committee.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("was", "becomes", "told"),
    [
        ('version = "1"', "version = 1", "version in the edition is a text"),
        ('version = "1"', "", "no version"),
        ("years = [1, 3, 5, 10, 15]", "years = [0]", "years says years"),
        ("horizon = 15", "horizont = 15", "horizont, which is no setting"),
        ('"front", "intake"', '"front", "intakes"', "sections has intakes"),
        ('"front", "intake"', '"front", "front"', "front twice"),
        ('joints = ["knee"', 'joints = ["elbow"', "joints has elbow"),
        ('by = "class"\nview', 'bye = "class"\nview', "[[risk]] has bye"),
        ("figure = false", 'figure = "no"', "figure in [[risk]] is true or false"),
        ('[[risk]]\ntitle = "By class"', '[[risk]]\ntitle = ""', "has no title"),
        ("pages = 40", "pages = many", "not TOML"),
        ('screen = ["implants"]', 'screen = ["wards"]', "screen has wards"),
    ],
)
def test_what_an_edition_says_wrong_is_refused_by_name(was: str, becomes: str, told: str) -> None:
    assert was in TEXT
    with pytest.raises(SummaryError) as refused:
        edition_of("committee", TEXT.replace(was, becomes, 1))
    assert told in str(refused.value)
    assert "\n" not in str(refused.value)


@pytest.fixture
def store(made: Made, tmp_path: Path) -> Path:
    """A copy of the store, for an edition of its own."""
    return Path(shutil.copytree(made.store, tmp_path / "store"))


def own_edition(store: Path, text: str) -> None:
    (store / "editions").mkdir()
    (store / "editions" / "committee.toml").write_text(text, encoding="utf-8")


def test_the_stores_own_edition_stands_before_the_shipped_one(store: Path, tmp_path: Path) -> None:
    own_edition(store, SHORT.format(words="class=total"))
    said = regdash("summary", "2024Q4", "--out", tmp_path / "out", store=store)
    assert said.code == 0
    text = (tmp_path / "out" / "summary.txt").read_text(encoding="utf-8")
    assert text.startswith("OURS\n====")
    assert "by 2 years" in text
    assert "Intake" not in text
    assert read_edition(store, "committee").version == "7"


def test_a_wrong_word_of_an_edition_is_refused_with_its_question(store: Path, tmp_path: Path) -> None:
    own_edition(store, SHORT.format(words="class=totl"))
    said = regdash("summary", "2024Q4", "--out", tmp_path / "out", store=store)
    assert said.code == 1
    assert "The edition's question By class: class has no value totl" in said.stderr
    assert not (tmp_path / "out").exists()


def test_a_joint_that_the_cut_has_not_is_said_to_be_missing(made: Made) -> None:
    keys = {section.key for section in sections_of(made.document.sections)}
    assert {"risk-knee-by-class", "risk-hip-by-class", "risk-shoulder-by-class"} <= keys


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("2024",), "2024 is no quarter. Write it as 2024Q3."),
        (("2025Q1",), "Data cut 2024-12-31.1 ends on 2024-12-31, before 2025Q1 does (2025-03-31)."),
        (("2024Q4", "--for", "hospital:H999"), "There is no hospital H999 in this data cut."),
        (("2024Q4", "--for", "hospital"), "The edition hospital is for one of them. Write --for hospital:CODE."),
        (("2024Q4", "--for", "committee:H001"), "The edition committee is for all its readers."),
        (("2024Q4", "--for", "comittee"), "There is no edition comittee."),
        (("2024Q4", "--cut", "2019-12-31"), "There is no data cut 2019-12-31"),
    ],
)
def test_what_cannot_be_made_is_refused_before_anything_is_written(
    made: Made, tmp_path: Path, words, told: str
) -> None:
    said = regdash("summary", *words, "--out", tmp_path / "out", store=made.store)
    assert said.code == 1
    assert one_line(said).startswith(told)
    assert not (tmp_path / "out").exists()


def test_a_summary_that_cannot_be_written_whole_leaves_nothing(tmp_path: Path) -> None:
    """The folder's place is taken by a file half way; what was written aside goes too."""
    files = {"a.txt": b"1", "a.txt/b.txt": b"2"}
    with pytest.raises(SummaryError, match=r"cannot be written: (Not a directory|File exists)"):
        write(tmp_path / "out", files, {})
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_holds_something_is_left_alone(made: Made, tmp_path: Path) -> None:
    (tmp_path / "kept.txt").write_text("mine")
    said = regdash("summary", "2024Q4", "--out", tmp_path, store=made.store)
    assert said.code == 1
    assert "is not empty" in said.stderr
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == ["kept.txt"]

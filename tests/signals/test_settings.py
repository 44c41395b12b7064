"""The settings of a screen: the package's, a store's own, and those that cannot be."""

from pathlib import Path

import pytest

from regdash.errors import PolicyError
from regdash.signals.settings import SCREENING_FILE, read_settings


def written(folder: Path, text: str) -> Path:
    (folder / SCREENING_FILE).write_text(text, encoding="utf-8")
    return folder


def test_without_a_file_the_settings_are_those_of_the_package(tmp_path: Path) -> None:
    settings = read_settings(tmp_path)
    assert settings == read_settings()
    assert (settings.version, settings.stated_ratio, settings.q, settings.windows) == ("1", 1.25, 0.05, (1, 5))
    assert settings.facts["hash"] == settings.hash
    assert len(settings.hash) == 12


def test_a_store_changes_what_it_names_and_the_hash_follows_values_alone(tmp_path: Path) -> None:
    own = read_settings(written(tmp_path, 'version = "2"\nstated_ratio = 1.5 # a committee chose it\n'))
    assert (own.version, own.stated_ratio, own.q) == ("2", 1.5, 0.05)
    assert own.hash != read_settings().hash
    again = read_settings(written(tmp_path, '# the same\nstated_ratio = 1.5\nwindows = [1.0, 5.0]\nversion = "2"\n'))
    assert again.hash == own.hash


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("q = 0.1", "has no version"),
        ('version = "2"\nratio = 2', "has ratio, which is no setting"),
        ('version = "2"\nq = 5', "q is a number between 0 and 1, as in 0.05, not 5"),
        ('version = "2"\nq = true', "q is a number between 0 and 1"),
        ('version = "2"\nstated_ratio = -1', "stated_ratio is a number above 0"),
        ('version = "2"\nstated_ratio = 3.0', "ruled_out_ratio is a number from the stated ratio, 3, up"),
        ('version = "2"\ncorrection = "none"', "correction is benjamini-hochberg or benjamini-yekutieli"),
        ('version = "2"\nwindows = [5, 1]', "Windows 5,1 do not follow each other"),
        ('version = "2"\nwindows = "1,5"', "windows is a list of years"),
        ('version = "2"\nadjust = "reason"', "known only after implantation"),
        ('version = "2"\nconfirmed = "KF-003"', "confirmed is a list of implant codes"),
        ('version = "2"\nleave_out_withdrawn = 1', "leave_out_withdrawn is true or false"),
        ("version = 2", "version is a text"),
        ("version", "is not TOML"),
    ],
)
def test_a_setting_that_cannot_be_is_refused_with_its_file(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(PolicyError) as refusal:
        read_settings(written(tmp_path, text))
    assert said in str(refusal.value)
    assert SCREENING_FILE in str(refusal.value)

"""What a screen calls a signal: versioned settings, those of the package or the store's own `screening.toml`."""

import hashlib
import json
import tomllib
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

from regdash import grouping
from regdash.errors import FilterError, PolicyError
from regdash.reports.windows_asked import checked_windows
from regdash.suggest import nearest

SCREENING_FILE = "screening.toml"
CORRECTIONS = ("benjamini-hochberg", "benjamini-yekutieli")
_SHIPPED = Path(__file__).parent / SCREENING_FILE


@dataclass(frozen=True)
class ScreenSettings:
    """
    The settings of a screen, as `screening.toml` names and explains them.

    Raises:
        PolicyError: a setting that cannot be.
    """

    version: str
    stated_ratio: float
    q: float
    correction: str
    minimum_joints: int
    minimum_expected: float
    ruled_out_ratio: float
    windows: tuple[float, ...]
    adjust: str
    leave_out_withdrawn: bool
    confirmed: tuple[str, ...]

    def __post_init__(self) -> None:
        _refuse(not self.version or not isinstance(self.version, str), "version", "a text", '"2"', self.version)
        _refuse(not _between(self.stated_ratio, 0, 100), "stated_ratio", "a number above 0", "1.25", self.stated_ratio)
        _refuse(not _between(self.q, 0, 1), "q", "a number between 0 and 1", "0.05", self.q)
        correction, written = self.correction, " or ".join(CORRECTIONS)
        _refuse(correction not in CORRECTIONS, "correction", written, f'"{CORRECTIONS[0]}"', correction)
        _refuse(not _whole(self.minimum_joints), "minimum_joints", "a whole number from 1", "10", self.minimum_joints)
        expected = self.minimum_expected
        _refuse(not _between(expected, 0, 1e6), "minimum_expected", "a number above 0", "1.0", expected)
        ruled_out = self.ruled_out_ratio
        least = f"a number from the stated ratio, {self.stated_ratio:g}, up"
        _refuse(
            not _between(ruled_out, 0, 100) or ruled_out < self.stated_ratio, "ruled_out_ratio", least, "2", ruled_out
        )
        _refuse(
            not isinstance(self.leave_out_withdrawn, bool),
            "leave_out_withdrawn",
            "true or false",
            "true",
            self.leave_out_withdrawn,
        )
        self._refuse_lists()

    def _refuse_lists(self) -> None:
        codes = isinstance(self.confirmed, tuple) and all(isinstance(code, str) for code in self.confirmed)
        _refuse(not codes, "confirmed", "a list of implant codes", '["KF-003"]', self.confirmed)
        try:
            checked_windows(self.windows)
            grouping.parse(self.adjust)
        except FilterError as refusal:
            raise PolicyError(str(refusal)) from None
        except (TypeError, ValueError, AttributeError):
            raise PolicyError("windows is a list of years, as in [1, 5], and adjust a text, as in age,sex.") from None

    @property
    def hash(self) -> str:
        """Twelve digits that differ where any setting does; comments and order do not matter."""
        written = json.dumps({name: _plain(value) for name, value in asdict(self).items()}, sort_keys=True)
        return hashlib.sha256(written.encode()).hexdigest()[:12]

    @property
    def facts(self) -> dict[str, Any]:
        """As recorded in every answer."""
        return {**asdict(self), "windows": list(self.windows), "confirmed": list(self.confirmed), "hash": self.hash}


def read_settings(store: Path | None = None) -> ScreenSettings:
    """
    Read the settings of a store: those of the package, but where its own file says otherwise.

    Raises:
        PolicyError: the file cannot be read, has no version, or has a setting that is none or cannot be.
    """
    shipped = tomllib.loads(_SHIPPED.read_text(encoding="utf-8"))
    path = None if store is None else store / SCREENING_FILE
    if path is None or not path.exists():
        return _settings(shipped)
    own = _read(path)
    for name in own:
        if name not in shipped:
            raise PolicyError(f"{path} has {name}, which is no setting. {nearest(name, shipped, most=len(shipped))}")
    if "version" not in own:
        raise PolicyError(f'{path} has no version, which answers must name. Write a line such as: version = "2"')
    try:
        return _settings({**shipped, **own})
    except PolicyError as refusal:
        raise PolicyError(f"{path}: {refusal}") from None


def _settings(values: dict[str, Any]) -> ScreenSettings:
    lists: dict[str, Any] = {name: tuple(value) if isinstance(value, list) else value for name, value in values.items()}
    return ScreenSettings(**{field.name: lists[field.name] for field in fields(ScreenSettings)})


def _read(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except tomllib.TOMLDecodeError as fault:
        raise PolicyError(f"{path} is not TOML: {fault}. Write lines such as: q = 0.05") from None
    except (OSError, UnicodeDecodeError) as fault:
        raise PolicyError(f"{path} cannot be read: {fault}") from None


def _plain(value: Any) -> Any:
    """A setting for the hash: 1 and 1.0 are one number."""
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    return float(value) if isinstance(value, int) and not isinstance(value, bool) else value


def _between(value: Any, low: float, high: float) -> bool:
    return not isinstance(value, bool) and isinstance(value, (int, float)) and low < value < high


def _whole(value: Any) -> bool:
    return not isinstance(value, bool) and isinstance(value, int) and value > 0


def _refuse(wrong: bool, name: str, kind: str, example: str, value: Any) -> None:
    if wrong:
        raise PolicyError(f"{name} is {kind}, as in {example}, not {value!r}.")

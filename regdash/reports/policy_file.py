"""The office's policy: a few settings in `policy.toml`, in the folder of the store; the others are default."""

from pathlib import Path
from typing import Any

from regdash.errors import PolicyError
from regdash.reports.policy import Policy
from regdash.suggest import nearest

POLICY_FILE = "policy.toml"
_FIELDS = {"confidence_level": "level"}


def read_policy(store: Path) -> Policy:
    """
    Read the policy of a store; without a file it is the default.

    Raises:
        PolicyError: the file cannot be read, names a setting that there is not, or gives one a value it cannot have.
    """
    path = store / POLICY_FILE
    if not path.exists():
        return Policy()
    settings = _settings(path)
    for name in settings:
        if name not in Policy().settings:
            raise PolicyError(f"{path} has {name}, which is no setting. {nearest(name, Policy().settings, most=9)}")
    try:
        return Policy(**{_FIELDS.get(name, name): value for name, value in settings.items()})
    except PolicyError as refusal:
        raise PolicyError(f"{path}: {refusal}") from None


def _settings(path: Path) -> dict[str, Any]:
    import tomllib  # few stores have a file

    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except tomllib.TOMLDecodeError as fault:
        raise PolicyError(f"{path} is not TOML: {fault}. Write lines such as: minimum_at_risk = 40") from None
    except (OSError, UnicodeDecodeError) as fault:
        raise PolicyError(f"{path} cannot be read: {fault}") from None

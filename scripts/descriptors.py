"""
Write the vocabulary's code lists into the descriptors of the data dictionary, as their enums.

Run it after a change of regdash/vocabulary.py. A test fails where the two differ.
"""

import json
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from regdash import icd10, vocabulary  # noqa: E402
from regdash.dictionary.descriptors import FOLDER, SCHEMAS  # noqa: E402
from regdash.store.words import WORDS  # noqa: E402


def codes_of(code_list: str) -> list[str]:
    """List what a cell of a code list may hold; "not recorded" is a missing value and none of them."""
    codes = [vocabulary.coded(word) for word in WORDS[code_list] if word != vocabulary.NOT_RECORDED]
    return codes + (list(vocabulary.SEX_CODES) if code_list == "sex" else [])


def descriptor_of(table: str) -> dict[str, Any]:
    """Give a table's descriptor with today's code lists."""
    descriptor: dict[str, Any] = json.loads(json.dumps(SCHEMAS[table].descriptor))
    for field in descriptor["fields"]:
        if "codeList" in field:
            field["constraints"] = field.get("constraints", {}) | {"enum": codes_of(field["codeList"])}
        if field["name"] == "icd10":
            field["constraints"] = field.get("constraints", {}) | {"pattern": icd10.FORM}
    return descriptor


def written(descriptor: dict[str, Any]) -> str:
    """Write a descriptor as its file has it."""
    return json.dumps(descriptor, indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    for name in SCHEMAS:
        (FOLDER / "schemas" / f"{name}.json").write_text(written(descriptor_of(name)), encoding="utf-8")

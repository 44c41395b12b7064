"""A process elsewhere: another day by every clock that Python has, another time zone, locale and order of hashes."""

import os
import subprocess
import sys
from pathlib import Path

CHECKOUT = Path(__file__).parents[1]
DAY = "2031-03-30"
CLOCK = f"""\
import datetime
import time_machine

time_machine.travel(datetime.datetime.fromisoformat("{DAY}T01:30:00+00:00"), tick=True).start()
"""
ELSEWHERE = {"TZ": "Pacific/Kiritimati", "LC_ALL": "C", "LANG": "tr_TR.UTF-8", "PYTHONHASHSEED": "77"}


def elsewhere(folder: Path) -> dict[str, str]:
    """The environment of such a process; a folder holds what sets its clock when Python starts."""
    (folder / "sitecustomize.py").write_text(CLOCK, encoding="utf-8")
    env = {**ELSEWHERE, "PYTHONPATH": os.pathsep.join((str(folder), str(CHECKOUT)))}
    asked = [sys.executable, "-c", "import datetime; print(datetime.date.today())"]
    today = subprocess.run(asked, env=os.environ | env, capture_output=True, text=True, check=True).stdout
    assert today.strip() == DAY
    return env

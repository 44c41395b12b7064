"""
The pages in a real browser, without a screen or a network: no script or error of their own, nothing asked for from
elsewhere, nothing wider than a phone, and no fault that the checker of accessibility finds (axe-core, the rules that
are its standard ones; it checks WCAG 2 and what it calls good practice). Chromium is run where the machine has it.
"""

import json
import re
import shutil
import subprocess
from collections.abc import Callable
from html import unescape
from importlib.metadata import files
from pathlib import Path
from typing import Any

import pytest

from regdash.summary.build import build
from regdash.summary.edition import read_edition
from regdash.summary.pinned import pinned_by_cut
from regdash.summary.quarter import read_quarter
from regdash.summary.recipient import read_recipient
from regdash.summary.renderers import html
from tests.summary.made import QUARTER, Made

BROWSERS = ("chromium", "chromium-browser", "google-chrome")
FLAGS = (
    *("--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"),
    *("--disable-component-update", "--disable-sync", "--enable-logging=stderr", "--virtual-time-budget=120000"),
)
ASK = """
axe.run(document, {resultTypes: ["violations"]}).then(found => {
  const said = document.createElement("pre");
  said.id = "said";
  said.textContent = JSON.stringify({
    faults: found.violations.map(fault => [fault.id, fault.help, fault.nodes.length, fault.nodes[0].html]),
    rules: found.passes.length,
    wider: document.documentElement.scrollWidth - document.documentElement.clientWidth,
    asked: performance.getEntriesByType("resource").map(each => each.name).filter(name => !name.startsWith("data:")),
    dark: matchMedia("(prefers-color-scheme: dark)").matches,
  });
  document.body.replaceChildren(said);
});
"""
Looked = Callable[[str, int, bool], dict[str, Any]]

pytestmark = pytest.mark.slow  # a browser starts for every page


def checker() -> str:
    """The script of the checker, as its package carries it."""
    (path,) = (each for each in files("axe-core-python") or () if each.name == "axe.min.js")
    return path.read_text(encoding="utf-8")


@pytest.fixture
def look(tmp_path: Path) -> Looked:
    """Open a page in a window so wide, in light or dark, and let the checker look at it."""
    browser = next((found for found in map(shutil.which, BROWSERS) if found), None)
    if browser is None:
        pytest.skip("no Chromium on this machine")

    def looked(page: str, width: int, dark: bool) -> dict[str, Any]:
        scripts = "".join(
            "<script>" + script.replace("</script", r"<\/script") + "</script>" for script in (checker(), ASK)
        )
        path = tmp_path / "page.html"
        path.write_text(page.replace("</body>", scripts + "</body>"), encoding="utf-8")
        size = (f"--window-size={width},900", f"--user-data-dir={tmp_path / 'browser'}")
        theme = ("--force-dark-mode", "--blink-settings=preferredColorScheme=0") if dark else ()
        command = [browser, *FLAGS, *size, *theme, "--dump-dom", path.as_uri()]
        done = subprocess.run(command, capture_output=True, text=True, timeout=300, check=True)
        assert not [line for line in done.stderr.splitlines() if "CONSOLE" in line]
        said = re.search(r'<pre id="said">(.*?)</pre>', done.stdout, re.DOTALL)
        assert said, done.stdout[-500:]
        found: dict[str, Any] = json.loads(unescape(said.group(1)))
        return found

    return looked


def page_of(made: Made, reader: str) -> str:
    recipient = read_recipient(reader)
    edition = read_edition(made.store, recipient.kind)
    reviews = pinned_by_cut(made.store, made.desk.manifest)
    return html.render(build(made.desk, edition, read_quarter(QUARTER), reviews, recipient=recipient))


@pytest.mark.parametrize("reader", ["committee", "public", "hospital:H001", "surgeon:S0001", "maker:M01"])
def test_a_browser_finds_no_fault_with_a_page(made: Made, look: Looked, reader: str) -> None:
    page = made.files["summary.html"].decode() if reader == "committee" else page_of(made, reader)
    for width, dark in ((500, False), (1280, True)):  # a browser without a screen has no narrower window
        found = look(page, width, dark)
        assert found["faults"] == []
        assert found["rules"] > 10
        assert found["wider"] <= 0
        assert found["asked"] == []
        assert found["dark"] is dark


def test_the_checker_sees_what_is_wrong(made: Made, look: Looked) -> None:
    """A picture without its words, a page without its language and a text too pale are found."""
    page = page_of(made, "public").replace('lang="en-GB"', "").replace("--soft:#4a4a4a", "--soft:#cccccc")
    page = re.sub(r"<title.*?</title>", "", page).replace("aria-labelledby", "data-was")
    found = {fault for fault, *_ in look(page, 1280, False)["faults"]}
    assert {"html-has-lang", "document-title", "color-contrast", "svg-img-alt"} <= found

"""A headless Chromium for tests: what a page logs, what it holds, how it looks.

Where no browser is found tests are skipped, except under CI, where they must run.
"""

from __future__ import annotations

import os
import shutil
import subprocess

import pytest

from tests.conftest import PATIENCE

NAMES = ("chromium", "chromium-browser", "google-chrome")
QUIET = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
    "--enable-logging=stderr",
    "--v=0",
)


def browser():
    found = next(filter(None, map(shutil.which, NAMES)), None)
    if found is None and not os.environ.get("CI"):
        pytest.skip("no Chromium is installed, so the page is not opened in a browser")
    assert found, "no Chromium is installed, and under CI the page must be opened in one"
    return found


def open_page(path, work, *options):
    """Open a page with an empty profile; return what was printed and the console's lines."""
    done = subprocess.run(
        [browser(), *QUIET, f"--user-data-dir={work / 'profile'}", *options, path.as_uri()],
        capture_output=True,
        text=True,
        timeout=PATIENCE,
        check=True,
    )
    return done.stdout, [line for line in done.stderr.splitlines() if "CONSOLE" in line]


def run_in_page(html, script, work):
    """Return the text that a script leaves as the title of a copy of a page.

    The page itself forbids scripts, so the copy goes without its policy.
    """
    start, _, rest = html.partition("<meta http-equiv=")
    copy = start + rest.partition(">")[2].replace(
        "</body>", f"<script>{script}</script></body>"
    )
    path = work / "copy.html"
    path.write_text(copy, encoding="utf-8")
    dom, console = open_page(path, work, "--dump-dom", "--virtual-time-budget=3000")
    assert console == []
    return dom.partition("<title>")[2].partition("</title>")[0]

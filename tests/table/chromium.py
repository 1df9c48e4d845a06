"""The system's Chromium driven by playwright, which fetches no browser of its own.

Where either is missing tests are skipped, except under CI, where they must run.
"""

from __future__ import annotations

import json
import os
import shutil
import struct
import zlib
from contextlib import contextmanager

import pytest

from tests.conftest import PATIENCE

NAMES = ("chromium", "chromium-browser", "google-chrome")
QUIET = (
    "--no-sandbox", "--headless", "--disable-gpu", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--no-first-run",
)  # fmt: skip


@contextmanager
def chromium():
    """Open a browser."""
    path = next(filter(None, map(shutil.which, NAMES)), None)
    must = bool(os.environ.get("CI"))
    if path is None and not must:
        pytest.skip("no Chromium is installed, so the page is not opened in a browser")
    assert path, "no Chromium is installed, and under CI the page must be opened in one"
    try:
        from playwright.sync_api import sync_playwright  # noqa: PLC0415 - may be missing
    except ImportError:
        if must:
            raise
        pytest.skip("playwright is not installed, so the page is not opened in a browser")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=list(QUIET))
        try:
            yield browser
        finally:
            browser.close()


class Hand:
    """A page with a table on it, and a hand that pulls, types and looks."""

    def __init__(self, browser, address, script="", **options):
        """Open a page of playwright's options, on which a script runs before its own."""
        self.page = browser.new_page(**{"viewport": {"width": 1440, "height": 1000}, **options})
        self.page.add_init_script(script)
        self.page.set_default_timeout(1000 * PATIENCE)
        self.wrong, self.asked, self.said = [], [], []
        self.page.on("console", lambda said: self.wrong.append(said.text))
        self.page.on("pageerror", lambda error: self.wrong.append(f"{error} {error.stack}"))
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.on("websocket", self.overhear)
        self.page.goto(address)
        self.rest()

    def overhear(self, line):
        """Note where a line leads and every message that the page says on it."""
        self.asked.append(line.url)
        line.on(
            "framesent",
            lambda said: isinstance(said, str) and self.said.append(json.loads(said)),
        )

    def rest(self):
        """Wait until the table has answered and the hand rests."""
        self.page.wait_for_selector("main[aria-busy=false]")

    def text(self, selector):
        """The text of an element, white space made one blank."""
        return " ".join(self.page.inner_text(selector).split())

    def middle(self, selector):
        """Where an element lies, in pixels of the window."""
        self.page.locator(selector).first.scroll_into_view_if_needed()
        box = self.page.locator(selector).first.bounding_box()
        return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    def pull(self, start, end, steps=8, let_go=True):
        """Press at a point, pull to another, and let go."""
        mouse = self.page.mouse
        mouse.move(*start)
        mouse.down()
        for k in range(1, steps + 1):
            share = k / steps
            mouse.move(*(a + share * (b - a) for a, b in zip(start, end, strict=True)))
        if let_go:
            mouse.up()
            self.rest()

    def by(self, start, across, down):
        """A point so many pixels away."""
        return start[0] + across, start[1] + down

    def press(self, *keys):
        """Press keys one after the other, waiting for what they do."""
        for key in keys:
            self.page.keyboard.press(key)
            self.rest()


class FingersAndPen:
    """Fingers and a pen on a page, given by the browser's own protocol."""

    def __init__(self, hand):
        self.protocol = hand.page.context.new_cdp_session(hand.page)
        self.down = 0

    def fingers(self, *points):
        """Lay fingers on the page, move them, or lift them: where each of them is now."""
        more = len(points) > self.down
        how = "touchStart" if more else "touchMove" if points else "touchEnd"
        self.down = len(points)
        places = [{"x": x, "y": y, "id": k} for k, (x, y) in enumerate(points)]
        self.protocol.send("Input.dispatchTouchEvent", {"type": how, "touchPoints": places})

    def pen(self, point, *, pressed=True, begins=False):
        """Press a pen, move it, or lift it."""
        how = "mousePressed" if begins else "mouseMoved" if pressed else "mouseReleased"
        event = {
            "type": how, "x": point[0], "y": point[1], "pointerType": "pen", "force": 0.5,
            "button": "left", "buttons": int(pressed), "clickCount": 1,
        }  # fmt: skip
        self.protocol.send("Input.dispatchMouseEvent", event)


def grey_png(width=40, height=30):
    """A grey picture, written by the PNG specification."""

    def chunk(kind, content):
        body = kind + content
        return struct.pack(">I", len(content)) + body + struct.pack(">I", zlib.crc32(body))

    rows = b"".join(b"\0" + bytes([160] * width) for _ in range(height))
    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(rows))
        + chunk(b"IEND", b"")
    )

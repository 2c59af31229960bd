"""The pictures of docs/page.md, made anew if DRIFTLEAD_PICTURES names the folder docs.

Otherwise they are taken all the same and thrown away, so that what they show stays reachable.
"""

import base64
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

OpenPage = Callable[..., Any]
PHONE = {"width": 360, "height": 740}
TABLE = {"width": 1280, "height": 800}
MOST_BYTES = 130_000


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Where they go."""
    return Path(os.environ.get("DRIFTLEAD_PICTURES", tmp_path))


def take(screen: Any, path: Path) -> None:
    """Take one, when the night before it is drawn."""
    screen.until("Number(document.querySelector('#live-picture .slider').min) === 0")
    screen.until(
        "document.querySelector('#live-picture .plot').getAttribute('aria-label').includes('Skua')"
    )
    screen.page.evaluate(
        "() => new Promise((done) => requestAnimationFrame(() => setTimeout(done, 50)))"
    )
    session = screen.page.context.new_cdp_session(screen.page)
    taken = session.send("Page.captureScreenshot", {"format": "webp", "quality": 85})
    path.write_bytes(base64.b64decode(taken["data"]))
    assert 5_000 < path.stat().st_size < MOST_BYTES


def test_the_pictures_of_the_page(watch: Any, open_page: OpenPage, folder: Path) -> None:
    """By night in the bunk, by day at the chart table, an alert, and a watch that is gone."""
    watch.hours(6)
    watch.load_surroundings()
    cookie = watch.pair("Phone in the fore cabin")
    night = open_page(watch.url, size=PHONE, look="night", cookie=cookie)
    table = open_page(watch.url, size=TABLE, cookie=watch.pair("Chart table"))
    for screen in (night, table):
        screen.ready()
    take(night, folder / "page-phone-night.webp")
    take(table, folder / "page-table-day.webp")
    watch.drag()
    night.sees(".acknowledge")
    night.word("Dragging")
    take(night, folder / "page-phone-alert.webp")
    night.page.click(".acknowledge")
    table.misses(".acknowledge")
    night.sees(".step")
    night.misses("#answer", timeout_s=60.0)
    night.page.evaluate("() => window.scrollTo(0, 0)")
    take(night, folder / "page-phone-card.webp")
    table.page.evaluate("() => window.scrollTo(0, 0)")
    watch.mute = True
    table.sees("#lost")
    take(table, folder / "page-table-lost.webp")

"""The page against a real daemon process: an evening from letting go to a drag, and a kill."""

import importlib.util
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from click.testing import CliRunner

from driftlead.cli.simulate import simulate
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.simulate.nmea_writer import dpt, hdt, mwv

OpenPage = Callable[..., Any]
DAEMON_TESTS = Path(__file__).resolve().parents[2] / "daemon" / "conftest.py"
PHONE = {"width": 360, "height": 740}


def _daemons() -> Any:
    """What starts and feeds real daemons in the daemon's own tests."""
    spec = importlib.util.spec_from_file_location("daemons", DAEMON_TESTS)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def boat() -> Any:
    """A boat that says where she is."""
    return _daemons().Boat()


@pytest.fixture
def daemon() -> Iterator[Any]:
    """A daemon with its page on a port of its own, not started yet."""
    daemons = _daemons()
    with TemporaryDirectory(prefix="dl") as name:
        made = daemons.Daemon(Path(name))
        port = daemons._free_udp_port()
        made.url = f"http://127.0.0.1:{port}/"
        made.extra = f'[web]\nlisten = "127.0.0.1:{port}"'
        yield made
        made.close()


def pair(screen: Any, daemon: Any, name: str) -> None:
    """Pair by the PIN, as a person does."""
    pin = daemon.ask(web="pair")["web"]["pin"]
    screen.go("device")
    screen.page.fill("[name='pin']", pin)
    screen.page.fill("[name='name']", name)
    screen.page.click("#pair-form [type='submit']")
    screen.sees("#devices li")
    screen.go("watch")


def test_an_evening_from_letting_go_to_a_drag(daemon: Any, boat: Any, open_page: OpenPage) -> None:
    """Let go and veer by the page, lie, drag: both devices know within a second, one answers."""
    daemon.start()
    daemon.send_udp(
        hdt(heading_deg=0.0),
        dpt(below_transducer_m=6.1, transducer_below_water_m=0.4),
        mwv(off_bow_deg=5.0, speed_mps=7.2),
    )
    daemon.gps.send(boat.at(0.0, seconds=20))
    daemon.until_heard()
    table = open_page(daemon.url)
    table.word("No watch")
    pair(table, daemon, "Chart table")
    bunk = open_page(daemon.url, size=PHONE)
    pair(bunk, daemon, "Phone in the fore cabin")

    # There must be a fix of now to mark the place by.
    daemon.gps.send(boat.at(0.0, seconds=2))
    daemon.until_heard()
    table.sees("[data-opens='do-let-go']").click()
    table.sees("#do-let-go .huge").click()
    table.misses("#do-let-go")
    assert daemon.status()["state"] == "let_go"
    daemon.gps.send(boat.going(0.0, -25.0))
    daemon.until_state("laying_back")
    bunk.sees("[data-opens='do-veer']").click()
    bunk.page.fill("#do-veer [data-length='rode_m']", "30")
    bunk.page.click("#do-veer [type='submit']")
    bunk.misses("#do-veer")
    daemon.gps.send(boat.at(-25.0, seconds=200))
    daemon.until_state("brought_up")
    table.word("Holding", each=lambda: daemon.gps.send(boat.at(-25.0)))

    for screen in (table, bunk):
        screen.page.evaluate(
            "() => { const see = () => document.querySelector('.acknowledge').checkVisibility()"
            " ? (window.seenMs = Date.now()) : setTimeout(see, 5); see(); }"
        )
    daemon.gps.send(boat.going(-25.0, -110.0, mps=1.0))
    daemon.until_told(name="drag", state="active_unacknowledged")
    decided_ms = time.time() * 1000
    for screen in (table, bunk):
        assert screen.until("window.seenMs ?? 0") - decided_ms < 1000
        screen.word("Dragging")
    bunk.sees(".acknowledge").click()
    table.misses(".acknowledge")
    assert "acknowledged, by Phone in the fore cabin" in table.page.locator("#alerts").inner_text()
    assert daemon.stop() == 0, daemon.log()


def test_the_mark_is_corrected_while_she_rides(daemon: Any, boat: Any, open_page: OpenPage) -> None:
    """The watch goes on round the new place at once: ten metres north of where she let go."""
    daemon.start()
    daemon.gps.send(boat.at(0.0, seconds=20))
    daemon.until_heard()
    daemon.command("let-go", rode_m=30.0)
    daemon.gps.send(boat.going(0.0, -25.0))
    daemon.until_state("laying_back")
    daemon.gps.send(boat.at(-25.0, seconds=1200))
    daemon.until_state("riding")
    screen = open_page(daemon.url)
    pair(screen, daemon, "Chart table")
    screen.word("Holding", each=lambda: daemon.gps.send(boat.at(-25.0)))
    before = daemon.status()
    screen.sees("[data-opens='do-mark']").click()
    canvas = screen.page.locator("#live-picture .plot")
    canvas.focus()
    screen.page.keyboard.press("Shift+ArrowUp")
    for _ in range(2):
        screen.page.click("#do-mark [data-part='set']")
    screen.misses("#do-mark")
    screen.sees("#answer[data-tone='good']")
    after = daemon.status()
    assert after["state"] == "riding"
    assert after["anchor"]["method"] == "given"
    plane = LocalPlane(Position(before["anchor"]["lat"], before["anchor"]["lon"]))
    moved = plane.to_plane(after["anchor"]["lat"], after["anchor"]["lon"])
    assert moved == pytest.approx((0.0, 10.0), abs=0.05)
    screen.until(
        "document.querySelector('#glance [data-part=distance]').textContent === '35 m'",
        each=lambda: daemon.gps.send(boat.at(-25.0)),
    )
    screen.word("Holding")
    assert not [alert for alert in daemon.status()["alerts"] if alert["name"] == "drag"]


def test_a_drill_from_the_page_tells_there_what_it_has_reached(
    daemon: Any, open_page: OpenPage
) -> None:
    """It sounds until somebody answers; another one meanwhile is refused."""
    daemon.start()
    screen = open_page(daemon.url, size=PHONE)
    pair(screen, daemon, "Phone")
    screen.sees("[data-opens='do-drill']").click()
    screen.page.click("#do-drill [type='submit']")
    screen.misses("#do-drill")
    daemon.until_told(name="drill", state="active_unacknowledged")
    screen.page.click("[data-opens='do-drill']")
    screen.page.click("#do-drill [type='submit']")
    assert "A drill is on already" in screen.sees("#answer[data-tone='bad']").inner_text()
    screen.sees(".acknowledge").click()
    result = screen.sees("#drill-result ul").inner_text()
    assert "notifier tofile: Arrived after" in result
    assert "acknowledged by Phone from page" in screen.page.locator("#drill-result").inner_text()
    assert daemon.stop() == 0, daemon.log()


def test_a_night_with_a_drag_is_watched_again_at_speed(daemon: Any, open_page: OpenPage) -> None:
    """An hour in which the anchor comes home after half of it, in two seconds."""
    daemon.nights.mkdir()
    night = str(daemon.nights / "night-000042.log")
    options = ["--mode", "steady", "--hours", "1", "--seed", "3", "--out", night]
    assert CliRunner().invoke(simulate, options).exit_code == 0
    daemon.start()
    screen = open_page(f"{daemon.url}#nights")
    screen.sees("#night-list button >> text=night-000042").click()
    screen.page.select_option("#player [data-part='speed']", "1800")
    screen.until("document.querySelector('.thought h3').textContent === 'Holding'")
    screen.until("document.querySelector('.thought h3').textContent === 'Dragging'")
    thought = screen.page.locator(".thought").inner_text()
    assert "Log odds" in thought
    assert "Alerts then: alarm drag" in thought
    screen.until("document.querySelector('#player [data-part=state]').textContent !== ''")
    screen.sees("#replay-picture [data-part='log-box'] summary").click()
    log = screen.page.locator("#replay-picture .log").inner_text()
    assert "drag found: dragging" in log
    assert log.index("drag found") < log.index("settled: riding")
    assert screen.page.locator("#watch-h").inner_text() == "NO WATCH"


def test_a_killed_daemon_is_missed_and_found_again(
    daemon: Any, boat: Any, open_page: OpenPage
) -> None:
    """Within five seconds the page says so; started again, it shows the same watch by itself."""
    daemon.start()
    daemon.gps.send(boat.at(0.0, seconds=20))
    daemon.until_heard()
    daemon.command("let-go", rode_m=30.0)
    screen = open_page(daemon.url)
    pair(screen, daemon, "Chart table")
    daemon.gps.send(boat.going(0.0, -25.0))
    daemon.until_state("laying_back")
    screen.word("Holding", each=lambda: daemon.gps.send(boat.at(-25.0)))
    daemon.kill()
    killed_s = time.monotonic()
    screen.sees("#lost")
    assert time.monotonic() - killed_s < 5.0
    screen.word("No word")
    daemon.start()
    screen.misses("#lost")
    screen.word("Holding", each=lambda: daemon.gps.send(boat.at(-25.0)))
    screen.until("!document.querySelector('[data-opens=do-weigh]').disabled")
    screen.page.click("[data-opens='do-weigh']")
    screen.page.click("#do-weigh [type='submit']")
    screen.word("No watch")
    assert daemon.status()["state"] == "aweigh"

"""Every verb of the command line as a process, against a real daemon."""

import json
import re
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from driftlead.cli.large import large
from driftlead.lines import StampedLine
from driftlead.recording.format import parse_recorded

Run = Callable[..., "subprocess.CompletedProcess[str]"]


@pytest.fixture
def run(daemon: Any) -> Run:
    """Run a verb as somebody at a terminal would."""

    def do(*arguments: str) -> "subprocess.CompletedProcess[str]":
        environment = {**daemon.environment(), "DRIFTLEAD_CONFIG": str(daemon.config_path)}
        return subprocess.run(
            [sys.executable, "-m", "driftlead.cli.main", *arguments],
            env=environment,
            capture_output=True,
            text=True,
            timeout=30,
            check=False,
        )

    return do


def test_a_night_from_the_command_line(daemon: Any, boat: Any, run: Run) -> None:
    """Let go, veer, status, weigh: each says in a line or two what was done."""
    daemon.start()
    daemon.gps.send(boat.at(0.0, seconds=20))
    daemon.until_heard()
    refused = run("veer", "30m")
    assert (refused.returncode, refused.stdout) == (1, "")
    assert refused.stderr.splitlines() == [
        "Refused: veer makes no sense while stowed.",
        "No anchor is down. Say `driftlead let-go` when it touches bottom.",
    ]
    assert "drop point is marked" in run("let-go", "--depth", "6m").stdout
    assert run("veer", "100ft").stdout.startswith("Rode out: 30 m.")
    daemon.gps.send(boat.at(0.0, seconds=5))
    daemon.until_heard()
    shown = run("status").stdout
    assert "Let go" in shown or "Laying back" in shown
    assert "It holds" in shown
    assert "rode 30 m" in shown
    whole = json.loads(run("status", "--json").stdout)
    assert whole["rode_m"] == pytest.approx(30.48)
    assert whole["anchor"]["method"] == "marked_no_heading"
    assert "Nothing to acknowledge" in run("acknowledge").stdout
    unknown = run("acknowledge", "drag")
    assert unknown.returncode == 1
    assert run("weigh").stdout == "Aweigh: the watch has ended.\n"
    assert run("weigh").returncode == 1


def test_an_anchor_that_is_slipped_is_found_in_the_records(
    daemon: Any, boat: Any, run: Run
) -> None:
    """Its place is shown large, told in words, and listed by anchorings from the journal."""
    daemon.start()
    daemon.gps.send(boat.at(0.0, seconds=20))
    daemon.until_heard()
    assert run("slip").stderr.splitlines() == [
        "Refused: slip makes no sense while stowed.",
        "No anchor is down, so there is no cable to slip.",
    ]
    assert run("let-go", "--drop", "46.5001,-31.2001", "--rode", "20m").returncode == 0
    slipped = run("slip")
    assert slipped.returncode == 0
    assert "    ANCHOR  46°30.006'N 031°12.006'W" in slipped.stdout.splitlines()
    assert large("46°30.006'N")[0] in slipped.stdout
    assert daemon.status()["state"] == "slipped"
    assert "SLIPPED: the anchor lies at 46°30.006'N 031°12.006'W" in run("anchorages").stdout


def test_a_drop_point_and_a_late_set_are_taken(daemon: Any, boat: Any, run: Run) -> None:
    """As the skipper gives them."""
    daemon.start()
    daemon.gps.send(boat.at(0.0, seconds=20))
    daemon.until_heard()
    assert run("let-go", "--drop", "46.5001,-31.2001", "--rode", "20m").returncode == 0
    anchor = daemon.status()["anchor"]
    assert (anchor["lat"], anchor["lon"]) == (46.5001, -31.2001)
    assert run("weigh").returncode == 0
    daemon.gps.send(boat.at(0.0, seconds=2))
    daemon.until_heard()
    assert "inferred" in run("let-go", "--late", "--rode", "30m").stdout
    both = run("let-go", "--late", "--drop", "46.5001,-31.2001")
    assert both.returncode == 2
    far = run("let-go", "--drop", "-46.5001,-31.2001")
    assert far.returncode == 1


def test_the_mark_is_corrected_from_the_command_line(daemon: Any, boat: Any, run: Run) -> None:
    """By its place, or by so many metres from where it was."""
    daemon.start()
    daemon.gps.send(boat.at(0.0, seconds=20))
    daemon.until_heard()
    refused = run("correct-mark", "--lat", "46.5001", "--lon", "-31.2001")
    assert refused.returncode == 1
    assert "no mark" in refused.stderr
    assert run("let-go", "--drop", "46.5001,-31.2001", "--rode", "20m").returncode == 0
    assert run("correct-mark", "--lat", "46.5002", "--lon", "-31.2001").returncode == 0
    anchor = daemon.status()["anchor"]
    assert (anchor["lat"], anchor["lon"], anchor["method"]) == (46.5002, -31.2001, "given")
    said = run("correct-mark", "--by", "12m", "--bearing", "90").stdout
    assert said.startswith("The mark is corrected: 12 m towards 090")
    assert daemon.status()["anchor"]["lon"] == pytest.approx(-31.19994, abs=1e-5)
    assert daemon.status()["rode_m"] == 20.0


def test_quiet_and_handing_over_from_the_command_line(daemon: Any, boat: Any, run: Run) -> None:
    """Each says what it did; somebody who is not aboard is refused."""
    daemon.extra = '[[crew]]\nname = "skipper"\nnotifiers = ["tofile"]\n'
    daemon.start()
    daemon.gps.send(boat.at(0.0, seconds=5))
    daemon.until_heard()
    assert run("silence").stdout == "Nothing to silence: no alert sounds.\n"
    daemon.gps.unplug()
    daemon.until_told(name="source_silent", state="active_unacknowledged")
    assert "acknowledged: source silent." in run("silence", "--by", "mate").stdout
    assert "SILENCED FOR A MOMENT, not acknowledged" in run("status").stdout
    stranger = run("transfer", "cook")
    assert (stranger.returncode, stranger.stderr.splitlines()) == (
        1,
        ["Refused: Nobody called 'cook' is aboard.", "The crew are: skipper."],
    )
    assert run("transfer", "skipper").stdout == "Handed over to skipper: source silent.\n"
    daemon.until_told(name="source_silent", state="active_unacknowledged")
    assert run("acknowledge", "--by", "skipper", "--where", "cockpit").returncode == 0
    (alert,) = daemon.status()["alerts"]
    assert (alert["by"], alert["where"]) == ("skipper", "cockpit")


def test_acknowledging_takes_well_under_a_second(daemon: Any, run: Run) -> None:
    """A hand in the dark, an alarm sounding: from the key to the answer."""
    daemon.start()
    taken_s = []
    for _ in range(3):
        began_s = time.monotonic()
        assert run("acknowledge").returncode == 0
        taken_s.append(time.monotonic() - began_s)
    print(f"acknowledge took {min(taken_s):.3f} s")
    assert min(taken_s) < 1.0


def test_check_asks_a_running_daemon_and_takes_nothing_from_it(
    daemon: Any, boat: Any, run: Run
) -> None:
    """The ports are the daemon's; its status and its own notifiers are what is judged."""
    daemon.extra = '[tackle]\nrode_aboard = "60m"\n'
    daemon.start()
    daemon.gps.send(boat.at(0.0, seconds=20))
    daemon.send_udp("$WIMWV,10.0,R,5.0,N,A*11")
    daemon.until_heard()
    daemon.until(lambda status: status["sources"][1]["line_age_s"] is not None)
    checked = run("check")
    assert "OK    daemon: It is running; the watch is stowed." in checked.stdout
    assert "OK    source gps" in checked.stdout
    assert "FAIL  source instruments" in checked.stdout  # its checksum is wrong
    assert "OK    notifier tofile: The file is there." in checked.stdout
    assert checked.returncode == 1
    recorded = run("record", str(daemon.folder / "raw.log"))
    assert recorded.returncode == 1
    assert "running" in recorded.stderr
    assert not (daemon.folder / "raw.log").exists()


def test_check_listens_by_itself_when_no_daemon_runs(daemon: Any, boat: Any, run: Run) -> None:
    """A source that is silent fails with its remedy; everything else is looked at."""
    daemon.config_path.write_text(daemon.config())
    over = threading.Event()

    def talk() -> None:
        while not over.wait(0.02):
            daemon.gps.send(boat.at(0.0))

    talking = threading.Thread(target=talk)
    talking.start()
    try:
        checked = run("check", "--listen", "500ms")
    finally:
        over.set()
        talking.join()
    assert re.search(r"OK    source gps: [0-9]+ lines in 0 s: GGA", checked.stdout), checked
    assert "OK    fix of gps" in checked.stdout
    assert "FAIL  source instruments: Listening on UDP port" in checked.stdout
    assert "LOOK  depth" in checked.stdout
    assert "OK    journal" in checked.stdout
    assert "OK    notifier tofile" in checked.stdout
    assert checked.returncode == 1
    assert not daemon.journal.parent.exists()


def test_record_keeps_every_line_as_it_came(daemon: Any, boat: Any, run: Run) -> None:
    """Junk too, until Ctrl-C; and it never writes over a file."""
    daemon.config_path.write_text(daemon.config())
    out = daemon.folder / "raw.log"
    lines = [*boat.at(0.0, seconds=5), "\x00junk\xff"]
    recording = subprocess.Popen(
        [
            *(sys.executable, "-m", "driftlead.cli.main", "record", str(out)),
            *("--config", str(daemon.config_path)),
        ],
        env=daemon.environment(),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert recording.stderr is not None
    while "Reading" not in recording.stderr.readline():
        assert recording.poll() is None
    daemon.gps.send(lines)
    until_s = time.monotonic() + 20.0
    while "junk" not in out.read_text():
        assert time.monotonic() < until_s
    recording.send_signal(signal.SIGINT)
    said, _ = recording.communicate(timeout=20)
    assert recording.returncode == 0
    assert "gps: GGA 5, RMC 5; rejected: no start 1." in said
    parsed = [parse_recorded(text) for text in out.read_text().splitlines()]
    assert [each.text for each in parsed if isinstance(each, StampedLine)] == lines
    assert out.read_text().splitlines()[-1].endswith(" !end {}")
    again = run("record", str(out), "--for", "1s")
    assert again.returncode == 2
    assert "there already" in again.stderr


def test_a_wrong_configuration_is_told_line_by_line(daemon: Any, run: Run) -> None:
    """By the daemon and by the check alike."""
    daemon.config_path.write_text('[[source]]\nname = "gps"\nkind = "telepathy"\nbaud = 3\n')
    watched = run("watch")
    assert watched.returncode == 2
    assert str(daemon.config_path) in watched.stderr
    assert "telepathy" in watched.stderr
    assert "Traceback" not in watched.stderr
    checked = run("check")
    assert checked.returncode == 1
    assert "FAIL  configuration" in checked.stdout


def test_nothing_heavy_is_loaded_before_it_is_needed(folder: Path) -> None:
    """The daemon without a webhook, pins or a page, and the quick verbs still less."""
    script = """
import sys
import driftlead.cli.watch, driftlead.daemon.service, driftlead.config.load
heavy = {"aiohttp", "gpiozero", "shapely", "pyproj", "scipy", "click.testing"}
assert not heavy & set(sys.modules), heavy & set(sys.modules)
"""
    quick = """
import sys
import driftlead.cli.main, driftlead.cli.acknowledge, driftlead.daemon.control_client
heavy = {"asyncio", "attrs", "cattrs", "sqlite3", "pynmea2", "serial"}
assert not heavy & set(sys.modules), heavy & set(sys.modules)
"""
    for text in (script, quick):
        done = subprocess.run(
            [sys.executable, "-c", text],
            env={"PYTHONPATH": str(Path(__file__).resolve().parents[2] / "src")},
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr


def test_what_is_no_daemon_is_told_so(folder: Path, run: Run) -> None:
    """Something else may listen there."""
    path = folder / "other.sock"
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as listening:
        listening.bind(str(path))
        listening.listen()
        asking = subprocess.Popen(
            [sys.executable, "-m", "driftlead.cli.main", "weigh", "--socket", str(path)],
            env={"PYTHONPATH": str(Path(__file__).resolve().parents[2] / "src")},
            stderr=subprocess.PIPE,
            text=True,
        )
        client, _ = listening.accept()
        client.recv(1000)
        client.sendall(b"HTTP/1.1 400 Bad Request\r\n")
        client.close()
        _, error = asking.communicate(timeout=20)
    assert asking.returncode == 1
    assert "did not answer as a driftlead daemon does" in error

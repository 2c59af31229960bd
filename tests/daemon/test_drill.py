"""Drills as a person holds them: the verb as a process, a real daemon, a boat."""

import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest

BROKEN = '[[notifier]]\nkind = "broken"\n[[notifier]]\nkind = "nonesuch"\n'
Start = Callable[..., "subprocess.Popen[str]"]


@pytest.fixture
def start(daemon: Any) -> Iterator[Start]:
    """Start a verb as somebody at a terminal would."""
    begun: list[subprocess.Popen[str]] = []

    def do(*arguments: str) -> "subprocess.Popen[str]":
        environment = {**daemon.environment(), "DRIFTLEAD_CONFIG": str(daemon.config_path)}
        begun.append(
            subprocess.Popen(
                [sys.executable, "-m", "driftlead.cli.main", *arguments],
                env=environment | {"NO_COLOR": "1", "PATH": os.environ["PATH"]},
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                text=True,
            )
        )
        return begun[-1]

    yield do
    for process in begun:
        if process.poll() is None:
            process.kill()
        process.communicate()


def ended(process: "subprocess.Popen[str]") -> tuple[int, str, str]:
    """Wait for its end: exit code, output, errors."""
    out, err = process.communicate(timeout=30)
    return process.returncode, out, err


def test_a_drill_reaches_a_working_notifier_and_is_over(daemon: Any, start: Start) -> None:
    """The plug-in hears of it and, twelve seconds later, of its end; the verb ends well."""
    daemon.start()
    began_s = time.monotonic()
    code, out, err = ended(start("drill"))
    assert time.monotonic() - began_s >= 12.0
    assert code == 0, (out, err)
    assert "OK    notifier tofile: Arrived after 0." in out
    assert "The drill has run its course" in out
    assert err.startswith("DRILL.")
    daemon.until_told(name="drill", state="normal")
    assert {"name": "drill", "state": "active_unacknowledged", "instance": ""} in daemon.told()
    assert all(alert["name"] != "drill" for alert in daemon.status()["alerts"])


def test_horn_lamp_and_sounder_are_part_of_a_drill(
    daemon: Any, start: Start, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As they are built by the daemon itself, on mock pins and with a player that only waits."""
    monkeypatch.setenv("GPIOZERO_PIN_FACTORY", "mock")
    player = daemon.folder / "player"
    player.write_text("#!/bin/sh\nexec sleep 1000\n")
    player.chmod(0o755)
    daemon.extra = f"""
[[notifier]]
kind = "sound"
players = [["{player}"]]
[[notifier]]
kind = "gpio"
name = "horn"
pin = 27
fails_loud = true
[[notifier]]
kind = "gpio"
name = "lamp"
pin = 22
shows = "lamp"
[[button]]
pin = 17
command = "acknowledge"
"""
    daemon.start()
    code, out, _ = ended(start("drill"))
    assert code == 0, (out, daemon.log())
    for name in ("tofile", "sound", "horn", "lamp"):
        assert f"OK    notifier {name}: Arrived after 0." in out
    assert daemon.stop() == 0


def test_what_does_not_work_is_told_with_its_reason(daemon: Any, start: Start) -> None:
    """One that fails, one that is not there; the verb ends with 1."""
    daemon.extra = BROKEN
    daemon.start()
    # That a notifier is missing is a warning; nobody drills before it is acknowledged.
    code, out, err = ended(start("drill"))
    assert code == 1
    assert "no time for a drill: the warning notifier failed is up" in err
    assert "It sounds" not in err
    daemon.command("acknowledge")
    code, out, err = ended(start("drill"))
    assert code == 1, (out, err)
    assert "OK    notifier tofile: Arrived after" in out
    assert "FAIL  notifier broken: The siren is broken. Mend it." in out
    assert "FAIL  notifier nonesuch:" in out


def test_somebody_acknowledges(daemon: Any, start: Start) -> None:
    """The drill waits for them, and tells who it was."""
    daemon.start()
    drilling = start("drill", "--until-acknowledged")
    daemon.until_told(name="drill", state="active_unacknowledged")
    daemon.command("acknowledge", by="mate")
    code, out, _ = ended(drilling)
    assert code == 0, out
    assert "The drill was acknowledged by mate after" in out


def test_a_real_drag_during_a_drill_sounds_as_usual(daemon: Any, boat: Any, start: Start) -> None:
    """The drill makes way, and says so in capitals."""
    daemon.start()
    daemon.gps.send(boat.at(0.0, seconds=20))
    daemon.until_heard()
    daemon.command("let-go", rode_m=20.0)
    drilling = start("drill", "--until-acknowledged")
    daemon.until_told(name="drill", state="active_unacknowledged")
    daemon.gps.send(boat.going(0.0, 120.0, mps=1.0))
    daemon.until_told(name="drag", state="active_unacknowledged")
    code, out, _ = ended(drilling)
    assert code == 1
    assert "THE DRILL WAS BROKEN OFF: THERE IS A REAL ALERT: drag." in out
    daemon.until_told(name="drill", state="normal")
    (drag,) = (alert for alert in daemon.status()["alerts"] if alert["name"] == "drag")
    assert drag["state"] == "active_unacknowledged"


def test_a_daemon_that_stops_ends_its_drill(daemon: Any, start: Start) -> None:
    """What was told of the drill is told that it is over."""
    daemon.start()
    drilling = start("drill", "--until-acknowledged")
    daemon.until_told(name="drill", state="active_unacknowledged")
    assert daemon.stop() == 0
    daemon.until_told(name="drill", state="normal")
    assert ended(drilling)[0] == 1


def test_without_a_daemon_there_is_no_drill(daemon: Any, start: Start) -> None:
    """The remedy says how to start one."""
    daemon.config_path.write_text(daemon.config())
    code, _, err = ended(start("drill"))
    assert code == 1
    assert "No driftlead daemon is running" in err
    assert "DRILL" not in err, "nothing sounds"

"""``kill -9`` of the running daemon, again and again through nights in which she drags.

Each night is one watch of a real process: real sockets, real files, only its clock runs faster. It
is killed at random instants, a few times while it is still starting, once the moment the alarm has
sounded, once while it is silenced, and twice after it was answered.
"""

import json
import mmap
import os
import select
import shutil
import socket
import sqlite3
import subprocess
import sys
import tempfile
import time
import uuid
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from random import Random
from typing import Any

import pytest
from attrs import evolve

import driftlead
from driftlead.core.inputs_json import command_to_json
from driftlead.daemon.control_client import ask
from driftlead.lines import StampedLine
from driftlead.simulate.anchor import Holding, drag_steadily
from driftlead.simulate.night import SkipperInput, simulate_night
from driftlead.simulate.scenarios import steady_breeze

KILLS = int(os.environ.get("DRIFTLEAD_REAL_KILLS") or (200 if os.environ.get("CI") else 40))
"""A start takes half a second of processor: all two hundred are for CI and ``make kills``."""
NIGHTS = max(1, KILLS // 20)
AT_ONCE = 3
PACE = float(os.environ.get("DRIFTLEAD_REAL_PACE", "100"))
"""Seconds of the night to one of ours."""
DOWN_S = 2.0
"""So long until systemd has started it again: a second's wait, and the start."""
BEHIND_S = 5.0
"""Its loop turns every second; without a sign of that for so long it has not got the machine."""
BACKLOG_BYTES = 16_384
"""And with so much unread it falls behind: some twenty lines, as the kernel counts them."""
PATIENCE_S = 180.0
RESUMED_WITHIN_S = 5.0
LASTS_S = 1800.0
LAST_KILL_S = 1740.0
FAST_DAEMON = Path(__file__).with_name("fast_daemon.py")
SOURCES = Path(driftlead.__file__).parents[1]

Call = dict[str, Any]


class PacedClock:
    """The writing end of the clock in ``fast_daemon.py``."""

    def __init__(self, page: Path) -> None:
        page.write_bytes(bytes(65_536))
        with page.open("r+b") as file:
            self._shared = mmap.mmap(file.fileno(), 0)
        self._doubles = memoryview(self._shared).cast("d")
        self._at, self._stretches = (time.monotonic(), 0.0, 0.0), 0
        self.go(0.0)

    def now(self) -> float:
        """Give the time."""
        began_s, showed_s, pace = self._at
        return showed_s + (time.monotonic() - began_s) * pace

    def go(self, pace: float, *, on_s: float = 0.0) -> None:
        """Put it on, and let it run at a pace from now on."""
        self._at = (time.monotonic(), self.now() + on_s, pace)
        at = 1 + 3 * self._stretches
        self._doubles[at : at + 3] = memoryview(_doubles(self._at))
        self._stretches += 1
        self._doubles[0] = float(self._stretches)

    def close(self) -> None:
        """Let go of the page."""
        self._doubles.release()
        self._shared.close()


def _doubles(values: tuple[float, ...]) -> Any:
    made = memoryview(bytearray(8 * len(values))).cast("d")
    for index, value in enumerate(values):
        made[index] = value
    return made


class KilledNight:
    """One night: the boat talks, the skipper anchors and answers, and somebody kills the daemon."""

    def __init__(self, folder: Path, moments: tuple[StampedLine | SkipperInput, ...]) -> None:
        self.folder = folder
        self.moments = moments
        self.next = 0
        self.to_say: list[SkipperInput] = []
        self.read: dict[str, tuple[int, list[Any]]] = {}
        self.clock = PacedClock(folder / "clock")
        self.socket = folder / "control.sock"
        self.process: subprocess.Popen[bytes] | None = None
        self.turned_s = 0.0
        self.resumes_s: list[tuple[float, float]] = []
        """Started to watching: by the clock, and without what others had the machine."""
        self.kills = 0
        self.told_before: dict[str, list[int]] = {"sounder": [], "post": []}
        """How many calls each notifier had had at each start."""
        self.out = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self.systemd = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.address = f"driftlead-test-{uuid.uuid4()}"
        self.systemd.bind("\0" + self.address)
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        (folder / "driftlead.toml").write_text(f"""
[[source]]
name = "wireless"
kind = "udp"
port = {self.port}
bind = "127.0.0.1"
[[notifier]]
kind = "told"
name = "sounder"
path = "{folder}/sounder"
lasts = false
[[notifier]]
kind = "told"
name = "post"
path = "{folder}/post"
lasts = true
[journal]
path = "{folder}/state/journal.db"
[recording]
directory = "{folder}/nights"
[control]
socket = "{self.socket}"
""")

    # -- the process -----------------------------------------------------------------------------

    def spawn(self) -> None:
        """Start the daemon."""
        for notifier, before in self.told_before.items():
            before.append(len(self.told(notifier)))
        self.hear(0.0)
        self.began_s = time.monotonic()
        paths = {"PYTHONPATH": str(SOURCES), "NOTIFY_SOCKET": f"@{self.address}"}
        with (self.folder / "log").open("ab") as log:
            self.process = subprocess.Popen(
                [
                    *(sys.executable, str(FAST_DAEMON)),
                    *(str(self.folder / "driftlead.toml"), str(self.folder / "clock")),
                ],
                env={**os.environ, **paths},
                stdout=log,
                stderr=log,
            )

    def is_ready(self, within_s: float) -> bool:
        """Wait until it says that it watches."""
        until_s = time.monotonic() + within_s
        while (left_s := until_s - time.monotonic()) > 0.0:
            self.lives_still()
            said = select.select([self.systemd], [], [], min(left_s, 0.1))[0]
            if said and self.systemd.recv(4096) == b"READY=1":
                took_s = time.monotonic() - self.began_s
                self.resumes_s.append((took_s, took_s - self.kept_waiting_s()))
                return True
        return False

    def kept_waiting_s(self) -> float:
        """How long its main thread was ready to run and others had the machine (proc(5))."""
        assert self.process is not None
        schedstat = Path(f"/proc/{self.process.pid}/schedstat").read_text().split()
        return int(schedstat[1]) / 1e9

    def hear(self, within_s: float) -> None:
        """Take what systemd would be told, so that the daemon is never held up by it."""
        while select.select([self.systemd], [], [], within_s)[0]:
            if self.systemd.recv(4096) == b"WATCHDOG=1":
                self.turned_s = self.clock.now()
            within_s = 0.0

    def lives_still(self) -> None:
        """It ends by being killed, and not otherwise."""
        assert self.process is not None
        assert self.process.poll() is None, self.log()

    def kill(self) -> None:
        """Kill it, and let the time pass until it is started again."""
        assert self.process is not None
        self.process.kill()
        self.process.wait()
        self.kills += 1
        self.clock.go(0.0, on_s=DOWN_S)

    def log(self) -> str:
        """What it had to say."""
        return (self.folder / "log").read_text()

    def ask(self, **request: Any) -> Any:
        """Ask over its control socket."""
        return ask(self.socket, request, limit_s=PATIENCE_S)

    # -- the night -------------------------------------------------------------------------------

    def sail(self, until_s: float, *, until: Callable[[], bool] = lambda: False) -> None:
        """Let the night go on. What was said while nobody listened is lost."""
        self.pass_over()
        self.turned_s = self.clock.now()
        self.clock.go(PACE)
        while (now_s := self.clock.now()) < until_s and not until():
            self.lives_still()
            while self.next < len(self.moments) and self.moments[self.next].mono_s <= now_s:
                moment = self.moments[self.next]
                self.next += 1
                if isinstance(moment, SkipperInput):
                    self.to_say.append(moment)
                else:
                    self.out.sendto(f"{moment.text}\r\n".encode("latin-1"), self.listening)
            if self.to_say and self.command(**command_to_json(self.to_say[0].command)):
                del self.to_say[0]
            self.hear(0.003)
            if self.clock.now() - self.turned_s > BEHIND_S or self.backlog() > BACKLOG_BYTES:
                self.wait_for_it()

    def wait_for_it(self) -> None:
        """On a busy machine: let it catch up, or it would sleep through hours of the night."""
        self.clock.go(1.0)
        turned_s, until_s = self.turned_s, time.monotonic() + PATIENCE_S
        while self.turned_s == turned_s or self.backlog():
            assert time.monotonic() < until_s, self.log()
            self.lives_still()
            self.hear(0.01)
        self.clock.go(PACE)

    def backlog(self) -> int:
        """How many bytes wait in the kernel for the daemon to read them (proc_net(5))."""
        local = f"0100007F:{self.port:04X}"
        for line in Path("/proc/net/udp").read_text().splitlines():
            fields = line.split()
            if fields[1] == local:
                return int(fields[4].partition(":")[2], 16)
        return 0

    def pass_over(self) -> None:
        """Leave out what is past; the skipper says it when somebody listens."""
        now_s = self.clock.now()
        while self.next < len(self.moments) and self.moments[self.next].mono_s < now_s:
            moment = self.moments[self.next]
            self.next += 1
            if isinstance(moment, SkipperInput):
                self.to_say.append(moment)

    @property
    def listening(self) -> tuple[str, int]:
        """Where the daemon listens."""
        return ("127.0.0.1", self.port)

    def command(self, **request: Any) -> bool:
        """Give a command while the time stands still; without any fix yet it is refused."""
        self.clock.go(0.0)
        answer = self.ask(**request)
        self.clock.go(PACE)
        return bool(answer["ok"])

    # -- what was told ---------------------------------------------------------------------------

    def told(self, notifier: str) -> list[Any]:
        """Everything a notifier has written down; what it died over does not count."""
        path = self.folder / notifier
        size = path.stat().st_size if path.exists() else 0
        if self.read.get(notifier, (0, []))[0] != size:
            whole = path.read_text().split("\n")[:-1]
            self.read[notifier] = (size, [json.loads(line) for line in whole])
        return self.read.get(notifier, (0, []))[1]

    def lives(self, notifier: str) -> list[list[Call]]:
        """What a notifier was told of the drag in each of the daemon's lives."""
        calls = [told["call"] for told in self.told(notifier)]
        begins = self.told_before[notifier]
        return [
            [call for call in calls[first:last] if is_drag(call)]
            for first, last in zip(begins, [*begins[1:], len(calls)], strict=True)
        ]

    def soundings(self) -> list[Call]:
        """Every time the sounder was made to sound for the drag."""
        calls = [told["call"] for told in self.told("sounder")]
        return [call for call in calls if is_drag(call) and sounds(call)]

    def heard(self) -> bool:
        """Whether the drag has sounded."""
        return bool(self.soundings())

    def journalled(self) -> list[Call]:
        """Every event on the disk; of a copy, so that the files stay as the kill left them."""
        events: list[Call] = []
        with tempfile.TemporaryDirectory() as name:
            for file in (self.folder / "state").glob("journal.db*"):
                shutil.copy(file, name)
            with sqlite3.connect(f"{name}/journal.db") as journal:
                rows = journal.execute("SELECT body FROM event ORDER BY event_id").fetchall()
                events = [json.loads(body) for (body,) in rows]
            journal.close()
        return events

    # -- killed and started ----------------------------------------------------------------------

    def killed_and_started(self, *, too_soon_s: float | None = None) -> None:
        """Kill it, start it, and see that the watch is the same.

        ``too_soon_s``: so soon after the start it is killed once more, whether it watches or not.
        """
        self.kill()
        if too_soon_s is not None:
            self.spawn()
            self.is_ready(too_soon_s)
            self.kill()
        events, sounded = self.journalled(), len(self.soundings())
        self.start()
        self.resumed_as(events, sounded)

    def start(self) -> None:
        """Start it and wait until it watches."""
        self.spawn()
        assert self.is_ready(PATIENCE_S), self.log()

    def resumed_as(self, events: list[Call], sounded: int) -> None:
        """What the disk knew is known, and what nobody has answered is heard at once."""
        status = self.ask(status=True)["status"]
        names = [alert["name"] for alert in status["alerts"]]
        assert ("watch_resumed" in names) == (status["state"] != "stowed")
        known = [event for event in events if event["kind"] == "alert" and is_drag(event)]
        # It may have been killed between the sound and the disk.
        heard = [told["call"] for told in self.told("sounder") if is_drag(told["call"])]
        if known or heard:
            (drag,) = [alert for alert in status["alerts"] if alert["name"] == "drag"]
            last = {each[-1]["state"] for each in (known, heard) if each}
            after = {"active_unacknowledged" if each == "silenced" else each for each in last}
            assert drag["state"] in after
            assert {each["number"] for each in (*known, *heard)} == {drag["number"]}
            if drag["state"] == "active_unacknowledged":
                self.until_true(lambda: len(self.soundings()) > sounded)

    def until_true(self, true: Callable[[], bool]) -> None:
        """Wait for what takes no time of the night."""
        until_s = time.monotonic() + PATIENCE_S
        while not true():
            assert time.monotonic() < until_s, self.log()
            self.lives_still()
            self.hear(0.003)

    def close(self) -> None:
        """Leave nothing behind."""
        if self.process is not None and self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        self.out.close()
        self.systemd.close()
        self.clock.close()


def quantile(ordered: list[float], part: float) -> float:
    """What so large a part does not exceed."""
    return ordered[min(len(ordered) - 1, int(part * len(ordered)))]


def is_drag(event: Call) -> bool:
    """Whether this is of the drag."""
    return bool(event["name"] == "drag")


def sounds(call: Call) -> bool:
    """Whether it is to be heard, and not only told."""
    return bool(call["state"] == "active_unacknowledged")


def moments(seed: int) -> tuple[StampedLine | SkipperInput, ...]:
    """Half an hour; she begins to drag at 0.1 m/s after a third of it."""
    scenario = evolve(
        steady_breeze(seed=seed, lasts_s=LASTS_S),
        holding=Holding(drag=drag_steadily(begins_s=900.0, lasts_s=800.0, mps=0.1)),
        fix_interval_s=2.0,
        talk={"RMC": 2.0, "HDT": 2.0, "MWV": 10.0},
    )
    found = simulate_night(scenario).moments
    return tuple(each for each in found if isinstance(each, StampedLine | SkipperInput))


def kill_it_as_it_sounds(night: KilledNight) -> None:
    """Kill it the moment it has sounded, when it is perhaps not yet on the disk, and silenced."""
    night.killed_and_started()
    assert night.command(command="silence")
    night.sail(night.clock.now() + 10.0)
    night.killed_and_started()


def keep_killing(night: KilledNight, random: Random, kills: int) -> None:
    """One night with so many kills."""
    night.start()
    at_random = sorted(random.uniform(60.0, LAST_KILL_S) for _ in range(kills - 4))
    alarmed = False
    while at_random:
        night.sail(at_random[0], until=(lambda: False) if alarmed else night.heard)
        if night.heard() and not alarmed:
            alarmed = True
            kill_it_as_it_sounds(night)
            continue
        too_soon_s = random.uniform(0.0, 0.7) if random.random() < 0.1 else None
        if too_soon_s is None or len(at_random) == 1:
            night.killed_and_started()
            del at_random[:1]
        else:
            night.killed_and_started(too_soon_s=too_soon_s)
            del at_random[:2]
    if not alarmed:
        night.sail(LASTS_S, until=night.heard)
        assert night.heard(), "she has dragged, and nobody was told"
        kill_it_as_it_sounds(night)
    night.sail(LASTS_S)
    assert night.command(command="acknowledge")
    answered = len(night.soundings())
    for _ in range(2):
        night.killed_and_started()
        night.sail(night.clock.now() + 20.0)
    assert len(night.soundings()) == answered, "it sounds though it was answered"


def judge(night: KilledNight) -> None:
    """Nothing was lost, and nothing was told twice but that it still stands."""
    told = [each["call"] for each in night.told("sounder")]
    events = night.journalled()
    calls = [e for e in events if e["kind"] == "call" and is_drag(e) and "sounder" in e["outlets"]]
    lives = night.lives("sounder")
    for drags in lives:
        assert sum(call["reason"] == "resumed" for call in drags) <= 1
        # Whatever was heard is on the disk at the end, though the kill came before it was.
        assert [call for call in drags if call not in calls] == []
    once = [json.dumps(call) for call in told if is_drag(call) and call["reason"] != "resumed"]
    assert max(Counter(once).values()) == 1, Counter(once).most_common(1)
    # One raising, one number.
    numbers = {call["number"] for call in calls}
    assert len(numbers) == 1
    raised = [call for call in told if is_drag(call) and call["reason"] == "first"]
    assert len(raised) <= 1
    # What lasts, as a message does, is sent after a kill only if it was not, or that was not noted.
    sent = night.lives("post")
    for index, life in enumerate(sent):
        before = [call for earlier in sent[:index] for call in earlier]
        for call in life:
            if call["reason"] == "resumed" and before and before[-1]["state"] == call["state"]:
                assert any(sent[max(0, index - 2) : index])
    # Whatever was decided was heard, or the kill came between and it was heard after the start.
    for index, call in enumerate(calls):
        if sounds(call) and call not in told:
            assert any(sounds(each) and each in told for each in calls[index + 1 :])


@pytest.fixture
def folder() -> Any:
    """Give a folder with a short name: the path of a socket may have a hundred characters."""
    with tempfile.TemporaryDirectory(prefix="dl") as name:
        yield Path(name)


def test_no_kill_of_the_process_loses_an_alarm_or_repeats_it_more_than_once(folder: Path) -> None:
    """And the watch is kept again within five seconds, as a rule within one."""
    nights = [moments(seed) for seed in (77, 78)]
    kills = [KILLS // NIGHTS + (index < KILLS % NIGHTS) for index in range(NIGHTS)]

    def one(index: int) -> KilledNight:
        own = folder / str(index)
        own.mkdir()
        night = KilledNight(own, nights[index % len(nights)])
        try:
            keep_killing(night, Random(f"killed for real {index}"), kills[index])
            judge(night)
        finally:
            night.close()
        return night

    began_s = time.monotonic()
    with ThreadPoolExecutor(AT_ONCE) as pool:
        done = list(pool.map(one, range(NIGHTS)))
    assert sum(night.kills for night in done) == KILLS
    print(f"\n{KILLS} kills in {time.monotonic() - began_s:.0f} s")
    for index, clock in enumerate(("by the clock", "without what others had the machine")):
        resumed_s = sorted(both[index] for night in done for both in night.resumes_s[1:])
        p50_s, p99_s = quantile(resumed_s, 0.5), quantile(resumed_s, 0.99)
        print(
            f"started to watching, {clock}: p50 {p50_s:.2f} s, p99 {p99_s:.2f} s,"
            f" at most {resumed_s[-1]:.2f} s"
        )
    assert resumed_s[-1] < RESUMED_WITHIN_S

"""Waking the crew: what sounds, when it begins, when it stops, and what happens when it cannot."""

import asyncio
import logging
import os
from collections.abc import AsyncIterator, Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import pytest_asyncio

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.errors import ConfigError, NotifierError
from driftlead.notify.base import Notifier, NotifierContext
from driftlead.notify.sound import SoundNotifier, SoundOptions, ring_terminal_bell
from driftlead.notify.waveform import RHYTHMS, rhythm_wav
from driftlead.testing import FakeTime, NotifierContract, make_alert, make_context

if TYPE_CHECKING:
    from tests.notify.conftest import Deck

ALARM = make_alert()
ANSWERED = make_alert(state=AlertState.ACTIVE_ACKNOWLEDGED)
WARNING = make_alert(name="fix_lost", priority=Priority.WARNING)
CAUTION = make_alert(name="fix_poor", priority=Priority.CAUTION)
SETTLE_S = 0.3
RETRY_S = 5.0


class TestSoundKeepsTheContract(NotifierContract):
    """The sound notifier is a proper notifier."""

    @pytest.fixture(autouse=True)
    def _player(self, deck: "Deck") -> None:
        body = 'case "$1" in *silence.wav) sleep 0.2;; *) exec sleep 1000;; esac'
        self.player = deck.player("fake", body)

    def make_context(self, state_dir: Path) -> NotifierContext:
        """Do not wait for players to settle; real time for everything that is longer."""

        async def sleep(seconds: float) -> None:
            await asyncio.sleep(0 if seconds < 1 else seconds)

        loop = asyncio.get_running_loop()
        return make_context(state_dir, clock=loop.time, sleep=sleep)

    def make_notifier(self, context: NotifierContext) -> Notifier:
        """Build one whose player only waits."""
        return SoundNotifier.from_options({"players": [self.player]}, context)

    def make_broken_notifier(self, context: NotifierContext) -> Notifier:
        """Build one whose player is not there."""
        return SoundNotifier.from_options({"players": [["/nonexistent/play"]]}, context)


class Rig:
    """A sound notifier with fake players on a fake clock."""

    def __init__(self, deck: "Deck", state_dir: Path) -> None:
        self.deck = deck
        self.time = FakeTime()
        self.reports: list[str | None] = []
        self.bells = 0
        self._changed = asyncio.Event()
        self._state_dir = state_dir
        self._made: list[SoundNotifier] = []

    def notifier(self, *players: list[str], at_least: Priority = Priority.CAUTION) -> SoundNotifier:
        """Make one; it is closed after the test."""
        context = make_context(
            self._state_dir,
            clock=self.time.clock,
            sleep=self.time.sleep,
            report=self._report,
            at_least=at_least,
        )
        commands = tuple(tuple(player) for player in players)
        made = SoundNotifier(SoundOptions(players=commands), context, bell=self._bell)
        self._made.append(made)
        return made

    async def notify(self, notifier: SoundNotifier, alert: Alert, sound: str) -> int:
        """Notify of an alert that starts ``sound``; return the player's process id."""
        notifying = asyncio.create_task(notifier.notify(alert))
        pid = await self.settled(sound)
        await notifying
        return pid

    async def settled(self, sound: str) -> int:
        """Wait until ``sound`` is playing; return the player's process id."""
        pid, _, playing = await self.deck.began()
        assert playing == sound
        await self.time.until_sleeping(SETTLE_S)
        await self.time.advance(SETTLE_S)
        return pid

    async def played(self, seconds: float, *, code: int = 0) -> None:
        """Let the sound play for ``seconds`` and its player end."""
        await self.time.advance(seconds)
        self.deck.end(code)

    def has_rung(self, times: int) -> bool:
        """Tell whether the bell has rung so often."""
        return self.bells == times

    async def close(self) -> None:
        """Close everything."""
        for notifier in self._made:
            await notifier.close()

    async def until(self, so: Callable[[], bool]) -> None:
        """Wait for a report or bell that makes it ``so``."""
        async with asyncio.timeout(20.0):
            while not so():
                self._changed.clear()
                await self._changed.wait()

    def _report(self, text: str | None) -> None:
        self.reports.append(text)
        self._changed.set()

    def _bell(self) -> None:
        self.bells += 1
        self._changed.set()


@pytest_asyncio.fixture
async def rig(deck: "Deck", tmp_path: Path) -> AsyncIterator[Rig]:
    """A place to build sound notifiers."""
    made = Rig(deck, tmp_path)
    yield made
    await made.close()


def is_gone(pid: int) -> bool:
    """Tell whether there is no such process any more."""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return True
    return False


@pytest.mark.asyncio
@pytest.mark.parametrize("alert", [ALARM, WARNING])
async def test_alarms_and_warnings_sound_over_and_over(rig: Rig, alert: Alert) -> None:
    """As soon as a play ends the next begins, and nothing is reported."""
    notifier = rig.notifier(rig.deck.obedient())
    await rig.notify(notifier, alert, alert.priority.value)
    for _ in range(3):
        await rig.played(RHYTHMS[alert.priority].duration_s)
        await rig.settled(alert.priority.value)
    assert [text for text in rig.reports if text] == []
    assert rig.bells == 0


@pytest.mark.asyncio
async def test_an_answer_silences_at_once(rig: Rig) -> None:
    """When notify returns the player is gone."""
    notifier = rig.notifier(rig.deck.obedient())
    pid = await rig.notify(notifier, ALARM, "alarm")
    await notifier.notify(ANSWERED)
    assert is_gone(pid)
    await rig.time.advance(1000.0)
    assert rig.reports == []


@pytest.mark.asyncio
async def test_a_more_urgent_alert_takes_over_and_gives_back(rig: Rig) -> None:
    """The alarm interrupts the warning; when it is answered the warning is heard again."""
    notifier = rig.notifier(rig.deck.obedient())
    warning_pid = await rig.notify(notifier, WARNING, "warning")
    alarm_pid = await rig.notify(notifier, ALARM, "alarm")
    assert is_gone(warning_pid)
    await rig.notify(notifier, ANSWERED, "warning")
    assert is_gone(alarm_pid)


@pytest.mark.asyncio
async def test_a_less_urgent_alert_does_not_interrupt(rig: Rig) -> None:
    """The alarm plays on with the same player."""
    notifier = rig.notifier(rig.deck.obedient())
    pid = await rig.notify(notifier, ALARM, "alarm")
    await notifier.notify(WARNING)
    await notifier.notify(ALARM)
    assert not is_gone(pid)


@pytest.mark.asyncio
async def test_a_caution_sounds_once(rig: Rig) -> None:
    """Its repetition is silent; an alarm after it sounds."""
    notifier = rig.notifier(rig.deck.obedient())
    await rig.notify(notifier, CAUTION, "caution")
    await rig.played(RHYTHMS[Priority.CAUTION].duration_s)
    assert notifier._task is not None
    await asyncio.wait({notifier._task}, timeout=20.0)
    await notifier.notify(CAUTION)
    await rig.notify(notifier, ALARM, "alarm")


@pytest.mark.asyncio
async def test_below_the_owners_limit_nothing_sounds(rig: Rig) -> None:
    """Also when an alert sinks below it while it sounds."""
    notifier = rig.notifier(rig.deck.obedient(), at_least=Priority.ALARM)
    await notifier.notify(WARNING)
    pid = await rig.notify(notifier, ALARM, "alarm")
    await notifier.notify(make_alert(priority=Priority.WARNING))
    assert is_gone(pid)


@pytest.mark.asyncio
async def test_without_a_player_notify_fails_and_the_bell_rings_until_one_works(
    rig: Rig, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """The failure is raised, reported and logged; it is tried again, and the end is reported."""
    player = tmp_path / "late-player"
    notifier = rig.notifier([str(player)])
    with pytest.raises(NotifierError, match="No player works"):
        await notifier.notify(ALARM)
    assert rig.bells == 1
    (record,) = [r for r in caplog.records if r.levelno == logging.CRITICAL]
    assert "mute while it should sound" in record.getMessage()
    for bells in (2, 3):
        await rig.time.until_sleeping(RETRY_S)
        await rig.time.advance(RETRY_S)
        await rig.until(partial(rig.has_rung, bells))
    with pytest.raises(NotifierError, match="No player works"):
        await notifier.notify(WARNING)
    player.symlink_to(rig.deck.obedient()[0])
    await rig.time.until_sleeping(RETRY_S)
    await rig.time.advance(RETRY_S)
    await rig.settled("alarm")
    await rig.played(RHYTHMS[Priority.ALARM].duration_s)
    await rig.settled("alarm")
    assert len(rig.reports) == 2
    assert rig.reports[0] is not None
    assert rig.reports[1] is None
    await notifier.notify(ALARM)


@pytest.mark.asyncio
async def test_falling_back_sounds_and_is_reported(rig: Rig) -> None:
    """Notify succeeds, for the crew is woken; the broken player is told of all the same."""
    notifier = rig.notifier(rig.deck.failing(), rig.deck.obedient())
    notifying = asyncio.create_task(notifier.notify(ALARM))
    assert (await rig.deck.began())[1] == "failing"
    await rig.settled("alarm")
    await notifying
    (report,) = rig.reports
    assert report is not None
    assert "failing failed" in report


@pytest.mark.asyncio
async def test_a_player_that_dies_while_sounding_is_replaced_and_reported(rig: Rig) -> None:
    """The next one takes over without anybody asking; the bell rings for the gap."""
    notifier = rig.notifier(rig.deck.obedient("first"), rig.deck.obedient("second"))
    await rig.notify(notifier, ALARM, "alarm")
    await rig.played(2.0, code=1)
    _, name, _ = await rig.deck.began()
    assert name == "second"
    (report,) = rig.reports
    assert report is not None
    assert "first failed with exit code 1" in report
    assert rig.bells == 1


@pytest.mark.asyncio
async def test_after_the_alert_a_failed_player_is_tried_with_silence(
    rig: Rig, tmp_path: Path
) -> None:
    """When it works again the report is taken back, before the next emergency."""
    mended = tmp_path / "mended"
    body = f'test -e "{mended}" || exit 1\nread code < "{tmp_path}/deck/orders"\nexit "$code"'
    notifier = rig.notifier(rig.deck.player("moody", body), rig.deck.obedient())
    notifying = asyncio.create_task(notifier.notify(ALARM))
    assert (await rig.deck.began())[1] == "moody"
    await rig.settled("alarm")
    await notifying
    mended.touch()
    await notifier.notify(ANSWERED)
    await rig.settled("silence")
    await rig.played(0.2)
    await rig.until(lambda: rig.reports[-1] is None)
    assert len(rig.reports) == 2


@pytest.mark.asyncio
async def test_whatever_goes_wrong_the_sounding_goes_on(
    rig: Rig, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """An error nobody thought of is reported and logged, and the sound is started again."""
    notifier = rig.notifier(rig.deck.obedient())
    await rig.notify(notifier, ALARM, "alarm")
    start = notifier._player.start

    async def odd(_sound: object) -> None:
        raise ValueError("odd")

    monkeypatch.setattr(notifier._player, "start", odd)
    await rig.played(RHYTHMS[Priority.ALARM].duration_s)
    await rig.time.until_sleeping(RETRY_S)
    assert rig.reports[-1] == "The sounder failed: ValueError: odd"
    assert "The sounder failed" in caplog.text
    monkeypatch.setattr(notifier._player, "start", start)
    await rig.time.advance(RETRY_S)
    await rig.settled("alarm")


@pytest.mark.asyncio
async def test_closing_silences(rig: Rig) -> None:
    """No player outlives the daemon."""
    notifier = rig.notifier(rig.deck.obedient())
    pid = await rig.notify(notifier, ALARM, "alarm")
    await notifier.close()
    assert is_gone(pid)


@pytest.mark.asyncio
async def test_a_cancelled_notify_leaves_no_player_behind(rig: Rig) -> None:
    """The dispatcher's limit passed while the player started."""
    notifier = rig.notifier(rig.deck.obedient())
    notifying = asyncio.create_task(notifier.notify(ALARM))
    pid, _, _ = await rig.deck.began()
    await rig.time.until_sleeping(SETTLE_S)
    notifying.cancel()
    with pytest.raises(asyncio.CancelledError):
        await notifying
    assert is_gone(pid)
    await rig.notify(notifier, ALARM, "alarm")


@pytest.mark.asyncio
async def test_a_cancelled_answer_silences_all_the_same(rig: Rig) -> None:
    """The player is killed before anything is waited for."""
    notifier = rig.notifier(rig.deck.obedient())
    await rig.notify(notifier, ALARM, "alarm")
    playback = notifier._playback
    assert playback is not None
    answering = asyncio.create_task(notifier.notify(ANSWERED))
    await asyncio.sleep(0)
    answering.cancel()
    with pytest.raises(asyncio.CancelledError):
        await answering
    assert await asyncio.wait_for(playback.exit_code(), 20.0) < 0
    await playback.stop()


@pytest.mark.asyncio
async def test_silence_right_after_a_start_leaves_no_player_behind(rig: Rig) -> None:
    """Also when the task that keeps the sound going has had no time to run."""
    notifier = rig.notifier(rig.deck.obedient())

    async def both() -> None:
        await notifier.notify(ALARM)
        await notifier.notify(ANSWERED)

    working = asyncio.create_task(both())
    pid = await rig.settled("alarm")
    await working
    assert is_gone(pid)


@pytest.mark.asyncio
async def test_the_check_plays_silence(rig: Rig) -> None:
    """It proves that the device opens, and says what it does not prove."""
    notifier = rig.notifier(rig.deck.obedient())
    checking = asyncio.create_task(notifier.check())
    await rig.settled("silence")
    await rig.played(0.2)
    assert "only your ears" in await checking


@pytest.mark.asyncio
async def test_the_check_fails_with_a_remedy(rig: Rig) -> None:
    """A broken first player is not hidden by a good second one; it is reported as well."""
    notifier = rig.notifier(["/nonexistent/play"])
    with pytest.raises(NotifierError) as caught:
        await notifier.check()
    assert caught.value.remedy


@pytest.mark.asyncio
async def test_the_check_does_not_interrupt_an_alarm(rig: Rig) -> None:
    """Sounding is proof enough."""
    notifier = rig.notifier(rig.deck.obedient())
    pid = await rig.notify(notifier, ALARM, "alarm")
    assert await notifier.check() == "It is sounding at this moment."
    assert not is_gone(pid)


def test_the_sound_files_are_written_once(tmp_path: Path) -> None:
    """A good file is left alone, a damaged one is put right."""
    context = make_context(tmp_path)
    SoundNotifier.from_options({}, context)
    alarm, warning = tmp_path / "sounds" / "alarm.wav", tmp_path / "sounds" / "warning.wav"
    assert alarm.read_bytes() == rhythm_wav(RHYTHMS[Priority.ALARM])
    written_at = (alarm.stat().st_ino, alarm.stat().st_mtime_ns)
    warning.write_bytes(b"damaged")
    SoundNotifier.from_options({}, context)
    assert (alarm.stat().st_ino, alarm.stat().st_mtime_ns) == written_at
    assert warning.read_bytes() == rhythm_wav(RHYTHMS[Priority.WARNING])
    assert not list((tmp_path / "sounds").glob("*.part"))


def test_a_folder_that_takes_no_files_is_told_at_the_start(tmp_path: Path) -> None:
    """Not first in the night; the error names the file."""
    (tmp_path / "sounds").write_text("in the way")
    with pytest.raises(NotifierError, match=r"alarm\.wav") as caught:
        SoundNotifier.from_options({}, make_context(tmp_path))
    assert caught.value.remedy


def test_the_named_device_comes_first_and_the_default_device_second() -> None:
    """A device that was unplugged still leaves a voice."""
    assert SoundOptions().commands == (("aplay", "-q"),)
    assert SoundOptions(device="plughw:1,0").commands == (
        ("aplay", "-q", "-D", "plughw:1,0"),
        ("aplay", "-q"),
    )


def test_device_and_players_exclude_each_other(tmp_path: Path) -> None:
    """The device would be ignored in silence."""
    options = {"device": "plughw:1,0", "players": [["aplay", "-q"]]}
    with pytest.raises(ConfigError, match="'device' does nothing beside 'players'"):
        SoundNotifier.from_options(options, make_context(tmp_path))


def test_the_bell_is_silent_without_a_terminal_and_never_fails(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Under a service manager there is no terminal, and the stream may be closed."""
    ring_terminal_bell()
    assert capsys.readouterr().err == ""
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    ring_terminal_bell()
    assert capsys.readouterr().err == "\a"

    def closed() -> bool:
        raise ValueError("I/O operation on closed file")

    monkeypatch.setattr("sys.stderr.isatty", closed)
    ring_terminal_bell()

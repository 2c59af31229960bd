"""Waking the crew: what sounds, when it begins, when it stops, and what happens when it cannot."""

import asyncio
import logging
import os
from collections.abc import AsyncIterator, Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
import pytest_asyncio

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.alerts.alls_well import AllsWell
from driftlead.alerts.call import Call, CallReason
from driftlead.errors import ConfigError, NotifierError
from driftlead.notify.base import HearsAllsWell, HearsCalls, Notifier, NotifierContext
from driftlead.notify.sound import (
    FIRST_TEST_AFTER_S,
    MEND_EVERY_S,
    SoundNotifier,
    ring_terminal_bell,
)
from driftlead.notify.sound_options import SoundOptions
from driftlead.notify.waveform import LOUDEST, RHYTHMS, TICK, silent_wav
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

    def notifier(
        self, *players: list[str], at_least: Priority = Priority.CAUTION, **options: Any
    ) -> SoundNotifier:
        """Make one, with aplay where no players are given; it is closed after the test."""
        context = make_context(
            self._state_dir,
            clock=self.time.clock,
            sleep=self.time.sleep,
            report=self._report,
            at_least=at_least,
        )
        commands = tuple(tuple(player) for player in players) or None
        made = SoundNotifier(SoundOptions(players=commands, **options), context, bell=self._bell)
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
        assert sound in (playing, playing.partition("-")[0])
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
    await rig.time.advance(FIRST_TEST_AFTER_S - 1.0)
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
    await rig.until(lambda: bool(rig.reports))
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
    await rig.time.until_sleeping(SETTLE_S)
    await rig.time.advance(SETTLE_S)
    await rig.until(lambda: bool(rig.reports))
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


# -- how loudly ----------------------------------------------------------------------------------


def call(alert: Alert, loudness: int) -> Call:
    """Call for ``alert``."""
    return Call(
        alert=alert,
        outlets=("test",),
        reason=CallReason.LOUDER if loudness else CallReason.FIRST,
        step=0,
        loudness=loudness,
        mono_s=100.0,
    )


async def called(rig: Rig, notifier: SoundNotifier, given: Call, sound: str) -> int:
    """Give a call that starts ``sound``; return the player's process id."""
    calling = asyncio.create_task(notifier.called(given))
    pid = await rig.settled(sound)
    await calling
    return pid


@pytest.mark.asyncio
async def test_a_call_grows_louder_without_a_gap_until_it_can_grow_no_more(rig: Rig) -> None:
    """A louder call is heard from the next play on; beyond the loudest it stays the loudest."""
    notifier = rig.notifier(rig.deck.obedient())
    pid = await called(rig, notifier, call(WARNING, 0), "warning-0")
    for loudness in (1, 2, 3):
        await notifier.called(call(WARNING, loudness))
        assert not is_gone(pid)
        await rig.played(RHYTHMS[Priority.WARNING].duration_s)
        pid = await rig.settled(f"warning-{min(loudness, LOUDEST)}")


@pytest.mark.asyncio
async def test_an_alarm_begins_louder_than_a_warning_and_does_not_inherit_its_loudness(
    rig: Rig,
) -> None:
    """Each alert is as loud as it has been left unanswered."""
    notifier = rig.notifier(rig.deck.obedient())
    await called(rig, notifier, call(WARNING, 2), "warning-2")
    await called(rig, notifier, call(ALARM, 0), "alarm-1")


@pytest.mark.asyncio
async def test_without_an_escalation_or_where_the_owner_wants_it_all_is_at_its_loudest(
    rig: Rig,
) -> None:
    """Nobody would make it louder later; or the loudspeaker is weak."""
    plain = rig.notifier(rig.deck.obedient())
    await rig.notify(plain, WARNING, f"warning-{LOUDEST}")
    loud = rig.notifier(rig.deck.obedient(), loudest_at_once=True)
    await called(rig, loud, call(WARNING, 0), f"warning-{LOUDEST}")


# -- all is well ---------------------------------------------------------------------------------


def well(*, sees: bool = True) -> AllsWell:
    """Make the sign of life."""
    return AllsWell(state="riding", sees=sees, mono_s=100.0)


@pytest.mark.asyncio
async def test_the_tick_is_heard_as_often_as_the_owner_wants_and_no_oftener(rig: Rig) -> None:
    """However often the sign of life comes; without the option it is never heard."""
    notifier = rig.notifier(rig.deck.obedient(), all_well_every_s=600.0)
    assert isinstance(notifier, HearsAllsWell)
    assert isinstance(notifier, HearsCalls)
    await rig.time.until_sleeping(FIRST_TEST_AFTER_S)
    await rig.time.advance(FIRST_TEST_AFTER_S)
    await rig.settled("silence")
    await rig.played(0.2)
    await rig.time.until_sleeping(3600.0)
    for _ in range(2):
        await notifier.alls_well(well())
        await rig.settled("tick")
        await rig.played(TICK.duration_s)
        assert notifier._task is not None
        await asyncio.wait({notifier._task}, timeout=20.0)
        await notifier.alls_well(well())
        assert notifier._task.done()
        await rig.time.advance(600.0)
    silent = rig.notifier(rig.deck.obedient())
    await silent.alls_well(well())
    assert silent._task is None
    assert rig.reports == []


@pytest.mark.asyncio
@pytest.mark.parametrize("state", [AlertState.ACTIVE_ACKNOWLEDGED, AlertState.SILENCED])
async def test_no_tick_is_heard_unless_all_is_well(rig: Rig, state: AlertState) -> None:
    """Not while a warning or alarm is up, answered or not, nor without a fix."""
    notifier = rig.notifier(rig.deck.obedient(), all_well_every_s=600.0)
    await notifier.alls_well(well(sees=False))
    await notifier.notify(make_alert(state=state))
    await notifier.alls_well(well())
    assert notifier._task is None
    await notifier.notify(make_alert(state=AlertState.NORMAL))
    await notifier.alls_well(well())
    await rig.settled("tick")


@pytest.mark.asyncio
async def test_an_alarm_does_not_wait_for_a_tick(rig: Rig) -> None:
    """The tick's player is ended at once."""
    notifier = rig.notifier(rig.deck.obedient(), all_well_every_s=600.0)
    await notifier.alls_well(well())
    tick_pid, _, _ = await rig.deck.began()
    await rig.notify(notifier, ALARM, "alarm")
    assert is_gone(tick_pid)


# -- the self-test -------------------------------------------------------------------------------


@pytest.mark.asyncio
async def test_the_players_are_tried_soon_after_the_start_and_then_every_hour(rig: Rig) -> None:
    """With silence; while they work nobody hears of it."""
    notifier = rig.notifier(rig.deck.obedient())
    for wait_s in (FIRST_TEST_AFTER_S, 3600.0, 3600.0):
        await rig.time.until_sleeping(wait_s)
        await rig.time.advance(wait_s)
        await rig.settled("silence")
        await rig.played(0.2)
    await rig.time.until_sleeping(3600.0)
    assert rig.reports == []
    assert notifier._playing is None


@pytest.mark.asyncio
async def test_a_loudspeaker_that_is_gone_is_told_and_tried_every_minute_until_it_is_back(
    rig: Rig, tmp_path: Path
) -> None:
    """Without any alert: the fault goes out on the other channels before the night needs it."""
    plugged_in = tmp_path / "plugged-in"
    body = f'test -e "{plugged_in}" || exit 1\nread code < "{tmp_path}/deck/orders"\nexit "$code"'
    rig.notifier(rig.deck.player("usb", body))
    await rig.time.until_sleeping(FIRST_TEST_AFTER_S)
    await rig.time.advance(FIRST_TEST_AFTER_S)
    await rig.deck.began()
    await rig.until(lambda: len(rig.reports) == 1)
    assert "usb failed with exit code 1" in str(rig.reports[0])
    await rig.deck.began()
    await rig.time.until_sleeping(MEND_EVERY_S)
    plugged_in.touch()
    await rig.time.advance(MEND_EVERY_S)
    await rig.settled("silence")
    await rig.played(0.2)
    await rig.until(lambda: rig.reports[-1] is None)
    assert len(rig.reports) == 2


@pytest.mark.asyncio
async def test_an_alarm_does_not_wait_for_a_self_test_that_hangs(rig: Rig) -> None:
    """Nor for a check."""
    notifier = rig.notifier(rig.deck.player("stuck", "exec sleep 1000"))
    await rig.time.until_sleeping(FIRST_TEST_AFTER_S)
    await rig.time.advance(FIRST_TEST_AFTER_S)
    test_pid, _, sound = await rig.deck.began()
    assert sound == "silence"
    await rig.notify(notifier, ALARM, "alarm")
    assert is_gone(test_pid)
    await notifier.notify(ANSWERED)
    checking = asyncio.create_task(notifier.check())
    check_pid, _, _ = await rig.deck.began()
    await rig.notify(notifier, ALARM, "alarm")
    assert is_gone(check_pid)
    assert await checking == "It is sounding at this moment."


@pytest.mark.asyncio
async def test_a_check_that_is_cancelled_leaves_no_player_behind(rig: Rig) -> None:
    """Whoever asked may lose patience."""
    notifier = rig.notifier(rig.deck.player("stuck", "exec sleep 1000"))
    checking = asyncio.create_task(notifier.check())
    pid, _, _ = await rig.deck.began()
    checking.cancel()
    with pytest.raises(asyncio.CancelledError):
        await checking
    assert notifier._task is not None
    await asyncio.wait({notifier._task}, timeout=20.0)
    assert is_gone(pid)


@pytest.mark.asyncio
async def test_a_loudspeaker_plugged_in_again_is_used_by_the_next_play(
    rig: Rig, tmp_path: Path
) -> None:
    """While another player sounds, the one that failed is tried with silence beside it."""
    plugged_in, go = tmp_path / "plugged-in", tmp_path / "go"
    os.mkfifo(go)
    body = (
        f'test -e "{plugged_in}" || exit 1\n'
        f'case "$1" in *silence.wav) read code < "{go}"; exit 0;; esac\n'
        f'read code < "{tmp_path}/deck/orders"\nexit "$code"'
    )
    notifier = rig.notifier(rig.deck.player("usb", body), rig.deck.obedient())
    notifying = asyncio.create_task(notifier.notify(ALARM))
    assert (await rig.deck.began())[1:] == ("usb", f"alarm-{LOUDEST}")
    await rig.settled("alarm")
    await notifying
    assert (await rig.deck.began())[1:] == ("usb", "silence")
    await rig.until(lambda: bool(rig.reports))
    plugged_in.touch()
    await rig.played(RHYTHMS[Priority.ALARM].duration_s)
    assert (await rig.deck.began())[1:] == ("obedient", f"alarm-{LOUDEST}")
    await rig.time.until_sleeping(SETTLE_S)
    await rig.time.advance(SETTLE_S)
    assert (await rig.deck.began())[1:] == ("usb", "silence")
    await rig.time.until_sleeping(SETTLE_S)
    await rig.time.advance(SETTLE_S)
    (mending,) = (task for task in asyncio.all_tasks() if task.get_name() == "mend")
    await asyncio.to_thread(go.write_text, "0\n")
    await asyncio.wait({mending}, timeout=20.0)
    await rig.played(RHYTHMS[Priority.ALARM].duration_s)
    assert (await rig.deck.began())[1:] == ("usb", f"alarm-{LOUDEST}")
    await rig.time.until_sleeping(SETTLE_S)
    await rig.time.advance(SETTLE_S)
    await rig.until(lambda: rig.reports[-1] is None)


# -- other programs that help: the list of devices, the mixer, the voice -------------------------


@pytest.fixture
def programs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str, str], Path]:
    """Put programs on the path that write down how they are called; give the file they write."""
    folder = tmp_path / "bin"
    folder.mkdir()
    for name in ("sh", "sleep", "cat"):
        (folder / name).symlink_to(f"/bin/{name}")
    monkeypatch.setenv("PATH", str(folder))

    def put(name: str, body: str) -> Path:
        calls = folder / f"{name}.calls"
        calls.touch()
        (folder / name).write_text(f'#!/bin/sh\necho "$@" >> "{calls}"\n{body}\n')
        (folder / name).chmod(0o755)
        return calls

    return put


Put = Callable[[str, str], Path]


@pytest.mark.asyncio
async def test_a_device_that_fails_is_told_with_the_devices_there_are(
    rig: Rig, programs: Put
) -> None:
    """So that the owner can write down the right one."""
    body = (
        'test "$1" = -L && printf "null\\n    Discard\\nplughw:CARD=Speaker,DEV=0\\n" && exit 0\n'
        'echo "audio open error: No such file or directory" >&2; exit 1'
    )
    programs("aplay", body)
    notifier = rig.notifier(device="plughw:9,0")
    with pytest.raises(NotifierError) as caught:
        await notifier.notify(ALARM)
    assert "aplay -q -D plughw:9,0 failed with exit code 1" in caught.value.message
    assert "ALSA finds: plughw:CARD=Speaker,DEV=0." in caught.value.remedy
    assert rig.reports == [str(caught.value)]
    with pytest.raises(NotifierError, match="ALSA finds"):
        await notifier.check()


@pytest.mark.asyncio
async def test_the_volume_is_turned_up_for_alarms_and_warnings_only(
    rig: Rig, programs: Put
) -> None:
    """On the card of the device, before every play; a caution is not worth it."""
    mixed = programs("amixer", "exit 0")
    notifier = rig.notifier(
        rig.deck.obedient(), volume_control="PCM", volume_card="Speaker", volume_percent=90
    )
    await rig.notify(notifier, CAUTION, "caution")
    await rig.played(RHYTHMS[Priority.CAUTION].duration_s)
    assert notifier._task is not None
    await asyncio.wait({notifier._task}, timeout=20.0)
    assert mixed.read_text() == ""
    await rig.notify(notifier, WARNING, "warning")
    assert notifier._turning_up is not None
    await asyncio.wait({notifier._turning_up}, timeout=20.0)
    assert mixed.read_text() == "-q -c Speaker sset PCM 90% unmute\n"
    await rig.played(RHYTHMS[Priority.WARNING].duration_s)
    await rig.settled("warning")
    await asyncio.wait({notifier._turning_up}, timeout=20.0)
    assert len(mixed.read_text().splitlines()) == 2


@pytest.mark.asyncio
@pytest.mark.parametrize("body", ["echo no such control >&2; exit 1", "exec sleep 1000", None])
async def test_a_mixer_that_fails_hangs_or_is_missing_is_told_and_never_stops_the_sound(
    rig: Rig, programs: Put, body: str | None
) -> None:
    """The sound begins before anybody knows."""
    if body is not None:
        programs("amixer", body)
    notifier = rig.notifier(rig.deck.obedient(), volume_control="Horn")
    await rig.notify(notifier, ALARM, "alarm")
    if body is not None and "sleep" in body:
        await rig.time.until_sleeping(3.0)
        await rig.time.advance(3.0)
    assert notifier._turning_up is not None
    await asyncio.wait({notifier._turning_up}, timeout=20.0)
    await rig.played(RHYTHMS[Priority.ALARM].duration_s - 3.0)
    await rig.settled("alarm")
    await rig.until(lambda: bool(rig.reports))
    (report,) = rig.reports
    assert "The volume cannot be turned up: amixer -q" in str(report)
    assert "'volume_control'" in str(report)


@pytest.mark.asyncio
async def test_the_check_looks_at_the_volume_without_touching_it(rig: Rig, programs: Put) -> None:
    """A control that is not there is told by day."""
    asked = programs("amixer", "exit 1")
    notifier = rig.notifier(rig.deck.obedient(), volume_control="Horn")
    checking = asyncio.create_task(notifier.check())
    await rig.settled("silence")
    await rig.played(0.2)
    assert "But: The volume cannot be turned up" in await checking
    assert asked.read_text() == "-q sget Horn\n"


VOICE = 'for part; do :; done\ncat > "$part.said"\ncat "{wav}" > "$part"'
DRAG_EAST = make_alert(bearing_deg=90.0)


@pytest.mark.asyncio
async def test_the_voice_says_between_the_sounds_what_it_is(
    rig: Rig, programs: Put, tmp_path: Path
) -> None:
    """What and which way, through the same player, as soon as the sentence is made."""
    wav = tmp_path / "voice.wav"
    wav.write_bytes(silent_wav(1.5))
    programs("espeak-ng", VOICE.format(wav=wav))
    notifier = rig.notifier(rig.deck.obedient(), voice=True)
    await rig.notify(notifier, DRAG_EAST, "alarm")
    assert notifier._voice is not None
    assert notifier._voice._making is not None
    await asyncio.wait({notifier._voice._making}, timeout=20.0)
    (said,) = (tmp_path / "sounds").glob("spoken-*.said")
    assert said.read_text() == "Anchor dragging to the east."
    for _ in range(2):
        await rig.played(RHYTHMS[Priority.ALARM].duration_s)
        await rig.settled("spoken")
        await rig.played(1.5)
        await rig.settled("alarm")
    assert rig.reports == []


@pytest.mark.asyncio
@pytest.mark.parametrize("body", ["exit 1", 'for part; do :; done\necho junk > "$part"', None])
async def test_without_a_voice_the_sound_goes_on_and_it_is_told(
    rig: Rig, programs: Put, body: str | None
) -> None:
    """The program is missing, fails, or writes what is no sound."""
    if body is not None:
        programs("espeak-ng", body)
    notifier = rig.notifier(rig.deck.obedient(), voice=True)
    await rig.notify(notifier, ALARM, "alarm")
    assert notifier._voice is not None
    assert notifier._voice._making is not None
    await asyncio.wait({notifier._voice._making}, timeout=20.0)
    await rig.played(RHYTHMS[Priority.ALARM].duration_s)
    await rig.settled("alarm")
    await rig.until(lambda: bool(rig.reports))
    assert "There is no voice" in str(rig.reports[0])


@pytest.mark.asyncio
async def test_a_voice_that_hangs_never_holds_up_the_sound(rig: Rig, programs: Put) -> None:
    """It is given ten seconds beside the sound, then it is told."""
    programs("espeak-ng", "exec sleep 1000")
    notifier = rig.notifier(rig.deck.obedient(), voice=True)
    await rig.notify(notifier, ALARM, "alarm")
    await rig.time.until_sleeping(10.0)
    assert notifier._voice is not None
    making = notifier._voice._making
    assert making is not None
    for _ in range(2):
        await rig.played(RHYTHMS[Priority.ALARM].duration_s)
        await rig.settled("alarm")
    await asyncio.wait({making}, timeout=20.0)
    await rig.played(RHYTHMS[Priority.ALARM].duration_s)
    await rig.settled("alarm")
    await rig.until(lambda: bool(rig.reports))
    assert "had not ended after 10 s" in str(rig.reports[0])


@pytest.mark.asyncio
async def test_other_players_of_the_machine_are_the_last_resort(rig: Rig, programs: Put) -> None:
    """When aplay fails on every device; but nobody relies on them, so they are not proved."""
    programs("aplay", "exit 1")
    played = programs("pw-play", f"{rig.deck.says('pw-play')}\nexec sleep 1000")
    notifier = rig.notifier()
    notifying = asyncio.create_task(notifier.notify(ALARM))
    assert (await rig.deck.began())[1] == "pw-play"
    await rig.time.until_sleeping(SETTLE_S)
    await rig.time.advance(SETTLE_S)
    await notifying
    await rig.until(lambda: bool(rig.reports))
    assert "Playing through pw-play." in str(rig.reports[0])
    await notifier.notify(ANSWERED)
    played.write_text("")
    with pytest.raises(NotifierError, match="aplay -q failed"):
        await notifier.check()
    assert played.read_text() == ""

"""Players that work, fail, hang and are not there: real processes, no audio."""

import asyncio
import os
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from driftlead.errors import NotifierError
from driftlead.notify.player import Playback, Player, SoundFile
from driftlead.testing import FakeTime

if TYPE_CHECKING:
    from tests.notify.conftest import Deck

SOUND = SoundFile(path=Path("/nowhere/alarm.wav"), duration_s=10.0)
SETTLE_S = 0.3
OVERRUN_S = 3.0


def player(time: FakeTime, *commands: list[str]) -> Player:
    """Make one."""
    return Player(
        commands, clock=time.clock, sleep=time.sleep, settle_s=SETTLE_S, overrun_s=OVERRUN_S
    )


async def playing(made: Player, time: FakeTime, deck: "Deck", name: str) -> Playback:
    """Start it, wait until the player ``name`` has begun, and let it settle."""
    starting = asyncio.create_task(made.start(SOUND))
    while (await deck.began())[1] != name:
        pass
    await time.until_sleeping(SETTLE_S)
    await time.advance(SETTLE_S)
    return await starting


def is_gone(pid: int) -> bool:
    """Tell whether there is no such process any more."""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return True
    return False


@pytest.mark.asyncio
async def test_a_player_gets_the_sound_and_plays_to_its_end(deck: "Deck") -> None:
    """The file is its last argument; ending after the sound's duration is success."""
    time = FakeTime()
    made = player(time, deck.obedient())
    starting = asyncio.create_task(made.start(SOUND))
    assert (await deck.began())[1:] == ("obedient", "alarm")
    await time.until_sleeping(SETTLE_S)
    await time.advance(SETTLE_S)
    playback = await starting
    await time.advance(10.0)
    deck.end()
    await made.finish(playback)
    assert made.trouble is None


@pytest.mark.asyncio
async def test_without_aplay_the_remedy_is_its_package(monkeypatch: pytest.MonkeyPatch) -> None:
    """The commonest fault on a fresh system."""
    monkeypatch.setenv("PATH", "/nonexistent")
    with pytest.raises(NotifierError, match="aplay is not installed") as caught:
        await player(FakeTime(), ["aplay", "-q"]).start(SOUND)
    assert "install alsa-utils" in caught.value.remedy


@pytest.mark.asyncio
async def test_another_program_that_cannot_be_started_is_named(tmp_path: Path) -> None:
    """Missing, or not a program at all."""
    plain = tmp_path / "plain.txt"
    plain.write_text("no program")
    for program, why in (("/nonexistent/play", "No such file"), (str(plain), "Permission denied")):
        with pytest.raises(NotifierError, match=why) as caught:
            await player(FakeTime(), [program]).start(SOUND)
        assert program in caught.value.message
        assert "'players'" in caught.value.remedy


@pytest.mark.asyncio
async def test_an_early_failure_tells_exit_code_and_what_the_player_said(deck: "Deck") -> None:
    """A wrong device shows within the time to settle."""
    with pytest.raises(NotifierError, match="No player works") as caught:
        await player(FakeTime(), deck.failing()).start(SOUND)
    assert "exit code 1: audio open error: No such device" in caught.value.message
    assert "aplay -L" in caught.value.remedy


@pytest.mark.asyncio
async def test_a_talkative_player_is_cut_short(deck: "Deck") -> None:
    """Its last words are kept, and however much it writes, it is not held up."""
    body = "head -c 300000 /dev/zero | tr '\\0' 'x' >&2\necho last words >&2\nexit 3"
    with pytest.raises(NotifierError) as caught:
        await player(FakeTime(), deck.player("talker", body)).start(SOUND)
    assert "last words" in caught.value.message
    assert len(caught.value.message) < 1000


@pytest.mark.asyncio
async def test_the_next_player_takes_over_and_the_failure_is_told(deck: "Deck") -> None:
    """Falling back is loud: the trouble names both."""
    time = FakeTime()
    made = player(time, deck.failing(), deck.obedient())
    playback = await playing(made, time, deck, "obedient")
    assert made.trouble is not None
    assert made.trouble.startswith("Playing through ")
    assert "obedient" in made.trouble
    assert "failing failed with exit code 1" in made.trouble
    await playback.stop()


@pytest.mark.asyncio
async def test_a_player_that_failed_goes_to_the_end_of_the_order(deck: "Deck") -> None:
    """The second sound does not wait for the broken player again."""
    time = FakeTime()
    made = player(time, deck.failing(), deck.obedient())
    await (await playing(made, time, deck, "obedient")).stop()
    starting = asyncio.create_task(made.start(SOUND))
    assert (await deck.began())[1] == "obedient"
    await time.until_sleeping(SETTLE_S)
    await time.advance(SETTLE_S)
    await (await starting).stop()


@pytest.mark.asyncio
async def test_a_failure_while_playing_is_told(deck: "Deck") -> None:
    """The device was unplugged."""
    time = FakeTime()
    made = player(time, deck.obedient())
    playback = await playing(made, time, deck, "obedient")
    deck.end(code=5)
    with pytest.raises(NotifierError, match="exit code 5"):
        await made.finish(playback)
    assert made.trouble is not None


@pytest.mark.asyncio
async def test_a_player_that_hangs_is_killed_after_the_overrun(deck: "Deck") -> None:
    """It is not waited for beyond the sound and a little more."""
    time = FakeTime()
    made = player(time, deck.player("hanging", "trap '' TERM\nexec sleep 1000"))
    starting = asyncio.create_task(made.start(SOUND))
    pid, _, _ = await deck.began()
    await time.until_sleeping(SETTLE_S)
    await time.advance(SETTLE_S)
    finishing = asyncio.create_task(made.finish(await starting))
    await time.until_sleeping(10.0 + OVERRUN_S)
    await time.advance(10.0 + OVERRUN_S)
    with pytest.raises(NotifierError, match="had not ended 13 s after it began") as caught:
        await finishing
    assert caught.value.remedy
    assert is_gone(pid)


@pytest.mark.asyncio
async def test_a_player_that_ends_well_but_far_too_soon_has_played_nothing(deck: "Deck") -> None:
    """Exit code 0 alone proves no sound."""
    time = FakeTime()
    with pytest.raises(NotifierError, match=r"ended after 0\.0 s of 10\.0 s") as caught:
        await player(time, deck.player("true", "exit 0")).start(SOUND)
    assert caught.value.remedy


@pytest.mark.asyncio
async def test_stopping_a_script_stops_what_it_started(deck: "Deck", tmp_path: Path) -> None:
    """Silence means silence: the script's child does not play on."""
    time = FakeTime()
    alive = tmp_path / "alive"
    os.mkfifo(alive)
    reader = os.open(alive, os.O_RDONLY | os.O_NONBLOCK)
    body = f'exec 3> "{alive}"\necho up >&3\nsleep 1000 &\nwait'
    made = player(time, deck.player("wrapper", body))
    playback = await playing(made, time, deck, "wrapper")

    assert await deck.read(reader) == b"up\n"
    await playback.stop()
    assert await deck.read(reader) == b"", "the end of the pipe: nobody holds it open any more"
    os.close(reader)


@pytest.mark.asyncio
async def test_starting_can_be_cancelled_and_leaves_no_player_behind(deck: "Deck") -> None:
    """The dispatcher may lose patience at any time."""
    time = FakeTime()
    starting = asyncio.create_task(player(time, deck.obedient()).start(SOUND))
    pid, _, _ = await deck.began()
    await time.until_sleeping(SETTLE_S)
    starting.cancel()
    with pytest.raises(asyncio.CancelledError):
        await starting
    assert is_gone(pid)


@pytest.mark.asyncio
async def test_a_full_disk_costs_the_words_but_not_the_sound(
    deck: "Deck", monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without a place for its messages the player is started all the same."""

    def full() -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("driftlead.notify.player.tempfile.TemporaryFile", full)
    with pytest.raises(NotifierError, match=r"failed with exit code 1\."):
        await player(FakeTime(), deck.failing()).start(SOUND)


async def proved(made: Player, time: FakeTime, deck: "Deck", names: list[str]) -> str:
    """Run ``prove`` and play every sound to its end."""
    proving = asyncio.create_task(made.prove(SOUND))
    for name in names:
        while (await deck.began())[1] != name:
            pass
        await time.until_sleeping(SETTLE_S)
        await time.advance(SETTLE_S)
        await time.until_sleeping(10.0 + OVERRUN_S)
        await time.advance(10.0)
        deck.end()
    return await proving


@pytest.mark.asyncio
async def test_proving_plays_with_every_command(deck: "Deck") -> None:
    """It says which one works."""
    time = FakeTime()
    made = player(time, deck.obedient("first"), deck.obedient("second"))
    text = await proved(made, time, deck, ["first", "second"])
    assert "first opened its device and played." in text
    assert "But" not in text


@pytest.mark.asyncio
async def test_proving_tells_of_a_broken_fall_back_and_fails_for_a_broken_first(
    deck: "Deck",
) -> None:
    """The first choice must work; the others are worth a word."""
    time = FakeTime()
    text = await proved(player(time, deck.obedient(), deck.failing()), time, deck, ["obedient"])
    assert "But: " in text
    assert "failing failed" in text
    bad_first = player(time, deck.failing(), deck.obedient())
    with pytest.raises(NotifierError, match="failing failed"):
        await proved(bad_first, time, deck, ["obedient"])


@pytest.mark.asyncio
async def test_a_failed_player_that_works_again_is_the_first_choice_again(
    deck: "Deck", tmp_path: Path
) -> None:
    """And the trouble is over."""
    time = FakeTime()
    broken = tmp_path / "broken"
    broken.touch()
    body = f'test -e "{broken}" && exit 1\nread code < "{tmp_path}/deck/orders"\nexit "$code"'
    made = player(time, deck.player("moody", body), deck.obedient())
    await (await playing(made, time, deck, "obedient")).stop()
    assert "moody" in str(made.trouble)
    broken.unlink()
    trying = asyncio.create_task(made.try_failed(SOUND))
    assert (await deck.began())[1] == "moody"
    await time.until_sleeping(SETTLE_S)
    await time.advance(SETTLE_S)
    await time.until_sleeping(10.0 + OVERRUN_S)
    await time.advance(10.0)
    deck.end()
    await trying
    assert made.trouble is None
    await (await playing(made, time, deck, "moody")).stop()

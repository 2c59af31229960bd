"""Helper programs, run to their end or ended."""

import asyncio
import os
from typing import TYPE_CHECKING

import pytest

from driftlead.errors import NotifierError
from driftlead.notify.program import run_program
from driftlead.testing import FakeTime

if TYPE_CHECKING:
    from tests.notify.conftest import Deck

SH = "/bin/sh"


@pytest.mark.asyncio
async def test_it_gives_what_the_program_wrote_and_hands_it_its_input() -> None:
    """Without input the program reads nothing at once, and never the terminal."""
    run = FakeTime().sleep
    assert await run_program((SH, "-c", "cat"), limit_s=5.0, sleep=run, stdin="a b") == "a b"
    assert await run_program((SH, "-c", "cat; echo z"), limit_s=5.0, sleep=run) == "z\n"


@pytest.mark.asyncio
@pytest.mark.parametrize(
    ("argv", "told"),
    [
        ((SH, "-c", "echo no such card >&2; exit 3"), "failed with exit code 3: no such card."),
        ((SH, "-c", "kill -9 $$"), "failed with exit code -9."),
        (("/nonexistent/mixer",), "/nonexistent/mixer cannot be started: No such file"),
    ],
)
async def test_a_failure_is_told_with_the_programs_own_words(
    argv: tuple[str, ...], told: str
) -> None:
    """And which program it was."""
    with pytest.raises(NotifierError) as caught:
        await run_program(argv, limit_s=5.0, sleep=FakeTime().sleep)
    assert told in caught.value.message


@pytest.mark.asyncio
@pytest.mark.parametrize("cancelled", [False, True])
async def test_one_that_hangs_is_ended_with_its_children(deck: "Deck", cancelled: bool) -> None:
    """When the limit has passed, or when nobody wants it any more."""
    time = FakeTime()
    argv = [*deck.player("hanging", "sleep 1000 &\nwait"), "input"]
    running = asyncio.create_task(run_program(argv, limit_s=2.0, sleep=time.sleep))
    pid, _, _ = await deck.began()
    await time.until_sleeping(2.0)
    if cancelled:
        running.cancel()
        with pytest.raises(asyncio.CancelledError):
            await running
    else:
        await time.advance(2.0)
        with pytest.raises(NotifierError, match="had not ended after 2 s and was stopped"):
            await running
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)


@pytest.mark.asyncio
async def test_a_child_that_keeps_the_output_open_holds_nobody_up() -> None:
    """The program itself has ended."""
    argv = (SH, "-c", "echo done; exec sleep 5 &")
    async with asyncio.timeout(4.0):
        assert await run_program(argv, limit_s=60.0, sleep=FakeTime().sleep) == "done\n"


@pytest.mark.asyncio
async def test_a_full_disk_costs_the_words_but_not_the_work(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The volume is turned up all the same; only input needs room."""

    def full() -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("driftlead.notify.program.tempfile.TemporaryFile", full)
    run = FakeTime().sleep
    assert await run_program((SH, "-c", "echo x"), limit_s=5.0, sleep=run) == ""
    with pytest.raises(NotifierError, match=r"failed with exit code 1\."):
        await run_program((SH, "-c", "exit 1"), limit_s=5.0, sleep=run)
    with pytest.raises(NotifierError, match="no room on the disk"):
        await run_program((SH, "-c", "cat"), limit_s=5.0, sleep=run, stdin="words")

"""A clock that only a test turns."""

import asyncio

_REAL_LIMIT_S = 20.0


class FakeTime:
    """Monotonic seconds and a ``sleep`` on them. Nothing passes until ``advance``."""

    def __init__(self, start_s: float = 1000.0) -> None:
        self._now_s = start_s
        self._sleepers: list[tuple[float, float, asyncio.Future[None]]] = []
        self._changed = asyncio.Event()
        self.slept_s: list[float] = []
        """The seconds of every sleep that was begun, in order."""

    def clock(self) -> float:
        """Return the seconds now."""
        return self._now_s

    async def sleep(self, seconds: float) -> None:
        """Wait until ``advance`` has passed ``seconds``."""
        done: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        sleeper = (self._now_s + seconds, seconds, done)
        self._sleepers.append(sleeper)
        self.slept_s.append(seconds)
        self._changed.set()
        try:
            await done
        finally:
            self._sleepers.remove(sleeper)

    async def until_sleeping(self, seconds: float) -> None:
        """Wait until somebody is in a sleep of exactly ``seconds``.

        Raises TimeoutError when nobody is after many real seconds.
        """
        async with asyncio.timeout(_REAL_LIMIT_S):
            while not any(s == seconds and not done.done() for _, s, done in self._sleepers):
                self._changed.clear()
                await self._changed.wait()

    async def advance(self, seconds: float) -> None:
        """Let ``seconds`` pass, waking sleepers in the order they are due."""
        end_s = self._now_s + seconds
        while due := sorted(s[0] for s in self._sleepers if s[0] <= end_s and not s[2].done()):
            self._now_s = max(self._now_s, due[0])
            for due_s, _, done in list(self._sleepers):
                if due_s <= self._now_s and not done.done():
                    done.set_result(None)
            await _let_others_run()
        self._now_s = end_s
        await _let_others_run()


async def _let_others_run() -> None:
    for _ in range(20):  # a woken task may wake another, a few deep
        await asyncio.sleep(0)

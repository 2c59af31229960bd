"""Driving one output in a code of flashes, on an injected clock."""

import asyncio
from collections.abc import Awaitable, Callable

from driftlead.errors import NotifierError
from driftlead.notify.lamp import DARK, STEADY, Code


class Blinker:
    """Switches by ``switch``, which may raise NotifierError.

    While it blinks nobody waits for it, so ``report`` hears of every failure, and None when it
    works.
    """

    def __init__(
        self,
        switch: Callable[[bool], None],
        *,
        sleep: Callable[[float], Awaitable[None]],
        report: Callable[[str | None], None],
        name: str,
    ) -> None:
        self._switch = switch
        self._sleep = sleep
        self._report = report
        self._name = name
        self._code = DARK
        self._blinking: asyncio.Task[None] | None = None

    async def show(self, code: Code) -> None:
        """Show ``code`` from now on; the same one again goes on undisturbed.

        Raises NotifierError if it cannot be switched.
        """
        if code == self._code and self._blinking is not None:
            return
        await self._stop()
        self._code = code
        self._switch(code != DARK)
        if code not in (DARK, STEADY):
            self._blinking = asyncio.get_running_loop().create_task(
                self._blink(code), name=f"blink {self._name}"
            )

    async def close(self) -> None:
        """Stop blinking; the output is left as it is."""
        await self._stop()

    async def _stop(self) -> None:
        task, self._blinking = self._blinking, None
        if task is not None:
            task.cancel()
            await asyncio.wait({task})

    async def _blink(self, code: Code) -> None:
        while True:
            for on_s, off_s in code:
                await self._sleep(on_s)
                self._try(on=False)
                await self._sleep(off_s)
                self._try(on=True)

    def _try(self, *, on: bool) -> None:
        try:
            self._switch(on)
        except NotifierError as error:
            self._report(str(error))
        else:
            self._report(None)

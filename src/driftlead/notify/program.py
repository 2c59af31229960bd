"""Running a small helper program to its end, no longer than a limit."""

import asyncio
import contextlib
import os
import shlex
import signal
import tempfile
from asyncio.subprocess import DEVNULL
from collections.abc import Awaitable, Callable, Sequence
from typing import IO

from driftlead.errors import NotifierError
from driftlead.notify.within import OutOfTimeError, run_within

_SHOWN = 300


async def run_program(
    argv: Sequence[str],
    *,
    limit_s: float,
    sleep: Callable[[float], Awaitable[None]],
    stdin: str = "",
) -> str:
    """Run ``argv`` with ``stdin`` as its input; what it wrote to its standard output.

    Raises NotifierError, without a remedy, if it cannot be started, ends with another code than 0
    or has not ended after ``limit_s`` seconds; then it is killed, with everything it started.
    """
    name = shlex.join(argv)
    with contextlib.ExitStack() as files:
        given = _holding(stdin, files) if stdin else None
        out, err = _file_or_none(files), _file_or_none(files)
        try:
            process = await asyncio.create_subprocess_exec(
                *argv,
                stdin=DEVNULL if given is None else given,
                stdout=DEVNULL if out is None else out,
                stderr=DEVNULL if err is None else err,
                start_new_session=True,
            )
        except OSError as error:
            raise NotifierError(f"{name} cannot be started: {error.strerror or error}.") from error
        try:
            code = await run_within(process.wait(), limit_s, sleep)
        except BaseException as error:
            # The whole group: the program may be a script.
            with contextlib.suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)
            await process.wait()
            if isinstance(error, OutOfTimeError):
                text = f"{name} had not ended after {limit_s:g} s and was stopped."
                raise NotifierError(text) from None
            raise
        if code != 0:
            said = " ".join(_text(err).split())[-_SHOWN:]
            raise NotifierError(
                f"{name} failed with exit code {code}{f': {said}' if said else ''}."
            )
        return _text(out)


def _holding(text: str, files: contextlib.ExitStack) -> IO[bytes]:
    """Hold the input in a file: nobody needs to stand by to hand it over."""
    file = _file_or_none(files)
    if file is None:
        raise NotifierError(f"There is no room on the disk for {text!r}.")
    file.write(text.encode())
    file.seek(0)
    return file


def _file_or_none(files: contextlib.ExitStack) -> IO[bytes] | None:
    """Open a file, not a pipe: a child left behind with it open holds nobody up."""
    try:
        return files.enter_context(tempfile.TemporaryFile())
    except OSError:
        return None  # a full disk costs the words, not the work


def _text(file: IO[bytes] | None) -> str:
    if file is None:
        return ""
    file.seek(0)
    return file.read().decode(errors="replace")

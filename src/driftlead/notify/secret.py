"""Secrets from a file or the environment: never in the configuration, never in a message."""

import os
from pathlib import Path

from driftlead.errors import ConfigError


def both_given(option: str, file: Path | None, env: str | None) -> list[str]:
    """Say that ``<option>_file`` and ``<option>_env`` are both there, if they are."""
    if file is not None and env is not None:
        return [f"options '{option}_file' and '{option}_env' exclude each other."]
    return []


def read_secret(option: str, *, file: Path | None, env: str | None, notifier: str) -> bytes:
    """Read what ``<option>_file`` or ``<option>_env`` names, without blanks and line ends around.

    Empty when neither is given. Raises ConfigError when it cannot be read or is empty: an empty
    secret would sign with nothing and look signed.
    """
    if env is not None:
        secret = os.environ.get(env, "").strip().encode()
        if not secret:
            raise unusable(
                notifier,
                f"option '{option}_env': the environment variable {env!r} is not set.",
                "Set it where driftlead is started (systemd: EnvironmentFile=).",
            )
        return secret
    if file is None:
        return b""
    try:
        secret = file.read_bytes().strip()
    except OSError as error:
        raise unusable(
            notifier,
            f"option '{option}_file': {file} cannot be read: {error.strerror}.",
            "Create it, readable for the user driftlead runs as.",
        ) from error
    if not secret:
        raise unusable(
            notifier,
            f"option '{option}_file': {file} is empty.",
            "Put the secret into it, on one line.",
        )
    return secret


def unusable(notifier: str, problem: str, remedy: str) -> ConfigError:
    """Make the error that tells of an option that cannot be used."""
    return ConfigError(
        f"Notifier {notifier!r}: {problem}",
        problems=(f"notifier {notifier!r}: {problem}",),
        remedy=remedy,
    )

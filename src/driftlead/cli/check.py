"""``driftlead check``."""

import contextlib
import logging
import warnings
from collections.abc import Container, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from driftlead.cli.common import daemon_options, duration, find_socket
from driftlead.errors import ConfigError

if TYPE_CHECKING:
    from driftlead.check.finding import Finding
    from driftlead.config.model import Config

_COLOURS = {"OK": "green", "LOOK": "yellow", "FAIL": "red"}
_NOTIFIERS_LIMIT_S = 60.0
_ALERT_OF = {"notifier": "notifier_failed", "file": "file_unreadable"}


@click.command()
@click.option(
    "--listen",
    "listen_s",
    metavar="DURATION",
    type=duration,
    default="10s",
    show_default=True,
    help="How long to listen to the sources.",
)
@daemon_options
def check(listen_s: float, config_path: Path, socket_path: Path | None) -> None:
    """Prove, before the night, that everything works.

    Looks at the configuration and the files it names, listens to each source, judges the fix, tries
    every notifier (the crew is not woken; a webhook gets a test message) and the disk. Each line
    says OK, LOOK (it may serve; look at it) or FAIL, and what to do. Run it as the user the daemon
    runs as: sudo -u driftlead driftlead check. Ends with 1 if anything fails.

    If the daemon is running it is asked, and nothing is taken away from it.
    """
    from driftlead.check.finding import Finding, Level
    from driftlead.config.load import load_config
    from driftlead.config.notifier_options import notifier_problems
    from driftlead.daemon.control_client import ask_if_running

    findings: list[Finding] = []

    def tell(more: Sequence[Finding]) -> None:
        findings.extend(more)
        for finding in more:
            _show(finding)

    try:
        config = load_config(config_path)
    except ConfigError as error:
        problems = error.problems or (str(error),)
        tell([Finding(Level.FAIL, "configuration", problem) for problem in problems])
        raise click.exceptions.Exit(1) from error
    wrong = notifier_problems(config, config_path)
    tell([Finding(Level.FAIL, "configuration", problem) for problem in wrong.values()])
    if not wrong:
        tell([_configured(config, config_path)])
    control = find_socket(config_path, socket_path)
    running = ask_if_running(control, {"status": True})
    if running is not None:
        from driftlead.check.running import judge_running

        answer = ask_if_running(control, {"check": True}, limit_s=_NOTIFIERS_LIMIT_S)
        checks = [_from_json(each) for each in (answer or {}).get("checks") or ()]
        # A line of its own tells of each of these already.
        told = {(_ALERT_OF[kind], name) for kind, name in _by_kind(checks) if kind in _ALERT_OF}
        tell(judge_running(running["status"], told=told))
        tell(checks)
    else:
        _check_stopped(config, listen_s, tell, wrong)
    failed = sum(finding.level is Level.FAIL for finding in findings)
    click.echo(
        "All is as it should be."
        if not failed
        else f"{failed} of {len(findings)} failed: the watch cannot rely on them."
    )
    if failed:
        raise click.exceptions.Exit(1)


def _by_kind(checks: "Sequence[Finding]") -> Iterator[tuple[str, str]]:
    """Give ``("notifier", "cabin")`` for each finding about such a thing."""
    for check in checks:
        kind, _, name = check.what.partition(" ")
        yield kind, name


def _check_stopped(config: "Config", listen_s: float, tell: Any, wrong: Container[str]) -> None:
    import asyncio
    import time

    from driftlead.check.disk import check_folder
    from driftlead.check.fix import judge_fixes
    from driftlead.check.listen import listen
    from driftlead.check.sources import judge_source
    from driftlead.daemon.own_files import check_files

    click.echo(f"Listening for {listen_s:.0f} s ...", err=True)
    hearings = asyncio.run(listen(config, for_s=listen_s, clock=time.monotonic))
    tell(
        [
            judge_source(hearing, settings, listen_s)
            for hearing, settings in zip(hearings, config.sources, strict=True)
        ]
    )
    tell(judge_fixes(hearings, config))
    tell(check_files(config))
    with _as_the_daemon_has_it():
        tell(asyncio.run(_try_notifiers(config, wrong)))
    tell(
        [
            check_folder("journal", config.journal.path.parent),
            check_folder(
                "recording", config.recording.directory, wanted_bytes=config.recording.cap_bytes
            ),
        ]
    )


@contextlib.contextmanager
def _as_the_daemon_has_it() -> Iterator[None]:
    """Let the log take what the daemon's takes, and say nothing of pin libraries passed over.

    Which of them gpiozero falls back upon is no concern of the skipper's: a pin that cannot be had
    fails by its own line.
    """
    log = logging.getLogger("driftlead")
    level = log.level
    log.setLevel(logging.INFO)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    finally:
        log.setLevel(level)


async def _try_notifiers(config: "Config", wrong: Container[str]) -> "list[Finding]":
    """Build and try them; those that are ``wrong`` have been told of already."""
    import asyncio
    import tempfile
    import time

    from driftlead.check.finding import Finding, Level
    from driftlead.check.notifiers import check_notifiers
    from driftlead.daemon.outlets import build_outlets
    from driftlead.notify.dispatcher import Dispatcher
    from driftlead.notify.faults import NotifierFaults

    failed: dict[str, str] = {}

    def hear(name: str, text: str | None) -> None:
        failed[name] = text or ""

    # Sounds are made anew in a folder of their own: the daemon's must stay the daemon's.
    with tempfile.TemporaryDirectory(prefix="driftlead-check-") as folder:
        outlets = build_outlets(
            config,
            state_dir=Path(folder),
            clock=time.monotonic,
            sleep=asyncio.sleep,
            faults=NotifierFaults(hear),
        )
        findings = [
            Finding(Level.FAIL, f"notifier {name}", text)
            for name, text in failed.items()
            if text and name not in wrong
        ]
        findings += await check_notifiers(outlets)
        await Dispatcher(outlets, on_fault=hear).close()
    if not config.notifiers:
        findings.append(
            Finding(Level.FAIL, "notifiers", "There is none: nobody is woken.", "Add [[notifier]].")
        )
    return findings


def _configured(config: "Config", path: Path) -> "Finding":
    from driftlead.check.finding import Finding, Level

    sources = ", ".join(source.name for source in config.sources)
    notifiers = ", ".join(notifier.name for notifier in config.notifiers) or "NONE"
    text = f"{path} is sound: sources {sources}; notifiers {notifiers}."
    rode_m = config.watch.tackle.rode_aboard_m
    if rode_m is None:
        remedy = "Write [tackle] rode_aboard, so that even a watch without a rode has a circle."
        return Finding(Level.LOOK, "configuration", text, remedy)
    return Finding(Level.OK, "configuration", text)


def _from_json(data: dict[str, str]) -> "Finding":
    from driftlead.check.finding import Finding, Level

    return Finding(Level(data["level"]), data["what"], data["text"], data["remedy"])


def _show(finding: "Finding") -> None:
    level = click.style(f"{finding.level.value:<5}", fg=_COLOURS[finding.level.value], bold=True)
    click.echo(f"{level} {finding.what}: {finding.text}")
    if finding.remedy:
        click.echo(f"      {finding.remedy}")

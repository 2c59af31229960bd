"""The log on the standard error."""

import logging

import pytest

from driftlead.cli.log_setup import set_up_log


def without_handlers(monkeypatch: pytest.MonkeyPatch) -> None:
    """Take away the handlers of pytest, which would count as a log that is set up."""
    monkeypatch.setattr(logging.getLogger(), "handlers", [])
    monkeypatch.setattr(logging.getLogger(), "level", logging.WARNING)


def set_up_in_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Set the log up where no journal listens."""
    monkeypatch.delenv("JOURNAL_STREAM", raising=False)
    without_handlers(monkeypatch)
    set_up_log()


def test_under_systemd_each_line_bears_its_level(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """As sd-daemon(3) has it; journald adds the time."""
    monkeypatch.setenv("JOURNAL_STREAM", "1:2")
    without_handlers(monkeypatch)
    set_up_log()
    logging.getLogger("driftlead").critical("two\nlines")
    logging.getLogger("driftlead").info("one")
    logging.getLogger("driftlead").debug("none")
    assert capsys.readouterr().err == "<2>two\n<2>lines\n<6>one\n"


def test_in_a_terminal_each_line_has_a_time(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nobody else adds one there."""
    set_up_in_a_terminal(monkeypatch)
    logging.getLogger("driftlead").warning("Look.")
    line = capsys.readouterr().err
    assert line[:2] == "20"
    assert line.endswith(" WARNING Look.\n")


def test_an_alert_names_its_priority_once(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    set_up_in_a_terminal(monkeypatch)
    logging.getLogger("driftlead.alerts").warning("WARNING. The fix is lost.")
    logging.getLogger("driftlead.alerts").critical("ALARM. DRAGGING.")
    first, second = capsys.readouterr().err.splitlines()
    assert first.count("WARNING") == 1
    assert "CRITICAL" not in second
    assert second.endswith(" ALARM. DRAGGING.")

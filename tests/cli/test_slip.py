"""``driftlead slip``: what must be written down is shown large, whatever else goes wrong."""

from typing import Any

import pytest
from click.testing import CliRunner

from driftlead.cli.large import large
from driftlead.cli.main import main
from driftlead.daemon import control_client

EVENT = {
    "kind": "state",
    "name": "slipped",
    "anchor": {"lat": 46.5124667, "lon": -31.2155833, "sigma_m": 5.8, "method": "moved"},
}
PLACE = ("46°30.748'N", "031°12.935'W")


def say_slip(monkeypatch: pytest.MonkeyPatch, **answer: Any) -> Any:
    """Run it against a daemon that gives this answer."""
    asked = []

    def ask(_socket: Any, request: Any) -> dict[str, Any]:
        asked.append(request)
        return {"ok": True, "text": "Slipped.", "remedy": "", "events": []} | answer

    monkeypatch.setattr(control_client, "ask", ask)
    result = CliRunner().invoke(main, ["slip"])
    assert asked == [{"command": "slip"}]
    return result


def test_the_place_is_shown_large_and_the_answer_after_it(monkeypatch: pytest.MonkeyPatch) -> None:
    result = say_slip(monkeypatch, events=[EVENT])
    assert result.exit_code == 0
    lines = [line.rstrip() for line in result.stdout.splitlines()]
    assert lines == ["", *large(PLACE[0]), "", *large(PLACE[1]), "", "Slipped."]


def test_it_is_shown_even_if_the_disk_has_failed(monkeypatch: pytest.MonkeyPatch) -> None:
    result = say_slip(monkeypatch, ok=False, text="NOT ON THE DISK", remedy="Free.", events=[EVENT])
    assert result.exit_code == 1
    assert large(PLACE[1])[0] in result.stdout
    assert "NOT ON THE DISK" in result.stderr


def test_a_refusal_shows_no_place(monkeypatch: pytest.MonkeyPatch) -> None:
    result = say_slip(monkeypatch, ok=False, text="Refused: no anchor is down.", remedy="")
    assert (result.exit_code, result.stdout) == (1, "")


@pytest.mark.parametrize("text", ["46°30.748'N", "05°59.126'S", "179°59.999'E", "031°12.345'W"])
def test_every_position_fits_a_terminal_five_lines_high(text: str) -> None:
    rows = large(text)
    assert len(rows) == 5
    assert max(map(len, rows)) <= 80


def test_no_two_letters_look_alike() -> None:
    seen = {tuple(large(letter)) for letter in "0123456789NSEW.'°"}
    assert len(seen) == 17

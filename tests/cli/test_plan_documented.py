"""docs/planning.md shows what is really printed."""

import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from driftlead.cli.main import main
from driftlead.tackle.wind_load import usual_drag_area_m2
from driftlead.units import FOOT_M

ROOT = Path(__file__).resolve().parents[2]
TEXT = (ROOT / "docs" / "planning.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"(?m)^    \$ (driftlead plan .*(?:\n(?:    .*)?)*?)(?=\n\S|\Z)", TEXT)


def command_and_output(block: str) -> tuple[list[str], str]:
    """Take the block apart: the command, whose lines end in a backslash but the last, and more."""
    lines = [line.removeprefix("    ") for line in block.splitlines()]
    last = next(number for number, line in enumerate(lines) if not line.endswith("\\"))
    command = shlex.split(" ".join(line.removesuffix("\\") for line in lines[: last + 1]))
    return command[1:], "\n".join(lines[last + 1 :]).strip()


def test_there_are_two_commands_with_their_output() -> None:
    assert len(BLOCKS) == 2
    assert all(len(command_and_output(block)[1]) > 500 for block in BLOCKS)


@pytest.mark.parametrize("block", BLOCKS, ids=["evening", "short-rode"])
def test_each_documented_command_prints_what_stands_there(
    block: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    arguments, printed = command_and_output(block)
    monkeypatch.chdir(ROOT)
    shown = CliRunner().invoke(main, arguments)
    assert shown.exit_code == 0, shown.output
    assert shown.stdout.strip() == printed


def test_the_picture_there_is_the_one_it_draws(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.chdir(ROOT)
    picture = tmp_path / "rode.svg"
    arguments, _ = command_and_output(BLOCKS[0])
    CliRunner().invoke(main, [*arguments, "--picture", str(picture)], catch_exceptions=False)
    drawn = (ROOT / "docs" / "planning-rode.svg").read_text(encoding="utf-8")
    assert picture.read_text(encoding="utf-8") == drawn


def test_the_tide_table_there_is_the_one_it_reads() -> None:
    table = (ROOT / "docs" / "planning-tides.csv").read_text(encoding="utf-8")
    assert "".join(f"    {line}\n" for line in table.splitlines()) in TEXT


def test_the_drag_area_told_there_is_the_one_reckoned_with() -> None:
    area_m2 = usual_drag_area_m2(35 * FOOT_M)
    assert f"{area_m2:.1f} m² at 35 ft" in TEXT

"""A verb loads what it needs and nothing else: answers come at once on a slow computer."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
HEAVY = ("numpy", "shapely", "pyproj", "aiohttp", "matplotlib", "scipy", "astral", "serial", "rich")
PLAN = ("plan", "--depth", "6m", "--wind", "16kn", "--config", "systemd/driftlead.example.toml")


def loaded_by(*arguments: str) -> set[str]:
    """Which of the heavy libraries a verb has loaded by its end."""
    program = (
        "import sys\n"
        "from driftlead.cli.main import main\n"
        "try:\n    main(sys.argv[1:])\n"
        "except SystemExit:\n    pass\n"
        f"print('loaded:', *(name for name in {HEAVY!r} if name in sys.modules))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, *arguments],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    return set(done.stdout.splitlines()[-1].split()[1:])


@pytest.mark.parametrize("verb", ["acknowledge", "silence", "weigh", "slip", "let-go", "veer"])
def test_a_command_to_the_daemon_loads_nothing_heavy(verb: str, tmp_path: Path) -> None:
    """It goes as far as to find that there is no daemon."""
    length = ["30m"] if verb == "veer" else []
    assert loaded_by(verb, *length, "--socket", str(tmp_path / "none.sock")) == set()


def test_a_plan_loads_the_sun_only_where_it_is_asked_for() -> None:
    assert loaded_by(*PLAN) == set()
    assert loaded_by(*PLAN, "--position", "46.5,-31.2") == {"astral"}

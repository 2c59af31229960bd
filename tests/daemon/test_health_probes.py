"""Each probe, on files and clocks that only pretend."""

import os
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st

from driftlead.config.load import build_config
from driftlead.daemon import health_clock, health_heat, health_supply
from driftlead.daemon.health_clock import ClockProbe
from driftlead.daemon.health_disk import ENOUGH_AGAIN, DiskProbe
from driftlead.daemon.health_heat import HYSTERESIS_C, HeatProbe
from driftlead.daemon.health_probes import make_probes
from driftlead.daemon.health_supply import SupplyProbe


class Clock:
    """Seconds that the test sets."""

    def __init__(self) -> None:
        self.now_s = 1000.0

    def __call__(self) -> float:
        """Give them."""
        return self.now_s


class Board:
    """The files of a Raspberry Pi's kernel, and a probe of its supply."""

    def __init__(self, folder: Path) -> None:
        self.throttled = folder / "get_throttled"
        self.chip = folder / "hwmon" / "hwmon2"
        self.chip.mkdir(parents=True)
        (self.chip / "name").write_text("rpi_volt\n")
        self.clock = Clock()
        self.probe = SupplyProbe(clock=self.clock, throttled=self.throttled, hwmon=folder / "hwmon")

    def look(self, *, throttled: str | None = None, alarm: str | None = None) -> bool:
        """Look half a minute later; whether the supply is said to be low."""
        self.clock.now_s += 30.0
        for path, text in ((self.throttled, throttled), (self.chip / "in0_lcrit_alarm", alarm)):
            path.unlink(missing_ok=True)
            if text is not None:
                path.write_text(f"{text}\n")
        said = self.probe.look()
        assert said is None or "5 V" in said
        return said is not None

    def rest(self) -> None:
        """Let the time pass after which it is over."""
        self.clock.now_s += health_supply.HOLD_S


@pytest.fixture
def board(tmp_path: Path) -> Board:
    """Give a board."""
    return Board(tmp_path)


# Raspberry Pi documentation, "vcgencmd get_throttled": bit 0 under-voltage detected, 1 frequency
# capped, 2 currently throttled, 3 soft temperature limit active; 16 to 19 the same, has occurred.
@pytest.mark.parametrize(
    ("throttled", "low"),
    [
        ("0", False),
        ("1", True),
        ("50005", True),
        ("50001", True),
        ("e", False),  # hot, but well supplied
        ("e0000", False),
        ("50000", False),  # was low before the daemon was started
        ("rubbish", False),
        ("", False),
        (None, False),  # no Raspberry Pi, or another kernel
    ],
)
def test_the_firmware_tells_under_voltage(board: Board, throttled: str | None, low: bool) -> None:
    """Hexadecimal, without a prefix."""
    assert board.look(throttled=throttled) is low


def test_a_dip_between_two_looks_is_told_for_some_minutes(board: Board) -> None:
    """The firmware remembers it; that it happened once is not told for ever."""
    assert not board.look(throttled="0")
    assert board.look(throttled="10000")
    assert board.look(throttled="10000")
    board.rest()
    assert not board.look(throttled="10000")
    # Kernels that clear the firmware's memory let it tell of the next dip.
    assert not board.look(throttled="0")
    assert board.look(throttled="10000")


@pytest.mark.parametrize(("alarm", "low"), [("0", False), ("1", True), ("", False)])
def test_the_driver_tells_under_voltage(board: Board, alarm: str, low: bool) -> None:
    """Where the firmware's file is not there."""
    assert board.look(alarm=alarm) is low


def test_low_voltage_is_over_when_it_has_been_good_for_some_minutes(board: Board) -> None:
    """Dips come in swarms, and are one alert."""
    assert board.look(alarm="1")
    for _ in range(9):
        assert board.look(alarm="0")
    assert not board.look(alarm="0")
    assert board.look(alarm="1")


def test_the_alarm_of_another_chip_is_passed_over(board: Board) -> None:
    """Many boards have inputs that nothing is connected to."""
    (board.chip / "name").write_text("nct6775\n")
    assert not board.look(alarm="1")


@pytest.mark.parametrize("probe", [SupplyProbe(clock=Clock()), HeatProbe()])
def test_the_real_files_of_this_computer_can_be_looked_at(probe: Any) -> None:
    """Whatever computer it is."""
    probe.look()


class Stove:
    """Thermal zones in a folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.probe = HeatProbe(zones=folder)

    def look(self, *degrees_c: float | str) -> str:
        """Look at zones of these temperatures; what is said, in short."""
        for number, degree_c in enumerate(degrees_c):
            zone = self.folder / f"thermal_zone{number}"
            zone.mkdir(exist_ok=True)
            text = degree_c if isinstance(degree_c, str) else str(round(degree_c * 1000))
            (zone / "temp").write_text(f"{text}\n")
        said = self.probe.look() or ""
        return "too hot" if "too hot" in said else "hot" if said else ""


def test_heat_is_told_in_two_steps_and_is_over_when_it_has_cooled_well_below(
    tmp_path: Path,
) -> None:
    """75 and 85 degrees, 5 of hysteresis."""
    stove = Stove(tmp_path)
    heard = [stove.look(c) for c in (74.9, 75.0, 70.1, 84.9, 85.0, 80.1, 79.9, 70.1, 69.9, 74.9)]
    assert heard == ["", "hot", "hot", "hot", "too hot", "too hot", "hot", "hot", "", ""]


def test_the_hottest_zone_counts_and_one_that_cannot_be_read_does_not(tmp_path: Path) -> None:
    """Nor one that says what cannot be."""
    stove = Stove(tmp_path)
    assert stove.look(40.0, 76.0, "", "junk", 3000.0, -270.0) == "hot"
    assert stove.look(40.0, 41.0) == ""
    assert stove.look("junk", "junk") == ""
    assert HeatProbe(zones=tmp_path / "none").look() is None


@given(st.lists(st.floats(-50.0, 150.0), min_size=1, max_size=30))
def test_heat_told_is_heat_there_is(temperatures_c: list[float]) -> None:
    """Never below the limit less the hysteresis, and always from the limit on."""
    degrees_c = temperatures_c[0]
    probe = HeatProbe()
    probe._temperatures_c = lambda: [degrees_c]  # type: ignore[method-assign]
    for degrees_c in temperatures_c:
        said = probe.look()
        if degrees_c >= health_heat.HOT_C:
            assert said is not None
        if degrees_c < health_heat.HOT_C - HYSTERESIS_C:
            assert said is None
        assert ("too hot" in (said or "")) <= (degrees_c >= health_heat.TOO_HOT_C - HYSTERESIS_C)


def disk(free_bytes: float, *, files: int = 1_000_000, free_files: int = 1_000_000) -> Any:
    """Pretend what statvfs(3) says: free room in blocks of f_frsize."""
    return SimpleNamespace(
        f_frsize=4096, f_bavail=int(free_bytes / 4096), f_files=files, f_favail=free_files
    )


def test_a_disk_that_fills_up_is_told_until_there_is_ample_room_again() -> None:
    """A recording that is pruned at the limit must not raise an alert at every part."""
    found = disk(10e9)
    probe = DiskProbe(
        "journal", Path("/boat"), least_free_bytes=100_000_000, statvfs=lambda _: found
    )
    heard = []
    for free_bytes in (101e6, 99e6, 101e6, ENOUGH_AGAIN * 100e6 - 1e6, ENOUGH_AGAIN * 100e6 + 1e6):
        found = disk(free_bytes)
        heard.append(probe.look())
    assert [text is not None for text in heard] == [False, True, True, True, False]
    assert "less than 100 MB more where /boat is" in str(heard[1])
    assert len(set(heard[1:4])) == 1, "the same again is no news"


def test_a_disk_without_room_for_files_is_full_too() -> None:
    """Some file systems have a fixed number of files; those without a number have no limit."""
    found = disk(10e9, free_files=99)
    full = DiskProbe("journal", Path("/boat"), statvfs=lambda _: found)
    assert full.look() is not None
    found = disk(10e9, files=0, free_files=0)
    unlimited = DiskProbe("journal", Path("/boat"), statvfs=lambda _: found)
    assert unlimited.look() is None


def test_a_real_folder_is_looked_at_and_a_missing_one_is_no_finding(tmp_path: Path) -> None:
    """Whoever writes there says that it is missing."""
    free = os.statvfs(tmp_path)
    free_bytes = free.f_bavail * free.f_frsize
    assert DiskProbe("x", tmp_path, least_free_bytes=2 * free_bytes + 1).look() is not None
    assert DiskProbe("x", tmp_path / "missing").look() is None


class Clocks:
    """A wall clock beside a monotonic one."""

    def __init__(self) -> None:
        self.mono, self.wall = Clock(), Clock()
        self.probe = ClockProbe(clock=self.mono, wall=self.wall)
        self.probe.look()

    def look(self, *, after_s: float = 30.0, jump_s: float = 0.0) -> str | None:
        """Look after some seconds, in which the wall clock also jumps."""
        self.mono.now_s += after_s
        self.wall.now_s += after_s + jump_s
        return self.probe.look()


def test_a_jump_is_told_with_its_size_for_some_minutes() -> None:
    """Forward and back; then the new time is the time."""
    clocks = Clocks()
    assert clocks.look() is None
    assert "jumped forward by 3600 s" in str(clocks.look(jump_s=3600.0))
    assert "3600 s" in str(clocks.look())
    assert clocks.look(after_s=health_clock.HOLD_S) is None
    assert "jumped back by 7 s" in str(clocks.look(jump_s=-7.0))


@given(st.lists(st.floats(-4.9, 4.9), max_size=20))
def test_a_clock_that_is_steered_has_not_jumped(steps_s: list[float]) -> None:
    """However often it is corrected a little."""
    clocks = Clocks()
    assert all(clocks.look(jump_s=step_s) is None for step_s in steps_s)


def test_a_boat_has_one_probe_for_each_thing_and_each_disk(tmp_path: Path) -> None:
    """Two folders on the same disk are one situation."""
    raw = {
        "source": [{"name": "gps", "kind": "udp"}],
        "journal": {"path": "state/journal.db"},
        "recording": {"directory": "nights"},
    }
    config = build_config(raw, tmp_path / "driftlead.toml")
    probes = [(probe.name, probe.instance) for probe in make_probes(config)]
    assert probes == [
        ("supply_low", ""),
        ("cpu_hot", ""),
        ("clock_jumped", "computer"),
        ("disk_low", "journal"),
    ]
    elsewhere = evolve(config, recording=evolve(config.recording, directory=Path("/proc")))
    assert [probe.instance for probe in make_probes(elsewhere)][-2:] == ["journal", "recording"]

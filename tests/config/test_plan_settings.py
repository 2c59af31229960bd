"""What a plan takes from the configuration."""

import datetime as dt
from pathlib import Path

import pytest

from driftlead.config.load import load_config, load_plan_settings
from driftlead.errors import ConfigError
from driftlead.planning.plan_settings import PlanSettings
from driftlead.tackle.design_load import Hull
from driftlead.tackle.rope import RopeKind
from driftlead.units import UnitSystem, WindUnit
from driftlead.watch.settings import OutlookSettings, TackleSettings


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Where the configuration is."""
    return tmp_path / "driftlead.toml"


def problems(file: Path, text: str) -> tuple[str, ...]:
    """What is wrong with a text, without the name of the file."""
    file.write_text(text)
    with pytest.raises(ConfigError) as caught:
        load_plan_settings(file)
    return tuple(line.removeprefix(f"{file}: ") for line in caught.value.problems)


def test_every_key_reaches_its_own_setting_in_si(file: Path) -> None:
    """Each value differs from its default and from its neighbours."""
    file.write_text(
        """
        [boat]
        name = "Corvid"
        length = "32ft"
        bow_height = "1.2m"
        beam = "3.1m"
        draught = "1.7m"
        hull = "power"
        drag_area_m2 = 5.6
        [tackle]
        rode_aboard = "60m"
        chain = "45m"
        chain_size = "8mm"
        chain_kg_per_m = 1.45
        rope = "15m"
        rope_size = "14mm"
        rope_kg_per_m = 0.15
        rope_kind = "polyester"
        snubber = "6m"
        snubber_size = "12mm"
        [plan]
        units = "fathoms"
        wind_units = "m/s"
        zone = "-02:00"
        clearance = "2ft"
        """
    )
    assert load_plan_settings(file) == PlanSettings(
        name="Corvid",
        length_m=9.7536,
        bow_height_m=1.2,
        beam_m=3.1,
        draught_m=1.7,
        hull=Hull.POWER,
        drag_area_m2=5.6,
        chain_m=45.0,
        chain_size_m=0.008,
        chain_kg_per_m=1.45,
        rope_m=15.0,
        rope_size_m=0.014,
        rope_kg_per_m=0.15,
        rope_kind=RopeKind.POLYESTER,
        snubber_m=6.0,
        snubber_size_m=0.012,
        units=UnitSystem.FATHOMS,
        wind_units=WindUnit.MPS,
        zone=dt.timezone(dt.timedelta(hours=-2)),
        clearance_m=0.6096,
    )


def test_what_is_not_written_is_not_known(file: Path) -> None:
    """The watch has defaults for length and bow height; a plan asks."""
    file.write_text("")
    assert load_plan_settings(file) == PlanSettings()


def test_faults_elsewhere_do_not_matter_and_no_source_is_needed(file: Path) -> None:
    file.write_text('[boat]\nlength = "9m"\n[nonsense]\nx = 1\n[detector]\ndwell = 3\n')
    assert load_plan_settings(file).length_m == 9.0


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        (
            '[tackle]\nrode_aboard = "50m"\nchain = "45m"\nchain_size = "8mm"\nrope = "15m"',
            '[tackle] rode_aboard = "50m": Chain and rope together are more than that. '
            "Make it what chain and rope are together.",
        ),
        (
            '[tackle]\nchain = "45m"',
            '[tackle] chain = "45m": What the chain weighs is not known. '
            'Add chain_size = "8mm", or chain_kg_per_m.',
        ),
        (
            '[tackle]\nchain = "45m"\nchain_size = "9mm"',
            '[tackle] chain_size = "9mm": Chain of 9 mm is not in the table, which has 6, 7, 8, '
            "10, 12, 13, 14, 16 mm. Give the mass of a metre of it in kg (chain_kg_per_m).",
        ),
        (
            '[tackle]\nsnubber = "6m"',
            '[tackle] snubber = "6m": How thick it is is not known. Add snubber_size = "12mm".',
        ),
        (
            '[tackle]\nrope_kind = "nylo"',
            '[tackle] rope_kind = "nylo": This is none of the choices. Did you mean nylon?',
        ),
        (
            '[plan]\nzone = "CET"',
            "[plan] zone = \"CET\": 'CET' is not a time zone. Write UTC, or +01:00 east of it.",
        ),
        (
            '[plan]\nwind = "25"',
            '[plan] wind = "25": 25 has no unit. Write 15kn or 8m/s.',
        ),
        (
            '[plan]\nunits = "yards"',
            '[plan] units = "yards": This is none of the choices. '
            'Write one of "metric", "feet", "fathoms".',
        ),
    ],
)
def test_each_fault_is_one_line_that_says_what_to_do(file: Path, text: str, problem: str) -> None:
    assert problems(file, text) == (problem,)


def test_the_watch_is_kept_by_its_own_settings_alone(file: Path) -> None:
    """Recordings carry the watch's settings, and must not change with what a plan asks for."""
    file.write_text(
        '[tackle]\nrode_aboard = "60m"\nchain = "45m"\nchain_size = "8mm"\n'
        '[[source]]\nname = "gps"\nkind = "serial"\ndevice = "/dev/ttyUSB0"\n'
    )
    tackle = load_config(file).watch.tackle
    assert type(tackle) is TackleSettings
    assert tackle == TackleSettings(rode_aboard_m=60.0)


def test_the_watch_is_told_what_was_planned_for(file: Path) -> None:
    """Wind in m/s (a knot is 1852 m an hour), and the tide's file beside the configuration."""
    file.write_text(
        '[boat]\ndraught = "1.7m"\n[plan]\nwind = "25kn"\ntide = "tides.csv"\n'
        'clearance = "0.8m"\nleast_scope = 4\nzone = "-02:00"\n'
        '[[source]]\nname = "gps"\nkind = "serial"\ndevice = "/dev/ttyUSB0"\n'
    )
    config = load_config(file)
    assert config.tide == file.parent / "tides.csv"
    assert config.watch.outlook == OutlookSettings(
        wind_mps=25 * 1852 / 3600,
        draught_m=1.7,
        clearance_m=0.8,
        least_scope=4.0,
        utc_offset_s=-7200.0,
    )

"""The settings to be tried."""

import tomllib
from pathlib import Path

import pytest
from attrs import evolve

from driftlead.config.problems import Problems
from driftlead.config.structure import Structurer
from driftlead.config.tables import single_tables
from driftlead.errors import ConfigError
from driftlead.tune.trace import model_of
from driftlead.tune.variations import as_toml, built_in, named, read_variations
from driftlead.watch.settings import DetectorSettings

PLAIN = DetectorSettings()


def read(tmp_path: Path, text: str) -> list[DetectorSettings]:
    """The settings of a file like this."""
    file = tmp_path / "sweep.toml"
    file.write_text(text)
    return [each.settings for each in read_variations(file)]


def problems(tmp_path: Path, text: str) -> tuple[str, ...]:
    """What is found wrong with a file like this."""
    with pytest.raises(ConfigError) as caught:
        read(tmp_path, text)
    return caught.value.problems


def test_some_two_hundred_settings_are_built_in() -> None:
    """All decided on one and the same evidence, the defaults first, none twice."""
    variations = built_in()
    assert 150 <= len(variations) <= 250
    assert variations[0].settings == PLAIN
    assert variations[0].name == "defaults"
    assert len({each.settings for each in variations}) == len(variations)
    assert len({each.name for each in variations}) == len(variations)
    assert {model_of(each.settings) for each in variations} == {PLAIN}


def test_those_nearest_to_the_first_come_first() -> None:
    nights = [
        each.settings.false_alarm_nights
        for each in built_in()
        if evolve(each.settings, false_alarm_nights=50.0) == PLAIN
    ]
    assert nights[0] == 50.0
    assert nights.index(30.0) < nights.index(10.0) < nights.index(2.0)
    assert nights.index(75.0) < nights.index(200.0) < nights.index(5000.0)


def test_a_grid_is_every_combination(tmp_path: Path) -> None:
    found = read(tmp_path, '[grid]\nfloor = ["15m", "50ft"]\nfalse_alarm_nights = [10, 20.5]\n')
    combinations = {(each.floor_m, each.false_alarm_nights) for each in found}
    assert combinations == {
        (PLAIN.floor_m, PLAIN.false_alarm_nights),
        *((floor, nights) for floor in (15.0, 15.24) for nights in (10.0, 20.5)),
    }


def test_all_start_from_the_base(tmp_path: Path) -> None:
    text = '[base]\nfloor = "33m"\n[grid]\ndwell = ["1min"]\n[[setting]]\nfix_sigma = "4m"\n'
    found = read(tmp_path, text)
    assert found[0] == evolve(PLAIN, floor_m=33.0)
    assert {each.floor_m for each in found} == {33.0}
    assert evolve(found[0], fix_sigma_m=4.0) in found


def test_a_single_setting_has_the_name_it_was_given(tmp_path: Path) -> None:
    file = tmp_path / "sweep.toml"
    file.write_text('[[setting]]\nname = "poor receiver"\nfix_sigma = "4m"\n')
    assert [each.name for each in read_variations(file)] == ["defaults", "poor receiver"]


def test_the_same_setting_is_tried_once(tmp_path: Path) -> None:
    text = '[grid]\nfloor = ["15m", "1500cm"]\n[[setting]]\nfloor = "15m"\n'
    assert len(read(tmp_path, text)) == 2


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('[grid]\nfloor = ["15"]', '[grid] floor = "15": 15 has no unit'),
        ('[grid]\nfloor = "15m"', "[grid]: A grid is a table of lists"),
        ("[grid]\nfloor = []", "[grid]: A grid is a table of lists"),
        ("grid = 1", "[grid]: A grid is a table of lists"),
        ('[grid]\nflor = ["15m"]', "[grid] flor: There is no such key here. Did you mean floor?"),
        ('[base]\nflor = "15m"', '[base] flor = "15m": There is no such key here'),
        ("base = 1", "base = 1: This is one table"),
        ('[[setting]]\nfloor = "9km"', '[[setting]] #1 floor = "9km": 9km is out of range'),
        ('[setting]\nfloor = "9m"', "There may be several of these"),
        ("[settings]\n", "[settings]: There is no such table"),
    ],
)
def test_what_is_wrong_names_file_key_value_and_remedy(
    tmp_path: Path, text: str, words: str
) -> None:
    found = problems(tmp_path, text)
    assert len(found) == 1
    assert found[0].startswith(f"{tmp_path / 'sweep.toml'}: ")
    assert words in found[0]


def test_values_that_do_not_go_together_are_told_of_once(tmp_path: Path) -> None:
    text = '[grid]\nfloor_dwell = ["9min"]\ndwell = ["1s", "2s", "3s"]\nfloor = ["15m", "25m"]\n'
    assert len(problems(tmp_path, text)) == 1


def test_more_settings_than_anybody_means_are_refused(tmp_path: Path) -> None:
    text = (
        f"[grid]\nfalse_alarm_nights = {[*range(1, 300)]}\nsigmas = {[i / 100 for i in range(99)]}"
    )
    assert "That makes 29601 settings" in problems(tmp_path, text)[0]


def test_a_setting_can_be_copied_into_the_configuration() -> None:
    """What is written is read there as the same setting."""
    table = single_tables(Path())["detector"]
    for variation in built_in():
        raw = tomllib.loads(as_toml(variation.settings))
        found = Problems(Path("x"))
        assert Structurer(found, {}).structure(table, raw, "[detector]") == variation.settings
        found.raise_if_any()


def test_a_setting_is_named_by_what_is_not_default() -> None:
    assert named(PLAIN) == "defaults"
    assert as_toml(PLAIN) == ""
    changed = evolve(PLAIN, false_alarm_nights=20.0, floor_m=15.5, floor_dwell_s=9.0, sigmas=2.5)
    assert as_toml(changed).splitlines() == [
        "false_alarm_nights = 20",
        'floor = "15.5m"',
        'floor_dwell = "9s"',
        "sigmas = 2.5",
    ]

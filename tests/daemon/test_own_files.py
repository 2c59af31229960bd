"""The files that the configuration names."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from driftlead.check.finding import Level
from driftlead.config.load import build_config, core_settings
from driftlead.config.model import Config
from driftlead.core.inputs import Fault
from driftlead.daemon.own_files import check_files, with_files

CONFIG = """
[plan]
tide = "tides.csv"
[web]
around = "around.toml"
certificate = "page.crt"
key = "page.key"
[[source]]
name = "gps"
kind = "udp"
"""


def configured(folder: Path, text: str = CONFIG) -> Config:
    """Read it as if it lay in the folder."""
    return build_config(tomllib.loads(text), folder / "driftlead.toml")


def test_each_that_is_missing_fails_with_key_path_and_remedy(tmp_path: Path) -> None:
    found = {each.what: each for each in check_files(configured(tmp_path))}
    for what, key, name in (
        ("file tide", "[plan] tide", "tides.csv"),
        ("file around", "[web] around", "around.toml"),
        ("file certificate", "[web] certificate", "page.crt"),
    ):
        assert found[what].level is Level.FAIL
        assert f"{key}: {tmp_path / name} cannot be read: No such file" in found[what].text
        assert found[what].remedy


def test_those_that_are_read_are_ok_and_without_any_nothing_is_said(tmp_path: Path) -> None:
    (tmp_path / "tides.csv").write_text("2026-06-14 18:50,3.9m\n2026-06-15 01:05,1.1m\n")
    text = CONFIG.partition("[web]")[0] + "[[source]]" + CONFIG.partition("[[source]]")[2]
    (tide,) = check_files(configured(tmp_path, text))
    assert (tide.what, tide.level) == ("file tide", Level.OK)
    assert check_files(configured(tmp_path, text.replace('tide = "tides.csv"', ""))) == []


def test_the_daemon_leaves_out_what_it_cannot_read_and_says_so(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """A watch is kept all the same."""
    config = configured(tmp_path)
    settings, faults = with_files(core_settings(config), config)
    assert settings == core_settings(config)
    assert [(fault.name, fault.instance) for fault in faults] == [
        ("file_unreadable", "around"),
        ("file_unreadable", "tide"),
    ]
    for fault in faults:
        assert isinstance(fault, Fault)
        assert str(fault.text).endswith("Then restart driftlead.")
        assert str(fault.text) in caplog.text


def test_a_file_that_cannot_be_read_is_a_standing_caution(daemon: Any) -> None:
    """It is up in a real daemon from its start, recorded like any other fault."""
    daemon.extra = '[plan]\ntide = "tides.csv"\n'
    daemon.start()
    (alert,) = daemon.status()["alerts"]
    assert (alert["name"], alert["instance"], alert["priority"]) == (
        "file_unreadable",
        "tide",
        "caution",
    )
    assert "[plan] tide" in alert["text"]

"""Finding notifiers by entry point."""

import sys
import tomllib
from importlib.metadata import EntryPoint
from pathlib import Path

import pytest

from driftlead.errors import ConfigError, NotifierError
from driftlead.notify.base import Notifier
from driftlead.notify.registry import GROUP, build_notifier, known_kinds
from driftlead.notify.settings import NotifierSettings
from driftlead.testing import make_context

GOOD = """
from driftlead.testing import RecordingNotifier

class Horn(RecordingNotifier):
    @classmethod
    def from_options(cls, options, context):
        horn = cls()
        horn.options, horn.context = options, context
        return horn

class Clumsy:
    @classmethod
    def from_options(cls, options, context):
        return options["missing"]

class Empty:
    @classmethod
    def from_options(cls, options, context):
        return cls()

def function(options, context):
    return Horn()
"""


class Plugins:
    """Installs made-up packages on the import path."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def install(self, package: str, source: str, **kinds: str) -> None:
        """Write a module and the metadata an installer would leave."""
        (self._folder / f"{package}.py").write_text(source)
        info = self._folder / f"{package}-1.0.dist-info"
        info.mkdir()
        (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {package}\nVersion: 1.0\n")
        lines = [f"{kind} = {package}{value}" for kind, value in kinds.items()]
        (info / "entry_points.txt").write_text("\n".join([f"[{GROUP}]", *lines, ""]))


@pytest.fixture
def plugins(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Plugins:
    """A folder of made-up packages, importable during the test."""
    folder = tmp_path / "site"
    folder.mkdir()
    monkeypatch.syspath_prepend(folder)
    for name in ("horn_pkg", "rival_pkg", "broken_pkg"):
        monkeypatch.delitem(sys.modules, name, raising=False)
    return Plugins(folder)


def build(kind: str, tmp_path: Path, **options: object) -> Notifier:
    """Build a notifier called ``aft``."""
    settings = NotifierSettings(kind=kind, name="aft", options=options)
    return build_notifier(settings, make_context(tmp_path, name="aft"))


def test_an_installed_plug_in_is_found_and_built(plugins: Plugins, tmp_path: Path) -> None:
    """It gets the owner's options and the context."""
    plugins.install("horn_pkg", GOOD, horn=":Horn")
    assert "horn" in known_kinds()
    horn = build("horn", tmp_path, volume=11)
    assert type(horn).__name__ == "Horn"
    assert vars(horn)["options"] == {"volume": 11}
    assert vars(horn)["context"].name == "aft"


def test_listing_kinds_loads_none(plugins: Plugins) -> None:
    """A plug-in that nobody asked for cannot do harm."""
    plugins.install("broken_pkg", "raise RuntimeError('harm')", harm=":Harm")
    assert "harm" in known_kinds()
    assert "broken_pkg" not in sys.modules


def test_an_unknown_kind_names_those_that_are_known(plugins: Plugins, tmp_path: Path) -> None:
    """The error names the notifier, the value and the remedy."""
    plugins.install("horn_pkg", GOOD, horn=":Horn")
    with pytest.raises(ConfigError, match="Notifier 'aft': kind = 'hron' is not known") as caught:
        build("hron", tmp_path)
    assert "horn" in caught.value.remedy
    assert caught.value.problems


@pytest.mark.parametrize(
    ("source", "value", "told"),
    [
        ("import a_module_nobody_has", ":Horn", "needs the module 'a_module_nobody_has'"),
        ("raise RuntimeError('harm')", ":Horn", "RuntimeError: harm"),
        ("class Other: ...", ":Horn", "AttributeError"),
        ("Horn = 3", ":Horn", "is not a class with from_options"),
        (GOOD, ":function", "is not a class with from_options"),
        (GOOD, ":Clumsy", "cannot be built: KeyError: 'missing'"),
        (GOOD, ":Empty", "has no notify"),
    ],
)
def test_a_plug_in_that_does_not_work_is_told_as_such(
    source: str, value: str, told: str, plugins: Plugins, tmp_path: Path
) -> None:
    """Whatever is wrong with it, the error is a NotifierError that names the notifier."""
    plugins.install("broken_pkg", source, horn=value)
    with pytest.raises(NotifierError, match="'aft'") as caught:
        build("horn", tmp_path)
    assert told in caught.value.message
    assert caught.value.remedy


def test_two_packages_of_one_kind_are_refused(plugins: Plugins, tmp_path: Path) -> None:
    """Which of them would wake the crew must not be left to chance."""
    plugins.install("horn_pkg", GOOD, horn=":Horn")
    plugins.install("rival_pkg", GOOD, horn=":Horn")
    with pytest.raises(NotifierError, match="several packages") as caught:
        build("horn", tmp_path)
    assert "horn_pkg" in caught.value.message
    assert "rival_pkg" in caught.value.message


def test_one_package_seen_twice_on_the_path_is_one(
    plugins: Plugins, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A checkout beside its installed copy is no rival."""
    plugins.install("horn_pkg", GOOD, horn=":Horn")
    second = tmp_path / "second"
    second.mkdir()
    Plugins(second).install("horn_pkg", GOOD, horn=":Horn")
    monkeypatch.syspath_prepend(second)
    assert build("horn", tmp_path)


def test_every_notifier_the_package_declares_can_be_loaded() -> None:
    """What pyproject.toml names is there and can be built from options."""
    pyproject = Path(__file__).parents[2] / "pyproject.toml"
    declared = tomllib.loads(pyproject.read_text())["project"]["entry-points"][GROUP]
    assert set(declared) == {"log", "sound", "gpio", "webhook", "mqtt", "nmea"}
    for kind, value in declared.items():
        assert callable(EntryPoint(kind, value, GROUP).load().from_options)

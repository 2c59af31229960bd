"""Notifiers of no kind, or with options that theirs does not take."""

import tomllib
from pathlib import Path

import pytest

from driftlead.config.load import build_config
from driftlead.config.notifier_options import _OPTIONS, notifier_problems
from driftlead.errors import ConfigError
from driftlead.notify.registry import load_kind

FILE = Path("/etc/driftlead/boat.toml")
GPS = '[[source]]\nname = "gps"\nkind = "udp"\n'
LOG = '[[notifier]]\nkind = "log"\n'


def told(notifier: str) -> dict[str, str]:
    """What is told of a configuration with the log and this."""
    return notifier_problems(build_config(tomllib.loads(GPS + LOG + notifier), FILE), FILE)


@pytest.mark.parametrize(
    ("notifier", "says"),
    [
        ('kind = "sonud"', 'kind = "sonud": There is no such kind of notifier. Did you mean'),
        ('kind = "gpio"\npinn = 4', "option 'pinn' is not known. Did you mean 'pin'?"),
        ('kind = "gpio"', "option 'pin' is required. Its options are:"),
        ('kind = "log"\nname = "two"\nvolume = 3', "'volume' is not known. It takes no options."),
    ],
)
def test_it_is_told_with_file_place_and_key_before_it_is_built(notifier: str, says: str) -> None:
    (line,) = told(f"[[notifier]]\n{notifier}\n").values()
    assert line.startswith(f"{FILE}: [[notifier]] #2")
    assert says in line


def test_what_is_well_is_not_told() -> None:
    assert told('[[notifier]]\nkind = "gpio"\npin = 4\n') == {}


def test_it_is_told_together_with_whatever_else_is_wrong() -> None:
    """By itself it keeps no watch from being kept, so then the daemon starts."""
    text = GPS + LOG + '[[notifier]]\nkind = "gpio"\npinn = 4\n[boat]\nlength = "300m"\n'
    with pytest.raises(ConfigError) as refused:
        build_config(tomllib.loads(text), FILE)
    problems = " ".join(refused.value.problems)
    assert "[boat] length" in problems
    assert "[[notifier]] #2: option 'pinn'" in problems


@pytest.mark.parametrize("kind", _OPTIONS)
def test_each_kind_of_ours_judges_by_the_options_it_is_built_with(kind: str) -> None:
    """Named in its own module."""
    module = load_kind(kind, notifier=kind).__module__
    assert module.startswith("driftlead.notify.")
    assert _OPTIONS[kind][0].removesuffix("_options") == module.rpartition(".")[2]

"""The table of the page."""

from pathlib import Path
from typing import Any

import pytest

from driftlead.config.load import build_config
from driftlead.config.model import WebSettings
from driftlead.errors import ConfigError

FILE = Path("/etc/driftlead/driftlead.toml")


def web(table: Any) -> WebSettings | None:
    """What a configuration with this table says of the page."""
    raw = {
        "boat": {"name": "Corvid", "length": "9.6m"},
        "source": [{"name": "gps", "kind": "udp"}],
        **({} if table is None else {"web": table}),
    }
    return build_config(raw, FILE).web


def test_without_the_table_there_is_no_page() -> None:
    assert web(None) is None


def test_an_empty_table_serves_it_to_this_computer_alone() -> None:
    settings = web({})
    assert settings is not None
    assert (settings.host, settings.port, settings.names) == ("127.0.0.1", 8421, ())


def test_everything_of_the_table_and_the_boat_for_plans_arrives() -> None:
    settings = web({"listen": "[::]:80", "names": ["corvid.lan"], "around": "around.toml"})
    assert settings is not None
    assert (settings.host, settings.port) == ("::", 80)
    assert settings.names == ("corvid.lan",)
    assert settings.around == FILE.parent / "around.toml"
    assert (settings.plan.name, settings.plan.length_m) == ("Corvid", 9.6)
    assert settings.plan.bow_height_m is None


def test_a_certificate_and_its_key_make_it_https() -> None:
    settings = web({"certificate": "page.crt", "key": "/run/keys/page.key"})
    assert settings is not None
    assert settings.scheme == "https"
    assert settings.certificate == FILE.parent / "page.crt"
    assert settings.key == Path("/run/keys/page.key")
    plain = web({})
    assert plain is not None
    assert plain.scheme == "http"


@pytest.mark.parametrize("alone", ["certificate", "key"])
def test_one_of_certificate_and_key_alone_is_named_with_its_remedy(alone: str) -> None:
    with pytest.raises(ConfigError) as error:
        web({alone: "page.pem"})
    (problem,) = error.value.problems
    assert problem.startswith(f"{FILE}: [web] {alone}")
    assert "Write both, or neither" in problem


@pytest.mark.parametrize(
    "listen",
    [
        *("8421", ":8421", "localhost:8421", "127.0.0.1", "127.0.0.1:0", "127.0.0.1:65536"),
        *("127.0.0.1:x", "127.0.0.1:٨٤٢١", "1.2.3.4.5:80", "", 8421),
    ],
)
def test_an_address_that_is_none_is_named_with_its_remedy(listen: Any) -> None:
    with pytest.raises(ConfigError) as error:
        web({"listen": listen})
    (problem,) = error.value.problems
    assert problem.startswith(f"{FILE}: [web] listen = ")

"""The page's own files, as they lie there: small, their own, nothing that is forbidden."""

import json
import re
from typing import Any

from driftlead.web.static_files import FOLDER

FILES = sorted(path for path in FOLDER.rglob("*") if path.is_file())
TEXTS = {path.name: path.read_text() for path in FILES}
MOST_BYTES = 200_000


def test_the_whole_page_weighs_less_than_200_kb() -> None:
    """All of it, and no compression is counted on."""
    assert sum(path.stat().st_size for path in FILES) < MOST_BYTES


def test_nothing_is_asked_of_another_host() -> None:
    """The only addresses are names of XML."""
    for name, text in TEXTS.items():
        found = set(re.findall(r"(?:https?:)?//[A-Za-z][A-Za-z0-9.-]+[^\s\"')]*", text))
        outside = {each for each in found if not each.endswith("www.w3.org/2000/svg")}
        assert not outside, (name, outside)


def test_text_from_outside_can_never_become_markup() -> None:
    """No way from text to markup or code is used anywhere."""
    forbidden = (
        "innerHTML",
        "outerHTML",
        "insertAdjacentHTML",
        "document.write",
        "eval(",
        "Function(",
    )
    for name, text in TEXTS.items():
        assert not [each for each in forbidden if each in text], name


def test_styles_and_scripts_are_in_files_of_their_own() -> None:
    """The content security policy lets nothing else run."""
    page = TEXTS["index.html"]
    assert "<style" not in page
    assert not re.search(r"\sstyle\s*=|\son[a-z]+\s*=", page)
    assert re.findall(r"<script(?![^>]*\ssrc=)", page) == []
    for name, text in TEXTS.items():
        assert 'setAttribute("style"' not in text, name


def test_every_module_is_loaded_ahead() -> None:
    """A module that is only found when another was read costs one more way to the boat and back."""
    ahead = set(re.findall(r'rel="modulepreload" href="([a-z]+\.js)"', TEXTS["index.html"]))
    assert ahead | {"main.js"} == {name for name in TEXTS if name.endswith(".js")}


def test_the_fake_watch_says_what_the_contract_says(watch: Any) -> None:
    """Or the page would be tested against something that does not exist."""
    contract = json.loads((FOLDER.parent / "openapi.json").read_text())["components"]["schemas"]
    now = watch.now()
    assert now.keys() == set(contract["Now"]["required"])
    for part in ("boat", "anchor", "position"):
        assert now[part].keys() == set(contract[part.capitalize()]["required"])
    watch.drag()
    now = watch.now()
    assert now["danger"].keys() == set(contract["Danger"]["required"])
    assert now["response"].keys() == set(contract["ResponseCard"]["required"])
    alert = watch.alert("drag")
    assert alert.keys() == set(contract["Alert"]["required"])
    assert contract["Track"]["properties"]["columns"]["const"] == [*watch.columns]

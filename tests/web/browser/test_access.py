"""Whether it can be used by those who see little, or not at all: axe-core over every view."""

from collections.abc import Callable
from typing import Any

import pytest

OpenPage = Callable[..., Any]
PHONE = {"width": 360, "height": 740}


def violations(axe: Any, screen: Any) -> list[str]:
    """What axe-core finds fault with: all its rules, the best practices among them."""
    found = axe.run(screen.page).response["violations"]
    return [f"{each['id']}: {[node['html'] for node in each['nodes']]}" for each in found]


@pytest.mark.parametrize("look", ["day", "night"])
def test_axe_finds_no_violation(watch: Any, open_page: OpenPage, axe: Any, look: str) -> None:
    """The watch with an alert unanswered and answered, every panel, the nights, the device."""
    watch.load_surroundings()
    watch.crew = [{"name": "Skipper", "on_watch": False}, {"name": "Mate", "on_watch": True}]
    # With the silent film, which there is where no lock can be had.
    init = "delete Navigator.prototype.wakeLock;"
    screen = open_page(watch.url, size=PHONE, look=look, cookie=watch.pair("Phone"), init=init)
    screen.ready()
    screen.sees("#live-picture .slider")
    screen.page.click(".plan > summary")
    screen.page.click(".other-tide summary")
    screen.page.fill("#do-plan [name='wind']", "16")
    screen.page.click("#do-plan [type='submit']")
    screen.sees("#plan-answer .hours")
    screen.page.click("[data-opens='do-veer']")
    assert violations(axe, screen) == []
    watch.drag()
    watch.alert("wind_shifted", priority="caution", state="active_acknowledged", moved_m=None)
    screen.sees(".acknowledge")
    screen.word("Dragging")
    assert violations(axe, screen) == []
    screen.sees(".acknowledge").click()
    screen.misses(".acknowledge")
    screen.sees(".step")
    screen.page.click("[data-opens='do-slip']")
    assert violations(axe, screen) == []
    screen.page.click("#do-slip [type='submit']")
    screen.sees("#slipped")
    assert violations(axe, screen) == []
    screen.go("nights")
    screen.sees("#night-list button").click()
    screen.sees(".thought")
    assert violations(axe, screen) == []
    screen.go("device")
    screen.sees("#devices li")
    assert violations(axe, screen) == []
    if look == "night":
        watch.mute = True
        screen.sees("#lost")
        assert violations(axe, screen) == []

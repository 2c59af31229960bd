"""A recorded night replayed at speed, and what the detector thought at each moment."""

from collections.abc import Callable
from typing import Any

OpenPage = Callable[..., Any]


def test_a_night_is_replayed_and_looked_back_into(watch: Any, open_page: OpenPage) -> None:
    """Verdict, chance and log odds of each moment; the present stays at the top all the while."""
    screen = open_page(f"{watch.url}#nights")
    screen.word("Holding")
    screen.sees("#night-list button").click()
    thought = screen.sees(".thought")
    screen.page.select_option("[data-part='speed']", "1800")
    screen.until("document.querySelector('.thought h3').textContent === 'Dragging'")
    assert "Log odds" in thought.inner_text()
    screen.until("document.querySelector('#player [data-part=state]').textContent !== ''")
    assert screen.page.locator("#player [data-part='state']").inner_text() == "The night is over."
    assert "over 99\u00a0%" in thought.inner_text()
    slider = screen.page.locator("#replay-picture .slider")
    slider.evaluate("s => { s.value = Number(s.min) + 600; s.dispatchEvent(new Event('input')); }")
    past = screen.page.locator("#replay-picture [data-part='past-words']").inner_text()
    assert "holding, circle 4" in past
    assert "chance that it has moved" in past
    screen.sees("#replay-picture [data-part='log-box'] summary").click()
    assert "drag found: dragging" in screen.page.locator("#replay-picture .log").inner_text()
    assert screen.page.locator("#watch-h").inner_text() == "HOLDING"
    assert "not now" in screen.page.locator(".replay-mark").inner_text()


def test_an_alert_of_the_present_comes_through_a_replay(watch: Any, open_page: OpenPage) -> None:
    """Whoever looks at last night is still woken for this one."""
    screen = open_page(f"{watch.url}#nights", cookie=watch.pair("Chart table"))
    screen.ready()
    screen.sees("#night-list button").click()
    screen.sees(".thought")
    watch.drag()
    screen.sees(".acknowledge")
    screen.word("Dragging")

"""The device itself: day and night, sound, the screen kept on."""

from collections.abc import Callable
from typing import Any

OpenPage = Callable[..., Any]
LOOK = "document.documentElement.dataset.look"


def test_it_is_night_from_sunset_where_she_lies_and_can_be_overridden(
    watch: Any, open_page: OpenPage
) -> None:
    """By the receiver's time and place, not the device's; red on black has no green and blue."""
    watch.said = {"utc": "2026-06-15T03:20:00.000Z"}
    screen = open_page(watch.url, look="auto")
    screen.word("Holding")
    screen.until(f"{LOOK} === 'night'")
    body = "getComputedStyle(document.documentElement).backgroundColor"
    assert screen.page.evaluate(body) == "rgb(0, 0, 0)"
    screen.go("device")
    screen.page.check("input[value='day']")
    assert screen.page.evaluate(LOOK) == "day"
    screen.page.reload()
    screen.word("Holding")
    assert screen.page.evaluate(LOOK) == "day"
    # 15:00 UTC is 13 h by the sun at 31 W.
    watch.said = {"utc": "2026-06-15T15:00:00.000Z"}
    watch.say()
    screen.page.check("input[value='auto']")
    screen.until(f"{LOOK} === 'day'")


def test_before_anything_is_known_the_page_is_black(watch: Any, open_page: OpenPage) -> None:
    """Nobody in a bunk is dazzled while it loads: without its script the page is the night's."""
    screen = open_page(watch.url, java_script_enabled=False)
    screen.page.wait_for_load_state()
    body = screen.page.locator("html")
    assert body.get_attribute("data-look") is None
    assert "#000" in screen.page.context.request.get(f"{watch.url}page.css").text()[:300]


def test_the_alarm_sounds_here_once_it_is_allowed(watch: Any, open_page: OpenPage) -> None:
    """It waits for a touch, sounds while nobody has answered, and is quiet after the answer."""
    screen = open_page(watch.url, cookie=watch.pair("Phone in the fore cabin"))
    screen.page.evaluate(
        "() => { window.begun = 0; const make = AudioBufferSourceNode.prototype;"
        " const [start, stop] = [make.start, make.stop];"
        " make.start = function () { window.begun += 1; return start.call(this); };"
        " make.stop = function () { window.begun -= 1; return stop.call(this); }; }"
    )
    screen.ready()
    assert "does not sound" in screen.page.locator("#sound-hint").inner_text()
    screen.page.click("#sound-allow")
    screen.misses("#sound-hint")
    assert screen.page.evaluate("window.begun") == 0
    watch.drag()
    screen.until("window.begun === 1")
    screen.sees(".acknowledge").click()
    screen.until("window.begun === 0")
    screen.page.reload()
    screen.until("document.querySelector('#sound-hint-text').textContent.includes('touch')")


def test_it_says_when_it_cannot_keep_the_screen_on(watch: Any, open_page: OpenPage) -> None:
    """Most browsers keep the screen on for a secure page only, and this one is told of in words."""
    screen = open_page(f"{watch.url}#device")
    screen.word("Holding")
    screen.page.evaluate("() => { delete Navigator.prototype.wakeLock; }")
    screen.page.evaluate("() => document.dispatchEvent(new Event('visibilitychange'))")
    screen.until(
        "document.querySelector('#awake-state').textContent.includes('does not let the page')"
    )
    assert screen.page.locator("#awake-on").is_disabled()

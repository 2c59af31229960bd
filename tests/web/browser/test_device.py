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


SEES_FILM = "document.querySelector('video')"


def test_without_a_lock_a_silent_film_keeps_the_screen_on_after_a_touch(
    watch: Any, open_page: OpenPage
) -> None:
    """It begins by a touch anywhere, is silent, in sight, and it is said that it is not certain."""
    screen = open_page(watch.url, init="delete Navigator.prototype.wakeLock;")
    screen.word("Holding")
    hint = screen.sees("#awake-hint")
    assert "touch anywhere" in hint.inner_text()
    screen.page.click("#watch-h")
    screen.until(f"{SEES_FILM} && !{SEES_FILM}.paused && {SEES_FILM}.currentTime > 0")
    screen.until("document.querySelector('#awake-hint').textContent.includes('not certain')")
    film = screen.page.locator("video")
    assert film.evaluate("v => v.srcObject.getAudioTracks().length") == 1
    assert film.evaluate("v => !v.muted && v.volume === 1")
    box = film.bounding_box()
    size = screen.page.viewport_size
    assert 0 <= box["x"] <= size["width"] - box["width"]
    assert 0 <= box["y"] <= size["height"] - box["height"]
    level = screen.page.evaluate(
        """async () => {
          const context = new AudioContext();
          const heard = context.createAnalyser();
          context.createMediaStreamSource(document.querySelector('video').srcObject).connect(heard);
          await new Promise((done) => setTimeout(done, 300));
          const samples = new Float32Array(heard.fftSize);
          heard.getFloatTimeDomainData(samples);
          return Math.max(...samples.map(Math.abs));
        }"""
    )
    assert level == 0
    screen.go("device")
    assert "Try it out before the night" in screen.page.locator("#awake-state").inner_text()
    screen.page.uncheck("#awake-on")
    screen.until(f"!{SEES_FILM}")
    assert "may go off" in screen.page.locator("#awake-state").inner_text()


def test_a_lock_that_is_refused_is_replaced_by_the_film_and_taken_when_it_is_given(
    watch: Any, open_page: OpenPage
) -> None:
    """As with a battery saver that is switched off again."""
    screen = open_page(
        watch.url,
        init="window.gives = false; WakeLock.prototype.request = async () => {"
        " if (!window.gives) throw new Error('no'); return new EventTarget(); };",
    )
    screen.word("Holding")
    screen.page.click("#watch-h")
    screen.until(f"{SEES_FILM} && !{SEES_FILM}.paused")
    screen.page.evaluate(
        "() => { window.gives = true; document.dispatchEvent(new Event('visibilitychange')); }"
    )
    screen.until(f"!{SEES_FILM}")
    assert screen.page.locator("#awake-hint").is_hidden()


def test_it_says_when_it_cannot_keep_the_screen_on(watch: Any, open_page: OpenPage) -> None:
    """Neither a lock nor a film: it is said plainly, on the first page too."""
    screen = open_page(
        f"{watch.url}#device",
        init="delete Navigator.prototype.wakeLock;"
        " delete HTMLCanvasElement.prototype.captureStream;",
    )
    screen.word("Holding")
    screen.until("document.querySelector('#awake-state').textContent.includes('WILL GO OFF')")
    assert screen.page.locator("#awake-on").is_disabled()
    screen.go("watch")
    assert "cannot be kept on" in screen.sees("#awake-hint").inner_text()

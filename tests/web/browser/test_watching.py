"""Looking at the watch: one glance, alerts, silence on the wire, the night behind."""

import time
from collections.abc import Callable
from typing import Any

import pytest

OpenPage = Callable[..., Any]
PHONE = {"width": 360, "height": 740}
CHART_TABLE = {"width": 1280, "height": 800}


def test_one_glance_says_all(watch: Any, open_page: OpenPage) -> None:
    """Holding or not, how sure, how far, wind, depth, rode, and how old the fix is."""
    screen = open_page(watch.url, size=PHONE)
    screen.word("Holding")
    glance = screen.page.locator("#glance").inner_text()
    assert "Chance that the anchor has moved: under 1 %." in glance.replace("\xa0", " ")
    for label in ("From the anchor", "Fix", "Wind", "Depth", "Rode"):
        assert label in glance
    assert "38 m" in glance
    assert "circle 42 m" in glance
    assert screen.page.title().startswith("Holding 3")
    assert "never replaces a look-out (COLREG Rule 5)" in screen.page.locator("footer").inner_text()


@pytest.mark.parametrize("size", [PHONE, CHART_TABLE], ids=["phone", "table"])
def test_it_fits_a_narrow_screen_and_a_wide_one(
    watch: Any, open_page: OpenPage, size: dict[str, int]
) -> None:
    """At 360 pixels nothing is to be scrolled sideways, in any view, with an alert up."""
    screen = open_page(watch.url, size=size, cookie=watch.pair("Phone"))
    screen.ready()
    watch.alert("drag", text="The anchor is dragging, and this goes on for quite a while longer.")
    screen.sees(".acknowledge")
    for view in ("watch", "nights", "device"):
        screen.go(view)
        assert screen.page.evaluate("document.documentElement.scrollWidth") <= size["width"]


CLAIMS: list[tuple[dict[str, Any], str]] = [
    ({"fix_age_s": 34.0}, "Blind"),
    ({"verdict": "unsure"}, "Unsure"),
    ({"fix_age_s": None, "position": None}, "Blind"),
    ({"verdict": "dragging"}, "Dragging"),
    ({"verdict": None, "distance_m": None}, "Not judged yet"),
    ({"state": "dragging", "verdict": "holding"}, "Dragging"),
    ({"state": "aweigh", "on_watch": False, "anchor": None, "verdict": None}, "No watch"),
]


def test_the_word_claims_no_more_than_is_known(watch: Any, open_page: OpenPage) -> None:
    """An old fix is no judgement, whatever the last one was, and a drag lasts until it is over."""
    screen = open_page(watch.url)
    for said, shown in CLAIMS:
        watch.said = said
        watch.say()
        screen.word(shown)
        watch.said = {}
        watch.say()
        screen.word("Holding")


def test_what_the_api_says_is_never_markup(watch: Any, open_page: OpenPage) -> None:
    """Names and texts from outside are shown as they are, letter by letter."""
    evil = "<img src=x onerror=document.title='gone'><b>x</b>"
    boat = {"name": evil, "length_m": 9.6, "bow_height_m": 1.1, "antenna_aft_m": 7.8}
    source = {"name": evil, "open": False, "detail": evil, "line_age_s": None}
    danger = {"name": evil, "kind": evil, "distance_m": 9.0, "bearing_deg": 9.0, "minutes": 9.0}
    step = {"name": evil, "title": evil, "text": evil, "figures": {}}
    watch.said |= {"boat": boat, "sources": [source], "danger": danger, "set_result": evil}
    watch.said["response"] = {"v": 1, "urgent": evil, "steps": [step], "note": evil}
    watch.crew = [{"name": evil, "on_watch": True}]
    screen = open_page(watch.url, cookie=watch.pair(evil))
    screen.ready()
    part = {"level": "fail", "what": evil, "text": evil, "remedy": evil}
    watch.drill_result = {"number": 1, "good": False, "text": evil, "parts": [part]}
    watch.say()
    screen.sees("#drill-result ul")
    watch.alert("drag", text=evil, instance=evil, by=evil)
    screen.sees(".alert")
    screen.go("device")
    screen.sees("#devices li")
    assert screen.page.locator("main img, main b, #alerts b, header b").count() == 0
    assert evil in screen.page.locator(".alert-text").inner_text()
    assert "gone" not in screen.page.title()


def test_an_alert_is_there_at_once_and_its_answer_is_the_largest_thing(
    watch: Any, open_page: OpenPage
) -> None:
    """Within a second; the button is larger than anything else, and first for the keyboard."""
    screen = open_page(watch.url, size=PHONE, cookie=watch.pair("Phone in the fore cabin"))
    screen.ready()
    screen.page.evaluate(
        "() => { const see = () => document.querySelector('.acknowledge').checkVisibility()"
        " ? (window.seenMs = Date.now()) : setTimeout(see, 5); see(); }"
    )
    told_ms = time.time() * 1000
    watch.drag()
    assert screen.until("window.seenMs ?? 0") - told_ms < 1000
    screen.word("Dragging")
    answer = screen.area(".acknowledge")
    for other in ("#glance h1", "#live-picture .plot", ".silence", "#live-picture .series"):
        assert screen.area(other) < answer, other
    assert answer > 0.4 * PHONE["width"] * PHONE["height"]
    assert "Moved 13 m towards 194° SSW" in screen.page.locator("#alerts").inner_text()
    screen.until("document.title.startsWith('ALERT')")
    screen.page.locator("#to-device").focus()
    screen.page.keyboard.press("Tab")
    assert screen.page.evaluate("document.activeElement.dataset.part") == "acknowledge"


def test_what_she_drags_towards_and_what_to_do_stand_with_the_alert(
    watch: Any, open_page: OpenPage
) -> None:
    """The danger at once; the card shut beneath the answer, and open and first after it."""
    screen = open_page(watch.url, size=PHONE, cookie=watch.pair("Phone"))
    screen.ready()
    watch.drag()
    said = screen.sees("#alerts .danger").inner_text()
    assert said == "Pontoon (pier) 140 m ahead, 190° S: 12 min at this rate."
    card = screen.page.locator("#alerts .card")
    assert card.get_attribute("open") is None
    assert "what to do" in card.inner_text()
    screen.sees(".acknowledge").click()
    screen.misses(".acknowledge")
    screen.until("document.querySelector('#alerts .card').open")
    steps = screen.page.locator("#alerts .step")
    assert steps.count() == 5
    assert steps.first.inner_text().startswith("Confirm")
    # 60 m aboard less 38 m out; the pontoon leaves more room than that.
    assert "There is room for 22 m more" in card.inner_text()
    assert "The anchor lies near 46°30.072'N" in card.inner_text()
    first = "[...document.querySelectorAll('#alerts > *')].find((e) => e.checkVisibility())"
    assert screen.page.evaluate(f"{first}.className") == "danger"
    card.locator("summary").click()
    watch.say()
    assert card.get_attribute("open") is None
    watch.said |= {"danger": {**watch.said["danger"], "minutes": None}}
    watch.say()
    screen.until("document.querySelector('#alerts .danger').textContent.includes('nothing marked')")


def test_the_card_is_open_where_the_answer_was_known_before_it(
    watch: Any, open_page: OpenPage
) -> None:
    """A page that is opened after the answer, or hears of the answer first."""
    watch.drag()
    watch.alert("drag", state="active_acknowledged", by="Chart table")
    screen = open_page(watch.url, size=PHONE)
    screen.sees("#alerts .step")
    assert screen.page.locator("#alerts .acknowledge").is_hidden()


def test_what_laying_back_said_is_shown(watch: Any, open_page: OpenPage) -> None:
    """That the anchor bit, or came home, or that nothing is proved; and nothing before."""
    screen = open_page(watch.url)
    screen.word("Holding")
    for result, words in (
        ("anchor_bitten", "has bitten"),
        ("anchor_came_home", "came home"),
        ("rode_not_stretched", "slack rode"),
        ("rode_not_told", "not said"),
    ):
        watch.said["set_result"] = result
        watch.say()
        screen.until(
            f"document.querySelector('#glance [data-part=set]').textContent.includes({words!r})"
        )
    watch.said["set_result"] = None
    watch.say()
    screen.misses("#glance [data-part='set']")


def test_an_answer_given_at_one_device_is_seen_at_the_other(
    watch: Any, open_page: OpenPage
) -> None:
    """Silence first, which is no answer; then the answer, with the name of who gave it."""
    bunk = open_page(watch.url, size=PHONE, cookie=watch.pair("Phone in the fore cabin"))
    table = open_page(watch.url, cookie=watch.pair("Chart table"))
    bunk.ready()
    table.ready()
    watch.drag()
    table.sees(".acknowledge")
    bunk.sees(".silence").click()
    table.sees(".alert[data-state='silenced']")
    table.misses(".silence")
    table.sees(".acknowledge").click()
    bunk.misses(".acknowledge")
    assert "acknowledged, by Chart table" in bunk.page.locator("#alerts").inner_text()
    assert bunk.page.locator("#watch-h").inner_text() == "DRAGGING"
    assert [each["command"] for each in watch.commands] == ["silence", "acknowledge"]


def test_a_silent_wire_is_said_plainly_and_is_over_by_itself(
    watch: Any, open_page: OpenPage
) -> None:
    """The connection stands but nothing comes, as with a daemon that hangs. It can be heard too."""
    screen = open_page(watch.url)
    screen.word("Holding")
    screen.page.click("#sound-allow")
    screen.page.evaluate(
        "() => { const make = AudioBufferSourceNode.prototype; const start = make.start;"
        " make.start = function () { window.soundedS = this.buffer.duration;"
        " return start.call(this); }; }"
    )
    watch.mute = True
    silent_s = time.monotonic()
    screen.sees("#lost")
    assert 2.5 < time.monotonic() - silent_s < 5.5
    screen.word("No word")
    assert screen.page.title().startswith("NO WORD")
    assert "Then: holding." in screen.page.locator("#glance").inner_text()
    assert (
        screen.page.evaluate(
            "getComputedStyle(document.querySelector('.figures')).textDecorationLine"
        )
        == "line-through"
    )
    # One long, one short: 4 s, which is no alarm of the boat's own.
    assert abs(screen.until("window.soundedS ?? 0") - 4.0) < 0.01
    age = screen.page.locator("#lost-age").inner_text()
    screen.until(f"document.querySelector('#lost-age').textContent !== {age!r}")
    watch.mute = False
    screen.misses("#lost")
    screen.word("Holding")


def test_a_daemon_that_is_gone_is_missed_within_five_seconds_and_found_again(
    watch: Any, open_page: OpenPage
) -> None:
    """Another run on the same port is taken up without a touch, and deeds wait meanwhile."""
    screen = open_page(watch.url, cookie=watch.pair("Chart table"))
    screen.ready()
    watch.stop()
    gone_s = time.monotonic()
    screen.sees("#lost")
    assert time.monotonic() - gone_s < 5.0
    assert screen.page.locator("[data-opens='do-weigh']").is_disabled()
    watch.restart()
    screen.misses("#lost")
    screen.ready()


def test_the_night_is_looked_back_at_without_losing_sight_of_now(
    watch: Any, open_page: OpenPage
) -> None:
    """The slider tells the moment in words; the top of the page stays with the present."""
    watch.hours(6)
    screen = open_page(watch.url)
    screen.word("Holding")
    screen.until("Number(document.querySelector('.slider').max) > 21500")
    screen.until("Number(document.querySelector('.slider').min) === 0")
    slider = screen.page.locator("#live-picture .slider")
    slider.evaluate("s => { s.value = 3600; s.dispatchEvent(new Event('input')); }")
    past = screen.page.locator("#live-picture [data-part='past-words']")
    # 19:20 UTC and an hour, on a device two hours west of Greenwich.
    assert past.inner_text().startswith("18:20:00, 3")
    assert "from the anchor, wind" in past.inner_text()
    assert slider.get_attribute("aria-valuetext") == past.inner_text()
    slider.press("PageDown")
    assert past.inner_text().startswith("17:")
    assert screen.page.locator("#watch-h").inner_text() == "HOLDING"
    screen.page.click("#live-picture [data-part='present']")
    screen.misses("#live-picture .past")


def test_the_plot_is_told_in_words_too(watch: Any, open_page: OpenPage) -> None:
    """Anchor, circle, boat, and the nearest neighbours and dangers."""
    watch.load_surroundings()
    screen = open_page(watch.url)
    screen.until(
        "document.querySelector('#live-picture .plot').getAttribute('aria-label').includes('Skua')"
    )
    label = screen.page.locator("#live-picture .plot").get_attribute("aria-label")
    # The drop is 46.5012 N, 31.2034 W: 60 times the decimals are the minutes.
    assert "Anchor at 46°30.072'N 031°12.204'W" in label
    assert "The circle is 42 m" in label
    assert "Nearest to the antenna: " in label


def test_lengths_are_in_the_units_one_chooses(watch: Any, open_page: OpenPage) -> None:
    """38 m of rode are 20.8 fathoms (six feet of 0.3048 m each), and 125 feet."""
    screen = open_page(f"{watch.url}#device")
    screen.word("Holding")
    screen.page.check("input[value='fathoms']")
    assert "20.8 fm" in screen.page.locator("#glance").inner_text()
    screen.page.check("input[value='feet']")
    assert "125 ft" in screen.page.locator("#glance").inner_text()

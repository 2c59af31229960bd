"""What can be done from the page: in two steps where it begins or ends a watch."""

import datetime as dt
import json
from collections.abc import Callable
from typing import Any

import pytest

from driftlead.core.inputs_json import VERBS
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.web.static_files import FOLDER

OpenPage = Callable[..., Any]
PHONE = {"width": 360, "height": 740}
STOWED = {"state": "stowed", "on_watch": False, "anchor": None, "verdict": None, "radius_m": None}


def test_the_anchor_is_let_go_by_two_touches(watch: Any, open_page: OpenPage) -> None:
    """The first only stands by; the second, large one marks the moment, with what was typed in."""
    watch.said = dict(STOWED)
    screen = open_page(watch.url, size=PHONE, cookie=watch.pair("Phone in the fore cabin"))
    screen.word("No watch")
    screen.sees("[data-opens='do-let-go']").click()
    assert not watch.commands
    button = screen.sees("#do-let-go .huge")
    assert screen.area("#do-let-go .huge") > 0.2 * PHONE["width"] * PHONE["height"]
    screen.page.fill("#do-let-go [data-length='depth_m']", "20 ft")
    button.click()
    screen.misses("#do-let-go")
    (command,) = watch.commands
    assert command["command"] == "let_go"
    assert command["depth_m"] == pytest.approx(20 * 0.3048)
    assert command["run_id"] == watch.run_id
    assert "rode_m" not in command
    assert "Let go: done." in screen.page.locator("#answer").inner_text()


def test_weighing_takes_a_second_touch_and_can_be_left(watch: Any, open_page: OpenPage) -> None:
    """The first touch says what it would mean; leaving it gives the keyboard back where it was."""
    screen = open_page(watch.url, cookie=watch.pair("Chart table"))
    screen.ready()
    screen.page.click("[data-opens='do-weigh']")
    assert "nobody is woken any more" in screen.sees("#do-weigh").inner_text()
    screen.page.click("#do-weigh [data-part='cancel']")
    screen.misses("#do-weigh")
    assert screen.page.evaluate("document.activeElement.dataset.opens") == "do-weigh"
    assert not watch.commands
    screen.page.keyboard.press("Enter")
    screen.sees("#do-weigh")
    # A key held down too long must not end the watch.
    screen.page.keyboard.press("Enter")
    assert not watch.commands
    screen.page.keyboard.press("Tab")
    screen.page.keyboard.press("Enter")
    screen.word("No watch")
    assert [each["command"] for each in watch.commands] == ["weigh"]


def test_a_length_that_is_none_is_asked_for_again(watch: Any, open_page: OpenPage) -> None:
    """Nothing is sent, and the page says how to write it; with a unit it goes as metres."""
    screen = open_page(watch.url, cookie=watch.pair("Chart table"))
    screen.ready()
    screen.page.click("[data-opens='do-veer']")
    for wrong in ("", "much", "35,5", "0", "-3"):
        screen.page.fill("#do-veer [data-length='rode_m']", wrong)
        screen.page.click("#do-veer [type='submit']")
        screen.sees("#answer[data-tone='bad']")
    assert not watch.commands
    screen.page.fill("#do-veer [data-length='rode_m']", "20fm")
    screen.page.click("#do-veer [type='submit']")
    screen.misses("#do-veer")
    assert watch.commands[0]["rode_m"] == pytest.approx(20 * 6 * 0.3048)


def test_the_mark_is_moved_by_keys_and_by_dragging(watch: Any, open_page: OpenPage) -> None:
    """Asked twice; its place goes out in degrees, checked against our own plane."""
    watch.refuses = "The place given is 30 km from the boat."
    screen = open_page(watch.url, cookie=watch.pair("Chart table"))
    screen.ready()
    screen.page.click("[data-opens='do-mark']")
    canvas = screen.page.locator("#live-picture .plot")
    canvas.focus()
    for key in ("ArrowUp", "ArrowUp", "Shift+ArrowRight"):
        screen.page.keyboard.press(key)
    moved = screen.page.locator("#do-mark [data-part='moved']")
    assert moved.inner_text().startswith("10 m towards 079° ENE from the mark.")
    button = screen.page.locator("#do-mark [data-part='set']")
    button.click()
    assert button.inner_text() == "Yes: move it 10 m towards 079° ENE"
    assert not watch.commands
    # Whoever goes on moving it has to be asked anew.
    canvas.press("ArrowUp")
    assert button.inner_text() == "The anchor lies there…"
    canvas.press("ArrowDown")
    button.click()
    assert not watch.commands
    button.click()
    screen.sees("#answer[data-tone='bad']")
    assert "30 km from the boat" in screen.page.locator("#answer").inner_text()
    (command,) = watch.commands
    plane = LocalPlane(Position(46.5012, -31.2034))
    assert plane.to_plane(command["lat"], command["lon"]) == pytest.approx((10.0, 2.0), abs=0.01)
    canvas.scroll_into_view_if_needed()
    box = canvas.bounding_box()
    screen.page.mouse.move(box["x"] + 200, box["y"] + 200)
    screen.page.mouse.down()
    screen.page.mouse.move(box["x"] + 200, box["y"] + 280)
    screen.page.mouse.up()
    assert "from the mark" in moved.inner_text()
    assert not moved.inner_text().startswith("10 m towards 079°")
    watch.refuses = ""
    button.click()
    button.click()
    screen.misses("#do-mark")
    assert len(watch.commands) == 2
    screen.until("document.querySelector('.plot-box figcaption').textContent.includes('by hand')")


@pytest.mark.parametrize("state", ["let_go", "laying_back", "brought_up", "riding", "dragging"])
def test_the_mark_can_be_corrected_in_every_state_of_the_watch(
    watch: Any, open_page: OpenPage, state: str
) -> None:
    """Wherever there is an anchor on the bottom; a drag found from the old mark is none then.

    What lies round her is asked for anew: some of it is told by bearing from the mark.
    """
    watch.said = {"state": state, "verdict": "dragging" if state == "dragging" else "holding"}
    screen = open_page(watch.url, cookie=watch.pair("Chart table"))
    screen.word("Dragging" if state == "dragging" else "Holding")
    screen.sees("[data-opens='do-mark']").click()
    screen.page.click("#do-mark [data-part='east']")
    asked = "performance.getEntriesByName(`${location.origin}/api/v1/surroundings`).length"
    before = screen.until(asked)
    for _ in range(2):
        screen.page.click("#do-mark [data-part='set']")
    screen.misses("#do-mark")
    screen.sees("#answer[data-tone='good']")
    screen.word("Holding")
    assert watch.now()["anchor"]["east_m"] == pytest.approx(1.0, abs=0.01)
    screen.until(f"{asked} > {before}")


def test_the_cable_is_slipped_in_two_steps_and_what_to_write_down_stays(
    watch: Any, open_page: OpenPage
) -> None:
    """Anchor, buoy, rode, depth and time, to be copied; and a way to let go anew."""
    screen = open_page(watch.url, size=PHONE, cookie=watch.pair("Phone"))
    screen.ready()
    screen.page.click("[data-opens='do-slip']")
    # The drop is 46.5012 N, 31.2034 W: 60 times the decimals are the minutes.
    assert "46°30.072'N 031°12.204'W" in screen.sees("#do-slip").inner_text()
    assert not watch.commands
    screen.page.click("#do-slip [type='submit']")
    said = screen.sees("#slipped").inner_text()
    assert [each["command"] for each in watch.commands] == ["slip"]
    for part in (
        *("Anchor  46°30.072'N 031°12.204'W", "Buoy    46°30.054'N 031°12.204'W"),
        *("38 m of rode in 5.2 m of water", "2026-06-15 03:20:27 UTC (01:20 here)"),
    ):
        assert part in said
    screen.word("No watch")
    screen.page.click("#slipped [data-part='copy']")
    screen.until("document.querySelector('#slipped [data-part=said]').textContent !== ''")
    screen.sees("[data-opens='do-let-go']")


def test_an_alert_is_handed_over_to_one_of_the_watch_bill(watch: Any, open_page: OpenPage) -> None:
    """The names come from the daemon; without a choice nothing is sent; nobody has answered yet."""
    watch.crew = [{"name": "Skipper", "on_watch": False}, {"name": "Mate", "on_watch": True}]
    screen = open_page(watch.url, size=PHONE, cookie=watch.pair("Phone"))
    screen.ready()
    assert screen.page.locator(".transfer").is_hidden()
    watch.drag()
    screen.sees(".transfer")
    screen.page.click(".transfer button")
    assert not watch.commands
    assert "Mate (has the watch)" in screen.page.locator(".transfer select").inner_text()
    screen.page.select_option(".transfer select", "Mate")
    screen.page.click("text=Hand over to Mate")
    screen.sees(".alert[data-state='responsibility_transferred']")
    assert "handed over, not answered" in screen.page.locator("#alerts").inner_text()
    assert (watch.commands[0]["command"], watch.commands[0]["to"]) == ("transfer", "Mate")
    screen.sees(".acknowledge")


def test_every_command_of_the_terminal_has_its_place_on_the_page(
    watch: Any, open_page: OpenPage
) -> None:
    """Each verb of the core is sent by something there; what is sent is what the API knows."""
    source = "".join(path.read_text() for path in FOLDER.glob("*.js"))
    words = {verb.replace("-", "_") for verb in VERBS} - {"correct_mark"} | {"move_anchor"}
    for word in words:
        assert f'"{word}"' in source, word
    spec = json.loads((FOLDER.parent / "openapi.json").read_text())
    mapping = spec["components"]["schemas"]["Command"]["discriminator"]["mapping"]
    assert set(mapping) == words


def test_whoever_is_not_paired_sees_but_does_not_act(watch: Any, open_page: OpenPage) -> None:
    """The page says how to pair; a wrong PIN is refused in words, the right one opens the deck."""
    screen = open_page(watch.url)
    screen.word("Holding")
    screen.sees("#invite")
    assert screen.page.locator("#acting").is_hidden()
    watch.alert("drag")
    screen.sees("#alerts [data-part='pair']").click()
    screen.sees("#pair-box")
    screen.page.fill("[name='pin']", "000000")
    screen.page.fill("[name='name']", "Cockpit")
    screen.page.click("#pair-form [type='submit']")
    assert "The PIN is wrong." in screen.sees("#answer[data-tone='bad']").inner_text()
    screen.page.fill("[name='pin']", "482913")
    screen.page.click("#pair-form [type='submit']")
    screen.sees("#devices li")
    assert "Cockpit (this one)" in screen.page.locator("#devices").inner_text()
    screen.sees(".acknowledge").click()
    screen.misses(".acknowledge")
    assert watch.alerts[0]["by"] == "Cockpit"


def test_where_reading_needs_pairing_there_is_only_the_way_to_pair(
    watch: Any, open_page: OpenPage
) -> None:
    """No figures, no banner of a lost watch: the way in, and after it the watch."""
    watch.reading_needs_pairing = True
    screen = open_page(watch.url, size=PHONE)
    screen.word("Not paired")
    screen.sees("#pair-box")
    assert screen.page.locator("#lost").is_hidden()
    screen.page.fill("[name='pin']", "482913")
    screen.page.click("#pair-form [type='submit']")
    screen.word("Holding")


def test_the_plan_is_reckoned_and_its_warnings_are_shown(watch: Any, open_page: OpenPage) -> None:
    """Knots go out as metres a second (1 kn = 1852 m an hour)."""
    screen = open_page(watch.url, cookie=watch.pair("Chart table"))
    screen.ready()
    screen.page.click(".plan > summary")
    screen.page.fill("#do-plan [name='wind']", "16")
    screen.page.select_option("#do-plan [name='bottom']", "weed")
    screen.page.click("#do-plan [type='submit']")
    answer = screen.sees("#plan-answer").inner_text()
    assert "Veer 35 m" in answer
    assert "Warning: Weed holds poorly." in answer
    assert "tide table of the configuration" in answer
    assert "tide" not in watch.plans[0]
    # On a device two hours west of Greenwich.
    rows = screen.page.locator("#plan-answer tbody tr").all_inner_texts()
    assert [row.split("\t")[0] for row in rows] == ["18:00", "20:15 HW"]
    assert "aground 0.2 m" in rows[1]


def test_other_high_and_low_waters_go_out_with_their_days(watch: Any, open_page: OpenPage) -> None:
    """One a line, by the clock here; the first is the last before now, the others follow it."""
    screen = open_page(watch.url, cookie=watch.pair("Chart table"))
    screen.ready()
    screen.page.click(".plan > summary")
    screen.page.fill("#do-plan [name='wind']", "16")
    screen.page.click(".other-tide summary")
    screen.page.fill("#do-plan [name='tide']", "high water at noon")
    screen.page.click("#do-plan [type='submit']")
    assert "is no high or low water" in screen.sees("#answer[data-tone='bad']").inner_text()
    assert not watch.plans
    screen.page.fill("#do-plan [name='tide']", "2026-06-14 16:02 0.9\n22:15 4.1 m\n04:31 3ft")
    screen.page.click("#do-plan [type='submit']")
    screen.sees("#plan-answer")
    assert watch.plans[0]["tide"] == [
        {"t": "2026-06-14T18:02:00.000Z", "height_m": 0.9},
        {"t": "2026-06-15T00:15:00.000Z", "height_m": 4.1},
        {"t": "2026-06-15T06:31:00.000Z", "height_m": pytest.approx(0.9144)},
    ]
    assert "written here" in screen.page.locator("#plan-answer").inner_text()
    screen.page.check("#do-plan [name='no_tide']")
    screen.page.click("#do-plan [type='submit']")
    screen.until(
        "document.querySelector('#plan-answer').textContent.includes('of the configuration')"
    )
    assert watch.plans[1]["tide"] == []


PLACES = {
    "46.5012, -31.2034": (46.5012, -31.2034),
    " 46\N{DEGREE SIGN}30.072'N 031\N{DEGREE SIGN}12.204'W ": (46.5012, -31.2034),
}


@pytest.mark.parametrize("text", PLACES)
def test_an_anchor_that_is_down_already_is_let_go_at_a_place_that_is_known(
    watch: Any, open_page: OpenPage, text: str
) -> None:
    """What is no place is said so and nothing goes out; without a place it is worked out."""
    watch.said = dict(STOWED)
    screen = open_page(watch.url, size=PHONE, cookie=watch.pair("Phone"))
    screen.word("No watch")
    screen.sees("[data-opens='do-late']").click()
    for wrong in ("46, -31", "46,5012 -31,2034", "here", "31.2034 W 46.5012 N", "96.5, -31.2"):
        screen.page.fill("#do-late [data-part='place']", wrong)
        screen.page.click("#do-late [type='submit']")
        screen.until(
            "document.querySelector('#answer [data-part=text]').textContent"
            f" === '“{wrong}” is not a place.'"
        )
        assert "Write latitude, then longitude" in screen.page.locator("#answer").inner_text()
    assert not watch.commands
    screen.page.fill("#do-late [data-part='place']", text)
    screen.page.fill("#do-late [data-length='rode_m']", "35")
    screen.page.click("#do-late [type='submit']")
    screen.misses("#do-late")
    (command,) = watch.commands
    assert (command["lat"], command["lon"]) == pytest.approx(PLACES[text], abs=1e-6)
    assert (command["command"], command["rode_m"]) == ("let_go", 35)
    assert "late" not in command


def test_a_stay_is_planned_from_the_chart_and_for_later(watch: Any, open_page: OpenPage) -> None:
    """What dries at datum goes out below 0; the time is the next such by the clock here."""
    screen = open_page(watch.url, cookie=watch.pair("Chart table"))
    screen.ready()
    screen.page.click(".plan > summary")
    screen.page.fill("#do-plan [name='wind']", "16")
    screen.page.fill("#do-plan [name='charted']", "deep")
    screen.page.click("#do-plan [type='submit']")
    assert "what dries" in screen.sees("#answer[data-tone='bad']").inner_text()
    screen.page.fill("#do-plan [name='charted']", "-4 ft")
    screen.page.fill("#do-plan [name='begins']", "18:20")
    screen.page.click("#do-plan [type='submit']")
    screen.sees("#plan-answer")
    (plan,) = watch.plans
    assert plan["charted_m"] == pytest.approx(-4 * 0.3048)
    assert "depth_m" not in plan
    # Two hours west of Greenwich; the computer's own clock is the page's.
    begins, now = dt.datetime.fromisoformat(plan["begins"]), dt.datetime.now(dt.UTC)
    assert (begins.hour, begins.minute) == (20, 20)
    assert -dt.timedelta(minutes=5) < begins - now < dt.timedelta(days=1)


def test_what_a_drill_has_reached_is_read_after_it(watch: Any, open_page: OpenPage) -> None:
    """A line for each notifier and each of the crew; that of before is there, but shut."""
    screen = open_page(watch.url, size=PHONE, cookie=watch.pair("Phone"))
    screen.ready()
    assert screen.page.locator("#drill-result").is_hidden()
    siren = {"level": "fail", "what": "notifier <b>siren</b>", "text": "It is broken."}
    mate = {"level": "ok", "what": "crew Mate", "text": "Reached after 0.1 s.", "remedy": ""}
    watch.drill_result = {
        "number": 1,
        "good": False,
        "text": "The drill was acknowledged by Mate from page after 21 s.",
        "parts": [{**siren, "remedy": "Mend it."}, mate],
    }
    watch.say()
    result = screen.sees("#drill-result ul")
    assert result.inner_text().splitlines() == [
        "FAILED: notifier <b>siren</b>: It is broken. Mend it.",
        "crew Mate: Reached after 0.1 s.",
    ]
    assert "by Mate from page after 21 s" in screen.page.locator("#drill-result").inner_text()
    later = open_page(watch.url)
    assert "IT DID NOT ARRIVE EVERYWHERE" in later.sees("#drill-result summary").inner_text()
    assert later.page.locator("#drill-result ul").is_hidden()


def test_a_drill_is_begun_and_ended(watch: Any, open_page: OpenPage) -> None:
    """Its end is offered while it is up."""
    screen = open_page(watch.url, cookie=watch.pair("Chart table"))
    screen.ready()
    assert screen.page.locator("#drill-over").is_hidden()
    screen.page.click("[data-opens='do-drill']")
    screen.page.click("#do-drill [type='submit']")
    screen.misses("#do-drill")
    watch.alert("drill", text="A test of the alarm.", state="active_acknowledged", moved_m=None)
    screen.sees("#drill-over").click()
    screen.sees("#answer[data-tone='good']")
    asked = [(each["command"], each.get("over")) for each in watch.commands]
    assert asked == [("drill", None), ("drill", True)]

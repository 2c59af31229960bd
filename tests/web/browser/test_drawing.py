"""What is drawn on plot and curves, read off the pen: to scale, north up, fading with age."""

import math
from collections.abc import Callable
from typing import Any

import pytest

OpenPage = Callable[..., Any]
SPY = """
(() => {
  const pen = CanvasRenderingContext2D.prototype;
  const drawn = (window.drawn = new WeakMap());
  const of = ({ canvas }) => {
    if (!drawn.has(canvas)) drawn.set(canvas, { done: [], path: [] });
    return drawn.get(canvas);
  };
  const spy = (name, see) => {
    const real = pen[name];
    pen[name] = function (...given) {
      see(this, of(this), given);
      return real.apply(this, given);
    };
  };
  // Each frame begins with the ground.
  spy("fillRect", (it, log, [x, y]) => { if (!x && !y) log.done = []; });
  spy("beginPath", (it, log) => { log.path = []; });
  spy("moveTo", (it, log, at) => log.path.push(at));
  spy("lineTo", (it, log, at) => log.path.push(at));
  spy("arc", (it, log, [x, y, r]) => log.path.push([x, y, r]));
  const inked = (it, log) => log.done.push({
    path: log.path, colour: it.strokeStyle, alpha: it.globalAlpha, dash: it.getLineDash(),
  });
  spy("stroke", inked);
  spy("fillText", (it, log, [text, x, y]) => log.done.push({ text, x, y }));
  window.readOff = (selector) => drawn.get(document.querySelector(selector))?.done ?? [];
})();
"""
PLOT = "#live-picture .plot"


def read_off(screen: Any, selector: str, *, until: str) -> list[dict[str, Any]]:
    """What was drawn in the last frame, once this text is in it."""
    screen.until(f"readOff({selector!r}).some((each) => each.text?.startsWith({until!r}))")
    found: list[dict[str, Any]] = screen.page.evaluate(f"readOff({selector!r})")
    return found


def bar_of(marks: list[dict[str, Any]]) -> float:
    """Pixels a metre, by the scale bar: what it says, and how long it is."""
    (text,) = [
        each["text"]
        for each in marks
        if each.get("text", "").endswith(" m") and each["text"][:1].isdigit()
    ]
    (bar,) = [
        each["path"]
        for each in marks
        if len(each.get("path", ())) == 4 and each["path"][0][0] == each["path"][1][0] == 14
    ]
    return float((bar[2][0] - bar[1][0]) / float(text.split()[0]))


@pytest.mark.parametrize(
    "size", [{"width": 360, "height": 740}, {"width": 1280, "height": 800}], ids=["phone", "table"]
)
def test_boat_circle_and_doubt_are_drawn_to_the_scale_of_the_bar(
    watch: Any, open_page: OpenPage, size: dict[str, int]
) -> None:
    """A boat of 9.6 m heading east, a circle of 42 m, an anchor good to 2.6 m (one sigma)."""
    watch.load_surroundings()
    watch.say(heading_deg=90.0)
    screen = open_page(watch.url, size=size, init=SPY)
    marks = read_off(screen, PLOT, until="Pellow pier")
    per_m = bar_of(marks)
    hull = next(each["path"] for each in marks if len(each.get("path", ())) == 9)
    along = [x for x, _ in hull]
    assert max(along) - min(along) == pytest.approx(9.6 * per_m, rel=0.01)
    # The bow is first, and foremost in the east.
    assert hull[0][0] == pytest.approx(max(along))
    rings = [each["path"][0][2] for each in marks if each.get("path") and len(each["path"][0]) == 3]
    assert any(r == pytest.approx(42.0 * per_m, rel=0.01) for r in rings)
    # Nineteen times in twenty: the square root of -2 ln 0.05 sigmas of a Rayleigh distribution.
    assert any(
        r == pytest.approx(math.sqrt(-2 * math.log(0.05)) * 2.6 * per_m, rel=0.01) for r in rings
    )
    texts = {each["text"]: each for each in marks if "text" in each}
    assert {"N", "Petrel", "Skua", "Gannet", "Pellow pier"} <= texts.keys()
    # North is up: Petrel lies 58 m off, bearing 012, of the anchor; Gannet 64 m off, bearing 160.
    up = (texts["Gannet"]["y"] - texts["Petrel"]["y"]) / per_m
    wanted = 58 * math.cos(math.radians(12)) - 64 * math.cos(math.radians(160))
    assert up == pytest.approx(wanted, rel=0.02)


def test_the_track_fades_with_age(watch: Any, open_page: OpenPage) -> None:
    """Six hours of it: one colour, and each piece fainter than the next younger one."""
    watch.hours(6)
    screen = open_page(watch.url, init=SPY)
    screen.until("Number(document.querySelector('#live-picture .slider').min) === 0")
    screen.until(f"readOff({PLOT!r}).filter((each) => each.path?.length > 20).length >= 5")
    marks = read_off(screen, PLOT, until="N")
    pieces = [each for each in marks if len(each.get("path", ())) > 20 and not each["dash"]]
    alphas = [each["alpha"] for each in pieces]
    assert len(alphas) >= 5
    assert alphas == sorted(set(alphas))
    assert alphas[-1] == 1.0
    assert alphas[0] < 0.4
    assert len({each["colour"] for each in pieces}) == 1


def test_the_night_has_curves_of_distance_wind_and_depth(watch: Any, open_page: OpenPage) -> None:
    watch.hours(6)
    screen = open_page(watch.url, init=SPY)
    marks = read_off(screen, "#live-picture .series", until="Distance")
    texts = " ".join(each["text"] for each in marks if "text" in each)
    for lane in ("Distance", "Wind", "Depth"):
        assert lane in texts
        assert f"{lane}: not known" not in texts

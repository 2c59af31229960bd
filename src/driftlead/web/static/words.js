// What states, verdicts, reasons and alerts are called on the page.

import { bearing, length } from "./units.js";

const STATES = {
  stowed: "Anchor stowed. No watch is kept.",
  let_go: "Let go: the anchor is on the bottom and she is over it.",
  laying_back: "Laying back: she falls astern from the anchor.",
  brought_up: "Brought up, and watched closely.",
  riding: "Riding to her anchor.",
  dragging: "The anchor is coming home.",
  aweigh: "Aweigh. No watch is kept.",
  slipped: "Slipped: the anchor lies buoyed on the bottom. No watch is kept.",
};
const VERDICTS = { holding: "Holding", unsure: "Unsure", dragging: "Dragging" };
const REASONS = {
  as_the_rode_allows: "Her track fits an anchor that has not moved.",
  swing_changed: "She swings in another arc: more likely moved than not, but not sure enough to wake anybody.",
  not_yet_long: "It looks like a drag, but only for a moment so far.",
  anchor_moved: "Only an anchor that has moved explains her track.",
  far_outside_drag_circle: "She is far outside the circle that her rode allows.",
  outside_whole_rode: "She is farther off than all the rode aboard reaches.",
  rode_unknown: "No rode length is known, so no circle can be drawn. Say how much is out.",
};
const SETS = {
  anchor_bitten: "The anchor has bitten: she stopped with her rode stretched.",
  rode_not_stretched: "She stopped with a slack rode: that has not tested the anchor.",
  anchor_came_home: "The anchor came home as she lay back to it.",
  rode_not_told: "How much rode is out was not said, so laying back has proved nothing.",
};
const METHODS = {
  marked: "marked at let go",
  marked_no_heading: "marked at let go, heading not known",
  given: "given by hand",
  inferred: "worked out from her swinging",
  moved: "moved by a drag",
};
const ALERT_STATES = {
  active_unacknowledged: "not answered",
  silenced: "silenced for half a minute, not answered",
  active_acknowledged: "acknowledged",
  responsibility_transferred: "handed over, not answered",
  rectified_unacknowledged: "over, not answered",
  normal: "over",
};
const EVENTS = {
  let_go: "let go",
  set_late: "set late",
  veer: "rode veered",
  weigh: "weighed",
  slipped: "cable slipped",
  correct_mark: "mark corrected",
  fell_back: "fell back",
  fetched_up: "fetched up",
  settled: "settled",
  drag_found: "drag found",
  held_again: "holds again",
  stowed: "stowed",
};

/** A word of the program that has no phrase here yet, made readable. */
const plain = (word) => String(word ?? "").replaceAll("_", " ");

export const stateWords = (state) => STATES[state] ?? `${plain(state)}.`;
export const verdictWords = (verdict) => VERDICTS[verdict] ?? plain(verdict);
export const reasonWords = (reason) => (reason ? REASONS[reason] ?? `${plain(reason)}.` : "");
export const setWords = (result) => (result ? SETS[result] ?? `${plain(result)}.` : "");
export const methodWords = (method) => METHODS[method] ?? plain(method);
export const alertStateWords = (state) => ALERT_STATES[state] ?? plain(state);
export const alertName = (alert) =>
  plain(alert.name) + (alert.instance ? ` (${alert.instance})` : "");

/** What she drags towards: "Pontoon 140 m ahead, 054° NE: 12 min at this rate." */
export function dangerWords({ name, kind, distance_m: m, bearing_deg: deg, minutes }) {
  const what = name === kind ? name : `${name} (${plain(kind)})`;
  if (minutes === null) return `Her drift leads to nothing marked. The nearest: ${what}, ${length(m)}, ${bearing(deg)}.`;
  const left = minutes < 1 ? "less than a minute" : minutes < 120 ? `${Math.floor(minutes)} min` : `${Math.round(minutes / 60)} h`;
  return `${what} ${length(m)} ahead, ${bearing(deg)}: ${left} at this rate.`;
}

/** One line of the night's log. */
export function eventWords(event) {
  if (event.kind === "state") {
    const why = SETS[event.reason] ? `. ${SETS[event.reason]}` : "";
    return `${EVENTS[event.name] ?? plain(event.name)}: ${plain(event.state)}${why}`;
  }
  const by = event.by ? ` by ${event.by}` : "";
  return `${event.priority} ${alertName(event)}, ${alertStateWords(event.state)}${by}`;
}

/** Whether somebody must still answer it. */
export const isUnanswered = (alert) =>
  alert.state !== "active_acknowledged" && alert.state !== "normal";

/** Whether it is to be heard. */
export const sounds = (alert) =>
  alert.state === "active_unacknowledged" && alert.priority !== "caution";

const RANK = { alarm: 2, warning: 1, caution: 0 };
export const rank = (priority) => RANK[priority] ?? 1;

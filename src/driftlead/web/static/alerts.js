// The alerts that are up, and the two answers to them. The buttons stay the same elements all the
// time, so that no press is lost to a redraw.

import { make, part, setData, setHidden, setText } from "./dom.js";
import { bearing, clock, drift, length, percent } from "./units.js";
import { alertName, alertStateWords, isUnanswered, rank } from "./words.js";

const STEPS = [
  "Make sure: a transit abeam, a lead on the bottom, a hand on the rode.",
  "All hands, engine on. Look that no line is near the propeller.",
  "Veer, if there is room to leeward.",
  "Weigh and anchor anew.",
  "No time left: buoy the bitter end and slip.",
];

export class Alerts {
  constructor(root, { acknowledge, silence }) {
    this.root = root;
    part(root, "acknowledge").addEventListener("click", acknowledge);
    part(root, "silence").addEventListener("click", silence);
    part(root, "steps").append(...STEPS.map((step) => make("li", {}, step)));
  }

  show(alerts, { paired }) {
    const ordered = [...alerts].sort(
      (a, b) => isUnanswered(b) - isUnanswered(a) || rank(b.priority) - rank(a.priority),
    );
    const unanswered = ordered.filter(isUnanswered);
    const urgent = unanswered.filter((alert) => alert.priority !== "caution");
    setHidden(this.root, ordered.length === 0);
    const worst = ordered.reduce((most, alert) => Math.max(most, rank(alert.priority)), -1);
    setData(this.root, "priority", ["caution", "warning", "alarm"][worst] ?? "none");
    setData(this.root, "open", unanswered.length ? "yes" : "no");
    setData(this.root, "loud", urgent.some((alert) => alert.state === "active_unacknowledged") ? "yes" : "no");
    setHidden(part(this.root, "answers"), unanswered.length === 0 || !paired);
    setHidden(part(this.root, "pair"), unanswered.length === 0 || paired);
    setHidden(part(this.root, "silence"), !urgent.some((alert) => alert.state === "active_unacknowledged"));
    setText(
      part(this.root, "acknowledge-what"),
      unanswered.length > 1 ? `all ${unanswered.length}` : unanswered.map(alertName).join(""),
    );
    setHidden(part(this.root, "card"), !ordered.some((alert) => alert.name === "drag"));
    this.#list(ordered);
  }

  #list(alerts) {
    const key = JSON.stringify(alerts.map((alert) => [alert.name, alert.instance, alert.state, alert.text, alert.by, alert.priority, alert.moved_m]));
    if (this.key === key) return;
    this.key = key;
    part(this.root, "list").replaceChildren(...alerts.map(row));
  }
}

function row(alert) {
  const said = [alertStateWords(alert.state)];
  if (alert.by) said.push(`by ${alert.by}`);
  if (alert.handed_to) said.push(`to ${alert.handed_to}`);
  if (alert.t) said.push(clock(Date.parse(alert.t) / 1000, { seconds: true }));
  return make(
    "li",
    { class: `alert ${rank(alert.priority) === 0 ? "slight" : ""}`, "data-name": alert.name, "data-state": alert.state },
    make("strong", {}, `${alert.priority}: ${alertName(alert)}`),
    make("span", { class: "alert-text" }, [alert.text, figures(alert)].filter(Boolean).join(" ")),
    make("span", { class: "alert-state" }, said.join(", ")),
  );
}

function figures(alert) {
  if (!alert.moved_m) return "";
  const rate = alert.rate_mps === null ? "" : `, ${drift(alert.rate_mps)}`;
  const chance = alert.confidence === null ? "" : `; chance ${percent(alert.confidence)}`;
  return `Moved ${length(alert.moved_m)} towards ${bearing(alert.bearing_deg)}${rate}${chance}.`;
}

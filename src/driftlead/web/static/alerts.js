// The alerts that are up, and the two answers to them. The buttons stay the same elements all the
// time, so that no press is lost to a redraw.

import { Card } from "./card.js";
import { make, part, setData, setHidden, setText } from "./dom.js";
import { bearing, clock, drift, length, percent } from "./units.js";
import { alertName, alertStateWords, dangerWords, isUnanswered, rank } from "./words.js";

export class Alerts {
  constructor(root, { acknowledge, silence, transfer }) {
    this.root = root;
    part(root, "acknowledge").addEventListener("click", acknowledge);
    part(root, "silence").addEventListener("click", silence);
    this.card = new Card(part(root, "card"));
    this.hands = part(root, "hands");
    part(root, "transfer").addEventListener("submit", (event) => {
      event.preventDefault();
      if (this.hands.value) transfer(this.hands.value);
    });
    this.hands.addEventListener("change", () => this.#hand());
  }

  /** `now` is the last that was heard; null before there is one. */
  show(alerts, { paired, now }) {
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
    const drag = ordered.find((alert) => alert.name === "drag");
    setHidden(part(this.root, "danger"), !drag || !now?.danger);
    setText(part(this.root, "danger"), now?.danger ? dangerWords(now.danger) : "");
    this.card.show(drag ? now?.response : null, unanswered.length > 0);
    this.#crew(unanswered.length && paired ? (now?.crew ?? []) : []);
    this.#list(ordered);
  }

  /** Whom it can be handed over to. The choice stays while others come and go. */
  #crew(hands) {
    setHidden(part(this.root, "transfer"), hands.length === 0);
    const key = JSON.stringify(hands);
    if (!hands.length || key === this.crewKey) return;
    this.crewKey = key;
    const chosen = this.hands.value;
    const option = ({ name, on_watch: on }) => make("option", { value: name }, on ? `${name} (has the watch)` : name);
    this.hands.replaceChildren(make("option", { value: "" }, "nobody yet"), ...hands.map(option));
    this.hands.value = hands.some(({ name }) => name === chosen) ? chosen : "";
    this.#hand();
  }

  #hand() {
    const to = this.hands.value;
    setText(part(this.root, "hand"), to ? `Hand over to ${to}` : "Hand over");
    setData(part(this.root, "transfer"), "chosen", to ? "yes" : "no");
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

// What a person may do to the watch. Each deed opens a small panel of its own: nothing that ends a
// watch or begins one is done by a single touch. No dialog covers the page, for an alert may come.

import { byId, part, setHidden, setText } from "./dom.js";
import { position, readLength, readPosition, units } from "./units.js";

export class Acting {
  constructor({ api, scene, say, mark }) {
    this.api = api;
    this.scene = scene;
    this.say = say;
    this.mark = mark;
    this.root = byId("acting");
    this.open = null;
    for (const button of this.root.querySelectorAll("button[data-opens]")) {
      button.addEventListener("click", () => this.#toggle(button));
    }
    for (const button of this.root.querySelectorAll("[data-part='cancel']")) {
      button.addEventListener("click", () => this.close());
    }
    this.#form("let-go", () => ({ command: "let_go", fields: this.#lengths("let-go") }));
    this.#form("late", () => ({ command: "let_go", fields: this.#late() }));
    this.#form("veer", () => {
      const fields = this.#lengths("veer");
      return fields && fields.rode_m == null ? this.#complain("How much rode is out, in all?") : { command: "veer", fields };
    });
    this.#form("weigh", () => ({ command: "weigh", fields: {} }));
    this.#form("slip", () => ({ command: "slip", fields: {} }));
    this.#form("drill", () => ({ command: "drill", fields: {} }));
    byId("drill-over").addEventListener("click", () => this.give("drill", { over: true }));
  }

  /** Gives a command and shows the answer. True if it has taken effect. */
  async give(command, fields = {}) {
    const { now } = this.scene;
    if (!now) {
      this.say("There is no word from the watch yet.", "", "bad");
      return false;
    }
    this.say("Sending…", "", "wait");
    try {
      const answer = await this.api.command(command, now, fields);
      const good = answer.accepted && answer.saved;
      this.say(answer.text, answer.remedy, good ? "good" : "bad");
      return answer.accepted;
    } catch (refusal) {
      this.say(refusal.message, refusal.remedy, "bad");
      return false;
    }
  }

  show({ paired, lost }) {
    const { now } = this.scene;
    setHidden(this.root, !paired);
    for (const button of this.root.querySelectorAll("button[data-when]")) {
      const when = button.dataset.when === "on" ? now?.on_watch : now && !now.on_watch;
      setHidden(button, !when);
    }
    const place = now?.anchor ? `The anchor is believed at ${position(now.anchor)}.` : "";
    setText(part(byId("do-slip"), "place"), place);
    setHidden(byId("drill-over"), !this.scene.alerts.some((alert) => alert.name === "drill"));
    for (const button of this.root.querySelectorAll("button")) button.disabled = (lost || !now) && button.dataset.part !== "cancel";
    if (this.open?.dataset.when && this.open.hidden) this.close();
    for (const unit of this.root.querySelectorAll("[data-part='unit']")) setText(unit, units.rodeUnit);
  }

  close() {
    if (!this.open) return;
    const button = this.open;
    this.open = null;
    button.setAttribute("aria-expanded", "false");
    const panel = byId(button.dataset.opens);
    const hadFocus = panel.contains(document.activeElement);
    setHidden(panel, true);
    if (button.dataset.opens === "do-mark") this.mark.end();
    if (hadFocus && !button.hidden) button.focus();
  }

  #toggle(button) {
    const again = this.open === button;
    this.close();
    if (again) return;
    this.open = button;
    button.setAttribute("aria-expanded", "true");
    const panel = byId(button.dataset.opens);
    setHidden(panel, false);
    if (button.dataset.opens === "do-mark") this.mark.begin();
    // Never the button that does it: a key held down too long would press it.
    const first = button.dataset.opens === "do-veer" ? panel.querySelector("input") : panel;
    first.focus({ preventScroll: true });
    if (button.dataset.opens !== "do-mark") panel.scrollIntoView({ block: "nearest" });
  }

  #form(name, read) {
    const form = byId(`do-${name}`);
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const asked = read();
      if (!asked?.fields) return;
      if (await this.give(asked.command, asked.fields)) this.close();
    });
  }

  /** At the place that is given, or, without one, where she swings round; null if a field is wrong. */
  #late() {
    const lengths = this.#lengths("late");
    if (lengths === null) return null;
    const input = part(byId("do-late"), "place");
    const place = readPosition(input.value);
    if (place === undefined) {
      input.focus();
      return this.#complain(
        `“${input.value.trim()}” is not a place.`,
        "Write latitude, then longitude: 46.5012, -31.2034 or 46°30.072'N 031°12.204'W.",
      );
    }
    return place === null ? { ...lengths, late: true } : { ...lengths, ...place };
  }

  /** Reads the lengths of a panel; null if one of them is none. */
  #lengths(name) {
    const fields = {};
    for (const input of byId(`do-${name}`).querySelectorAll("input[data-length]")) {
      const m = readLength(input.value, units.rodeUnit);
      if (Number.isNaN(m) || m === 0 || m > 1000) {
        input.focus();
        return this.#complain(`“${input.value}” is not a length. Write 35 m, 100 ft or 5 fm.`);
      }
      if (m !== null) fields[input.dataset.length] = m;
    }
    return fields;
  }

  #complain(text, remedy = "") {
    this.say(text, remedy, "bad");
    return null;
  }
}

/** One place for every answer, read out as it changes. */
export function makeSay(root) {
  let timer = null;
  return (text, remedy, tone) => {
    clearTimeout(timer);
    setHidden(root, false);
    root.dataset.tone = tone;
    setText(part(root, "text"), text);
    setText(part(root, "remedy"), remedy);
    if (tone === "good") timer = setTimeout(() => setHidden(root, true), 12000);
  };
}

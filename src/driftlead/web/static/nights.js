// The recorded nights: choose one, and see at any speed what the detector thought at each moment.

import { byId, make, part, setData, setHidden, setText } from "./dom.js";
import { judge } from "./judge.js";
import { Picture } from "./picture.js";
import { Scene } from "./scene.js";
import { around } from "./shapes.js";
import { age, clock, length, percent } from "./units.js";
import { dangerWords } from "./words.js";

const JUMP_S = 1800;

export class Nights {
  constructor({ api, say }) {
    this.api = api;
    this.say = say;
    this.scene = new Scene({ live: false });
    this.picture = new Picture(byId("replay-picture"), this.scene);
    this.player = byId("player");
    this.source = null;
    this.name = null;
    this.reachedS = 0;
    this.over = false;
    part(this.player, "play").addEventListener("click", () => (this.source ? this.pause() : this.play()));
    part(this.player, "jump").addEventListener("click", () => this.#jump());
    part(this.player, "speed").addEventListener("change", () => this.source && this.play());
    part(this.player, "back").addEventListener("click", () => this.leave());
    this.scene.onChange(() => this.show());
  }

  async list() {
    try {
      const { nights } = await this.api.ask("/nights");
      setHidden(byId("no-nights"), nights.length > 0);
      byId("night-list").replaceChildren(...nights.map((night) => this.#row(night)));
    } catch (refusal) {
      this.say(refusal.message, refusal.remedy, "bad");
    }
  }

  #row(night) {
    const button = make("button", { type: "button", class: "night" }, make("strong", {}, night.name));
    const at = Date.parse(night.written_utc);
    const day = Number.isNaN(at) ? "" : new Date(at).toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
    const size = `${(night.size_bytes / 1e6).toFixed(1)} MB`;
    const going = night.being_written ? "being written" : `ended ${day}`;
    button.append(make("span", {}, `${going}, ${size}`));
    button.addEventListener("click", () => this.open(night.name));
    return make("li", {}, button);
  }

  async open(name) {
    this.leave();
    this.name = name;
    setHidden(byId("night-choice"), true);
    setHidden(this.player, false);
    setText(part(this.player, "name"), name);
    setText(part(this.player, "faults"), "");
    this.play();
    try {
      const detail = await this.api.ask(`/nights/${encodeURIComponent(name)}`);
      const notes = detail.resumed ? ["It takes up a watch that was on before.", ...detail.faults] : detail.faults;
      setText(part(this.player, "faults"), notes.join(" "));
    } catch (refusal) {
      this.say(refusal.message, refusal.remedy, "bad");
    }
  }

  leave() {
    this.pause();
    this.name = null;
    this.reachedS = 0;
    this.over = false;
    this.scene.clear();
    this.picture.plot.view.forget();
    setHidden(this.player, true);
    setHidden(byId("night-choice"), false);
  }

  play(fromS = this.over ? 0 : this.reachedS) {
    this.pause();
    if (this.over) this.scene.clear();
    this.over = false;
    this.scene.lookBackS = null;
    const source = this.api.replay(this.name, part(this.player, "speed").value, Math.floor(fromS));
    this.source = source;
    const listen = (kind, take) =>
      source.addEventListener(kind, (message) => this.source === source && take(JSON.parse(message.data)));
    listen("now", (now) => this.#take(now));
    listen("alert", (item) => this.scene.takeEvent(item));
    listen("state", (item) => this.scene.takeEvent(item));
    listen("end", (end) => {
      this.over = true;
      this.pause();
      setText(part(this.player, "state"), end.text);
    });
    // Left to itself the browser would begin the whole night again.
    source.addEventListener("error", () => {
      if (this.source !== source) return;
      this.pause();
      this.say("The replay broke off.", "Press play to go on from there.", "bad");
    });
    setText(part(this.player, "play"), "Pause");
    setText(part(this.player, "state"), "");
  }

  pause() {
    this.source?.close();
    this.source = null;
    setText(part(this.player, "play"), "Play");
  }

  #take(now) {
    // Each replay is a run of its own, but to us it is the same night going on.
    now.run_id = this.name;
    this.reachedS = Math.max(this.reachedS, now.run_s);
    this.scene.take(now);
  }

  #jump() {
    this.scene.track.gap();
    this.reachedS += JUMP_S;
    this.play();
  }

  surroundings(collection) {
    this.collection = collection;
  }

  show() {
    const { now } = this.scene;
    if (now && this.collection && this.plane !== this.scene.plane) {
      this.plane = this.scene.plane;
      this.scene.surroundings = this.plane ? around(this.collection, this.plane) : [];
    }
    const thought = part(this.player, "thought");
    setHidden(thought, !now);
    if (!now) return;
    const found = judge(now, now.fix_age_s);
    setData(thought, "tone", found.tone);
    setText(part(thought, "word"), found.word);
    setText(part(thought, "sure"), found.sure);
    setText(part(thought, "why"), found.why);
    const utc = now.utc === null ? null : Date.parse(now.utc) / 1000;
    const odds = now.log_odds === null ? "" : `Log odds ${now.log_odds.toFixed(1)} (${percent(now.confidence)}).`;
    const lies = now.distance_m === null ? "" : `${length(now.distance_m)} off, circle ${length(now.radius_m)}.`;
    setText(part(thought, "figures"), [`${clock(utc, { seconds: true })}, ${age(now.run_s)} into the night.`, lies, now.danger ? dangerWords(now.danger) : "", odds].filter(Boolean).join(" "));
    const alerts = this.scene.alerts.map((alert) => `${alert.priority} ${alert.name.replaceAll("_", " ")}`);
    setText(part(thought, "alerts"), alerts.length ? `Alerts then: ${alerts.join(", ")}.` : "No alerts then.");
  }
}

// The top of the page: one word, how sure, how far, wind, depth, and how old the fix is.

import { make, part, setData, setHidden, setText } from "./dom.js";
import { judge } from "./judge.js";
import { age, bearing, depth, drift, length, rode, wind } from "./units.js";
import { setWords } from "./words.js";

const SVG = "http://www.w3.org/2000/svg";
const BAR = 100;

export class Glance {
  constructor(root, scene, link) {
    this.root = root;
    this.scene = scene;
    this.link = link;
    this.bar = new RodeBar(part(root, "bar"));
  }

  /** Seconds since the fix, going on by our own clock between two words from the daemon. */
  fixAgeS() {
    const { now } = this.scene;
    if (!now || now.fix_age_s === null) return null;
    return now.fix_age_s + Math.max(0, (Date.now() - this.scene.heardMs) / 1000);
  }

  show() {
    const { now } = this.scene;
    setHidden(part(this.root, "figures"), !now);
    if (this.link.barred && !now) {
      this.#word("off", "Not paired", "Pair this device to see how she lies.", "");
      return null;
    }
    if (!now) {
      this.#word(this.link.lost ? "blind" : "off", this.link.lost ? "No word" : "Asking the watch", "", "");
      return null;
    }
    const fixAge = this.fixAgeS();
    const found = judge(now, fixAge);
    if (this.link.lost) {
      const then = found.tone === "blind" ? "" : `Then: ${found.word.toLowerCase()}. `;
      this.#word("blind", "No word", `${then}Nothing here is known to be so now.`, "");
    } else {
      this.#word(found.tone, found.word, found.sure, found.why);
    }
    this.#figures(now, fixAge);
    return found;
  }

  #word(tone, word, sure, why) {
    setData(this.root, "tone", tone);
    setText(part(this.root, "word"), word);
    setText(part(this.root, "sure"), sure);
    setText(part(this.root, "why"), why);
  }

  #figures(now, fixAge) {
    const figure = (name, value, note) => {
      setText(part(this.root, name), value);
      setText(part(this.root, `${name}-note`), note);
    };
    const lies = now.on_watch ? now.distance_m : null;
    const circle = now.radius_m === null ? "circle not known" : `circle ${length(now.radius_m)}`;
    figure("distance", length(lies), now.on_watch ? `to ${bearing(now.bearing_deg)}; ${circle}` : "no anchor down");
    figure("wind", wind(now.wind_mps), now.wind_from_deg === null ? "not known" : `from ${bearing(now.wind_from_deg)}`);
    figure("depth", depth(now.depth_m), now.depth_m === null ? "not known" : "of water");
    figure("fix", age(fixAge), fixAge === null ? "no fix yet" : "old");
    figure("rode", rode(now.rode_m), now.rode_m === null && now.on_watch ? "say how much is out" : "out");
    const [heading, point] = bearing(now.heading_deg).split(" ");
    figure("heading", heading, point ?? "not known");
    setHidden(part(this.root, "moved"), !(now.on_watch && now.moved_m));
    if (now.on_watch && now.moved_m) {
      const rate = now.rate_mps === null ? "" : `, ${drift(now.rate_mps)} now`;
      setText(part(this.root, "moved"), `The anchor has moved ${length(now.moved_m)} towards ${bearing(now.moved_deg)}${rate}.`);
    }
    const set = now.on_watch ? setWords(now.set_result) : "";
    setHidden(part(this.root, "set"), set === "");
    setText(part(this.root, "set"), set);
    this.bar.show(lies, now.radius_m);
  }
}

/** How far out she lies on her circle, as a bar with a mark. */
class RodeBar {
  constructor(root) {
    this.root = root;
    const put = (name, attributes) => {
      const element = document.createElementNS(SVG, name);
      for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
      root.append(element);
      return element;
    };
    put("rect", { class: "bar-rest", x: 0, y: 5, width: 130, height: 4 });
    this.fill = put("rect", { class: "bar-fill", x: 0, y: 5, width: 0, height: 4 });
    put("rect", { class: "bar-limit", x: BAR - 0.6, y: 0, width: 1.2, height: 14 });
    this.mark = put("path", { class: "bar-mark", d: "M0 2 l3.5 5 l-3.5 5 l-3.5 -5 z" });
  }

  show(distanceM, radiusM) {
    const known = distanceM !== null && radiusM;
    this.root.classList.toggle("unknown", !known);
    const at = known ? Math.min(130, (BAR * distanceM) / radiusM) : 0;
    this.fill.setAttribute("width", at.toFixed(1));
    this.mark.setAttribute("transform", `translate(${Math.max(4, Math.min(126, at)).toFixed(1)} 0)`);
  }
}

/** What is wrong with sources and disk, a line each. */
export function troubles(now) {
  const lines = [];
  for (const source of now.sources) {
    if (!source.open) lines.push(`Source ${source.name} is closed. ${source.detail}`);
    else if (source.line_age_s === null) lines.push(`Source ${source.name}: nothing has come in yet.`);
    else if (source.line_age_s >= 10) lines.push(`Source ${source.name}: silent for ${age(source.line_age_s)}.`);
  }
  if (!now.journal_ok) lines.push("The watch is not on the disk: the journal cannot be written.");
  if (!now.recording_ok) lines.push("The recording cannot be written.");
  if (now.lost_lines) lines.push(`${now.lost_lines} lines of the recording were lost.`);
  return lines;
}

export function showLines(list, lines) {
  const key = lines.join("\n");
  if (list.dataset.key === key) return;
  list.dataset.key = key;
  list.replaceChildren(...lines.map((line) => make("li", {}, line)));
}

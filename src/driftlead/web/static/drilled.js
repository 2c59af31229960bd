// After a drill: whom and what it has reached, as the daemon found it.

import { byId, make, part, setHidden, setText } from "./dom.js";

const LEVELS = { ok: "", look: "Not called: ", fail: "FAILED: " };

export class Drilled {
  constructor(ask) {
    this.ask = ask;
    this.root = byId("drill-result");
    this.runId = null;
    this.number = 0;
    this.asking = false;
  }

  /** Asks for the result when there is another one; that of before the page was opened stays shut. */
  async show(now) {
    if (!now || this.asking) return;
    const anew = this.runId !== now.run_id;
    if (!anew && this.number === now.drills) return;
    this.asking = true;
    try {
      const { result } = now.drills ? await this.ask() : { result: null };
      [this.runId, this.number] = [now.run_id, result?.number ?? now.drills];
      setHidden(this.root, !result);
      if (!result) return;
      setText(part(this.root, "good"), result.good ? "it arrived" : "IT DID NOT ARRIVE EVERYWHERE");
      part(this.root, "good").className = result.good ? "" : "bad";
      setText(part(this.root, "text"), result.text);
      part(this.root, "parts").replaceChildren(...result.parts.map(row));
      this.root.open = !anew;
      if (!anew) this.root.scrollIntoView({ block: "nearest" });
    } catch {
      // The next word from the watch asks again.
    } finally {
      this.asking = false;
    }
  }
}

function row({ level, what, text, remedy }) {
  return make(
    "li",
    { "data-level": level },
    make("strong", { class: level === "fail" ? "bad" : "" }, `${LEVELS[level]}${what}`),
    `: ${[text, remedy].filter(Boolean).join(" ")}`,
  );
}

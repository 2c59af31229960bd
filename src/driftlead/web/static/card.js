// What to do when she drags, in order, as the daemon has filled it in.

import { make, part, setHidden, setText } from "./dom.js";

export class Card {
  constructor(root) {
    this.root = root;
    this.key = null;
    this.opened = false;
  }

  /**
   * `unanswered`: somebody must still answer; the button comes first then, and the card is shut. It
   * opens by itself once for each answer, however the answer and the card came to be known here.
   */
  show(response, unanswered) {
    setHidden(this.root, !response);
    if (!response && this.key) this.root.open = false;
    if (!response || unanswered) this.opened = false;
    else if (!this.opened) this.root.open = this.opened = true;
    const key = response ? JSON.stringify(response) : null;
    if (key === this.key) return;
    this.key = key;
    if (!response) return;
    part(this.root, "steps").replaceChildren(...response.steps.map((step) => row(step, response.urgent)));
    setText(part(this.root, "note"), response.note);
  }
}

function row({ name, title, text }, urgent) {
  const now = name === urgent;
  return make(
    "li",
    { class: now ? "step urgent" : "step", "data-name": name },
    make("strong", {}, title),
    now ? make("span", { class: "now" }, "Now") : null,
    make("span", { class: "step-text" }, text),
  );
}

// After the cable was slipped: what must be written down to find the anchor again. It stays there
// until an anchor is let go anew.

import { byId, part, setHidden, setText } from "./dom.js";
import { clock, depth, length, position, rode } from "./units.js";

export class Slipped {
  constructor(scene) {
    this.scene = scene;
    this.root = byId("slipped");
    this.text = part(this.root, "text");
    part(this.root, "copy").addEventListener("click", () => this.#copy());
  }

  show() {
    const { now, events } = this.scene;
    const slipped = now?.state === "slipped";
    setHidden(this.root, !slipped);
    if (!slipped) return;
    const last = events.findLast(({ event }) => event.kind === "state" && event.name === "slipped");
    setText(this.text, last ? words(last.event) : "This page has not seen it happen: see driftlead anchorages.");
    setHidden(part(this.root, "copy"), !last);
  }

  /** Only a secure page may put text on the clipboard; otherwise it is marked, to be copied by hand. */
  async #copy() {
    const said = part(this.root, "said");
    try {
      await navigator.clipboard.writeText(this.text.textContent);
      setText(said, "Copied.");
    } catch {
      getSelection().selectAllChildren(this.text);
      setText(said, "It is marked: copy it by hand.");
    }
  }
}

function words({ t, anchor, bow, rode_m: rodeM, depth_m: depthM }) {
  const lines = [];
  if (anchor) lines.push(`Anchor  ${position(anchor)}, good to ${length(anchor.sigma_m)}`);
  lines.push(bow ? `Buoy    ${position(bow)}, good to ${length(bow.sigma_m)}` : "Buoy    no fix told where the bow was");
  lines.push(`Left    ${rodeM == null ? "rode of unknown length" : `${rode(rodeM)} of rode`}${depthM == null ? "" : ` in ${depth(depthM)} of water`}`);
  lines.push(`Time    ${t ? `${t.slice(0, 19).replace("T", " ")} UTC (${clock(Date.parse(t) / 1000)} here)` : "not known"}`);
  return lines.join("\n");
}

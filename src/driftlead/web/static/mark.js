// Correcting the anchor's mark, at any time of the watch: a second anchor is dragged on the plot, or
// moved a metre at a time, and only set when that is said on purpose, twice.

import { part, setHidden, setText } from "./dom.js";
import { bearing, length } from "./units.js";
import { bearingOf } from "./plane.js";

const STEP_M = 1;
const LONG_STEP_M = 10;
const KEYS = { ArrowUp: [0, 1], ArrowDown: [0, -1], ArrowLeft: [-1, 0], ArrowRight: [1, 0] };

export class Mark {
  constructor(root, { plot, element, scene, set }) {
    this.root = root;
    this.plot = plot;
    this.element = element;
    this.scene = scene;
    for (const [name, step] of Object.entries({ north: [0, 1], south: [0, -1], west: [-1, 0], east: [1, 0] })) {
      part(root, name).addEventListener("click", () => this.#move(step[0] * STEP_M, step[1] * STEP_M));
    }
    part(root, "set").addEventListener("click", () => this.#set(set));
    root.addEventListener("keydown", (event) => this.#key(event));
    element.addEventListener("keydown", (event) => this.#key(event));
    element.addEventListener("pointerdown", (event) => this.#grasp(event));
    element.addEventListener("pointermove", (event) => this.#drag(event));
    element.addEventListener("pointerup", () => (this.grasped = null));
    element.addEventListener("pointercancel", () => (this.grasped = null));
  }

  begin() {
    const anchor = this.scene.now?.anchor;
    if (!anchor) {
      setText(part(this.root, "moved"), "The place of the anchor is not known yet.");
      return;
    }
    this.from = { east: anchor.east_m, north: anchor.north_m };
    this.plot.ghost = { ...this.from };
    this.element.classList.add("marking");
    this.element.tabIndex = 0;
    setHidden(this.root, false);
    this.element.scrollIntoView({ block: "start" });
    this.#show();
  }

  /** The first touch asks, the second sets; whoever moves the mark in between is asked anew. */
  #set(set) {
    if (!this.moved) return;
    if (this.sure) {
      set(this.#place());
      return;
    }
    this.sure = true;
    setText(part(this.root, "set"), `Yes: move it ${this.way}`);
  }

  end() {
    this.plot.ghost = null;
    this.element.classList.remove("marking");
    this.element.removeAttribute("tabindex");
    setHidden(this.root, true);
    this.plot.canvas.ask();
  }

  #grasp(event) {
    if (!this.plot.ghost || !this.plot.place) return;
    this.element.setPointerCapture(event.pointerId);
    this.grasped = [event.offsetX, event.offsetY];
  }

  // It follows the finger from wherever that is, so that the finger never covers it.
  #drag(event) {
    if (!this.grasped || !this.plot.ghost) return;
    const [x, y] = this.grasped;
    this.grasped = [event.offsetX, event.offsetY];
    this.#move((event.offsetX - x) / this.plot.place.perM, (y - event.offsetY) / this.plot.place.perM);
  }

  #key(event) {
    const step = KEYS[event.key];
    if (!step || !this.plot.ghost) return;
    event.preventDefault();
    const m = event.shiftKey ? LONG_STEP_M : STEP_M;
    this.#move(step[0] * m, step[1] * m);
  }

  #move(east, north) {
    if (!this.plot.ghost) return;
    this.plot.ghost.east += east;
    this.plot.ghost.north += north;
    this.#show();
  }

  #show() {
    const [east, north] = [this.plot.ghost.east - this.from.east, this.plot.ghost.north - this.from.north];
    const distance = Math.hypot(east, north);
    this.moved = distance >= 0.05;
    this.sure = false;
    this.way = `${length(distance)} towards ${bearing(bearingOf(east, north))}`;
    setText(
      part(this.root, "moved"),
      !this.moved ? "Drag the mark on the plot, or use the arrows." : `${this.way} from the mark. What was judged of the old mark is forgotten.`,
    );
    setText(part(this.root, "set"), "The anchor lies there…");
    this.plot.canvas.ask();
  }

  #place() {
    return this.scene.plane.toLatLon(this.plot.ghost.east, this.plot.ghost.north);
  }
}

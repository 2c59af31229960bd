// What is shown: the live watch, or a night that is replayed. Both say it in the same messages.

import { Plane } from "./plane.js";
import { Track } from "./track.js";

const TRACK_STEP_S = 5;
const MOST_EVENTS = 500;
const OFF_WATCH = new Set(["stowed", "aweigh", "slipped"]);

export class Scene {
  constructor({ live }) {
    this.live = live;
    this.now = null;
    this.heardMs = 0;
    this.track = new Track();
    this.events = [];
    this.lastId = null;
    this.alerts = [];
    this.surroundings = [];
    this.plane = null;
    this.lookBackS = null;
    this.hearers = [];
  }

  onChange(hearer) {
    this.hearers.push(hearer);
  }

  changed() {
    for (const hearer of this.hearers) hearer();
  }

  clear() {
    this.now = null;
    this.plane = null;
    this.alerts = [];
    this.events = [];
    this.lastId = null;
    this.lookBackS = null;
    this.track.clear();
    this.changed();
  }

  /** Takes a `now`. True if the track no longer fits it and must be loaded anew. */
  take(now) {
    const before = this.now;
    const otherRun = before !== null && before.run_id !== now.run_id;
    const otherPlane = !samePlace(before?.origin, now.origin);
    if (otherRun) {
      this.events = [];
      this.lastId = null;
    }
    if (otherRun || otherPlane) {
      this.track.clear();
      this.lookBackS = null;
      this.plane = now.origin ? new Plane(now.origin) : null;
    }
    this.now = now;
    this.heardMs = Date.now();
    this.alerts = now.alerts;
    this.#addPoint(now);
    this.changed();
    return otherRun || otherPlane;
  }

  /** Takes an `alert` or `state` as it happens, which may be up to a second before the next now. */
  takeEvent(item) {
    const { event } = item;
    this.lastId = item.id;
    if (this.events.some((known) => known.id === item.id)) return;
    this.events.push(item);
    if (this.events.length > MOST_EVENTS) this.events.shift();
    if (event.kind === "alert") {
      const others = this.alerts.filter(
        (alert) => alert.name !== event.name || alert.instance !== event.instance,
      );
      this.alerts = event.state === "normal" ? others : [event, ...others];
    } else if (this.now) {
      this.now = { ...this.now, state: event.state, on_watch: !OFF_WATCH.has(event.state) };
    }
    this.changed();
  }

  /** Takes the events of before. */
  takeEvents(items) {
    const known = new Set(this.events.map((item) => item.id));
    this.events = [...items.filter((item) => !known.has(item.id)), ...this.events]
      .sort((a, b) => a.run_s - b.run_s)
      .slice(-MOST_EVENTS);
    this.lastId ??= items.at(-1)?.id ?? null;
    this.changed();
  }

  /** Takes the track of before, or the piece of it that was missed. */
  takeTrack(data) {
    if (!this.now || data.run_id !== this.now.run_id || !samePlace(data.origin, this.now.origin)) return;
    if (data.rows.length) {
      this.track.lay(data.columns, data.rows);
      this.changed();
    }
  }

  /** What is looked at: null for the present, else the point of the track looked back at. */
  lookedAt() {
    if (this.lookBackS === null) return null;
    const index = this.track.indexAt(this.lookBackS);
    return index < 0 ? null : this.track.at(index);
  }

  lookBack(runS) {
    this.lookBackS = runS !== null && runS < (this.track.lastS ?? 0) ? runS : null;
    this.changed();
  }

  #addPoint(now) {
    if (!now.position) return;
    if (this.track.size && now.run_s - this.track.lastS < TRACK_STEP_S) return;
    this.track.add(
      {
        run_s: now.run_s,
        utc_s: now.utc === null ? null : Date.parse(now.utc) / 1000,
        east_m: now.position.east_m,
        north_m: now.position.north_m,
        distance_m: now.distance_m,
        heading_deg: now.heading_deg,
        wind_from_deg: now.wind_from_deg,
        wind_mps: now.wind_mps,
        depth_m: now.depth_m,
        radius_m: now.radius_m,
        confidence: now.confidence,
      },
      now.verdict,
    );
  }
}

const samePlace = (a, b) => (a && b ? a.lat === b.lat && a.lon === b.lon : !a && !b);

// High and low waters as a person writes them, and the water through the night as it is shown.

import { make } from "./dom.js";
import { clock, depth } from "./units.js";

const LINE = /^(?:(\d{4})-(\d\d)-(\d\d)[ T])?(\d{1,2}):(\d\d)\s+(-?\d+(?:\.\d+)?)\s*(m|ft)?$/;
const FOOT_M = 0.3048;
const DAY_MS = 86400e3;

/**
 * Turns from lines such as "18:20 4.1", the last turn before now first, each the next such time after
 * the one before; a date may stand before the time. Null for nothing; throws the line that is none.
 */
export function readTurns(text, now = new Date()) {
  const turns = [];
  for (const line of text.split("\n").map((each) => each.trim()).filter(Boolean)) {
    const found = LINE.exec(line);
    if (!found || Number(found[4]) > 23 || Number(found[5]) > 59) throw new RangeError(line);
    const [, year, month, day, hours, minutes, height, unit] = found;
    const at = new Date(now);
    if (year) at.setFullYear(Number(year), Number(month) - 1, Number(day));
    at.setHours(Number(hours), Number(minutes), 0, 0);
    if (!year) {
      const before = turns.at(-1);
      if (!before && at > now) at.setTime(at - DAY_MS);
      while (before && at <= before.at) at.setTime(at.getTime() + DAY_MS);
      while (before && at - before.at > DAY_MS) at.setTime(at.getTime() - DAY_MS);
    }
    turns.push({ at, height_m: Number(height) * (unit === "ft" ? FOOT_M : 1) });
  }
  return turns.length ? turns.map(({ at, height_m }) => ({ t: at.toISOString(), height_m })) : null;
}

/** When it is "18:20" next by the clock here. */
export function nextTime(text, now = new Date()) {
  const [hours, minutes] = text.split(":").map(Number);
  const at = new Date(now);
  at.setHours(hours, minutes, 0, 0);
  if (at < now) at.setDate(at.getDate() + 1);
  return at;
}

/** A table of the hours of a plan; null where the water stays as it is. */
export function hoursTable(hours) {
  if (!hours.length) return null;
  const keel = hours.some((hour) => hour.under_keel_m != null);
  const heads = ["Time", "Tide", "Depth", "Scope", ...(keel ? ["Under keel"] : [])];
  const row = (hour) => {
    const aground = keel && hour.under_keel_m <= 0;
    return make(
      "tr",
      { class: hour.turn ? "turn" : "" },
      make("th", { scope: "row" }, `${clock(Date.parse(hour.t) / 1000)}${hour.turn ? ` ${hour.turn}` : ""}`),
      make("td", {}, depth(hour.tide_m)),
      make("td", {}, depth(hour.depth_m)),
      make("td", {}, hour.scope === null ? "–" : `${hour.scope.toFixed(1)}:1`),
      keel ? make("td", { class: aground ? "bad" : "" }, aground ? `aground ${depth(-hour.under_keel_m)}` : depth(hour.under_keel_m)) : null,
    );
  };
  return make(
    "table",
    { class: "hours" },
    make("caption", {}, "Through the night"),
    make("thead", {}, make("tr", {}, ...heads.map((head) => make("th", { scope: "col" }, head)))),
    make("tbody", {}, ...hours.map(row)),
  );
}

// The edge of the SI world: lengths, winds, times as the person reads and writes them.

import { memory } from "./dom.js";

const FOOT_M = 0.3048;
const FATHOM_M = 6 * FOOT_M;
const KNOT_MPS = 1852 / 3600;
const UNITS_M = {
  m: 1, metre: 1, metres: 1, meter: 1, meters: 1,
  ft: FOOT_M, foot: FOOT_M, feet: FOOT_M,
  fm: FATHOM_M, fathom: FATHOM_M, fathoms: FATHOM_M,
  shackle: 15 * FATHOM_M, shackles: 15 * FATHOM_M, shot: 15 * FATHOM_M, shots: 15 * FATHOM_M,
};
const POINTS = [
  "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE",
  "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW",
];
export const UNKNOWN = "–";

export const units = {
  system: memory.get("units", "metric"),
  choose(system) {
    this.system = system;
    memory.set("units", system);
  },
  /** The unit in which rode is written where none is given. */
  get rodeUnit() {
    return { metric: "m", feet: "ft", fathoms: "fm" }[this.system] ?? "m";
  },
};

const known = (value) => value != null && Number.isFinite(value);

/** A distance or a length over the ground. */
export function length(m) {
  if (!known(m)) return UNKNOWN;
  if (Math.abs(m) >= 1852) return `${(m / 1852).toFixed(2)} nm`;
  if (units.system !== "metric") return `${Math.round(m / FOOT_M)} ft`;
  return Math.abs(m) < 9.95 ? `${m.toFixed(1)} m` : `${Math.round(m)} m`;
}

export function depth(m) {
  if (!known(m)) return UNKNOWN;
  if (units.system === "fathoms") return `${(m / FATHOM_M).toFixed(1)} fm`;
  return units.system === "feet" ? `${(m / FOOT_M).toFixed(1)} ft` : `${m.toFixed(1)} m`;
}

export function rode(m) {
  if (!known(m)) return UNKNOWN;
  if (units.system === "fathoms") return `${(m / FATHOM_M).toFixed(1)} fm`;
  return units.system === "feet" ? `${Math.round(m / FOOT_M)} ft` : `${Math.round(m)} m`;
}

export function wind(mps) {
  return known(mps) ? `${Math.round(mps / KNOT_MPS)} kn` : UNKNOWN;
}

/** How fast an anchor comes home: metres or feet a minute. */
export function drift(mps) {
  if (!known(mps)) return UNKNOWN;
  const perMinute = mps * 60;
  if (units.system !== "metric") return `${(perMinute / FOOT_M).toFixed(0)} ft a minute`;
  return `${perMinute.toFixed(1)} m a minute`;
}

/** A half goes to the even neighbour, as in the daemon: both must name one drift by one figure. */
function roundHalfEven(value) {
  const whole = Math.round(value);
  return Math.abs(value % 1) === 0.5 && whole % 2 !== 0 ? whole - 1 : whole;
}

export function bearing(deg) {
  if (!known(deg)) return UNKNOWN;
  const whole = ((roundHalfEven(deg) % 360) + 360) % 360;
  const point = ((roundHalfEven(deg / 22.5) % 16) + 16) % 16;
  return `${String(whole).padStart(3, "0")}° ${POINTS[point]}`;
}

export function position({ lat, lon }) {
  return `${angle(lat, "NS", 2)} ${angle(lon, "EW", 3)}`;
}

function angle(deg, letters, width) {
  const thousandths = Math.round(Math.abs(deg) * 60000);
  const whole = Math.floor(thousandths / 60000);
  const minutes = ((thousandths - whole * 60000) / 1000).toFixed(3).padStart(6, "0");
  return `${String(whole).padStart(width, "0")}°${minutes}'${letters[deg < 0 ? 1 : 0]}`;
}

/** "4 s", "2 min 05 s", "1 h 12 min": for ages, which must read at a glance. */
export function age(seconds) {
  if (!known(seconds)) return UNKNOWN;
  const whole = Math.max(0, Math.floor(seconds));
  if (whole < 60) return `${whole} s`;
  const minutes = Math.floor(whole / 60);
  if (minutes < 60) return `${minutes} min ${String(whole % 60).padStart(2, "0")} s`;
  return `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, "0")} min`;
}

/** A clock time of this device's zone from Unix seconds. */
export function clock(utcS, { seconds = false } = {}) {
  if (!known(utcS)) return UNKNOWN;
  const at = new Date(utcS * 1000);
  const two = (n) => String(n).padStart(2, "0");
  const minutes = `${two(at.getHours())}:${two(at.getMinutes())}`;
  return seconds ? `${minutes}:${two(at.getSeconds())}` : minutes;
}

export function percent(chance) {
  if (!known(chance)) return UNKNOWN;
  if (chance < 0.01) return "under 1\u00a0%";
  return chance > 0.99 ? "over 99\u00a0%" : `${Math.round(100 * chance)}\u00a0%`;
}

/** Metres from "35", "35 m", "100ft", "5 fm"; null for nothing, NaN for what is no length. */
export function readLength(text, unitWithout = units.rodeUnit) {
  const trimmed = text.trim();
  if (trimmed === "") return null;
  const found = /^([0-9]+(?:\.[0-9]+)?)\s*([a-z]*)$/i.exec(trimmed);
  if (!found) return NaN;
  const perUnit = UNITS_M[(found[2] || unitWithout).toLowerCase()];
  return perUnit === undefined ? NaN : Number(found[1]) * perUnit;
}

const ALIKE = { "º": "°", "˚": "°", "′": "'", "‘": "'", "’": "'", "″": '"', "“": '"', "”": '"', "−": "-" };
const LAST = /^([\d. ]+)([NS]) ?([\d. ]+)([EW])$/;
const FIRST = /^([NS])([\d. ]+)([EW])([\d. ]+)$/;

/**
 * A place from "46.5123, -31.2345" (both with decimals: two whole numbers are more often one number
 * with a decimal comma), "46°30.74'N 031°14.07'W" or "N46 30 44 W31 14 04". Null for nothing;
 * undefined for what is no place.
 */
export function readPosition(text) {
  const plain = text.replace(/./gu, (letter) => ALIKE[letter] ?? letter).trim().toUpperCase();
  if (plain === "") return null;
  const pair = /^(-?\d+\.\d+)(?:\s*,\s*|\s+)(-?\d+\.\d+)$/.exec(plain);
  if (pair) return onEarth(Number(pair[1]), Number(pair[2]));
  const marked = plain.replace(/([NSEW])\s*,/, "$1 ").replace(/[°'"\s]+/g, " ");
  const last = LAST.exec(marked);
  if (last) return onEarth(degrees(last[1], last[2]), degrees(last[3], last[4]));
  const first = FIRST.exec(marked.replace(/^([NS][\d. ]+),/, "$1"));
  return first ? onEarth(degrees(first[2], first[1]), degrees(first[4], first[3])) : undefined;
}

function degrees(text, letter) {
  const parts = text.trim().split(" ");
  const wrong = parts.length > 3 || parts.some((part, n) => !/^\d+(\.\d+)?$/.test(part)
    || (n < parts.length - 1 && part.includes(".")) || (n > 0 && Number(part) >= 60));
  if (wrong) return NaN;
  const size = parts.reduce((sum, part, n) => sum + Number(part) / 60 ** n, 0);
  return "SW".includes(letter) ? -size : size;
}

const onEarth = (lat, lon) => (Math.abs(lat) <= 90 && Math.abs(lon) <= 180 ? { lat, lon } : undefined);

export const knotsToMps = (knots) => knots * KNOT_MPS;

// The alarm by this device's own loudspeaker: a 520 Hz square wave, which wakes sleepers best
// (NFPA 72, 18.4.5.3), in the same rhythms as on board. None is three equal pulses and a pause
// (ISO 8201: evacuate) nor four short ones (carbon monoxide).

import { memory } from "./dom.js";

const TONE_HZ = 520;
const PEAK = 0.8;
const RAMP_S = 0.004;

/** Each as [seconds of sound, seconds of silence]. "lost" is one long and one short. */
export const RHYTHMS = {
  alarm: [[0.2, 0.15], [0.2, 0.15], [0.9, 0.4]],
  warning: [[0.4, 0.2], [0.4, 3.0]],
  lost: [[1.2, 0.2], [0.3, 2.3]],
};

/** One cycle of a rhythm as samples from -1 to 1. */
export function cycle(rhythm, rateHz) {
  const seconds = rhythm.reduce((sum, [on, off]) => sum + on + off, 0);
  const samples = new Float32Array(Math.round(seconds * rateHz));
  let begin = 0;
  for (const [on, off] of rhythm) {
    const count = Math.round(on * rateHz);
    for (let i = 0; i < count && begin + i < samples.length; i += 1) {
      const swell = Math.min(1, i / (RAMP_S * rateHz), (count - i) / (RAMP_S * rateHz));
      const high = ((i * TONE_HZ) / rateHz) % 1 < 0.5;
      samples[begin + i] = (high ? PEAK : -PEAK) * swell;
    }
    begin += Math.round((on + off) * rateHz);
  }
  return samples;
}

export class Sound {
  constructor(onChange) {
    this.onChange = onChange;
    this.wanted = memory.get("sound", "off") === "on";
    this.context = null;
    this.playing = null;
    this.source = null;
    // A browser lets nobody make a sound before a touch: the first one anywhere will do.
    for (const kind of ["pointerdown", "keydown"]) {
      document.addEventListener(kind, () => this.wanted && this.#unlock(), { capture: true });
    }
  }

  /** "off", "ready", "waiting" for a touch, or "impossible". */
  get state() {
    if (!this.wanted) return "off";
    if (typeof AudioContext === "undefined") return "impossible";
    return this.context?.state === "running" ? "ready" : "waiting";
  }

  async allow(wanted) {
    this.wanted = wanted;
    memory.set("sound", wanted ? "on" : "off");
    if (wanted) await this.#unlock();
    else this.play(null);
    this.onChange();
  }

  /** Sounds a rhythm by its name until told otherwise; null is silence. */
  play(name) {
    this.asked = name;
    const audible = this.state === "ready" ? name : null;
    if (audible === this.playing) return;
    this.source?.stop();
    this.source = null;
    this.playing = audible;
    if (audible) {
      this.source = this.#loop(audible);
      navigator.vibrate?.([400, 200, 400, 200, 1000]);
    }
    this.onChange();
  }

  /** The alarm once, to hear how loud it is. */
  test() {
    if (this.state !== "ready" || this.playing) return;
    const source = this.#loop("alarm");
    source.stop(this.context.currentTime + 2.0);
  }

  /** A looped buffer sounds on even where the browser slows the page's timers down. */
  #loop(name) {
    const samples = cycle(RHYTHMS[name], this.context.sampleRate);
    const buffer = this.context.createBuffer(1, samples.length, this.context.sampleRate);
    buffer.copyToChannel(samples, 0);
    const source = this.context.createBufferSource();
    source.buffer = buffer;
    source.loop = true;
    source.connect(this.context.destination);
    source.start();
    return source;
  }

  async #unlock() {
    if (typeof AudioContext === "undefined") return;
    if (!this.context) {
      this.context = new AudioContext();
      this.context.addEventListener("statechange", () => {
        this.play(this.asked ?? null);
        this.onChange();
      });
    }
    if (this.context.state !== "running") await this.context.resume().catch(() => {});
    this.onChange();
  }
}

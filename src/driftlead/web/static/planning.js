// Before letting go: how much rode, and will it hold.

import { byId, make, setHidden } from "./dom.js";
import { hoursTable, nextTime, readTurns } from "./tides.js";
import { clock, depth, knotsToMps, readLength, rode, units, wind } from "./units.js";

const TIDES = {
  configured: "Reckoned with the tide table of the configuration.",
  given: "Reckoned with the high and low waters written here.",
};

export class Planning {
  constructor({ api, say }) {
    const form = byId("do-plan");
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      let request;
      try {
        request = this.#read(form);
      } catch (wrong) {
        say(`“${wrong.message}” is no high or low water.`, "Write a time and a height in metres on each line: 18:20 4.1", "bad");
        return;
      }
      if (request === null) {
        say("Write winds in knots and depths as 6 m, 20 ft or 3 fm; what dries at chart datum as -1.2 m.", "", "bad");
        return;
      }
      try {
        this.#show(await api.plan(request));
      } catch (refusal) {
        say(refusal.message, refusal.remedy, "bad");
      }
    });
  }

  #read(form) {
    const { wind: mean, gusts, depth: deep, charted, begins, hours, bottom, tide, no_tide: none } = form.elements;
    const depthM = readLength(deep.value, units.rodeUnit);
    const dries = charted.value.trim().startsWith("-");
    const chartedM = readLength(charted.value.trim().replace(/^-/, ""), units.rodeUnit);
    const windKn = Number(mean.value);
    if (mean.value === "" || !(windKn >= 0) || Number.isNaN(depthM) || depthM === 0 || Number.isNaN(chartedM)) return null;
    const request = { wind_mps: knotsToMps(windKn), for_s: Number(hours.value || 12) * 3600 };
    if (gusts.value !== "") request.gust_mps = knotsToMps(Number(gusts.value));
    if (depthM !== null) request.depth_m = depthM;
    if (chartedM !== null) request.charted_m = dries ? -chartedM : chartedM;
    if (begins.value) request.begins = nextTime(begins.value).toISOString();
    if (bottom.value) request.bottom = bottom.value;
    const turns = none.checked ? [] : readTurns(tide.value);
    if (turns) request.tide = turns;
    return request;
  }

  #show(plan) {
    const by = { scope: "the rule of scope", gusts: "the gusts" }[plan.governs] ?? plan.governs;
    const lines = [`Decided by ${by}; ${rode(plan.aboard_m)} aboard.`];
    if (plan.by_scope_m) lines.push(`Scope ${plan.scope_rule}:1 at the most water: ${rode(plan.by_scope_m)}.`);
    if (plan.by_gusts_m) lines.push(`To pull level at the anchor in gusts of ${wind(plan.gust_mps)}: ${rode(plan.by_gusts_m)}.`);
    for (const [name, water] of [["Most", plan.most_water], ["Least", plan.least_water]]) {
      if (!water) continue;
      const keel = water.under_keel_m == null ? "" : `, ${depth(water.under_keel_m)} under the keel`;
      lines.push(`${name} water ${depth(water.depth_m)}: scope ${water.scope}:1${keel}.`);
    }
    for (const { sunset, sunrise } of plan.dark ?? []) {
      lines.push(`Dark from ${clock(Date.parse(sunset) / 1000)} to ${clock(Date.parse(sunrise) / 1000)}: anchor light.`);
    }
    const warnings = Array.isArray(plan.warnings) ? plan.warnings : [];
    const through = hoursTable(plan.hours ?? []);
    const answer = byId("plan-answer");
    answer.replaceChildren(
      make("p", { class: "plan-rode" }, `Veer ${rode(plan.rode_m)}`),
      make("ul", {}, ...warnings.map((text) => make("li", { class: "bad" }, `Warning: ${text}`)), ...lines.map((text) => make("li", {}, text))),
      ...(through ? [through] : []),
      make("p", { class: "quiet" }, `${TIDES[plan.tide] ?? "No tide was reckoned with: the depth is taken to stay as it is."} Neither stream nor waves are in it. The skipper decides.`),
    );
    setHidden(answer, false);
  }
}

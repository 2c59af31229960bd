// Before letting go: how much rode, and will it hold.

import { byId, make, setHidden } from "./dom.js";
import { depth, knotsToMps, readLength, rode, units, wind } from "./units.js";

export class Planning {
  constructor({ api, say }) {
    const form = byId("do-plan");
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const request = this.#read(form);
      if (request === null) {
        say("Write winds in knots and the depth as 6 m, 20 ft or 3 fm.", "", "bad");
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
    const { wind: mean, gusts, depth: deep, hours, bottom } = form.elements;
    const depthM = readLength(deep.value, units.rodeUnit);
    const windKn = Number(mean.value);
    if (mean.value === "" || !(windKn >= 0) || Number.isNaN(depthM) || depthM === 0) return null;
    const request = { wind_mps: knotsToMps(windKn), for_s: Number(hours.value || 12) * 3600 };
    if (gusts.value !== "") request.gust_mps = knotsToMps(Number(gusts.value));
    if (depthM !== null) request.depth_m = depthM;
    if (bottom.value) request.bottom = bottom.value;
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
    const warnings = Array.isArray(plan.warnings) ? plan.warnings : [];
    const answer = byId("plan-answer");
    answer.replaceChildren(
      make("p", { class: "plan-rode" }, `Veer ${rode(plan.rode_m)}`),
      make("ul", {}, ...warnings.map((text) => make("li", { class: "bad" }, `Warning: ${text}`)), ...lines.map((text) => make("li", {}, text))),
      make("p", { class: "quiet" }, "Reckoned in still water, the depth as it is unless a tide table is configured. The skipper decides."),
    );
    setHidden(answer, false);
  }
}

// What the one word at the top is. It claims no more than is known: an old fix is no judgement.

import { age, percent } from "./units.js";
import { reasonWords, stateWords, verdictWords } from "./words.js";

/** A fix older than this says nothing about the present. */
export const FIX_LIMIT_S = 10;

/** {tone, word, sure, why}: tone is "off", "sure", "doubt", "danger" or "blind". */
export function judge(now, fixAgeS) {
  if (!now.on_watch) {
    return { tone: "off", word: "No watch", sure: stateWords(now.state), why: "" };
  }
  const state = stateWords(now.state);
  if (fixAgeS === null || fixAgeS >= FIX_LIMIT_S) {
    const last = fixAgeS === null ? "There is no fix yet." : `The last fix is ${age(fixAgeS)} old.`;
    const before = now.verdict ? ` Then: ${verdictWords(now.verdict).toLowerCase()}.` : "";
    return { tone: "blind", word: "Blind", sure: `${last}${before}`, why: state };
  }
  // The state stays with a drag until she holds again, whatever the last point looks like.
  const dragging = now.state === "dragging";
  if (now.verdict === null && !dragging) {
    return { tone: "doubt", word: "Not judged yet", sure: state, why: reasonWords(now.reason) };
  }
  const tone = { holding: "sure", unsure: "doubt", dragging: "danger" }[now.verdict] ?? "doubt";
  return {
    tone: dragging ? "danger" : tone,
    word: dragging ? "Dragging" : verdictWords(now.verdict),
    sure: `Chance that the anchor has moved: ${percent(now.confidence)}.`,
    why: [state, reasonWords(now.reason)].filter(Boolean).join(" "),
  };
}

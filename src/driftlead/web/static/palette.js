// The colours of what is drawn on canvas, from the style sheet, so that day and night are in one place.

const NAMES = ["paper", "ink", "quiet", "line", "sure", "doubt", "danger", "water", "track"];

/** `{paper: "#...", ...}` for the look that is on. */
export function palette() {
  const style = getComputedStyle(document.documentElement);
  return Object.fromEntries(NAMES.map((name) => [name, style.getPropertyValue(`--${name}`).trim()]));
}

// Small helpers around the document. Text from outside goes in as text nodes only.

export const byId = (id) => document.getElementById(id);

export const part = (root, name) => root.querySelector(`[data-part="${name}"]`);

/** An element with attributes and children; strings become text nodes, never markup. */
export function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === true) element.setAttribute(name, "");
    else if (value !== false && value != null) element.setAttribute(name, String(value));
  }
  element.append(...children.filter((child) => child != null));
  return element;
}

/** Touches the document only where something changed: screen readers and the renderer stay calm. */
export function setText(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

export function setHidden(element, hidden) {
  if (element.hidden !== hidden) element.hidden = hidden;
}

export function setData(element, name, value) {
  if (element.dataset[name] !== value) element.dataset[name] = value;
}

/** Runs `draw` once in the next frame, however often it is asked for. */
export function onceAFrame(draw) {
  let asked = false;
  return () => {
    if (asked) return;
    asked = true;
    requestAnimationFrame(() => {
      asked = false;
      draw();
    });
  };
}

/** What this device remembers of its own settings; a browser that forbids it forgets. */
export const memory = {
  get(name, otherwise) {
    try {
      return localStorage.getItem(`driftlead.${name}`) ?? otherwise;
    } catch {
      return otherwise;
    }
  },
  set(name, value) {
    try {
      localStorage.setItem(`driftlead.${name}`, value);
    } catch {
      // It works without, until the page is loaded anew.
    }
  },
};

// Small ways of making elements and of remembering what the reader chose.

/** Make an element: attributes (a function is a listener, true an empty attribute), then children. */
function el(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === "function") node.addEventListener(name, value);
    else if (value === true) node.setAttribute(name, "");
    else if (value !== false && value != null) node.setAttribute(name, value);
  }
  node.append(...children.filter((child) => child != null));
  return node;
}

const SVG = "http://www.w3.org/2000/svg";

function svgEl(tag, attributes = {}) {
  const node = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
  return node;
}

/** Fill the places of a text: say("bar {bar}", {bar: 3}). */
function say(text, values = {}) {
  return text.replace(/\{(\w+)\}/g, (whole, key) => (key in values ? String(values[key]) : whole));
}

function clamp(value, low, high) {
  return Math.min(high, Math.max(low, value));
}

// Storage may be forbidden (private windows, some pages from a disk): the page then forgets.
const memory = {
  get(key, otherwise) {
    try {
      const kept = localStorage.getItem(`verset.${key}`);
      return kept === null ? otherwise : JSON.parse(kept);
    } catch {
      return otherwise;
    }
  },
  set(key, value) {
    try {
      localStorage.setItem(`verset.${key}`, JSON.stringify(value));
    } catch {
      // Forgetting is all that happens.
    }
  },
};

// Small ways of making elements and of remembering what the reader chose.

/**
 * Make an element: attributes (a function is a listener, true an empty attribute), then children.
 * @template {keyof HTMLElementTagNameMap} Tag
 * @param {Tag} tag
 * @param {Attributes} attributes
 * @param {(Node | string | null | undefined)[]} children
 * @returns {HTMLElementTagNameMap[Tag]}
 */
function el(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === "function") node.addEventListener(name, value);
    else if (value === true) node.setAttribute(name, "");
    else if (value !== false && value != null) node.setAttribute(name, String(value));
  }
  node.append(...children.filter((child) => child != null));
  return node;
}

const SVG = "http://www.w3.org/2000/svg";

/**
 * @template {keyof SVGElementTagNameMap} Tag
 * @param {Tag} tag
 * @param {Record<string, string | number>} attributes
 * @returns {SVGElementTagNameMap[Tag]}
 */
function svgEl(tag, attributes = {}) {
  const node = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, String(value));
  return node;
}

/**
 * Fill the places of a text: say("bar {bar}", {bar: 3}).
 * @param {string} text
 * @param {Record<string, string | number>} values
 */
function say(text, values = {}) {
  return text.replace(/\{(\w+)\}/g, (whole, key) => (key in values ? String(values[key]) : whole));
}

/**
 * @param {number} value
 * @param {number} low
 * @param {number} high
 */
function clamp(value, low, high) {
  return Math.min(high, Math.max(low, value));
}

// Storage may be forbidden (private windows, some pages from a disk): the page then forgets.
const memory = {
  /**
   * @template Kept
   * @param {string} key
   * @param {Kept} otherwise
   * @returns {Kept}
   */
  get(key, otherwise) {
    try {
      const kept = localStorage.getItem(`verset.${key}`);
      return kept === null ? otherwise : JSON.parse(kept);
    } catch {
      return otherwise;
    }
  },
  /**
   * @param {string} key
   * @param {unknown} value
   */
  set(key, value) {
    try {
      localStorage.setItem(`verset.${key}`, JSON.stringify(value));
    } catch {
      // Forgetting is all that happens.
    }
  },
};

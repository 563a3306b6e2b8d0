// A drawing that is shown again and again: each of its parts is drawn anew only where it shows something else.

/**
 * A part of a drawing: its name, all that it shows, and how it is drawn.
 * @typedef {{ name: string, shows: string, draw: () => SVGElement }} DrawnPart
 */

class Drawing {
  /** @param {Record<string, string | number>} looks */
  constructor(looks) {
    this.svg = svgEl("svg", looks);
    /** @type {Map<string, { shows: string, element: SVGElement }>} */
    this.parts = new Map();
  }

  /**
   * @param {number} width
   * @param {number} height
   */
  resize(width, height) {
    const { svg } = this;
    const viewBox = `0 0 ${width} ${height}`;
    if (svg.getAttribute("viewBox") === viewBox) return;
    for (const [name, value] of Object.entries({ width, height, viewBox }))
      svg.setAttribute(name, String(value));
  }

  /**
   * Show some parts, in this order from back to front, and no others.
   * @param {DrawnPart[]} parts
   */
  show(parts) {
    const shown = new Map(parts.map(({ name, shows }) => [name, shows]));
    for (const [name, { shows, element }] of this.parts) {
      if (shown.get(name) === shows) continue;
      element.remove();
      this.parts.delete(name);
    }
    let next = this.svg.firstElementChild;
    for (const { name, shows, draw } of parts) {
      const known = this.parts.get(name);
      const element = known?.element ?? draw();
      if (!known) this.parts.set(name, { shows, element });
      if (element === next) next = next.nextElementSibling;
      else this.svg.insertBefore(element, next);
    }
  }
}

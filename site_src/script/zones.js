/* Boxes for bars on a picture of a source, drawn by touch or mouse or put in as numbers; the text for the
   source stands below and changes with them. The page works from a disk: the picture never leaves it. */

// A block of its own: its names are not those of the course's script.
{
  /** @typedef {{first: number, last: number, box: [number, number, number, number]}} Zone */

  const SMALLEST = 8; // pixels of the picture: a touch that slips is no box

  /**
   * An element of the page that must be there.
   * @param {string} id
   * @returns {any}
   */
  function part(id) {
    const found = document.getElementById(id);
    if (!found) {
      throw new Error(id);
    }
    return found;
  }

  /** @type {Zone[]} */
  let zones = [];
  let name = "";
  /** @type {[number, number] | null} */
  let from = null;
  const stage = part("stage");
  const picture = /** @type {HTMLImageElement} */ (part("picture"));
  const drawing = part("drawing");

  /**
   * A whole number from 0 to some other.
   * @param {number} value
   * @param {number} most
   * @returns {number}
   */
  function within(value, most) {
    return Math.round(Math.min(Math.max(value, 0), most));
  }

  /**
   * Where a touch is, in pixels of the picture itself.
   * @param {PointerEvent} event
   * @returns {[number, number]}
   */
  function place(event) {
    const shown = picture.getBoundingClientRect();
    const scale = picture.naturalWidth / shown.width;
    return [
      within((event.clientX - shown.left) * scale, picture.naturalWidth),
      within((event.clientY - shown.top) * scale, picture.naturalHeight),
    ];
  }

  /**
   * Left, top, width and height between two corners.
   * @param {[number, number]} one
   * @param {[number, number]} other
   * @returns {[number, number, number, number]}
   */
  function between(one, other) {
    const left = Math.min(one[0], other[0]);
    const top = Math.min(one[1], other[1]);
    return [left, top, Math.abs(one[0] - other[0]), Math.abs(one[1] - other[1])];
  }

  /** @returns {string} */
  function text() {
    const rows = zones.map((zone) => {
      const bars = zone.last > zone.first ? `${zone.first}-${zone.last}` : `${zone.first}`;
      return `            - {bars: ${bars}, box: [${zone.box.join(", ")}]}`;
    });
    const words = ["licence", "credit"]
      .map((key) => [key, part(key).value.trim()])
      .filter(([, value]) => value)
      .map(([key, value]) => `          ${key}: ${JSON.stringify(value)}`);
    const head = [`        - file: ${JSON.stringify(name)}`, ...words];
    return [...head, ...(rows.length ? ["          zones:", ...rows] : [])].join("\n");
  }

  /** Draw the boxes, list them with their numbers, and write the text. */
  function show() {
    drawing.setAttribute("viewBox", `0 0 ${picture.naturalWidth || 1} ${picture.naturalHeight || 1}`);
    drawing.replaceChildren(...zones.map((zone) => rectangle(zone.box, "zone")));
    part("zones").replaceChildren(...zones.map(row));
    // A picture without a licence is refused by the course: the text waits for it.
    part("text").value = name && part("licence").value.trim() ? text() : "";
  }

  /**
   * @param {[number, number, number, number]} box
   * @param {string} kind
   * @returns {SVGElement}
   */
  function rectangle(box, kind) {
    const made = document.createElementNS("http://www.w3.org/2000/svg", "rect");
    ["x", "y", "width", "height"].forEach((key, n) => made.setAttribute(key, String(box[n])));
    made.setAttribute("class", kind);
    return made;
  }

  /**
   * The numbers of one box: bars, and its place.
   * @param {Zone} zone
   * @param {number} n
   * @returns {HTMLElement}
   */
  function row(zone, n) {
    const made = document.createElement("li");
    made.append(
      field(stage.dataset.first, zone.first, 1, (value) => {
        zone.first = value;
        zone.last = Math.max(value, zone.last);
      }),
      field(stage.dataset.last, zone.last, 1, (value) => {
        zone.last = Math.max(value, zone.first);
      }),
      ...["left", "top", "width", "height"].map((key, at) =>
        field(stage.dataset[key], zone.box[at], at < 2 ? 0 : 1, (value) => {
          zone.box[at] = value;
        }),
      ),
    );
    const away = document.createElement("button");
    away.textContent = stage.dataset.remove ?? "";
    away.addEventListener("click", () => {
      zones = zones.filter((_, other) => other !== n);
      show();
    });
    made.append(away);
    return made;
  }

  /**
   * A number with its label.
   * @param {string | undefined} label
   * @param {number} value
   * @param {number} least
   * @param {(value: number) => void} set
   * @returns {HTMLElement}
   */
  function field(label, value, least, set) {
    const made = document.createElement("label");
    const input = document.createElement("input");
    input.type = "number";
    input.min = String(least);
    input.value = String(value);
    input.addEventListener("change", () => {
      const read = Math.round(Number(input.value));
      set(Number.isFinite(read) ? Math.max(least, read) : value);
      show();
    });
    made.append(`${label} `, input);
    return made;
  }

  stage.addEventListener("pointerdown", (/** @type {PointerEvent} */ event) => {
    if (picture.naturalWidth) {
      event.preventDefault();
      stage.setPointerCapture(event.pointerId);
      from = place(event);
    }
  });
  stage.addEventListener("pointermove", (/** @type {PointerEvent} */ event) => {
    if (from) {
      show();
      drawing.append(rectangle(between(from, place(event)), "new"));
    }
  });
  stage.addEventListener("pointerup", (/** @type {PointerEvent} */ event) => {
    if (!from) {
      return;
    }
    const box = between(from, place(event));
    from = null;
    if (box[2] >= SMALLEST && box[3] >= SMALLEST) {
      const next = zones.length ? Math.max(...zones.map((zone) => zone.last)) + 1 : 1;
      zones.push({ first: next, last: next, box });
    }
    show();
  });
  stage.addEventListener("pointercancel", () => {
    from = null;
    show();
  });
  picture.addEventListener("load", show);
  part("file").addEventListener("change", (/** @type {Event} */ event) => {
    const chosen = /** @type {HTMLInputElement} */ (event.target).files?.[0];
    if (chosen) {
      name = chosen.name;
      zones = [];
      picture.src = URL.createObjectURL(chosen);
    }
  });
  ["licence", "credit"].forEach((key) => part(key).addEventListener("input", show));
  show();
}

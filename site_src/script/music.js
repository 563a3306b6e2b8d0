// The engraved music on the page: which drawing belongs to which note and bar, and what a finger means on it.

const NOTE_ID = /^[a-z]+-([a-z]+)-(\d+)-\d+$/;

/** @param {HTMLElement | SVGElement} node */
function idOf(node) {
  return node.dataset.id ?? "";
}

/** @param {SVGElement} measure */
function barNumber(measure) {
  for (const node of /** @type {NodeListOf<SVGElement>} */ (measure.querySelectorAll("[data-id]"))) {
    const match = NOTE_ID.exec(idOf(node));
    if (match) return Number(match[2]);
  }
  return Number(measure.dataset.n) || 0;
}

/** @param {SVGGraphicsElement} group */
function readSystem(group) {
  const svg = /** @type {SVGSVGElement} */ (group.ownerSVGElement);
  /** @type {System} */
  const system = { svg, bars: [], boxed: false, named: false };
  /** @type {NodeListOf<SVGGraphicsElement>} */
  const measures = group.querySelectorAll(".measure");
  system.bars = [...measures].map((measure) => ({
    number: barNumber(measure),
    measure,
    notes: [...measure.querySelectorAll(".note[data-id]")].filter(
      (each) => each instanceof SVGGraphicsElement,
    ),
    system,
  }));
  return system;
}

/**
 * Draw a box behind each bar, for touch and for marks. Needs the music laid out; does nothing before.
 * @param {System} system
 */
function boxSystem(system) {
  if (system.boxed || !system.svg.getClientRects().length) return;
  const boxes = system.bars.map((bar) => bar.measure.getBBox());
  const top = Math.min(...boxes.map((box) => box.y));
  const bottom = Math.max(...boxes.map((box) => box.y + box.height));
  for (const bar of system.bars) {
    /** @type {SVGGraphicsElement | null} */
    const stave = bar.measure.querySelector(".staff > path");
    const { x, width } = (stave ?? bar.measure).getBBox();
    bar.box = svgEl("g", { class: "verset-bar", "data-bar": bar.number });
    bar.box.append(
      svgEl("rect", {
        class: "verset-bar-ground",
        x,
        width,
        y: top - 120,
        height: bottom - top + 240,
      }),
      svgEl("rect", {
        class: "verset-bar-brace",
        x,
        width,
        y: top - 200,
        height: 80,
      }),
    );
    bar.measure.prepend(bar.box);
  }
  system.boxed = true;
}

/**
 * Write the name of each note beside its head, away from the stem and from the other voice of the stave.
 * @param {System} system
 * @param {Record<string, string>} names
 */
function nameSystem(system, names) {
  if (system.named || !system.svg.getClientRects().length) return;
  for (const note of system.bars.flatMap((bar) => bar.notes)) {
    const name = names[idOf(note)];
    if (name) nameNote(note, name);
  }
  system.named = true;
}

/**
 * @param {SVGElement} note
 * @param {string} name
 */
function nameNote(note, name) {
  const [head, stem] = [".notehead", ".stem"].map((part) => {
    /** @type {SVGGraphicsElement | null} */
    const found = note.querySelector(part);
    return found?.getBBox();
  });
  if (!head) return;
  const up = stem?.height
    ? stem.y + stem.height / 2 < head.y + head.height / 2
    : /-(cantus|tenor)-/.test(idOf(note));
  const place = {
    x: head.x + head.width * (up ? 0.3 : 0.75),
    y: up ? head.y - 70 : head.y + head.height + 245,
  };
  const looks = {
    class: "verset-note-name",
    "text-anchor": "middle",
    "font-size": 260,
  };
  const text = svgEl("text", { ...looks, ...place });
  text.textContent = name;
  note.append(text);
}

/**
 * @param {HTMLElement} figure
 * @returns {MusicBlock}
 */
function readBlock(figure) {
  /** @type {NodeListOf<HTMLElement>} */
  const holders = figure.querySelectorAll(".verset-systems");
  const sets = [...holders].map((holder) => {
    /** @type {NodeListOf<SVGGraphicsElement>} */
    const groups = holder.querySelectorAll(".system");
    return { holder, systems: [...groups].map(readSystem) };
  });
  return {
    figure,
    version: figure.dataset.version ?? "",
    clefs: figure.dataset.clefs ?? "",
    sets,
  };
}

/** All music of a page. */
class Music {
  /** @param {HTMLElement[]} figures */
  constructor(figures) {
    this.blocks = figures.map(readBlock);
    this.systems = this.blocks.flatMap((block) => block.sets.flatMap((set) => set.systems));
    this.bars = this.systems.flatMap((system) => system.bars);
    this.barOf = new Map(this.bars.map((bar) => [/** @type {Element} */ (bar.measure), bar]));
    /** @type {Map<string, SVGElement[]>} */
    this.notes = new Map();
    /** @type {Map<SVGElement, string>} */
    this.voiceOf = new Map();
    for (const note of this.bars.flatMap((bar) => bar.notes)) {
      const id = idOf(note);
      this.notes.set(id, [...(this.notes.get(id) ?? []), note]);
      this.voiceOf.set(note, NOTE_ID.exec(id)?.[1] ?? "");
    }
  }

  box() {
    this.systems.forEach(boxSystem);
  }

  /** @param {Record<string, string>} names */
  name(names) {
    for (const system of this.systems) nameSystem(system, names);
  }

  /**
   * The block that a bar belongs to, wherever it is shown now.
   * @param {DrawnBar} bar
   */
  blockOf({ system }) {
    const found = this.blocks.find((block) => block.sets.some((set) => set.systems.includes(system)));
    if (!found) throw new Error("a bar of no block");
    return found;
  }

  /** @param {EventTarget | null} node */
  barFrom(node) {
    const measure = node instanceof Element ? node.closest(".measure") : null;
    return measure ? this.barOf.get(measure) : undefined;
  }

  /**
   * Versions that the page shows now, all of which follow the sound.
   * @param {string} sounding
   */
  shown(sounding) {
    const seen = this.blocks.filter((block) => !block.figure.hidden).map((block) => block.version);
    return [...new Set([...(sounding === "mine" ? ["mine"] : []), ...seen])];
  }

  /** @param {DrawnBar} bar */
  seen(bar) {
    return bar.measure.getClientRects().length > 0;
  }
}

/**
 * The note of a bar that stands nearest to a finger.
 * @param {DrawnBar} bar
 * @param {number} x
 * @param {number} y
 */
function nearestNote(bar, x, y) {
  let best = null;
  let least = Infinity;
  for (const note of bar.notes) {
    const head = (note.querySelector(".notehead") ?? note).getBoundingClientRect();
    const across = Math.abs((head.left + head.right) / 2 - x);
    const along = Math.abs((head.top + head.bottom) / 2 - y);
    const distance = across + along / 4; // time runs across; the voice matters little
    if (distance < least) [best, least] = [note, distance];
  }
  return best;
}

/**
 * Let fingers, mouse and pen speak: a touch goes to a note, a drag across bars chooses them.
 * @param {Music} music
 * @param {MusicActs} act
 */
function listenToMusic(music, act) {
  for (const block of music.blocks) listenToBlock(music, block.figure, act);
}

/**
 * @param {Music} music
 * @param {HTMLElement} figure
 * @param {MusicActs} act
 */
function listenToBlock(music, figure, act) {
  /** @type {DrawnBar | undefined} */
  let from;
  /** @type {DrawnBar | undefined} */
  let over;
  /** @param {PointerEvent} event */
  const under = (event) => music.barFrom(document.elementFromPoint(event.clientX, event.clientY));
  figure.addEventListener("pointerdown", (event) => {
    if (event.button === 0) from = over = music.barFrom(event.target);
  });
  figure.addEventListener("pointermove", (event) => {
    const bar = from && event.buttons ? under(event) : undefined;
    if (!from || !bar || bar === over) return;
    over = bar;
    act.bars(from.number, over.number, false);
  });
  figure.addEventListener("pointerup", (event) => {
    if (!from) return;
    const bar = under(event) ?? over ?? from;
    if (bar !== from || over !== from) act.bars(from.number, bar.number, true);
    else act.note(nearestNote(bar, event.clientX, event.clientY)?.dataset.id, bar);
    from = over = undefined;
  });
  figure.addEventListener("pointercancel", () => {
    if (from && over !== from) act.bars(0, 0, false);
    from = over = undefined;
  });
}

// The engraved music on the page: which drawing belongs to which note and bar, and what a finger means on it.

const NOTE_ID = /^[a-z]+-([a-z]+)-(\d+)-\d+$/;

function barNumber(measure) {
  for (const node of measure.querySelectorAll("[data-id]")) {
    const match = NOTE_ID.exec(node.dataset.id);
    if (match) return Number(match[2]);
  }
  return Number(measure.dataset.n) || 0;
}

function readSystem(group) {
  const bars = [...group.querySelectorAll(".measure")].map((measure) => ({
    number: barNumber(measure),
    measure,
    notes: [...measure.querySelectorAll(".note[data-id]")],
  }));
  return { group, svg: group.ownerSVGElement, bars, boxed: false, named: false };
}

/** Draw a box behind each bar, for touch and for marks. Needs the music laid out; does nothing before. */
function boxSystem(system) {
  if (system.boxed || !system.svg.getClientRects().length) return;
  let top = Infinity;
  let bottom = -Infinity;
  for (const bar of system.bars) {
    const box = bar.measure.getBBox();
    top = Math.min(top, box.y);
    bottom = Math.max(bottom, box.y + box.height);
  }
  for (const bar of system.bars) {
    const lines = bar.measure.querySelector(".staff > path")?.getBBox() ?? bar.measure.getBBox();
    const place = { x: lines.x, width: lines.width };
    bar.box = svgEl("g", { class: "verset-bar", "data-bar": bar.number });
    bar.box.append(
      svgEl("rect", { class: "verset-bar-ground", ...place, y: top - 120, height: bottom - top + 240 }),
      svgEl("rect", { class: "verset-bar-brace", ...place, y: top - 200, height: 80 }),
    );
    bar.measure.prepend(bar.box);
  }
  system.boxed = true;
}

/** Write the name of each note beside its head, away from the stem and from the other voice of the stave. */
function nameSystem(system, names) {
  if (system.named || !system.svg.getClientRects().length) return;
  for (const note of system.bars.flatMap((bar) => bar.notes)) {
    const head = note.querySelector(".notehead")?.getBBox();
    const stem = note.querySelector(".stem")?.getBBox();
    const name = names[note.dataset.id];
    if (!head || !name) continue;
    const up = stem?.height ? stem.y + stem.height / 2 < head.y + head.height / 2 : /-(cantus|tenor)-/.test(note.dataset.id);
    const place = {
      x: head.x + head.width * (up ? 0.3 : 0.75),
      y: up ? head.y - 70 : head.y + head.height + 245,
    };
    const text = svgEl("text", { class: "verset-note-name", "text-anchor": "middle", "font-size": 260, ...place });
    text.textContent = name;
    note.append(text);
  }
  system.named = true;
}

function readBlock(figure) {
  const sets = [...figure.querySelectorAll(".verset-systems")].map((holder) => ({
    holder,
    systems: [...holder.querySelectorAll(".system")].map(readSystem),
  }));
  return { figure, version: figure.dataset.version, clefs: figure.dataset.clefs ?? "", sets };
}

/** All music of a page. */
function readMusic(figures) {
  const blocks = figures.map(readBlock);
  const notes = new Map();
  const voiceOf = new Map();
  const barOf = new Map();
  const systems = blocks.flatMap((block) => block.sets.flatMap((set) => set.systems));
  for (const system of systems) {
    for (const bar of system.bars) {
      barOf.set(bar.measure, bar);
      bar.system = system;
      for (const note of bar.notes) {
        const { id } = note.dataset;
        if (!notes.has(id)) notes.set(id, []);
        notes.get(id).push(note);
        voiceOf.set(note, NOTE_ID.exec(id)?.[1]);
      }
    }
  }
  return {
    blocks,
    notes,
    voiceOf,
    systems,
    bars: systems.flatMap((system) => system.bars),
    box: () => systems.forEach(boxSystem),
    name: (names) => systems.forEach((system) => nameSystem(system, names)),
    barFrom: (node) => barOf.get(node?.closest?.(".measure")),
    /** Versions that the page shows now, all of which follow the sound. */
    shown: (sounding) => [...new Set(sounding === "mine" ? ["mine"] : []), ...new Set(blocks.filter((block) => !block.figure.hidden).map((block) => block.version))],
    seen: (bar) => bar.measure.getClientRects().length > 0,
  };
}

/** The note of a bar that stands nearest to a finger. */
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
 * `act` has: note(id, bar), bars(first, last, finished).
 */
function listenToMusic(music, act) {
  for (const block of music.blocks) {
    let from = null;
    let over = null;
    const under = (event) => music.barFrom(document.elementFromPoint(event.clientX, event.clientY));
    block.figure.addEventListener("pointerdown", (event) => {
      if (event.button !== 0) return;
      from = over = music.barFrom(event.target);
    });
    block.figure.addEventListener("pointermove", (event) => {
      if (!from || !event.buttons) return;
      const bar = under(event);
      if (!bar || bar === over) return;
      over = bar;
      act.bars(from.number, over.number, false);
    });
    block.figure.addEventListener("pointerup", (event) => {
      if (!from) return;
      const bar = under(event) ?? over;
      if (bar !== from || over !== from) act.bars(from.number, bar.number, true);
      else act.note(nearestNote(bar, event.clientX, event.clientY)?.dataset.id, bar, event);
      from = over = null;
    });
    block.figure.addEventListener("pointercancel", () => {
      if (from && over !== from) act.bars(0, 0, false);
      from = over = null;
    });
  }
}

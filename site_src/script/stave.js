// A line of notes on one stave, with the clefs that it changes.

const ROW_TOP = 46; // of the highest line of a row
const ROW_HEIGHT = 138;
const NOTE_LEAST = 30; // pixels from a note to the next
const CLEF_WIDE = 34;
const BAR_ROOM = 14;

/** @type {Record<string, number>} */
const CLEF_STEPS = { G: 32, C: 28, F: 24 };

/**
 * A stave under a clef such as C3, its lowest line at `bottom`.
 * @param {string} clef
 * @param {number} bottom
 * @returns {Stave & { sign: string, line: number }}
 */
function staveUnder(clef, bottom) {
  const sign = clef[0];
  const low = CLEF_STEPS[sign] - 2 * (Number(clef[1]) - 1);
  return {
    letter: "G",
    sign,
    line: CLEF_STEPS[sign],
    low,
    bottom,
    y: (step) => bottom - (step - low) * HALF,
    step: (y) => low + Math.round((bottom - y) / HALF),
  };
}

/**
 * Room that a length takes.
 * @param {number} length
 */
function lengthRoom(length) {
  return NOTE_LEAST + 13 * Math.log2(1 + length);
}

/**
 * A line cut into rows: for each note its row and place; for each row its clef and what is drawn first.
 * @param {ShownNote[]} notes
 * @param {number} width
 * @param {number} head room of clef and signature
 */
function placeNotes(notes, width, head) {
  /** @type {{ row: number, x: number, clef: string, changes: boolean, bar: boolean }[]} */
  const places = [];
  let [x, row, clef] = [head, 0, notes[0][3]];
  notes.forEach(([length, , , change, bar], n) => {
    const before = (change && n ? CLEF_WIDE : 0) + (bar && n ? BAR_ROOM : 0);
    const wide = before + lengthRoom(length);
    const breaks = n > 0 && x + wide > width;
    if (breaks) [x, row] = [head, row + 1];
    clef = change || clef;
    places.push({
      row,
      x: breaks ? x : x + before,
      clef,
      changes: Boolean(change) && n > 0 && !breaks,
      bar: Boolean(bar) && n > 0 && !breaks,
    });
    x = (breaks ? x : x + before) + lengthRoom(length);
  });
  return { places, rows: row + 1, end: x };
}

/** A drawn line: its picture, and a group for each note. */
class DrawnLine {
  /**
   * @param {ShownNote[]} notes
   * @param {number[]} signature alteration of each letter, C first
   * @param {number} width
   */
  constructor(notes, signature, width) {
    this.signature = signature;
    this.signs = [3, 0, 4, 1, 5, 2, 6].filter((letter) => signature[letter]);
    const head = 20 + CLEF_WIDE + this.signs.length * 13;
    const { places, rows, end } = placeNotes(notes, width, head);
    this.places = places;
    this.width = Math.ceil(rows > 1 ? width : end + 6);
    const height = rows * ROW_HEIGHT;
    const size = { width: this.width, height, viewBox: `0 0 ${this.width} ${height}` };
    this.svg = svgEl("svg", { ...size, class: "verset-line", "aria-hidden": "true" });
    for (let row = 0; row < rows; row++)
      this.drawRow(row, places.find((place) => place.row === row)?.clef ?? "C1");
    this.groups = notes.map((note, n) => this.drawNote(note, n));
  }

  /**
   * @param {string} clef
   * @param {number} row
   */
  stave(clef, row) {
    return staveUnder(clef, row * ROW_HEIGHT + ROW_TOP + 4 * SPACE);
  }

  /**
   * @param {number} row
   * @param {string} clef
   */
  drawRow(row, clef) {
    const stave = this.stave(clef, row);
    const lines = [0, 2, 4, 6, 8].map((up) => `M1 ${stave.y(stave.low + up)}H${this.width - 1}`).join("");
    const top = stave.y(stave.low + 8);
    this.svg.append(svgEl("path", { class: "verset-lines", d: `${lines}M1 ${top}V${stave.bottom}` }));
    this.drawClef(stave, 8);
    this.signs.forEach((letter, k) => {
      const step = stave.low + 1 + modulo(letter - stave.low - 1, 7);
      const sign = ACCIDENTALS[this.signature[letter]];
      this.svg.append(glyph(sign, 10 + CLEF_WIDE + k * 13, stave.y(step), { class: "verset-key" }));
    });
  }

  /**
   * @param {ReturnType<typeof staveUnder>} stave
   * @param {number} x
   */
  drawClef(stave, x) {
    const sign = /** @type {"G" | "C" | "F"} */ (stave.sign);
    this.svg.append(glyph(CLEFS[sign], x, stave.y(stave.line), { class: "verset-clef" }));
  }

  /**
   * @param {ShownNote} note
   * @param {number} n
   */
  drawNote([length, step, alter], n) {
    const { x, row, clef, changes, bar } = this.places[n];
    const stave = this.stave(clef, row);
    if (changes) this.drawClef(stave, x - CLEF_WIDE + 2);
    if (bar) {
      const at = x - (changes ? CLEF_WIDE : 0) - BAR_ROOM + 2;
      this.svg.append(
        svgEl("path", { class: "verset-lines", d: `M${at} ${stave.y(stave.low + 8)}V${stave.bottom}` }),
      );
    }
    const group = svgEl("g", { class: "verset-shown", "data-n": n });
    const room = {
      x: x - 10,
      y: row * ROW_HEIGHT + 6,
      width: lengthRoom(length) - 4,
      height: ROW_HEIGHT - 10,
    };
    group.append(svgEl("rect", { ...room, class: "verset-column" }));
    if (step !== null) {
      const kind =
        alter === this.signature[modulo(step, 7)] ? null : { alter, kind: /** @type {"plain"} */ ("plain") };
      group.append(drawNote(stave, x, step, length, { up: step < stave.low + 4, sign: kind, id: "" }));
    }
    this.svg.append(group);
    return group;
  }
}

// Drawing as the book is engraved: staves, notes and signs with the outlines of its music font.

const SPACE = 12; // between two lines of a stave, in pixels
const HALF = SPACE / 2;
const SIZE = (SPACE * 4) / 1000; // of the font's outlines, 1000 to four spaces
/** @type {[value: number, code: string][]} */
const HEADS = [
  [8, "E0A0"],
  [4, "E0A2"],
  [2, "E0A3"],
  [0, "E0A4"],
];
const BLACK_HEAD = "E0A4";
/** @type {Record<number, string>} */
const ACCIDENTALS = { 1: "E262", "-1": "E260", 0: "E261" };
/** @type {Record<number, [up: string, down: string]>} */
const FLAGS = { 0.5: ["E240", "E241"], 0.25: ["E242", "E243"] };
const CLEFS = { G: "E050", C: "E05C", F: "E062" };
const BRACKETS = ["E26C", "E26D"];
/** @type {Record<string, string>} */
const METRES = { C: "E08A", "C|": "E08B" };
const DIGITS = ["EA50", "EA51", "EA52", "EA54", "EA55", "EA57", "EA5B", "EA5D", "EA60", "EA61"];
/** @type {Record<string, string>} */
const FIGURES = { "#": "EA66", b: "EA64", n: "EA65" };
const SHARPS = [3, 0, 4, 1, 5, 2, 6]; // letters in the order of a signature, C being 0
const LOWEST_SIGN = { G: { 1: 33, "-1": 31 }, F: { 1: 19, "-1": 17 } }; // in a signature of sharps, of flats
const STEM = 3.5 * SPACE;

/** @type {Record<string, SVGElement>} */
const OUTLINES = {};

/**
 * A sign of the music font. Copies of an outline share it; a reference to one would be a small tree of its own.
 * @param {string} code
 * @param {number} x
 * @param {number} y
 * @param {Record<string, string | number>} attributes
 */
function glyph(code, x, y, attributes = {}) {
  OUTLINES[code] ??= svgEl("path", { d: window.versetGlyphs[code][0] });
  const drawn = /** @type {SVGElement} */ (OUTLINES[code].cloneNode());
  const transform = `translate(${x.toFixed(1)} ${y.toFixed(1)}) scale(${SIZE} ${-SIZE})`;
  for (const [name, value] of Object.entries({ transform, ...attributes }))
    drawn.setAttribute(name, String(value));
  return drawn;
}

/** @param {string} code */
function glyphWidth(code) {
  return window.versetGlyphs[code][1] * SIZE;
}

/** @param {string[]} codes */
function widthOf(codes) {
  return codes.reduce((sum, code) => sum + glyphWidth(code), 0);
}

/**
 * A stave: the staff step on its lowest line, and where that line lies.
 * @param {"G" | "F"} letter
 * @param {number} bottom
 * @returns {Stave}
 */
function makeStave(letter, bottom) {
  const low = letter === "G" ? 30 : 18;
  return {
    letter,
    low,
    bottom,
    y: (step) => bottom - (step - low) * HALF,
    step: (y) => low + Math.round((bottom - y) / HALF),
  };
}

/**
 * @param {Stave} stave
 * @param {number} from
 * @param {number} to
 */
function staveLines(stave, from, to) {
  return [0, 2, 4, 6, 8].map((up) => `M${from} ${stave.y(stave.low + up)}H${to}`).join("");
}

/**
 * Clef and signature at the head of a stave; how far they reach.
 * @param {Element} group
 * @param {Stave} stave
 * @param {number} x
 * @param {number[]} signature
 */
function drawHead(group, stave, x, signature) {
  const line = stave.y(stave.letter === "G" ? 32 : 24);
  group.append(glyph(CLEFS[stave.letter], x, line, { class: "verset-clef" }));
  let at = x + 2.9 * SPACE;
  const kind = signature.some((alter) => alter > 0) ? 1 : -1;
  const low = LOWEST_SIGN[stave.letter][kind];
  for (const letter of (kind > 0 ? SHARPS : [...SHARPS].reverse()).filter((each) => signature[each])) {
    const step = low + modulo(letter - low, 7);
    const looks = {
      class: "verset-key",
      "data-step": step,
      "data-alter": signature[letter],
    };
    group.append(glyph(ACCIDENTALS[signature[letter]], at, stave.y(step), looks));
    at += 1.05 * SPACE;
  }
  return at;
}

/**
 * The metre; how far it reaches.
 * @param {Element} group
 * @param {Stave} stave
 * @param {number} x
 * @param {string} symbol
 */
function drawMetre(group, stave, x, symbol) {
  const middle = stave.y(stave.low + 4);
  const looks = { class: "verset-metre" };
  if (METRES[symbol]) {
    group.append(glyph(METRES[symbol], x, middle, looks));
    return x + 2.2 * SPACE;
  }
  const rows = symbol.split("/");
  rows.forEach((number, row) =>
    [...number].forEach((digit, k) => {
      const y = middle + (row ? SPACE : -SPACE);
      group.append(glyph(`E08${digit}`, x + k * 1.7 * SPACE, y, looks));
    }),
  );
  return x + 1.9 * Math.max(...rows.map((number) => number.length)) * SPACE;
}

/**
 * The value of a length: its undotted length, and whether it has a dot.
 * @param {number} length
 */
function noteValue(length) {
  const base = [8, 4, 2, 1, 0.5, 0.25].find((value) => length >= value - 1e-6) ?? 0.25;
  return { base, dotted: length >= base * 1.5 - 1e-6 };
}

/**
 * The head of a note of a length.
 * @param {number} length
 */
function headOf(length) {
  const { base } = noteValue(length);
  return HEADS.find(([value]) => base >= value)?.[1] ?? BLACK_HEAD;
}

/**
 * Ledger lines of a note.
 * @param {Stave} stave
 * @param {number} x
 * @param {number} step
 * @param {number} width
 */
function ledgerLines(stave, x, step, width) {
  const lines = [];
  for (let line = stave.low + 10; line <= step; line += 2) lines.push(line);
  for (let line = stave.low - 2; line >= step; line -= 2) lines.push(line);
  return lines.map((line) => `M${x - 4} ${stave.y(line)}h${width + 8}`).join("");
}

/**
 * One note: ledger lines, sign, head, stem, flag, dot. `sign` is null where none is written.
 * @param {Stave} stave
 * @param {number} x
 * @param {number} step
 * @param {number} length
 * @param {{ up: boolean, sign: Sign | null, id: string }} looks
 */
function drawNote(stave, x, step, length, { up, sign, id }) {
  const direction = length >= 4 ? "" : up ? "up" : "down";
  const group = svgEl("g", {
    class: "note",
    "data-id": id,
    "data-stem": direction,
  });
  const y = stave.y(step);
  const head = headOf(length);
  const wide = glyphWidth(head);
  const lines = ledgerLines(stave, x, step, wide);
  if (lines) group.append(svgEl("path", { class: "verset-lines", d: lines }));
  if (sign) drawSign(group, sign, x, y);
  group.append(glyph(head, x, y, { class: "notehead" }));
  const { base, dotted } = noteValue(length);
  if (base < 4) drawStem(group, stave, up ? x + wide - 0.7 : x + 0.7, y, up, base);
  if (dotted) {
    const cy = y - ((step - stave.low) % 2 ? 0 : HALF);
    group.append(svgEl("circle", { cx: x + wide + 5, cy, r: 2.1 }));
  }
  return group;
}

/**
 * A stem, which reaches the middle line at least, and its flag.
 * @param {Element} group
 * @param {Stave} stave
 * @param {number} x
 * @param {number} y of the head
 * @param {boolean} up
 * @param {number} base
 */
function drawStem(group, stave, x, y, up, base) {
  const middle = stave.y(stave.low + 4);
  const tip = up ? Math.min(y - STEM, middle) : Math.max(y + STEM, middle);
  group.append(svgEl("path", { class: "stem", d: `M${x.toFixed(1)} ${y}V${tip}` }));
  if (FLAGS[base]) group.append(glyph(FLAGS[base][up ? 0 : 1], x - 0.7, tip));
}

/**
 * @param {Element} group
 * @param {Sign} sign
 * @param {number} x
 * @param {number} y
 */
function drawSign(group, { alter, kind }, x, y) {
  const sign = ACCIDENTALS[alter];
  const signs = kind === "editorial" ? [BRACKETS[0], sign, BRACKETS[1]] : [sign];
  let at = x - 3 - widthOf(signs);
  for (const code of signs) {
    group.append(
      glyph(code, at, y, {
        class: "verset-accidental",
        "data-alter": alter,
        "data-kind": kind,
      }),
    );
    at += glyphWidth(code);
  }
}

/**
 * A figure such as "#6" or "b", its number in the middle of the head at `x`.
 * @param {Element} group
 * @param {string} text
 * @param {number} x
 * @param {number} y
 */
function drawFigure(group, text, x, y) {
  const codes = [...text].map((char) => FIGURES[char] ?? DIGITS[Number(char)]).filter(Boolean);
  const number = codes.filter((code) => DIGITS.includes(code));
  const before = codes.length > number.length && number.length ? glyphWidth(codes[0]) : 0;
  let at = x + 7 - widthOf(number.length ? number : codes) / 2 - before;
  for (const code of codes) {
    group.append(glyph(code, at, y, { class: "verset-figure" }));
    at += glyphWidth(code);
  }
}

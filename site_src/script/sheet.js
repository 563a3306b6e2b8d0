// Drawing as the book is engraved: staves, notes and signs with the outlines of its music font.

const SPACE = 12; // between two lines of a stave, in pixels
const HALF = SPACE / 2;
const SIZE = (SPACE * 4) / 1000; // of the font's outlines, 1000 to four spaces
const HEADS = [[8, "E0A0"], [4, "E0A2"], [2, "E0A3"], [0, "E0A4"]];
const ACCIDENTALS = { 1: "E262", "-1": "E260", 0: "E261" };
const FLAGS = { 0.5: ["E240", "E241"], 0.25: ["E242", "E243"] };
const CLEFS = { G: "E050", C: "E05C", F: "E062" };
const DIGITS = ["EA50", "EA51", "EA52", "EA54", "EA55", "EA57", "EA5B", "EA5D", "EA60", "EA61"];
const FIGURES = { "#": "EA66", b: "EA64", n: "EA65" };
const SHARPS = [3, 0, 4, 1, 5, 2, 6]; // letters in the order of a signature, C being 0
const LOWEST_SIGN = { G: { 1: 33, "-1": 31 }, F: { 1: 19, "-1": 17 } }; // in a signature of sharps, of flats

/** Put the outlines on the page, once. */
function defineGlyphs(glyphs) {
  if (document.getElementById("vg-E0A4")) return;
  const defs = svgEl("defs");
  for (const [code, [path]] of Object.entries(glyphs)) defs.append(svgEl("path", { id: `vg-${code}`, d: path }));
  const svg = svgEl("svg", { width: 0, height: 0, class: "verset-glyphs", "aria-hidden": "true" });
  svg.append(defs);
  document.body.append(svg);
}

function glyph(code, x, y, attributes = {}) {
  return svgEl("use", { href: `#vg-${code}`, transform: `translate(${x.toFixed(1)} ${y.toFixed(1)}) scale(${SIZE} ${-SIZE})`, ...attributes });
}

const glyphWidth = (code) => window.versetGlyphs[code][1] * SIZE;

/** A stave: the staff step on its lowest line, and where that line lies. */
function makeStave(letter, bottom) {
  const low = letter === "G" ? 30 : 18;
  return { letter, low, bottom, y: (step) => bottom - (step - low) * HALF, step: (y) => low + Math.round((bottom - y) / HALF) };
}

function staveLines(stave, from, to) {
  return [0, 2, 4, 6, 8].map((up) => `M${from} ${stave.y(stave.low + up)}H${to}`).join("");
}

/** Clef and signature at the head of a stave; how far they reach. */
function drawHead(group, stave, x, signature) {
  group.append(glyph(CLEFS[stave.letter], x, stave.y(stave.letter === "G" ? 32 : 24), { class: "verset-clef" }));
  let at = x + 2.9 * SPACE;
  const kind = signature.some((alter) => alter > 0) ? 1 : -1;
  const low = LOWEST_SIGN[stave.letter][kind];
  for (const letter of (kind > 0 ? SHARPS : [...SHARPS].reverse()).filter((each) => signature[each])) {
    const step = low + ((((letter - low) % 7) + 7) % 7);
    group.append(glyph(ACCIDENTALS[signature[letter]], at, stave.y(step), { class: "verset-key", "data-step": step, "data-alter": signature[letter] }));
    at += 1.05 * SPACE;
  }
  return at;
}

function drawMetre(group, stave, x, symbol) {
  const middle = stave.y(stave.low + 4);
  const sign = { C: "E08A", "C|": "E08B" }[symbol];
  if (sign) group.append(glyph(sign, x, middle, { class: "verset-metre" }));
  else
    symbol.split("/").forEach((number, row) =>
      [...number].forEach((digit, k) =>
        group.append(glyph(`E08${digit}`, x + k * 1.7 * SPACE, middle + (row ? SPACE : -SPACE), { class: "verset-metre" }))));
  return x + (sign ? 2.2 : 1.9 * Math.max(...symbol.split("/").map((number) => number.length))) * SPACE;
}

/** The value of a length: its undotted length, and whether it has a dot. */
function noteValue(length) {
  const base = [8, 4, 2, 1, 0.5, 0.25].find((value) => length >= value - 1e-6) ?? 0.25;
  return { base, dotted: length >= base * 1.5 - 1e-6 };
}

const headOf = (base) => HEADS.find(([value]) => base >= value)[1];

/** One note: ledger lines, sign, head, stem, flag, dot. `sign` is { alter, kind } or null. */
function drawNote(stave, x, step, length, { up, sign, id }) {
  const group = svgEl("g", { class: "note", "data-id": id, "data-stem": length >= 4 ? "" : up ? "up" : "down" });
  const y = stave.y(step);
  const { base, dotted } = noteValue(length);
  const head = headOf(base);
  const wide = glyphWidth(head);
  const lines = [];
  for (let line = stave.low + 10; line <= step; line += 2) lines.push(`M${x - 4} ${stave.y(line)}h${wide + 8}`);
  for (let line = stave.low - 2; line >= step; line -= 2) lines.push(`M${x - 4} ${stave.y(line)}h${wide + 8}`);
  if (lines.length) group.append(svgEl("path", { class: "verset-lines", d: lines.join("") }));
  if (sign) drawSign(group, sign, x, y);
  group.append(glyph(head, x, y, { class: "notehead" }));
  if (base < 4) {
    // A stem reaches the middle line at least.
    const middle = stave.y(stave.low + 4);
    const tip = up ? Math.min(y - 3.5 * SPACE, middle) : Math.max(y + 3.5 * SPACE, middle);
    const at = up ? x + wide - 0.7 : x + 0.7;
    group.append(svgEl("path", { class: "stem", d: `M${at.toFixed(1)} ${y}V${tip}` }));
    if (FLAGS[base]) group.append(glyph(FLAGS[base][up ? 0 : 1], at - 0.7, tip));
  }
  if (dotted) group.append(svgEl("circle", { cx: x + wide + 5, cy: y - ((step - stave.low) % 2 ? 0 : HALF), r: 2.1 }));
  return group;
}

function drawSign(group, { alter, kind }, x, y) {
  const signs = kind === "editorial" ? ["E26C", ACCIDENTALS[alter], "E26D"] : [ACCIDENTALS[alter]];
  let at = x - 3 - signs.reduce((sum, code) => sum + glyphWidth(code), 0);
  for (const code of signs) {
    group.append(glyph(code, at, y, { class: "verset-accidental", "data-alter": alter, "data-kind": kind }));
    at += glyphWidth(code);
  }
}

/** A figure such as "#6" or "b", its number in the middle of the head at `x`. */
function drawFigure(group, text, x, y) {
  const codes = [...text].map((char) => FIGURES[char] ?? DIGITS[Number(char)]).filter(Boolean);
  const number = codes.filter((code) => DIGITS.includes(code));
  const before = codes.length > number.length && number.length ? glyphWidth(codes[0]) : 0;
  let at = x + 7 - (number.length ? number : codes).reduce((sum, code) => sum + glyphWidth(code), 0) / 2 - before;
  for (const code of codes) {
    group.append(glyph(code, at, y, { class: "verset-figure" }));
    at += glyphWidth(code);
  }
}

/** Which accidentals are written on a stave, by the rule of the bar: as the book has it, an accidental holds to the
 * barline, is repeated as a reminder where another was heard on its line in the bar before or in another octave of this
 * one, and an editorial one holds for its own note alone. `bars` are lists of notes [onset, step, alter, continued,
 * editorial, key]; gives signs by key. */
function accidentalsOf(bars, signature) {
  const found = new Map();
  let before = new Map();
  for (const bar of bars) {
    const [now, held, supplied] = [new Map(), new Map(), new Map()];
    for (const { step, alter, continued, editorial, key } of [...bar].sort((a, b) => a.onset - b.onset)) {
      const usual = signature[step % 7];
      const other = (map) => map.has(step) && map.get(step) !== alter;
      if (continued) {
        if (alter !== usual) held.set(step, alter);
      } else if (editorial) {
        found.set(key, { alter, kind: "editorial" });
        supplied.set(step, alter);
      } else if (alter !== (now.get(step) ?? usual)) {
        found.set(key, { alter, kind: "plain" });
        now.set(step, alter);
      } else if (!now.has(step)) {
        const octave = [...now].some(([line, sign]) => line % 7 === step % 7 && sign !== alter);
        if (octave || (held.has(step) ? other(held) : other(supplied)) || other(before)) {
          found.set(key, { alter, kind: "reminder" });
          now.set(step, alter);
        }
      }
    }
    before = new Map([...supplied, ...held, ...now].filter(([step, alter]) => alter !== signature[step % 7]));
  }
  return found;
}

// A great stave for notes that the reader puts in: upper and lower stave with middle C between them.

const STEP = 7; // half a stave space, in pixels
const HIGH = 40; // highest and lowest staff step drawn: A5 and C2
const LOW = 14;
const ROOF = 6; // room above, in steps, for stems and flags
const COLUMN = 56;
const FIRST = 20; // from the start of a column to its first note
const SECOND = 20; // from the first note of a sonority to the second
const HEAD = 84; // room for clefs
const FOOT = 62; // room for figures and marks below the stave
const SIGN = { 1: "♯", "-1": "♭", 0: "♮" };

function lineY(step) {
  return (ROOF + HIGH - step) * STEP;
}

const SHEET_HEIGHT = lineY(LOW) + FOOT;

function noteValue(length) {
  const base = [8, 4, 2, 1, 0.5, 0.25].find((value) => length >= value) ?? 0.25;
  return { base, dotted: length >= base * 1.5 };
}

/** One note as a drawing: head, stem, flag, dot, sign, ledger lines. */
function drawNote(x, step, length, { up, sign, id }) {
  const group = svgEl("g", { class: "note", "data-id": id });
  const y = lineY(step);
  const { base, dotted } = noteValue(length);
  const parts = [];
  if (step === 28) parts.push(`M${x - 11} ${y}h22`);
  for (let line = 40; line <= step; line += 2) parts.push(`M${x - 11} ${lineY(line)}h22`);
  for (let line = 16; line >= step; line -= 2) parts.push(`M${x - 11} ${lineY(line)}h22`);
  if (base < 4) parts.push(up ? `M${x + 7} ${y - 2}V${y - 44}` : `M${x - 7} ${y + 2}V${y + 44}`);
  if (base < 1) parts.push(up ? `M${x + 7} ${y - 44}q2 12 9 20` : `M${x - 7} ${y + 44}q2 -12 9 -20`);
  if (base < 0.5) parts.push(up ? `M${x + 7} ${y - 34}q2 12 9 20` : `M${x - 7} ${y + 34}q2 -12 9 -20`);
  if (base === 8) parts.push(`M${x - 11} ${y - 8}v16M${x + 11} ${y - 8}v16`);
  group.append(
    svgEl("path", { class: "stem", d: parts.join("") }),
    svgEl("ellipse", {
      class: base < 2 ? "notehead verset-full" : "notehead verset-hollow",
      cx: x,
      cy: y,
      rx: 7.2,
      ry: 5,
      transform: `rotate(-20 ${x} ${y})`,
    }),
  );
  if (dotted) group.append(svgEl("circle", { cx: x + 13, cy: y - (step % 2 ? 0 : 4), r: 2 }));
  if (sign) {
    const text = svgEl("text", { x: x - 21, y: y + 6, class: "verset-sign" });
    text.textContent = sign;
    group.append(text);
  }
  return group;
}

function clef(letter, x, y) {
  // The page's own engraving has the glyph, unless the page shows no such clef.
  const glyph = document.querySelector(letter === "G" ? 'path[id^="gE050"]' : 'path[id^="gE062"]');
  if (!glyph) {
    const text = svgEl("text", { x, y: y + 6, class: "verset-figure" });
    text.textContent = letter;
    return text;
  }
  const scale = (STEP * 2) / 180;
  const use = svgEl("use", { href: `#${glyph.id}` });
  const group = svgEl("g", { transform: `translate(${x} ${y}) scale(${scale})` });
  group.append(use);
  return group;
}

function drawStaves(svg, width) {
  const lines = [38, 36, 34, 32, 30, 26, 24, 22, 20, 18].map((step) => `M0 ${lineY(step)}H${width}`);
  svg.append(
    svgEl("path", { class: "verset-lines", d: lines.join("") }),
    clef("G", 8, lineY(32)),
    clef("F", 8, lineY(24)),
  );
}

const { el, svgEl, say, clamp, memory, button, readVersion } = globalThis.versetReader ?? {};

// What the reader has put in: for each voice a note at each sonority, and where the reader divides it a second one
// (in `work.then`). Knows nothing of the page.

/** A pitch is [staff step, alteration]. */
function samePitch(a, b) {
  return Boolean(a && b) && a[0] === b[0] && a[1] === b[1];
}

function midiOf([step, alter]) {
  return 12 * (Math.floor(step / 7) + 1) + [0, 2, 4, 5, 7, 9, 11][step % 7] + alter;
}

/** The nearest staff step with a letter (0 for C). */
function nearestStep(letter, near) {
  const below = near - ((((near - letter) % 7) + 7) % 7);
  return near - below <= 3 ? below : below + 7;
}

function emptyWork(exercise) {
  return Object.fromEntries(exercise.voices.map((voice) => [voice, exercise.events.map(() => null)]));
}

/** Work read back from a store or a file; null when it does not fit the exercise. */
function readWork(exercise, kept) {
  if (!kept || kept.key !== exercise.key || typeof kept.work !== "object") return null;
  const work = emptyWork(exercise);
  const readRow = (row) =>
    row.map((pitch) =>
      Array.isArray(pitch) && pitch.length === 2 && pitch.every(Number.isInteger) && Math.abs(pitch[1]) < 2 ? pitch : null,
    );
  for (const voice of exercise.voices) {
    const row = kept.work[voice];
    if (!Array.isArray(row) || row.length !== exercise.events.length) return null;
    work[voice] = readRow(row);
    const then = kept.work.then?.[voice];
    if (!Array.isArray(then) || then.length !== row.length) continue;
    readRow(then).forEach((pitch, n) => pitch && exercise.events[n].half && divide(work, voice, n, pitch));
  }
  return work;
}

/** Set (null: take away) the second note of a voice at a sonority. */
function divide(work, voice, n, pitch) {
  if (!pitch && !work.then?.[voice]) return;
  work.then ??= {};
  work.then[voice] ??= work[voice].map(() => null);
  work.then[voice][n] = pitch;
  if (work.then[voice].every((each) => !each)) delete work.then[voice];
  if (!Object.keys(work.then).length) delete work.then;
}

function secondTone(work, n, voice) {
  return work.then?.[voice]?.[n] ?? null;
}

/** Notes of a voice with equal neighbours held: onset and length in quarters, pitch, and the pieces that are drawn. */
function heldNotes(exercise, work, voice) {
  const notes = [];
  const add = (onset, length, pitch, piece) => {
    const last = notes[notes.length - 1];
    if (last && samePitch(last.pitch, pitch) && last.onset + last.length === onset) {
      last.length += length;
      last.pieces.push(piece);
    } else notes.push({ onset, length, pitch, pieces: [piece] });
  };
  exercise.events.forEach((event, n) => {
    const pitch = event.upper.includes(voice) ? work[voice][n] : null;
    if (!pitch) return;
    const then = secondTone(work, n, voice);
    const middle = then ? event.middle : event.end;
    const first = { id: `mine-${voice}-${n}`, onset: event.at, start: event.start, end: middle };
    add(event.at, then ? event.half : event.length, pitch, first);
    if (!then) return;
    const late = { id: `mine-${voice}-${n}-2`, onset: event.at + event.half, start: middle, end: event.end };
    add(late.onset, event.length - event.half, then, late);
  });
  return notes;
}

/** The work as a version of the play data. */
function workToPlay(exercise, work, voices) {
  const sounding = [];
  for (const voice of exercise.voices) {
    for (const note of heldNotes(exercise, work, voice)) {
      const first = note.pieces[0];
      const last = note.pieces[note.pieces.length - 1];
      const hertz = exercise.hertz[note.pitch.join()];
      const pieces = note.pieces.map(({ id, start }) => [id, start]);
      const end = last.end - Math.min(0.09, (last.end - first.start) * 0.12);
      if (hertz) sounding.push([first.start, end, hertz, voices.indexOf(voice), pieces]);
    }
  }
  for (const note of exercise.line) {
    const end = note.end - Math.min(0.09, (note.end - note.start) * 0.12);
    sounding.push([note.start, end, exercise.hertz[note.pitch.join()], voices.indexOf(note.voice), [[note.id, note.start]]]);
  }
  return sounding;
}

const TYPES = [
  [8, "breve"],
  [4, "whole"],
  [2, "half"],
  [1, "quarter"],
  [0.5, "eighth"],
  [0.25, "16th"],
];

/** Cut a length into values that can be written, at bar lines. */
function writtenPieces(onset, length, bars) {
  const pieces = [];
  let now = onset;
  let left = length;
  while (left > 1e-9) {
    const bar = bars.findLast((each) => each[1] <= now + 1e-9);
    const room = Math.min(left, bar[1] + bar[2] - now);
    const [base, type] = TYPES.find(([value]) => value <= room + 1e-9) ?? TYPES[TYPES.length - 1];
    // Of a length that wants two dots the undotted value comes first, as the book cuts it.
    const dotted = room >= base * 1.5 - 1e-9 && Math.abs(room - base * 1.75) > 1e-9;
    const size = Math.min(dotted ? base * 1.5 : base, left);
    pieces.push({ onset: now, size, type, dotted, bar: bar[0] });
    now += size;
    left -= size;
  }
  return pieces;
}

function xmlText(text) {
  return String(text).replace(/[<>&"]/g, (sign) => `&#${sign.charCodeAt(0)};`);
}

function xmlNote(piece, pitch, before, after) {
  const what = pitch
    ? `<pitch><step>${"CDEFGAB"[pitch[0] % 7]}</step>${pitch[1] ? `<alter>${pitch[1]}</alter>` : ""}<octave>${Math.floor(pitch[0] / 7)}</octave></pitch>`
    : "<rest/>";
  const ties = pitch ? [before ? "stop" : "", after ? "start" : ""].filter(Boolean) : [];
  const tie = ties.map((type) => `<tie type="${type}"/>`).join("");
  const tied = ties.length ? `<notations>${ties.map((type) => `<tied type="${type}"/>`).join("")}</notations>` : "";
  return `<note>${what}<duration>${Math.round(piece.size * 16)}</duration>${tie}<voice>1</voice><type>${piece.type}</type>${piece.dotted ? "<dot/>" : ""}${tied}</note>`;
}

/** The work with the given line as MusicXML 4.0, one part for each voice, highest first. */
function workToMusicXML(exercise, work, nameOf) {
  const [count, unit] = exercise.metre;
  const parts = exercise.order.map((voice) => {
    const mine = exercise.voices.includes(voice) ? heldNotes(exercise, work, voice) : [];
    const own = exercise.line.filter((note) => note.voice === voice).map((note) => ({ onset: note.at, length: note.length, pitch: note.pitch }));
    const notes = [...mine, ...own].sort((a, b) => a.onset - b.onset);
    const inBar = new Map(exercise.bars.map(([number]) => [number, ""]));
    let now = exercise.bars[0][1];
    const put = (onset, length, pitch) => {
      const pieces = writtenPieces(onset, length, exercise.bars);
      pieces.forEach((piece, n) => {
        inBar.set(piece.bar, inBar.get(piece.bar) + xmlNote(piece, pitch, n > 0, n + 1 < pieces.length));
      });
    };
    for (const note of notes) {
      if (note.onset > now) put(now, note.onset - now, null);
      put(note.onset, note.length, note.pitch);
      now = note.onset + note.length;
    }
    const [, onset, length] = exercise.bars[exercise.bars.length - 1];
    if (now < onset + length) put(now, onset + length - now, null);
    return { voice, bars: [...inBar] };
  });
  const list = parts.map(({ voice }, n) => `<score-part id="P${n + 1}"><part-name>${xmlText(nameOf(voice))}</part-name></score-part>`).join("");
  const clefs = { cantus: ["G", 2], altus: ["G", 2], tenor: ["F", 4], bassus: ["F", 4] };
  const body = parts.map(({ voice, bars }, n) => {
    const [sign, line] = clefs[voice];
    const attributes = `<attributes><divisions>16</divisions><key><fifths>${exercise.fifths}</fifths></key><time><beats>${count}</beats><beat-type>${unit}</beat-type></time><clef><sign>${sign}</sign><line>${line}</line></clef></attributes>`;
    return `<part id="P${n + 1}">${bars.map(([number, notes], k) => `<measure number="${number}">${k ? "" : attributes}${notes}</measure>`).join("")}</part>`;
  });
  return `<?xml version="1.0" encoding="UTF-8"?>\n<score-partwise version="4.0"><work><work-title>${xmlText(exercise.title)}</work-title></work><part-list>${list}</part-list>${body.join("")}</score-partwise>\n`;
}

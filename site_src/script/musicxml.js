// The reader's work as a file for other programs.

/** @type {[value: number, type: string][]} */
const TYPES = [
  [8, "breve"],
  [4, "whole"],
  [2, "half"],
  [1, "quarter"],
  [0.5, "eighth"],
  [0.25, "16th"],
];

/** @type {Record<string, [sign: string, line: number]>} */
const WRITTEN_CLEFS = {
  cantus: ["G", 2],
  altus: ["G", 2],
  tenor: ["F", 4],
  bassus: ["F", 4],
};

const DIVISIONS = 16; // of a quarter note

/**
 * Cut a length into values that can be written, at bar lines.
 * @param {number} onset
 * @param {number} length
 * @param {ExerciseBar[]} bars
 */
function writtenPieces(onset, length, bars) {
  /** @type {WrittenPiece[]} */
  const pieces = [];
  let now = onset;
  let left = length;
  while (left > 1e-9) {
    const [bar, begins, lasts] = bars.findLast((each) => each[1] <= now + 1e-9) ?? bars[0];
    const room = Math.min(left, begins + lasts - now);
    const [base, type] = TYPES.find(([value]) => value <= room + 1e-9) ?? TYPES[TYPES.length - 1];
    // Of a length that wants two dots the undotted value comes first, as the book cuts it.
    const dotted = room >= base * 1.5 - 1e-9 && Math.abs(room - base * 1.75) > 1e-9;
    const size = Math.min(dotted ? base * 1.5 : base, left);
    pieces.push({ onset: now, size, type, dotted, bar });
    now += size;
    left -= size;
  }
  return pieces;
}

/** @param {string} text */
function xmlText(text) {
  return text.replace(/[<>&"]/g, (sign) => `&#${sign.charCodeAt(0)};`);
}

/** @param {Pitch | null} pitch */
function xmlPitch(pitch) {
  if (!pitch) return "<rest/>";
  const [step, alter] = pitch;
  const altered = alter ? `<alter>${alter}</alter>` : "";
  return `<pitch><step>${"CDEFGAB"[step % 7]}</step>${altered}<octave>${Math.floor(step / 7)}</octave></pitch>`;
}

/**
 * @param {WrittenPiece} piece
 * @param {Pitch | null} pitch
 * @param {boolean} before whether it is tied to the note before
 * @param {boolean} after
 */
function xmlNote(piece, pitch, before, after) {
  const ties = pitch ? [before ? "stop" : "", after ? "start" : ""].filter(Boolean) : [];
  const tied = ties.map((type) => `<tied type="${type}"/>`).join("");
  return [
    `<note>${xmlPitch(pitch)}<duration>${Math.round(piece.size * DIVISIONS)}</duration>`,
    ...ties.map((type) => `<tie type="${type}"/>`),
    `<voice>1</voice><type>${piece.type}</type>${piece.dotted ? "<dot/>" : ""}`,
    `${tied && `<notations>${tied}</notations>`}</note>`,
  ].join("");
}

/**
 * The notes of a voice in time, the given line's or the reader's.
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {string} voice
 * @returns {Omit<HeldNote, "pieces">[]}
 */
function notesOf(exercise, work, voice) {
  const mine = exercise.voices.includes(voice) ? heldNotes(exercise, work, voice) : [];
  const given = exercise.line.filter((note) => note.voice === voice);
  const own = given.map(({ at, length, pitch }) => ({
    onset: at,
    length,
    pitch,
  }));
  return [...mine, ...own].sort((a, b) => a.onset - b.onset);
}

/**
 * The notes and rests of a voice as MusicXML, by number of the bar.
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {string} voice
 */
function xmlBars(exercise, work, voice) {
  const { bars } = exercise;
  const inBar = new Map(bars.map(([number]) => [number, ""]));
  /**
   * @param {number} onset
   * @param {number} length
   * @param {Pitch | null} pitch
   */
  const put = (onset, length, pitch) => {
    const pieces = writtenPieces(onset, length, bars);
    pieces.forEach((piece, n) => {
      const note = xmlNote(piece, pitch, n > 0, n + 1 < pieces.length);
      inBar.set(piece.bar, inBar.get(piece.bar) + note);
    });
  };
  let now = bars[0][1];
  for (const { onset, length, pitch } of notesOf(exercise, work, voice)) {
    if (onset > now) put(now, onset - now, null);
    put(onset, length, pitch);
    now = onset + length;
  }
  const [, onset, length] = bars[bars.length - 1];
  if (now < onset + length) put(now, onset + length - now, null);
  return [...inBar];
}

/**
 * What stands at the head of a part.
 * @param {Exercise} exercise
 * @param {string} voice
 */
function xmlHead({ metre: [count, unit], fifths }, voice) {
  const [sign, line] = WRITTEN_CLEFS[voice];
  return [
    `<attributes><divisions>${DIVISIONS}</divisions><key><fifths>${fifths}</fifths></key>`,
    `<time><beats>${count}</beats><beat-type>${unit}</beat-type></time>`,
    `<clef><sign>${sign}</sign><line>${line}</line></clef></attributes>`,
  ].join("");
}

/**
 * The work with the given line as MusicXML 4.0, one part for each voice, highest first.
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {(voice: string) => string} nameOf
 */
function workToMusicXML(exercise, work, nameOf) {
  const names = exercise.order.map(
    (voice, n) => `<score-part id="P${n + 1}"><part-name>${xmlText(nameOf(voice))}</part-name></score-part>`,
  );
  const parts = exercise.order.map((voice, n) => {
    const bars = xmlBars(exercise, work, voice).map(
      ([number, notes], k) =>
        `<measure number="${number}">${k ? "" : xmlHead(exercise, voice)}${notes}</measure>`,
    );
    return `<part id="P${n + 1}">${bars.join("")}</part>`;
  });
  return [
    `<?xml version="1.0" encoding="UTF-8"?>\n<score-partwise version="4.0">`,
    `<work><work-title>${xmlText(exercise.title)}</work-title></work>`,
    `<part-list>${names.join("")}</part-list>${parts.join("")}</score-partwise>\n`,
  ].join("");
}

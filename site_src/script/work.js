// What the reader has put in: for each voice a note at each sonority, and where the reader divides it a
// second one (in `work.then`). Knows nothing of the page.

const RELEASED = 0.09; // seconds: the most by which a note ends before the next
const RELEASED_SHARE = 0.12; // of its length, where that is less

/**
 * @param {Pitch | null | undefined} a
 * @param {Pitch | null | undefined} b
 */
function samePitch(a, b) {
  return Boolean(a && b && a[0] === b[0] && a[1] === b[1]);
}

/** @param {Pitch} pitch */
function midiOf([step, alter]) {
  return 12 * (Math.floor(step / 7) + 1) + [0, 2, 4, 5, 7, 9, 11][step % 7] + alter;
}

/**
 * The remainder that is never below zero.
 * @param {number} value
 * @param {number} size
 */
function modulo(value, size) {
  return ((value % size) + size) % size;
}

/**
 * The nearest staff step with a letter (0 for C).
 * @param {number} letter
 * @param {number} near
 */
function nearestStep(letter, near) {
  const below = near - modulo(near - letter, 7);
  return near - below <= 3 ? below : below + 7;
}

/**
 * Whether a note stands in an exercise already, since the teacher asks for others.
 * @param {Exercise} exercise
 * @param {string} voice
 * @param {number} n
 */
function stands(exercise, voice, n) {
  return exercise.stands?.[voice]?.[n] ?? false;
}

/**
 * The voices of a sonority that the student has.
 * @param {Exercise} exercise
 * @param {number} n
 */
function openVoices(exercise, n) {
  return exercise.events[n].upper.filter((voice) => !stands(exercise, voice, n));
}

/**
 * The keys of a sonority that stand there already, and that the student may play or not.
 * @param {Exercise} exercise
 * @param {number} n
 */
function standingKeys(exercise, n) {
  const held = exercise.events[n].upper.filter((voice) => stands(exercise, voice, n));
  return new Set(
    held
      .map((voice) => exercise.ours[voice][n])
      .filter(isPitch)
      .map(midiOf),
  );
}

/**
 * Nothing put in yet: only what stands there.
 * @param {Exercise} exercise
 * @returns {Work}
 */
function emptyWork(exercise) {
  const { voices, events, ours } = exercise;
  return Object.fromEntries(
    voices.map((voice) => [
      voice,
      events.map((_, n) => (stands(exercise, voice, n) ? (ours[voice][n] ?? null) : null)),
    ]),
  );
}

/**
 * @param {unknown} pitch
 * @returns {pitch is Pitch}
 */
function isPitch(pitch) {
  return (
    Array.isArray(pitch) && pitch.length === 2 && pitch.every(Number.isInteger) && Math.abs(pitch[1]) < 2
  );
}

/**
 * Work read back from a store or a file; null when it does not fit the exercise.
 * @param {Exercise} exercise
 * @param {Partial<WorkFile> | null} kept what was kept: anything at all, if it comes from a file
 */
function readWork(exercise, kept) {
  if (!kept?.work || kept.key !== exercise.key || typeof kept.work !== "object") return null;
  const work = emptyWork(exercise);
  const count = exercise.events.length;
  for (const voice of exercise.voices) {
    const row = kept.work[voice];
    if (!Array.isArray(row) || row.length !== count) return null;
    work[voice] = row.map((pitch, n) =>
      stands(exercise, voice, n) ? work[voice][n] : isPitch(pitch) ? pitch : null,
    );
    const then = kept.work.then?.[voice];
    if (!Array.isArray(then) || then.length !== count) continue;
    then.forEach((pitch, n) => {
      if (isPitch(pitch) && exercise.events[n].half && !stands(exercise, voice, n))
        divide(work, voice, n, pitch);
    });
  }
  return work;
}

/**
 * Set (null: take away) the second note of a voice at a sonority.
 * @param {Work} work
 * @param {string} voice
 * @param {number} n
 * @param {Pitch | null} pitch
 */
function divide(work, voice, n, pitch) {
  if (!pitch && !work.then?.[voice]) return;
  const then = (work.then ??= /** @type {Work["then"] & {}} */ ({}));
  then[voice] ??= work[voice].map(() => null);
  then[voice][n] = pitch;
  if (then[voice].every((each) => !each)) delete then[voice];
  if (!Object.keys(then).length) delete work.then;
}

/**
 * @param {Work} work
 * @param {number} n
 * @param {string} voice
 */
function secondTone(work, n, voice) {
  return work.then?.[voice]?.[n] ?? null;
}

/**
 * Notes of a voice with equal neighbours held: onset and length in quarters, pitch, and the pieces that are
 * drawn.
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {string} voice
 */
function heldNotes(exercise, work, voice) {
  /** @type {HeldNote[]} */
  const notes = [];
  /**
   * @param {number} length
   * @param {Pitch} pitch
   * @param {HeldPiece} piece
   */
  const add = (length, pitch, piece) => {
    const last = notes.at(-1);
    if (last && samePitch(last.pitch, pitch) && last.onset + last.length === piece.onset) {
      last.length += length;
      last.pieces.push(piece);
    } else notes.push({ onset: piece.onset, length, pitch, pieces: [piece] });
  };
  exercise.events.forEach(({ upper, at, length, start, end, half = 0, middle = end }, n) => {
    const pitch = upper.includes(voice) ? work[voice][n] : null;
    if (!pitch) return;
    const id = `mine-${voice}-${n}`;
    const then = secondTone(work, n, voice);
    add(then ? half : length, pitch, {
      id,
      onset: at,
      start,
      end: then ? middle : end,
    });
    if (then)
      add(length - half, then, {
        id: `${id}-2`,
        onset: at + half,
        start: middle,
        end,
      });
  });
  return notes;
}

/**
 * When a note of so many seconds falls silent before the next.
 * @param {number} start
 * @param {number} end
 */
function released(start, end) {
  return end - Math.min(RELEASED, (end - start) * RELEASED_SHARE);
}

/**
 * The work as a version of the play data.
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {string[]} voices
 */
function workToPlay(exercise, work, voices) {
  /** @type {PlayedNote[]} */
  const sounding = [];
  for (const voice of exercise.voices) {
    for (const { pitch, pieces } of heldNotes(exercise, work, voice)) {
      const [{ start }] = pieces;
      const { end } = pieces[pieces.length - 1];
      const hertz = exercise.hertz[pitch.join()];
      const drawn = pieces.map((piece) => /** @type {Piece} */ ([piece.id, piece.start]));
      if (hertz) sounding.push([start, released(start, end), hertz, voices.indexOf(voice), drawn]);
    }
  }
  for (const { id, voice, pitch, start, end } of exercise.line) {
    const hertz = exercise.hertz[pitch.join()];
    sounding.push([start, released(start, end), hertz, voices.indexOf(voice), [[id, start]]]);
  }
  return sounding;
}

// Clashes of two voices where the reader divides a sonority. What a clash meets is looked up by the steps and
// the place of its two notes, in tables that the check itself has filled.

/**
 * Whether two notes clash; `lowest`: the lower of them is the lowest of all.
 * @param {Tables} tables
 * @param {boolean} lowest
 * @param {Pitch} one
 * @param {Pitch} other
 */
function isClash(tables, lowest, one, other) {
  const [over, under] = midiOf(other) > midiOf(one) ? [other, one] : [one, other];
  const key = `${(over[0] - under[0]) % 7},${(midiOf(over) - midiOf(under)) % 12}`;
  return (lowest ? tables.clash : tables.clashAbove).includes(key);
}

const LIGHT = -9; // lighter than any beat

/**
 * All notes of a voice in time.
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {number} n
 * @param {string} voice
 * @returns {Omit<HeldNote, "pieces">[]}
 */
function notesAround(exercise, work, n, voice) {
  if (voice !== exercise.events[n].voice) return heldNotes(exercise, work, voice);
  const line = exercise.line.filter((note) => note.voice === voice);
  return line.map(({ at, length, pitch }) => ({ onset: at, length, pitch }));
}

/**
 * Whether a voice may have a note at a time that nobody has put in yet.
 * @param {Exercise} exercise
 * @param {string} voice
 * @param {number} time
 */
function isUnknown({ events, closed }, voice, time) {
  const here = events.find(({ at, length }) => at <= time && time < at + length);
  if (!here) return time < events[0].at || !closed;
  return here.upper.includes(voice) || here.voice === voice;
}

/**
 * The note a voice has at the start of a sonority (`tone` is toneAt) or at its end (lateToneAt).
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {number} n
 * @param {string} voice
 * @param {ToneOf} tone
 * @returns {NoteAbout}
 */
function noteAbout(exercise, work, n, voice, tone) {
  const event = exercise.events[n];
  const late = tone === lateToneAt && isDivided(exercise, work, n);
  const at = event.at + (late ? (event.half ?? 0) : 0);
  return noteAt(exercise, work, n, voice, at, late ? LIGHT : event.weight);
}

/**
 * The note a voice has at a time (quarter notes) of such a weight: the pitches before and after it (null for silence,
 * undefined where nobody knows), its length, the weights of its beginning and of its neighbours', and whether it
 * is struck here.
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {number} n
 * @param {string} voice
 * @param {number} time
 * @param {number} here
 * @returns {NoteAbout}
 */
function noteAt(exercise, work, n, voice, time, here) {
  const { events } = exercise;
  const notes = notesAround(exercise, work, n, voice);
  const k = notes.findIndex(({ onset, length }) => onset <= time && time < onset + length);
  const { onset, length, pitch } = notes[k];
  const end = onset + length;
  /** @param {number} at */
  const weightAt = (at) => events.find((event) => event.at === at)?.weight ?? LIGHT;
  /** @param {number} when */
  const silence = (when) => (isUnknown(exercise, voice, when) ? undefined : null);
  const past = notes[k - 1]?.onset + notes[k - 1]?.length === onset ? notes[k - 1] : null;
  const next = notes[k + 1]?.onset === end ? notes[k + 1] : null;
  const between = events.filter(({ at }) => past && past.onset <= at && at < onset);
  return {
    past: past ? past.pitch : silence(onset - 0.001),
    next: next ? next.pitch : silence(end),
    pitch,
    length,
    weight: weightAt(onset),
    before: Math.max(LIGHT, ...between.map((event) => event.weight)),
    after: weightAt(end),
    here,
    struck: onset === time,
  };
}

/**
 * What the way of one of two clashing notes excuses; null where that depends on what is not known yet.
 * @param {Tables} tables
 * @param {Exercise} exercise
 * @param {NoteAbout} note
 * @param {boolean} clashed
 */
function excuse(tables, exercise, note, clashed) {
  /**
   * @param {Pitch | null | undefined} known
   * @returns {(Pitch | null)[]}
   */
  const ways = (known) => {
    const [step, alter] = note.pitch;
    return known === undefined ? [-2, -1, 1, 2].map((by) => [step + by, alter]) : [known];
  };
  const found = ways(note.past).flatMap((past) =>
    ways(note.next).map((next) => excused(tables, exercise, { ...note, past, next }, clashed)),
  );
  return found.every((rules) => rules.join() === found[0].join()) ? found[0] : null;
}

/**
 * The step from one note to another: 1, -1, or 0 where there is none.
 * @param {Pitch | null | undefined} from
 * @param {Pitch | null | undefined} to
 */
function stepBetween(from, to) {
  const steps = from && to ? to[0] - from[0] : 0;
  return Math.abs(steps) === 1 ? steps : 0;
}

/**
 * @param {Tables} tables
 * @param {Exercise} exercise
 * @param {NoteAbout} note
 * @param {boolean} clashed
 */
function excused(tables, exercise, note, clashed) {
  const { past, pitch, next } = note;
  if (note.struck) {
    const key = past && next ? `${pitch[0] - past[0]},${next[0] - pitch[0]}` : "else";
    return tables.second[key] ?? tables.second.else;
  }
  const goes = stepBetween(pitch, next);
  if (goes === -1 && !clashed && note.here >= note.after) return []; // a suspension
  const short = note.length <= 4 / exercise.metre[1];
  const weak = note.weight < note.after || note.weight < note.before;
  const key = [stepBetween(past, pitch), goes, clashed, short, weak].map(Number);
  return tables.held[key.join()] ?? tables.held.else;
}

/**
 * Whether two voices clashed just before a sonority (before its second notes, if `late`).
 * @param {Tables} tables
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {number} n
 * @param {string[]} voices
 * @param {boolean} late
 */
function haveClashed(tables, exercise, work, n, voices, late) {
  const event = exercise.events[n];
  if (!late && !(n > 0 && event.joined)) return false;
  const [one, other] = voices.map((voice) =>
    late ? toneAt(exercise, work, n, voice) : lateToneAt(exercise, work, n - 1, voice),
  );
  return one !== null && other !== null && isClash(tables, voices.includes(event.voice), one, other);
}

/**
 * What the clash of two voices at a sonority meets, what is struck speaking first: no rule where they do not
 * clash, null where it is not known yet.
 * @param {Tables} tables
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {number} n
 * @param {[one: string, other: string]} voices
 * @param {ToneOf} tone
 */
function clashRules(tables, exercise, work, n, voices, tone) {
  const [one, other] = voices.map((voice) => tone(exercise, work, n, voice));
  const lowest = voices.includes(exercise.events[n].voice);
  if (!one || !other || !isClash(tables, lowest, one, other)) return [];
  const late = tone === lateToneAt && isDivided(exercise, work, n);
  const clashed = haveClashed(tables, exercise, work, n, voices, late);
  const notes = voices
    .map((voice) => noteAbout(exercise, work, n, voice, tone))
    .sort((a, b) => Number(b.struck) - Number(a.struck));
  const ways = notes.map((note) => excuse(tables, exercise, note, clashed));
  if (ways.some((rules) => rules && !rules.length)) return [];
  const known = ways.filter((rules) => rules !== null);
  if (known.length < ways.length) return null;
  return known.find((rules) => !rules.some((rule) => tables.owed.untreated.includes(rule))) ?? known[0];
}

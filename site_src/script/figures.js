// How the notes of a sonority read its figure, and what bound tones owe to where they come from and where
// they go.

/**
 * What a voice has at a sonority: the given note, the reader's, or nothing.
 * @type {ToneOf}
 */
function toneAt(exercise, work, n, voice) {
  const event = exercise.events[n];
  if (!event) return null;
  if (voice === event.voice) return event.bass;
  return event.upper.includes(voice) ? (work[voice]?.[n] ?? null) : null;
}

/**
 * Whether some voice has a second note at a sonority.
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {number} n
 */
function isDivided(exercise, work, n) {
  const event = exercise.events[n];
  return Boolean(event?.half) && event.upper.some((voice) => secondTone(work, n, voice));
}

/**
 * What a voice has at the end of a sonority.
 * @type {ToneOf}
 */
function lateToneAt(exercise, work, n, voice) {
  if (!isDivided(exercise, work, n)) return toneAt(exercise, work, n, voice);
  if (voice === exercise.events[n].voice) return exercise.events[n].late ?? null;
  return secondTone(work, n, voice) ?? toneAt(exercise, work, n, voice);
}

/**
 * Sounding voices at the start of a sonority (or at its end), highest first: [voice, pitch].
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {number} n
 */
function tonesAt(exercise, work, n, tone = toneAt) {
  const event = exercise.events[n];
  /** @type {Tones} */
  const found = [];
  for (const voice of [...event.upper, event.voice]) {
    const pitch = tone(exercise, work, n, voice);
    if (pitch) found.push([voice, pitch]);
  }
  return found;
}

/**
 * The interval from one note to another, as the tables name it.
 * @param {Pitch} from
 * @param {Pitch} to
 */
function interval(from, to) {
  return `${to[0] - from[0]},${midiOf(to) - midiOf(from)}`;
}

/**
 * A reading of a figure by the notes put in: foreign voices, numbers that lack, and the role of each voice.
 * @param {Sonority} event
 * @param {Tones} tones
 * @param {(voice: string) => Pitch | null} second the second note of a voice
 * @param {Reading} reading
 * @returns {FoundReading}
 */
function readAs(event, tones, second, { members, must }) {
  const [bass] = event.bass;
  /**
   * @param {Pitch} pitch
   * @param {Reading["members"][number]} member
   */
  const has = ([step, alter], [number, its]) => modulo(step - bass - number + 1, 7) === 0 && alter === its;
  /** @param {Pitch} pitch */
  const isBass = ([step, alter]) => (step - bass) % 7 === 0 && alter === event.bass[1];
  const foreign = tones.filter(
    ([, pitch]) => !isBass(pitch) && !members.some((member) => has(pitch, member)),
  );
  const asked = tones.length === event.upper.length ? must : [];
  const lack = asked.filter((number) => {
    const member = members.find(([its]) => its === number);
    return (
      member && !tones.some(([voice, pitch]) => has(pitch, member) || has(second(voice) ?? pitch, member))
    );
  });
  const roles = new Map(
    tones.map(([voice, pitch]) => [voice, members.find((member) => has(pitch, member))?.[2] ?? 0]),
  );
  const names = foreign.map(([voice]) => voice);
  return {
    fault: foreign.length * 10 + lack.length,
    foreign: names,
    lack,
    roles,
  };
}

/**
 * The readings of a figure that fit best.
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {number} n
 */
function readings(exercise, work, n) {
  const event = exercise.events[n];
  const tones = tonesAt(exercise, work, n).filter(([voice]) => voice !== event.voice);
  /** @param {string} voice */
  const second = (voice) => secondTone(work, n, voice);
  const found = event.variants.map((variant) => readAs(event, tones, second, variant));
  if (!found.length) return [{ fault: 0, foreign: [], lack: [], roles: new Map() }];
  const least = Math.min(...found.map((each) => each.fault));
  return found.filter((each) => each.fault === least);
}

const ADORNED = 4; // widest interval, in steps, of a note between a dissonance and its fall

/**
 * Of several ways to look at a note, what the kindest finds.
 * @param {string[][]} ways
 */
function fewest(ways) {
  return ways.reduce((kindest, way) => (way.length < kindest.length ? way : kindest));
}

/**
 * What bound tones owe to where they come from: the note before, or the one that this adorned.
 * @param {Tables} tables
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {number} n
 * @param {FoundReading} here
 */
function owedBefore(tables, exercise, work, n, here) {
  /** @type {Met[]} */
  const found = [];
  const { joined } = exercise.events[n];
  for (const [voice, role] of here.roles) {
    const pitch = work[voice][n];
    const came = [lateToneAt, toneAt].map((tone) =>
      n > 0 && joined ? tone(exercise, work, n - 1, voice) : null,
    );
    // Where the exercise begins, and where the reader has left a gap, nothing is known of what came before.
    if (!pitch || (!came[0] && (n === 0 || exercise.events[n - 1].upper.includes(voice)))) continue;
    const table = tables.entered[role];
    const ways = came.map((from) => table[from ? interval(from, pitch) : "none"] ?? table.else);
    for (const rule of fewest(ways)) found.push({ rule, voices: [voice], owed: false });
  }
  return found;
}

/**
 * What bound tones of the sonority before owe to where they go.
 * @param {Tables} tables
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {number} n
 * @param {FoundReading} then
 * @param {FoundReading} here
 */
function owedAfter(tables, exercise, work, n, then, here) {
  return [...then.roles].flatMap(([voice, role]) => {
    const within = secondTone(work, n - 1, voice);
    if (within && role === tables.pedal) return owedPassing(tables, exercise, work, n - 1, voice);
    const ways = waysOn(tables, exercise, work, n, voice, role, here);
    return ways.length ? fewest(ways).map((rule) => ({ rule, voices: [voice], owed: true })) : [];
  });
}

/**
 * What passes is judged by its steps, and only where it clashes.
 * @param {Tables} tables
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {number} n
 * @param {string} voice
 */
function owedPassing(tables, exercise, work, n, voice) {
  const others = tonesAt(exercise, work, n).filter(([each]) => each !== voice);
  return others.flatMap(([other]) => {
    const rules = clashRules(tables, exercise, work, n, [voice, other], toneAt) ?? [];
    return rules.map((rule) => ({ rule, voices: [voice, other], owed: true }));
  });
}

/**
 * By each way to look at it, the rules that a bound tone of the sonority before meets by where it goes: a
 * second note is where it goes, or adorns the way to the next sonority.
 * @param {Tables} tables
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {number} n
 * @param {string} voice
 * @param {number} role
 * @param {FoundReading} here
 */
function waysOn(tables, exercise, work, n, voice, role, here) {
  const event = exercise.events[n];
  const from = work[voice][n - 1];
  const within = secondTone(work, n - 1, voice);
  const goes = toneAt(exercise, work, n, voice);
  if (!from || (!goes && event.upper.includes(voice))) return [];
  const bound = voice !== event.voice && (here.roles.get(voice) ?? 0) !== 0 ? 1 : 0;
  /**
   * @param {Pitch} to
   * @param {number} its
   */
  const broken = (to, its) => {
    const table = tables.left[`${role},${its},${event.stays ? 1 : 0}`];
    return table[interval(from, to)] ?? table.else;
  };
  const ways = within ? [broken(within, 0)] : [];
  if (goes && (!within || Math.abs(within[0] - from[0]) <= ADORNED)) ways.push(broken(goes, bound));
  return ways;
}

/**
 * The reading that owes least, with what it owes.
 * @param {Tables} tables
 * @param {Exercise} exercise
 * @param {Work} work
 * @param {number} n
 */
function bestReading(tables, exercise, work, n) {
  const pasts = n > 0 && exercise.events[n].joined ? readings(exercise, work, n - 1) : [];
  const debts = pasts.map((past) => owedBefore(tables, exercise, work, n - 1, past).length);
  const fit = pasts.filter((_, k) => debts[k] === Math.min(...debts));
  const found = readings(exercise, work, n).flatMap((here) => {
    const before = owedBefore(tables, exercise, work, n, here);
    if (!fit.length) return [{ here, owed: before }];
    return fit.map((past) => ({
      here,
      owed: [...before, ...owedAfter(tables, exercise, work, n, past, here)],
    }));
  });
  return found.reduce((best, each) => (each.owed.length < best.owed.length ? each : best));
}

// Clashes of two voices where the reader divides a sonority. What a clash meets is looked up by the steps and the place
// of its two notes, in tables that the check itself has filled.

/** Whether two notes clash; `lowest`: the lower of them is the lowest of all. */
function isClash(tables, lowest, one, other) {
  const [over, under] = [one, other].sort((a, b) => midiOf(b) - midiOf(a));
  const key = `${(over[0] - under[0]) % 7},${(midiOf(over) - midiOf(under)) % 12}`;
  return (lowest ? tables.clash : tables.clashAbove).includes(key);
}

const LIGHT = -9; // lighter than any beat

/** The note a voice has at the start of a sonority (`tone` is toneAt) or at its end (lateToneAt): the pitches before and
 * after it (null for silence, undefined where nobody knows), its length, the weights of its beginning and of its
 * neighbours', and whether it is struck here. */
function noteAbout(exercise, work, n, voice, tone) {
  const { events, line } = exercise;
  const late = tone === lateToneAt && isDivided(exercise, work, n);
  const time = events[n].at + (late ? events[n].half : 0);
  const notes = voice === events[n].voice ? line.filter((note) => note.voice === voice).map(({ at, length, pitch }) => ({ onset: at, length, pitch })) : heldNotes(exercise, work, voice);
  const k = notes.findIndex((note) => note.onset <= time && time < note.onset + note.length);
  const note = notes[k];
  const weightAt = (at) => events.find((event) => event.at === at)?.weight ?? LIGHT;
  const end = note.onset + note.length;
  const joins = (other, at) => Boolean(other) && (other.onset === at || other.onset + other.length === at);
  const unknown = (at) => {
    const here = events.find((event) => event.at <= at && at < event.at + event.length);
    if (!here) return at < events[0].at || !exercise.closed;
    return here.upper.includes(voice) || here.voice === voice;
  };
  const past = joins(notes[k - 1], note.onset) ? notes[k - 1] : null;
  const next = joins(notes[k + 1], end) ? notes[k + 1] : null;
  return {
    past: past ? past.pitch : unknown(note.onset - 0.001) ? undefined : null,
    next: next ? next.pitch : unknown(end) ? undefined : null,
    pitch: note.pitch,
    length: note.length,
    weight: weightAt(note.onset),
    before: past ? Math.max(LIGHT, ...events.filter(({ at }) => past.onset <= at && at < note.onset).map((event) => event.weight)) : LIGHT,
    after: weightAt(end),
    here: late ? LIGHT : events[n].weight,
    struck: note.onset === time,
  };
}

/** What the way of one of two clashing notes excuses; null where that depends on what is not known yet. */
function excuse(tables, exercise, note, clashed) {
  const ways = (known, from) => (known === undefined ? [-2, -1, 1, 2].map((by) => [from[0] + by, from[1]]) : [known]);
  const found = ways(note.past, note.pitch).flatMap((past) =>
    ways(note.next, note.pitch).map((next) => excused(tables, exercise, { ...note, past, next }, clashed)),
  );
  return found.every((rules) => rules.join() === found[0].join()) ? found[0] : null;
}

function excused(tables, exercise, note, clashed) {
  if (note.struck) {
    const key = note.past && note.next ? `${note.pitch[0] - note.past[0]},${note.next[0] - note.pitch[0]}` : "else";
    return tables.second[key] ?? tables.second.else;
  }
  const step = (from, to) => (from && to && Math.abs(to[0] - from[0]) === 1 ? to[0] - from[0] : 0);
  const goes = step(note.pitch, note.next);
  if (goes === -1 && !clashed && note.here >= note.after) return []; // a suspension
  const short = note.length <= 4 / exercise.metre[1];
  const weak = note.weight < note.after || note.weight < note.before;
  const key = [step(note.past, note.pitch), goes, clashed, short, weak].map(Number);
  return tables.held[key.join()] ?? tables.held.else;
}

/** What the clash of two voices at a sonority meets, what is struck speaking first: no rule where they do not clash,
 * null where it is not known yet. */
function clashRules(tables, exercise, work, n, one, other, tone) {
  const at = (k, which) => [one, other].map((voice) => which(exercise, work, k, voice));
  const event = exercise.events[n];
  const lowest = [one, other].includes(event.voice);
  if (!isClash(tables, lowest, ...at(n, tone))) return [];
  const late = tone === lateToneAt && isDivided(exercise, work, n);
  const past = late ? at(n, toneAt) : n > 0 && event.joined ? at(n - 1, lateToneAt) : [];
  const clashed = past.length === 2 && past.every(Boolean) && isClash(tables, lowest, ...past);
  const notes = [one, other].map((voice) => noteAbout(exercise, work, n, voice, tone)).sort((a, b) => b.struck - a.struck);
  const ways = notes.map((note) => excuse(tables, exercise, note, clashed));
  if (ways.some((rules) => rules && !rules.length)) return [];
  if (ways.includes(null)) return null;
  return ways.find((rules) => !rules.some((rule) => tables.owed.untreated.includes(rule))) ?? ways[0];
}

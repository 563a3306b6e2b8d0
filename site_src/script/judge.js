// Verdicts on what the reader put in. Every verdict is looked up in tables that the rules themselves made; the
// script knows intervals and motion, and no rule.

/** What a voice has at a sonority: the given note, the reader's, or nothing. */
function toneAt(exercise, work, n, voice) {
  const event = exercise.events[n];
  if (!event) return null;
  if (voice === event.voice) return event.bass;
  return event.upper.includes(voice) ? work[voice]?.[n] ?? null : null;
}

/** Sounding voices at a sonority, highest first: [voice, pitch]. */
function tonesAt(exercise, work, n) {
  const event = exercise.events[n];
  return [...event.upper, event.voice]
    .map((voice) => [voice, toneAt(exercise, work, n, voice)])
    .filter(([, pitch]) => pitch);
}

function interval(from, to) {
  return `${to[0] - from[0]},${midiOf(to) - midiOf(from)}`;
}

/** An entry of a table; where the size in semitones changes nothing, the key stands without it. */
function look(table, key) {
  return table[key] ?? table[key.slice(0, key.lastIndexOf(","))] ?? [];
}

/** The readings of a figure that fit best: foreign voices, numbers that lack, and the role of each voice. */
function readings(exercise, work, n) {
  const event = exercise.events[n];
  const tones = event.upper.map((voice) => [voice, work[voice][n]]).filter(([, pitch]) => pitch);
  const whole = tones.length === event.upper.length;
  const has = ([step, alter], [number, its]) =>
    step % 7 === (event.bass[0] + number - 1) % 7 && alter === its;
  const isBass = (pitch) => (pitch[0] - event.bass[0]) % 7 === 0 && pitch[1] === event.bass[1];
  let best = [];
  for (const variant of event.variants) {
    const foreign = tones.filter(([, pitch]) => !isBass(pitch) && !variant.members.some((m) => has(pitch, m)));
    const must = whole ? variant.must : [];
    const lack = must.filter((number) => {
      const member = variant.members.find(([its]) => its === number);
      return !tones.some(([, pitch]) => has(pitch, member));
    });
    const fault = foreign.length * 10 + lack.length;
    if (best.length && best[0].fault < fault) continue;
    const roles = new Map();
    for (const [voice, pitch] of tones) roles.set(voice, variant.members.find((m) => has(pitch, m))?.[2] ?? 0);
    const found = { fault, foreign: foreign.map(([voice]) => voice), lack, roles };
    best = best.length && best[0].fault === fault ? [...best, found] : [found];
  }
  return best.length ? best : [{ fault: 0, foreign: [], lack: [], roles: new Map() }];
}

/** What bound tones owe to where they come from: [rule, voice]. */
function owedBefore(tables, exercise, work, n, here) {
  const found = [];
  for (const [voice, role] of here.roles) {
    const came = n > 0 && exercise.events[n].joined ? toneAt(exercise, work, n - 1, voice) : null;
    // Where the exercise begins, and where the reader has left a gap, nothing is known of what came before.
    if (!came && (n === 0 || exercise.events[n - 1].upper.includes(voice))) continue;
    const table = tables.entered[role];
    for (const rule of table[came ? interval(came, work[voice][n]) : "none"] ?? table.else) found.push([rule, voice]);
  }
  return found;
}

/** What bound tones of the sonority before owe to where they go. */
function owedAfter(tables, exercise, work, n, then, here) {
  const found = [];
  const event = exercise.events[n];
  for (const [voice, role] of then.roles) {
    const goes = toneAt(exercise, work, n, voice);
    if (!goes) continue;
    const bound = voice !== event.voice && (here.roles.get(voice) ?? 0) !== 0 ? 1 : 0;
    const table = tables.left[`${role},${bound},${event.stays ? 1 : 0}`];
    for (const rule of table[interval(work[voice][n - 1], goes)] ?? table.else) found.push([rule, voice]);
  }
  return found;
}

/** The reading that owes least, with what it owes. */
function bestReading(tables, exercise, work, n) {
  const joined = n > 0 && exercise.events[n].joined;
  let pasts = joined ? readings(exercise, work, n - 1) : [null];
  if (joined) {
    const debts = pasts.map((past) => owedBefore(tables, exercise, work, n - 1, past).length);
    pasts = pasts.filter((_, k) => debts[k] === Math.min(...debts));
  }
  let best = null;
  for (const here of readings(exercise, work, n)) {
    const before = owedBefore(tables, exercise, work, n, here);
    for (const past of pasts) {
      const owed = [...before, ...(past ? owedAfter(tables, exercise, work, n, past, here) : [])];
      if (!best || owed.length < best.owed.length) best = { here, owed };
    }
  }
  return best;
}

/** All verdicts on one sonority and on the way to it: [rule, voices]. */
function verdicts(tables, exercise, work, n) {
  const found = [];
  const add = (rule, ...voices) => found.push([rule, voices]);
  const event = exercise.events[n];
  const now = tonesAt(exercise, work, n);
  const past = n > 0 && event.joined ? tonesAt(exercise, work, n - 1) : [];
  const before = new Map(past);
  const upper = now.filter(([voice]) => voice !== event.voice);

  for (const [voice, pitch] of upper) {
    const [low, high] = exercise.compass[voice];
    if (midiOf(pitch) < midiOf(event.bass)) add("given-not-lowest", voice, event.voice);
    if (pitch[0] < low || pitch[0] > high) add("compass", voice);
    if (!(pitch.join() in exercise.hertz)) add("not-in-tuning", voice);
  }

  const { here, owed } = bestReading(tables, exercise, work, n);
  for (const [rule, voice] of owed) add(rule, voice);
  for (const voice of here.foreign) {
    const pitch = work[voice][n];
    const steps = (((pitch[0] - event.bass[0]) % 7) + 7) % 7;
    const size = (((midiOf(pitch) - midiOf(event.bass)) % 12) + 12) % 12;
    if (event.figured) add("against-figures", voice);
    else if (tables.clash.includes(`${steps},${size}`)) add("dissonance", voice);
  }
  if (here.lack.length) {
    if (event.figured) add("figure-not-sounded", ...event.upper);
    else if (event.upper.length > 1 && here.lack.includes(3)) add("third-missing", ...event.upper);
  }

  now.forEach(([high, top], i) => {
    now.slice(i + 1).forEach(([low, bottom], k) => {
      const next = k === 0;
      for (const rule of look(tables.sonority, interval(bottom, top))) {
        if (rule === "unison" && (event.free || event.weight < 2)) continue;
        if (rule !== "unison" && (!next || low === event.voice)) continue;
        add(rule, high, low);
      }
      if (before.has(high) && before.has(low)) motion(high, low, before.get(high), top, before.get(low), bottom, next);
    });
  });

  function motion(high, low, top0, top1, bottom0, bottom1, next) {
    const rise = midiOf(top1) - midiOf(top0);
    const lower = midiOf(bottom1) - midiOf(bottom0);
    if (samePitch(top0, top1) && samePitch(bottom0, bottom1)) return;
    const way = Math.sign(rise * lower);
    const kind = (pair) => tables.perfect[pair] ?? 0;
    const leap = Math.abs(top1[0] - top0[0]) > 1 ? 1 : 0;
    const key = [kind(interval(bottom0, top0)), kind(interval(bottom1, top1)), way === 1 ? 1 : way === -1 ? 2 : 0, leap];
    const outer = high === now[0][0] && high === past[0][0] && low === event.voice && low === exercise.events[n - 1].voice;
    for (const rule of tables.motion[key.join()] ?? []) {
      if (rule.startsWith("direct") && !outer) continue;
      add(rule, high, low);
    }
    const step = [interval(bottom0, bottom1), interval(top0, top1)].some((move) => tables.chromatic.includes(move));
    const across = new Set([...look(tables.cross, interval(bottom0, top1)), ...look(tables.cross, interval(bottom1, top0))]);
    for (const rule of across) {
      if (rule === "overlap" ? next && low !== event.voice : !step) add(rule, high, low);
    }
  }

  for (const [voice, pitch] of upper) {
    const came = before.get(voice);
    if (came) melody(voice, pitch, came, interval(came, pitch));
  }

  function melody(voice, pitch, came, move) {
    if (samePitch(pitch, came)) return;
    for (const rule of look(tables.melody, move)) add(rule, voice);
    let k = n - 1;
    while (k > 0 && exercise.events[k].joined && samePitch(toneAt(exercise, work, k - 1, voice), came)) k--;
    const first = k > 0 && exercise.events[k].joined ? toneAt(exercise, work, k - 1, voice) : null;
    if (!first) return;
    const steps = `${came[0] - first[0]},${pitch[0] - came[0]}`;
    const whole = `${steps},${midiOf(pitch) - midiOf(first)}`; // steps, and the size of both together
    for (const rule of look(tables.line, whole)) add(rule, voice);
  }

  const told = new Set();
  return found.filter(([rule, voices]) => {
    const key = [rule, ...voices].join();
    const known = told.has(key) || event.allowed.includes(rule);
    told.add(key);
    return !known;
  });
}

/** Verdicts with their severity for so many voices. */
function judge(tables, exercise, work, n) {
  const count = Math.min(6, Math.max(1, tonesAt(exercise, work, n).length));
  return verdicts(tables, exercise, work, n).map(([rule, voices]) => ({
    rule,
    voices,
    severity: tables.rules[rule].severity[count - 1],
  }));
}

/** Whether every voice above the line has its note. */
function isWhole(exercise, work, n) {
  return exercise.events[n].upper.every((voice) => work[voice][n]);
}

/** Notes a voice may take at a sonority without an error, as things stand. */
function legalTones(tables, exercise, work, n, voice) {
  const [low, high] = exercise.compass[voice];
  const found = [];
  for (let step = low; step <= high; step++) {
    for (const alter of [-1, 0, 1]) {
      const pitch = [step, alter];
      if (!(pitch.join() in exercise.hertz)) continue;
      const row = [...work[voice]];
      row[n] = pitch;
      const tried = { ...work, [voice]: row };
      const met = judge(tables, exercise, tried, n);
      const own = met.filter((each) => each.severity === "error" && (each.voices.includes(voice) || !each.voices.length));
      if (!own.length) found.push({ pitch, price: met.filter((each) => each.severity === "warning").length });
    }
  }
  return found;
}

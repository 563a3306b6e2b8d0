// From the keys of a hand to the notes of the voices. Knows nothing of the page.

/**
 * All notes that a key may be, with one sign at the most.
 * @param {number} key MIDI number
 * @returns {Pitch[]}
 */
function namesOf(key) {
  const near = Math.floor(((key - 12) * 7) / 12);
  return [near - 1, near, near + 1, near + 2].flatMap((step) => {
    const alter = key - midiOf([step, 0]);
    return step >= 0 && Math.abs(alter) < 2 ? [/** @type {Pitch} */ ([step, alter])] : [];
  });
}

/**
 * A key as a note: as the figure spells it, else as the signature does, else with the fewest signs; a note that
 * the tuning has, and the voices reach, before any other.
 * @param {Exercise} exercise
 * @param {number} n
 * @param {number} key MIDI number
 * @returns {Pitch}
 */
function spelledKey(exercise, n, key) {
  const { bass, variants } = exercise.events[n];
  const named = new Set(
    variants.flatMap(({ members }) =>
      members.map(([number, alter]) => `${modulo(bass[0] + number - 1, 7)},${alter}`),
    ),
  );
  /** @param {Pitch} pitch */
  const cost = ([step, alter]) => {
    const letter = modulo(step, 7);
    if (named.has(`${letter},${alter}`)) return 0;
    return alter === exercise.signature[letter] ? 1 : 2 + Math.abs(alter);
  };
  const found = namesOf(key).sort((a, b) => cost(a) - cost(b));
  return found.find((pitch) => pitch.join() in exercise.hertz) ?? found[0];
}

/**
 * Several keys as notes.
 * @param {Exercise} exercise
 * @param {number} n
 * @param {number[]} keys
 */
function spelledKeys(exercise, n, keys) {
  return keys.map((key) => spelledKey(exercise, n, key)).filter((pitch) => pitch !== null);
}

/**
 * All ways in which so many notes, highest first, fill so many voices: each in its order, every note in some
 * voice; a note may serve two neighbours.
 * @param {number} notes
 * @param {number} voices
 * @returns {number[][]} for each voice the place of its note
 */
function waysToShare(notes, voices) {
  /** @type {number[][]} */
  const found = [];
  /** @param {number[]} way */
  const go = (way) => {
    if (way.length === voices) {
      if (way[voices - 1] === notes - 1) found.push(way);
      return;
    }
    const last = way.at(-1) ?? -1;
    for (const next of last < 0 ? [0] : [last, last + 1]) if (next < notes) go([...way, next]);
  };
  if (notes && notes <= voices) go([]);
  return found;
}

/**
 * The notes of a sonority shared out among the voices above the line: the highest to the highest voice. Where
 * there are fewer notes than voices, two share one, in the way that the rules mind least.
 * @param {Exercise} exercise
 * @param {Work} work with the sonorities before
 * @param {number} n
 * @param {Pitch[]} pitches
 * @param {Rulings} rulings
 * @returns {Work | null} null where they cannot be shared out
 */
function shareOut(exercise, work, n, pitches, rulings) {
  const tried = sharedOut(exercise, work, n, pitches);
  if (!tried.length) return null;
  const costs = tried.map((each) => rulings.faults(each, n));
  return tried[costs.indexOf(Math.min(...costs))];
}

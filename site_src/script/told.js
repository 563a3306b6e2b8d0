// What the page says of the place where the reader is.

/**
 * The name of a note, without its octave.
 * @param {Pick<Words, "names">} words
 * @param {Pitch} pitch
 */
function noteName(words, [step, alter]) {
  return words.names["CDEFGAB"[step % 7] + (alter > 0 ? "#" : alter < 0 ? "b" : "")];
}

/**
 * The voices of a verdict with the way their notes take; of one that a note before has brought about, that
 * note and where it stands.
 * @param {Player} player
 * @param {Pen} pen
 * @param {Judged} judged
 */
function partyOf(player, { exercise, work, n }, { voices, owed }) {
  const to = owed ? n - 1 : n;
  const from = !owed && exercise.events[n].joined ? Math.max(0, n - 1) : to;
  const said = voices.map((voice) => {
    const tones = [toneAt(exercise, work, to, voice), lateToneAt(exercise, work, to, voice)];
    if (from < to) tones.unshift(lateToneAt(exercise, work, from, voice));
    /** @type {string[]} */
    const way = [];
    tones.forEach((tone, k) => {
      if (tone && !samePitch(tone, tones[k - 1])) way.push(noteName(player.words, tone));
    });
    return `${player.voiceName(voice)} ${way.join("–")}`.trim();
  });
  return [...said, ...(owed ? [exercise.events[to].where] : [])].join(", ");
}

/**
 * Where the reader is: bar, voice, its note, the bass with its figure.
 * @param {Player} player
 * @param {Pen} pen
 */
function placeSaid(player, pen) {
  const { words } = player;
  const event = pen.exercise.events[pen.n];
  const pitch = pen.entered() ? pen.tone : null;
  return say(words.try.at, {
    where: event.where,
    voice: player.voiceName(pen.voice),
    note: pitch ? noteName(words, pitch) : words.try.nothing,
    over: noteName(words, event.bass) + (event.figure.length ? ` (${event.figure.join(" ")})` : ""),
  });
}

/**
 * A verdict as a line of a list.
 * @param {Player} player
 * @param {Pen} pen
 * @param {RuleWords} told
 * @param {Judged} judged
 */
function verdictLine(player, pen, told, judged) {
  const { rule, severity } = judged;
  const [title, sentence, advice] = told[rule];
  return el(
    "li",
    { class: `is-${severity}` },
    el("strong", {}, `${MARKS[severity]} ${player.words.try[severity]}: ${title}`),
    ` (${partyOf(player, pen, judged)}). ${sentence} ${advice}`,
  );
}

/**
 * All that is said of the place: where it is, whether it is in order, what is missing, what the rules hold
 * against it.
 * @param {Player} player
 * @param {Pen} pen
 * @param {Rulings} rulings
 * @param {RuleWords} told
 */
function placeLines(player, pen, rulings, told) {
  const { exercise, work, n } = pen;
  const words = player.words.try;
  const met = rulings.judge(work, n);
  const lines = met.map((each) => verdictLine(player, pen, told, each));
  const missing = exercise.events[n].upper.filter((voice) => !work[voice][n]);
  const said = [placeSaid(player, pen)];
  if (!lines.length && !missing.length) said.push(`${MARKS.good} ${words.fine}`);
  if (missing.length) {
    const voices = missing.map((voice) => player.voiceName(voice)).join(", ");
    said.push(say(words.missing, { voices }));
  }
  return [...said.map((text) => el("p", {}, text)), ...(lines.length ? [el("ul", {}, ...lines)] : [])];
}

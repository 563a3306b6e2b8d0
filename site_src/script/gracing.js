// Breaking a plain note: the patterns of the tables that fit it, to be seen and heard, and what the rules say
// of each.

class Gracing {
  /**
   * @param {PlainNote[]} notes
   * @param {Player} player
   * @param {Attempt} own
   * @param {RuleWords} told
   */
  constructor(notes, player, own, told) {
    this.notes = notes;
    this.player = player;
    this.own = own;
    this.told = told;
    this.words = player.words.try;
    /** @type {Map<number, Pattern>} */
    this.kept = new Map(); // which pattern the reader has chosen for which note
    this.at = 0;
    this.place = el("p", { class: "verset-graced", "aria-live": "polite" });
    this.list = el("ul", { class: "verset-patterns" });
    this.all = button(this.words.graceHearAll, () => this.hear(0, notes.length - 1, this.kept));
    this.written = el("pre", { class: "verset-written", tabindex: 0 });
    this.source = this.sourceFold();
    this.element = this.fold();
    this.draw();
  }

  /** Folded: the plain notes are the answers to what stands above. */
  fold() {
    const { words } = this;
    return el(
      "details",
      { class: "verset-fold verset-grace" },
      el("summary", {}, words.graceTitle),
      el("p", {}, words.graceLead),
      row(
        button(words.graceBack, () => this.go(-1)),
        button(words.graceOn, () => this.go(1)),
        this.all,
      ),
      this.place,
      this.list,
      this.source,
    );
  }

  /** What is kept, as text for the source of the verset; hidden while nothing is. */
  sourceFold() {
    const { words, written } = this;
    const said = el("span", { "aria-live": "polite" });
    const copy = button(words.graceCopy, () => {
      getSelection()?.selectAllChildren(written);
      // A page from a disk may have no clipboard; what is marked can be copied by hand then.
      navigator.clipboard?.writeText(written.textContent ?? "").then(() => {
        said.textContent = words.graceCopied;
      });
    });
    return el(
      "details",
      { class: "verset-fold", hidden: true },
      el("summary", {}, words.graceSource),
      el("p", {}, words.graceSourceLead),
      written,
      row(copy, said),
    );
  }

  showSource() {
    const chosen = [...this.kept].sort(([one], [other]) => one - other);
    const lines = chosen.map(([, pattern]) => pattern.pin).filter(Boolean);
    this.source.hidden = !lines.length;
    this.written.textContent = ["```diminished", ...lines, "```"].join("\n");
  }

  /** @param {number} by */
  go(by) {
    this.at = modulo(this.at + by, this.notes.length);
    this.draw();
  }

  /**
   * Hear the plain version with patterns in place of some notes, from the first of them to the note after the
   * last.
   * @param {number} first
   * @param {number} last
   * @param {Map<number, Pattern>} chosen
   */
  hear(first, last, chosen) {
    const { notes, player } = this;
    const { timeline, transport } = player;
    const changed = [...chosen].map(([index, pattern]) => ({
      plain: notes[index],
      pattern,
    }));
    timeline.versions.graced = readVersion(graced(timeline.versions.plain.notes, changed, player.voices));
    if (transport.going) transport.stop();
    player.setVersion("graced");
    transport.renew();
    const end = Math.min(notes[last].end, transport.span.end - 0.02);
    /** @type {BarsToRepeat} */
    const reach = [timeline.bar(notes[first].start), timeline.bar(end)];
    player.setRepeat(first === last ? reach : null);
    transport.seek(first === last ? timeline.barStart(reach[0]) : transport.span.start);
    player.toggle();
  }

  draw() {
    const note = this.notes[this.at];
    this.place.textContent = say(this.words.graceAt, {
      where: note.where,
      voice: this.player.voiceName(note.voice),
      note: this.own.noteName(note.pitch),
      next: this.own.noteName(note.next),
      n: this.at + 1,
      all: this.notes.length,
    });
    this.all.disabled = !this.kept.size;
    this.showSource();
    this.list.replaceChildren(...note.patterns.map((pattern) => this.item(note, pattern)));
  }

  /**
   * A pattern with its picture and what the rules say of it.
   * @param {PlainNote} note
   * @param {Pattern} pattern
   */
  item(note, pattern) {
    const { words, kept, at } = this;
    const label = `${words[`figure.${pattern.figure}`] ?? pattern.figure}: ${pattern.names}`;
    const met = pattern.met.map(([rule, severity]) => this.metLine(rule, severity));
    const hear = button(words.graceHear, () => this.hear(at, at, new Map([[at, pattern]])), {
      "aria-label": `${words.graceHear}: ${label}`,
    });
    const keep = button(words.graceKeep, () => this.keep(pattern), {
      "aria-pressed": String(kept.get(at) === pattern),
      "aria-label": `${words.graceKeep}: ${label}`,
    });
    const fits = met.length ? "" : ` ✓ ${words.graceFits}`;
    return el(
      "li",
      { class: "verset-pattern" },
      patternPicture(note, pattern, this.own.exercise.signature),
      el("p", {}, el("strong", {}, label), fits, el("br"), el("small", {}, pattern.source)),
      met.length ? el("ul", { class: "verset-met" }, ...met) : null,
      row(hear, keep),
    );
  }

  /**
   * @param {string} rule
   * @param {Severity} severity
   */
  metLine(rule, severity) {
    const [title, sentence] = this.told[rule] ?? [rule, ""];
    const mark = severity === "error" ? MARKS.error : MARKS.warning;
    return el("li", { class: `is-${severity}` }, el("strong", {}, `${mark} ${title}.`), ` ${sentence}`);
  }

  /** @param {Pattern} pattern */
  keep(pattern) {
    const { kept, at } = this;
    if (kept.get(at) === pattern) kept.delete(at);
    else kept.set(at, pattern);
    this.draw();
  }
}

/**
 * The notes of a version with patterns in place of some of them.
 * @param {Note[]} version
 * @param {{ plain: PlainNote, pattern: Pattern }[]} changed
 * @param {string[]} voices
 * @returns {PlayedNote[]}
 */
function graced(version, changed, voices) {
  const left = version.filter(
    (note) =>
      !changed.some(
        ({ plain }) =>
          plain.voice === voices[note.voice] &&
          note.start < plain.end - 0.001 &&
          note.end > plain.start + 0.001,
      ),
  );
  const broken = changed.flatMap(({ plain, pattern }) =>
    pattern.notes.map(([start, , , , hertz], k) => {
      const next = pattern.notes[k + 1]?.[0] ?? plain.end;
      const end = next - Math.min(0.03, (next - start) * 0.1);
      /** @type {PlayedNote} */
      const note = [start, end, hertz, voices.indexOf(plain.voice), [[`grace-${k}`, start]]];
      return note;
    }),
  );
  return [
    ...left.map(
      ({ start, end, hertz, voice, pieces }) =>
        /** @type {PlayedNote} */ ([start, end, hertz, voice, pieces]),
    ),
    ...broken,
  ];
}

/**
 * A pattern on a stave, with the note it goes to.
 * @param {PlainNote} note
 * @param {Pattern} pattern
 * @param {number[]} signature
 */
function patternPicture(note, pattern, signature) {
  const apart = 2.6 * SPACE;
  const [goal, alter] = note.next;
  const own = pattern.notes.map(([, length, step, sign]) => ({
    length,
    step,
    alter: sign,
  }));
  const notes = [...own, { length: 2, step: goal, alter }];
  const steps = notes.map(({ step }) => step);
  const stave = makeStave(Math.max(...steps) > 28 ? "G" : "F", 0);
  const top = Math.min(stave.y(stave.low + 8) - 2 * SPACE, stave.y(Math.max(...steps)) - 3 * SPACE);
  const foot = Math.max(2 * SPACE, stave.y(Math.min(...steps)) + 3 * SPACE);
  const group = svgEl("g");
  const from = drawHead(group, stave, 3, signature) + SPACE;
  const width = from + notes.length * apart;
  group.prepend(svgEl("path", { class: "verset-lines", d: staveLines(stave, 0, width) }));
  const signs = accidentalsOf([notes.map((each, k) => ({ ...each, onset: k, key: k }))], signature);
  notes.forEach(({ step, length }, k) => {
    const looks = {
      up: step < stave.low + 4,
      sign: signs.get(k) ?? null,
      id: "",
    };
    const drawn = drawNote(stave, from + k * apart, step, length, looks);
    if (k === own.length) drawn.classList.add("verset-ours");
    group.append(drawn);
  });
  // With its box the picture grows smaller where there is little room; without, it would be cut.
  const viewBox = `0 ${top} ${width} ${foot - top}`;
  const svg = svgEl("svg", {
    width,
    height: foot - top,
    viewBox,
    "aria-hidden": "true",
  });
  svg.append(group);
  return svg;
}

// Breaking a plain note: the patterns of the tables that fit it, to be seen and heard, and what the rules say of each.

function createGracing(root, player, told) {
  const source = root.querySelector(".verset-gracing");
  if (!source) return;
  const notes = JSON.parse(source.textContent);
  if (!notes.length) return;
  const words = player.words.try;
  const kept = new Map(); // which pattern the reader has chosen for which note
  let n = 0;

  const at = el("p", { class: "verset-graced", "aria-live": "polite" });
  const list = el("ul", { class: "verset-patterns" });
  const all = button(words.graceHearAll, () => hear(0, notes.length - 1, kept));
  // Folded: the plain notes are the answers to what stands above.
  const fold = el("details", { class: "verset-fold verset-grace" },
    el("summary", {}, words.graceTitle),
    el("p", {}, words.graceLead),
    el("div", { class: "verset-row" }, button(words.graceBack, () => go(-1)), button(words.graceOn, () => go(1)), all),
    at,
    list,
  );
  root.append(fold);

  function go(by) {
    n = (n + by + notes.length) % notes.length;
    draw();
  }

  /** The plain version with patterns in place of some notes, from the first of them to the note after the last. */
  function hear(first, last, chosen) {
    const { timeline, transport } = player;
    const changed = [...chosen].map(([index, pattern]) => [notes[index], pattern]);
    const list = [];
    for (const note of timeline.versions.plain.notes) {
      const voice = player.voices[note.voice];
      const graced = changed.find(([plain]) => plain.voice === voice && note.start < plain.end - 0.001 && note.end > plain.start + 0.001);
      if (!graced) list.push([note.start, note.end, note.hertz, note.voice, note.pieces]);
    }
    for (const [plain, pattern] of changed) {
      pattern.notes.forEach(([start, , , , hertz], k) => {
        const next = pattern.notes[k + 1]?.[0] ?? plain.end;
        list.push([start, next - Math.min(0.03, (next - start) * 0.1), hertz, player.voices.indexOf(plain.voice), [[`grace-${k}`, start]]]);
      });
    }
    timeline.versions.graced = readVersion(list);
    if (transport.going) transport.stop();
    player.setVersion("graced");
    transport.renew();
    const bar = (position) => timeline.bar(position);
    const reach = [bar(notes[first].start), bar(Math.min(notes[last].end, player.transport.span.end - 0.02))];
    player.setRepeat(first === last ? reach : null);
    transport.seek(first === last ? timeline.barStart(reach[0]) : player.transport.span.start);
    player.toggle();
  }

  function picture(note, pattern) {
    const { signature } = player.own.exercise;
    const each = 2.6 * SPACE;
    const notes = [...pattern.notes.map(([, length, step, alter]) => ({ length, step, alter })), { length: 2, step: note.next[0], alter: note.next[1] }];
    const steps = notes.map(({ step }) => step);
    const letter = Math.max(...steps) > 28 ? "G" : "F";
    const stave = makeStave(letter, 0);
    const top = Math.min(stave.y(stave.low + 8) - 2 * SPACE, stave.y(Math.max(...steps)) - 3 * SPACE);
    const foot = Math.max(2 * SPACE, stave.y(Math.min(...steps)) + 3 * SPACE);
    const group = svgEl("g");
    const from = drawHead(group, stave, 3, signature) + SPACE;
    const width = from + notes.length * each;
    group.prepend(svgEl("path", { class: "verset-lines", d: staveLines(stave, 0, width) }));
    const bar = notes.map(({ step, alter }, k) => ({ onset: k, step, alter, key: k }));
    const signs = accidentalsOf([bar], signature);
    notes.forEach(({ step, length }, k) => {
      const drawn = drawNote(stave, from + k * each, step, length, { up: step < stave.low + 4, sign: signs.get(k) ?? null, id: "" });
      if (k === notes.length - 1) drawn.classList.add("verset-ours");
      group.append(drawn);
    });
    // With its box the picture grows smaller where there is little room; without, it would be cut.
    const svg = svgEl("svg", { width, height: foot - top, viewBox: `0 ${top} ${width} ${foot - top}`, "aria-hidden": "true" });
    svg.append(group);
    return svg;
  }

  function draw() {
    const note = notes[n];
    const name = (pitch) => player.own.noteName(pitch);
    at.textContent = say(words.graceAt, {
      where: note.where,
      voice: player.voiceName(note.voice),
      note: name(note.pitch),
      next: name(note.next),
      n: n + 1,
      all: notes.length,
    });
    all.disabled = !kept.size;
    list.replaceChildren(
      ...note.patterns.map((pattern) => {
        const met = pattern.met.map(([rule, severity]) =>
          el("li", { class: `is-${severity}` }, el("strong", {}, `${severity === "error" ? "✕" : "~"} ${told[rule]?.[0] ?? rule}.`), ` ${told[rule]?.[1] ?? ""}`),
        );
        const label = `${words[`figure.${pattern.figure}`] ?? pattern.figure}: ${pattern.names}`;
        const keep = button(words.graceKeep, () => {
          if (kept.get(n) === pattern) kept.delete(n);
          else kept.set(n, pattern);
          draw();
        }, { "aria-pressed": String(kept.get(n) === pattern), "aria-label": `${words.graceKeep}: ${label}` });
        return el(
          "li",
          { class: "verset-pattern" },
          picture(note, pattern),
          el("p", {}, el("strong", {}, label), met.length ? "" : ` ✓ ${words.graceFits}`, el("br"), el("small", {}, pattern.source)),
          met.length ? el("ul", { class: "verset-met" }, ...met) : null,
          el(
            "div",
            { class: "verset-row" },
            button(words.graceHear, () => hear(n, n, new Map([[n, pattern]])), { "aria-label": `${words.graceHear}: ${label}` }),
            keep,
          ),
        );
      }),
    );
  }
  draw();
  player.gracing = { notes, kept, go, get at() { return n; } };
}

// A task that looks: marks on the notes of a line.

/** @implements {AskedTask} */
class MarkTask {
  /**
   * @param {DrillTask} task
   * @param {DrillPlace} place
   */
  constructor(task, place) {
    this.place = place;
    this.shown = task.shown ?? [];
    const { entries, cadences } = task.marks ?? { entries: [], cadences: [] };
    this.wanted = { entries: new Set(entries), cadences: new Set(cadences) };
    this.given = {
      entries: new Set(/** @type {number[]} */ ([])),
      cadences: new Set(/** @type {number[]} */ ([])),
    };
    /** @type {"entries" | "cadences"} */
    this.kind = "entries";
    this.at = 0;
    this.full = false; // never by itself: the reader says when all is marked
    const { words } = place;
    this.picks = /** @type {const} */ (["entries", "cadences"]).map((kind) => ({
      kind,
      pick: button(words[`mark.${kind}`], () => this.choose(kind)),
    }));
    this.line = new DrawnLine(this.shown, signatureOf(task.fifths ?? 0), place.width());
    this.line.groups.forEach((group, n) => group.addEventListener("pointerdown", () => this.mark(n)));
    const picks = el(
      "span",
      { class: "verset-choice", role: "group", "aria-label": words.marks },
      ...this.picks.map(({ pick }) => pick),
    );
    this.said = el("p", { class: "verset-said", "aria-live": "polite" });
    this.element = el("div", { class: "verset-drill-music" }, row(picks), this.line.svg, this.said);
    this.draw();
  }

  /** @param {"entries" | "cadences"} kind */
  choose(kind) {
    this.kind = kind;
    this.draw();
  }

  /** @param {number} n */
  mark(n) {
    this.at = n;
    const marks = this.given[this.kind];
    if (!marks.delete(n)) marks.add(n);
    this.draw();
  }

  draw(ours = false) {
    const { words } = this.place;
    for (const { kind, pick } of this.picks) pick.setAttribute("aria-pressed", String(kind === this.kind));
    for (const old of this.line.svg.querySelectorAll(".verset-drill-mark")) old.remove();
    this.line.groups.forEach((group, n) => {
      group.classList.toggle("is-here", n === this.at);
      for (const [kind, sign, up] of /** @type {const} */ ([
        ["entries", words["sign.entries"], 0],
        ["cadences", words["sign.cadences"], 16],
      ])) {
        const [mine, right] = [this.given[kind].has(n), this.wanted[kind].has(n)];
        if (!mine && !(ours && right)) continue;
        const { x, row: at } = this.line.places[n];
        const state = ours ? (mine && right ? "is-right" : mine ? "is-error" : "is-missed") : "";
        const text = svgEl("text", {
          class: `verset-drill-mark ${state}`,
          x: x + 6,
          y: at * ROW_HEIGHT + 18 + up,
          "text-anchor": "middle",
        });
        text.textContent = (ours && mine ? (right ? "✓" : "✕") : ours ? "→" : "") + sign;
        this.line.svg.append(text);
      }
    });
  }

  take() {}

  /** @param {string} key */
  type(key) {
    const by = { ArrowRight: 1, ArrowLeft: -1 }[key];
    if (by) {
      this.at = clamp(this.at + by, 0, this.shown.length - 1);
      const [, step, alter] = this.shown[this.at];
      this.said.textContent = step === null ? "" : noteName(this.place.words, [step, alter]);
      this.draw();
      return true;
    }
    if (key === "e" || key === "c") {
      this.choose(key === "e" ? "entries" : "cadences");
      return true;
    }
    if (key !== " ") return false;
    this.mark(this.at);
    return true;
  }

  undo() {
    this.given[this.kind].clear();
    this.draw();
  }

  /** @returns {DrillVerdict} */
  verdict() {
    const right = /** @type {const} */ (["entries", "cadences"]).every(
      (kind) =>
        this.given[kind].size === this.wanted[kind].size &&
        [...this.given[kind]].every((n) => this.wanted[kind].has(n)),
    );
    const { words } = this.place;
    const counts = { entries: this.wanted.entries.size, cadences: this.wanted.cadences.size };
    return { right, told: right ? [] : [el("p", {}, say(words.markedAre, counts))] };
  }

  show() {
    this.draw(true);
  }

  hear() {
    this.hearAsked();
  }

  hearAsked() {
    const { stage } = this.place;
    const { hertz } = stage.common.exercise;
    let at = 0;
    stage.play(
      this.shown.flatMap(([length, step, alter]) => {
        const from = at;
        at += length * 0.4;
        return step === null ? [] : [[from, at - 0.04, hertz[`${step},${alter}`] ?? 440]];
      }),
    );
  }

  leave() {}
}

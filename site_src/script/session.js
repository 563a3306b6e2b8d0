// One session: a task, its verdict, the next one, and an end after ten minutes.

/**
 * A task made ready to be answered.
 * @param {DrillTask} task
 * @param {DrillPlace} place
 * @returns {AskedTask}
 */
function askedTask(task, place) {
  if (task.exercise) return new SettingTask(task, place);
  if (task.marks) return new MarkTask(task, place);
  return task.right ? new TuneTask(task, place) : new SyllableTask(task, place);
}

/**
 * What a task asks for, in words.
 * @param {DrillWords} words
 * @param {string} drill
 * @param {DrillTask} task
 */
function askingOf(words, drill, { ask }) {
  const tone = ask.tone ? words[`tone.${ask.tone}`] : "";
  const kind = ask.kind ? words[`cadence.${ask.kind}`] : "";
  const degree = ask.degree ? words.names[String(ask.degree)] : "";
  const key = ask.phrase ? "ask.phrase" : ask.way ? `ask.diminution-${ask.way}` : `ask.${drill}`;
  const values = { ...ask, tone, kind, degree, voices: ask.voices ? words[`voices.${ask.voices}`] : "" };
  return say(words[key], /** @type {Record<string, string>} */ (values));
}

class Session {
  /**
   * @param {DrillRoom} room
   * @param {Record<string, DrillTask[]>} drills
   */
  constructor(room, drills) {
    this.room = room;
    this.drills = drills;
    this.words = room.words;
    this.boxes = new Boxes(room.progress, room.limits, room.clock, room.dice);
    this.asks = el("p", { class: "verset-drill-ask" });
    this.music = el("div", {
      class: "verset-drill-task",
      tabindex: 0,
      role: "application",
      keydown: (/** @type {KeyboardEvent} */ event) => this.press(event),
    });
    this.verdict = el("div", { class: "verset-judged verset-drill-verdict", "aria-live": "polite" });
    this.state = hintLine("");
    this.back = button(this.words.back, () => this.asked?.undo());
    this.done = button(this.words.done, () => this.judge());
    this.give = button(this.words.give, () => this.judge(true));
    this.next = button(this.words.next, () => this.go(), { class: "verset-button verset-go" });
    this.mine = button(this.words.hearMine, () => this.asked?.hear(false));
    this.ours = button(this.words.hearOurs, () => this.asked?.hear(true));
    const listen = button(this.words.hearAsked, () => this.asked?.hearAsked());
    this.answering = row(this.back, this.done, this.give, listen);
    this.after = row(this.next, this.mine, this.ours);
    this.stage = new Stage(room.common, (key) => !this.judged && this.asked?.take(key));
    this.midi = hintLine("");
    const end = button(this.words.stop, () => this.end());
    this.element = el(
      "div",
      { class: "verset-drill" },
      this.asks,
      this.music,
      this.verdict,
      this.after,
      this.stage.keys.element,
      this.answering,
      this.state,
      el(
        "details",
        { class: "verset-more" },
        el("summary", {}, this.words.keys),
        el("p", { class: "verset-hint" }, this.words.keysHint),
        this.midi,
      ),
      row(end),
    );
    this.judged = false;
    /** @type {AskedTask | null} */
    this.asked = null;
    /** @type {{ drill: string, task: DrillTask } | null} */
    this.now = null;
    this.began = 0;
  }

  begin() {
    this.stage.listen((state, names) => (this.midi.textContent = say(this.words.midi[state], { names })));
    let wide = this.music.clientWidth;
    this.watch = new ResizeObserver(() => {
      if (Math.abs(this.music.clientWidth - wide) < 8) return;
      wide = this.music.clientWidth;
      this.asked?.draw();
    });
    this.watch.observe(this.music);
    this.go();
    this.element.scrollIntoView({ block: "start" });
  }

  /** @returns {DrillPlace} */
  place() {
    return {
      stage: this.stage,
      words: this.words,
      tables: this.room.tables,
      told: this.room.told,
      width: () => Math.max(280, Math.min(this.music.clientWidth || 680, 900) - 8),
      changed: () => this.asked?.full && this.judge(),
    };
  }

  /** The next task, or the end. */
  go() {
    this.stage.hush();
    this.asked?.leave();
    if (!this.boxes.left) {
      this.end();
      return;
    }
    this.now = this.boxes.next(this.drills);
    if (!this.now) {
      this.end();
      return;
    }
    this.show(this.now);
  }

  /** @param {{ drill: string, task: DrillTask }} now */
  show({ drill, task }) {
    this.judged = false;
    this.music.classList.remove("is-judged");
    this.began = this.room.clock();
    this.stage.mark([]);
    this.asks.textContent = askingOf(this.words, drill, task);
    this.music.setAttribute("aria-label", this.asks.textContent);
    this.verdict.replaceChildren();
    this.after.hidden = true;
    this.answering.hidden = false;
    this.asked = askedTask(task, this.place());
    this.music.replaceChildren(this.asked.element);
    this.asked.draw(); // once more: now it knows its width
    this.stage.keys.element.hidden = !(task.exercise || task.right);
    this.stage.see(task.exercise ? [60] : [task.right?.[0].notes[0] ?? [28, 0]].map(midiOf));
    this.tell();
    this.music.focus({ preventScroll: true });
  }

  tell() {
    const { asked, right, left } = this.boxes;
    const { drill = "" } = this.now ?? {};
    const values = {
      asked,
      right,
      minutes: Math.ceil(left / 60),
      step: this.boxes.stepOf(drill),
      drill: this.words[`name.${drill}`],
    };
    this.state.textContent = say(this.words.state, values);
  }

  /** @param {boolean} given whether the reader asked for the answer */
  judge(given = false) {
    const { asked, now } = this;
    if (!asked || !now || this.judged) return;
    const { right, told } = asked.verdict();
    const good = right && !given;
    this.judged = true;
    this.music.classList.add("is-judged");
    this.boxes.answered(now.drill, now.task, good, (this.room.clock() - this.began) / 1000);
    this.room.keep();
    if (good) asked.draw();
    else asked.show();
    const word = good
      ? `${MARKS.good} ${this.words.right}`
      : given
        ? this.words.given
        : `${MARKS.error} ${this.words.wrong}`;
    this.verdict.replaceChildren(el("p", { class: good ? "" : "is-error" }, el("strong", {}, word)), ...told);
    this.after.hidden = false;
    this.answering.hidden = true;
    this.tell();
    this.next.focus({ preventScroll: true });
  }

  end() {
    this.watch?.disconnect();
    this.asked?.leave();
    this.stage.leave();
    this.room.over(this.boxes);
  }

  /** @param {KeyboardEvent} event */
  press(event) {
    if (event.altKey || event.ctrlKey || event.metaKey || this.judged) return;
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    if (event.target !== this.music && (key === "Enter" || key === " ")) return; // a button in the task
    if (key === "Enter") this.judge();
    else if (key === "Backspace") this.asked?.undo();
    else if (key === "?") this.judge(true);
    else if (key === "h") this.asked?.hearAsked();
    else if (!this.asked?.type(key)) return;
    event.preventDefault();
    event.stopPropagation();
  }
}

// A sheet of a drill on paper: tasks, and their answers on a page of their own.

const ON_A_SHEET = 12;

/**
 * A task as it is printed, and its answer.
 * @param {DrillRoom} room
 * @param {string} drill
 * @param {DrillTask} task
 * @param {boolean} answered
 */
function printedTask(room, drill, task, answered) {
  const { words, common } = room;
  const ask = el("p", { class: "verset-sheet-ask" }, askingOf(words, drill, task));
  if (task.exercise) {
    const exercise = exerciseOf(task, common);
    const paper = new Paper(exercise, { music: { notes: new Map() } }, el("div", { hidden: true }), {
      role: "img",
    });
    const work = answered ? /** @type {Work} */ (exercise.ours) : emptyWork(exercise);
    const states = exercise.events.map(() => /** @type {State} */ ("open"));
    paper.draw({ work, n: 0, voice: "", second: false, compare: false, hints: [], states });
    paper.leave();
    return el("li", {}, ask, paper.element);
  }
  const shown = task.shown ?? [];
  const line = new DrawnLine(shown, signatureOf(task.fifths ?? 0), 640);
  const item = el("li", {}, ask, line.svg);
  if (answered) item.append(el("p", {}, answerOf(room, task)));
  return item;
}

/**
 * Places of notes, counted from one.
 * @param {number[]} places
 */
function counted(places) {
  return places.map((n) => n + 1).join(", ");
}

/**
 * The answer of a task that is no setting, in words.
 * @param {DrillRoom} room
 * @param {DrillTask} task
 */
function answerOf({ words, common }, task) {
  const names = (/** @type {Pitch[]} */ notes) => notes.map((pitch) => noteName(words, pitch)).join(" ");
  if (task.right) {
    return task.right
      .map(({ kind, notes }) => (kind ? `${words[`kind.${kind}`]} ` : "") + names(notes))
      .join(" · ");
  }
  if (task.marks) {
    const { entries, cadences } = task.marks;
    return say(words.sheetMarks, { entries: counted(entries), cadences: counted(cadences) });
  }
  const stage = /** @type {Stage} */ (/** @type {unknown} */ ({ common }));
  const place = /** @type {DrillPlace} */ (/** @type {unknown} */ ({ stage, words, width: () => 640 }));
  return new SyllableTask(task, place)
    .best()
    .map((n) => SYLLABLES[n])
    .join(" ");
}

/**
 * Make a sheet of a drill, up to the step that the reader is on, and print it.
 * @param {DrillRoom} room
 * @param {string} drill
 * @param {DrillTask[]} tasks
 */
function printSheet(room, drill, tasks) {
  const step = Math.min(room.progress.steps[drill] ?? 1, room.limits[drill]);
  const fit = tasks.filter((task) => task.step === step).map((task) => ({ task, at: room.dice() }));
  const chosen = fit
    .sort((a, b) => a.at - b.at)
    .slice(0, ON_A_SHEET)
    .map(({ task }) => task);
  const { words } = room;
  const title = `${words[`name.${drill}`]}, ${say(words.sheetStep, { step })}`;
  const sheet = el("article", { class: "verset-drill-sheet", lang: room.root.lang });
  document.body.append(sheet);
  for (const answered of [false, true]) {
    const items = chosen.map((task) => printedTask(room, drill, task, answered));
    sheet.append(
      el(
        "section",
        {},
        el("h1", {}, answered ? `${title}: ${words.sheetAnswers}` : title),
        el("ol", {}, ...items),
      ),
    );
  }
  document.documentElement.classList.add("verset-prints-drills");
  addEventListener(
    "afterprint",
    () => {
      sheet.remove();
      document.documentElement.classList.remove("verset-prints-drills");
    },
    { once: true },
  );
  print();
}

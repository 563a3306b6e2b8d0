// What to ask next: tasks in boxes that come back after longer and longer times, what went badly at once. Knows
// nothing of the page.

const DAYS = [0, 1, 3, 7, 16, 35]; // after which a task comes back, by its box
const SESSION = 600; // seconds
const SOON = 3; // tasks between a wrong answer and the same task again
const TRIED = 8; // answers that decide on the next step
const ENOUGH = 7; // of them right
const NEW_BEFORE_OLD = 0.5; // share of new tasks where old ones are due as well

/** @param {number} n */
function twoDigits(n) {
  return String(n).padStart(2, "0");
}

/**
 * Whether something is a count.
 * @param {unknown} n
 * @param {number} most
 */
function isCount(n, most = 1e6) {
  return Number.isInteger(n) && Number(n) >= 0 && Number(n) <= most;
}

/**
 * The day of a time, as the reader's calendar has it.
 * @param {number} time milliseconds
 */
function dayOf(time) {
  const date = new Date(time);
  return `${date.getFullYear()}-${twoDigits(date.getMonth() + 1)}-${twoDigits(date.getDate())}`;
}

/**
 * Days since the beginning of the calendar of computers.
 * @param {string} day
 */
function dayNumber(day) {
  return Math.round(Date.parse(`${day}T00:00:00Z`) / 86_400_000);
}

/** @returns {Progress} */
function emptyProgress() {
  return { v: 1, items: {}, steps: {}, tried: {}, days: {} };
}

/**
 * Progress that comes from a store or a file; null where it is none.
 * @param {unknown} kept
 * @returns {Progress | null}
 */
function readProgress(kept) {
  const found = /** @type {Partial<Progress> | null} */ (kept);
  if (!found || typeof found !== "object" || found.v !== 1) return null;
  const progress = emptyProgress();
  for (const [id, item] of Object.entries(found.items ?? {})) {
    if (!Array.isArray(item) || !isCount(item[0], DAYS.length - 1) || !isCount(item[1])) return null;
    progress.items[id] = [item[0], item[1]];
  }
  for (const [drill, step] of Object.entries(found.steps ?? {})) {
    if (!isCount(step, 9)) return null;
    progress.steps[drill] = step;
  }
  for (const [drill, tried] of Object.entries(found.tried ?? {})) {
    if (typeof tried !== "string" || !/^[01]{0,8}$/.test(tried)) return null;
    progress.tried[drill] = tried;
  }
  for (const [day, drills] of Object.entries(found.days ?? {})) {
    if (!/^\d{4}-\d\d-\d\d$/.test(day) || typeof drills !== "object" || !drills) return null;
    progress.days[day] = {};
    for (const [drill, row] of Object.entries(drills)) {
      if (!Array.isArray(row) || row.length !== 3 || !row.every((n) => isCount(n))) return null;
      progress.days[day][drill] = [row[0], row[1], row[2]];
    }
  }
  return progress;
}

/** One session: which task is next, and what an answer changes. */
class Boxes {
  /**
   * @param {Progress} progress changed as answers come
   * @param {Record<string, number>} limits how far each drill goes
   * @param {() => number} clock milliseconds
   * @param {() => number} dice
   */
  constructor(progress, limits, clock = Date.now, dice = Math.random) {
    this.progress = progress;
    this.limits = limits;
    this.clock = clock;
    this.dice = dice;
    this.began = clock();
    this.asked = 0;
    this.right = 0;
    /** @type {{ drill: string, task: DrillTask, at: number }[]} */
    this.again = [];
    /** @type {string[]} */
    this.last = [];
  }

  /** Seconds that are left. */
  get left() {
    return Math.max(0, SESSION - (this.clock() - this.began) / 1000);
  }

  /** @param {string} drill */
  stepOf(drill) {
    return Math.min(this.progress.steps[drill] ?? 1, this.limits[drill] ?? 1);
  }

  /**
   * The next task of some drills.
   * @param {Record<string, DrillTask[]>} drills
   * @returns {{ drill: string, task: DrillTask } | null}
   */
  next(drills) {
    const waiting = this.again.findIndex(({ at, drill }) => at <= this.asked && drill in drills);
    if (waiting >= 0) return this.again.splice(waiting, 1)[0];
    const names = Object.keys(drills).filter((name) => drills[name].length);
    if (!names.length) return null;
    const drill = names[this.asked % names.length];
    return { drill, task: this.pick(drill, drills[drill]) };
  }

  /**
   * @param {string} drill
   * @param {DrillTask[]} tasks
   */
  pick(drill, tasks) {
    const { items } = this.progress;
    const today = dayNumber(dayOf(this.clock()));
    const step = this.stepOf(drill);
    const fit = tasks.filter((task) => task.step <= step && !this.last.includes(task.id));
    const open = fit.length ? fit : tasks.filter((task) => task.step <= step);
    const due = open.filter(({ id }) => items[id] && items[id][1] <= today);
    const fresh = open.filter((task) => !items[task.id] && task.step === step);
    const early = open.filter(({ id }) => items[id]).sort((a, b) => items[a.id][1] - items[b.id][1]);
    due.sort((a, b) => items[a.id][0] - items[b.id][0] || items[a.id][1] - items[b.id][1]);
    if (due.length && (!fresh.length || this.dice() > NEW_BEFORE_OLD)) return due[0];
    if (fresh.length) return fresh[Math.floor(this.dice() * fresh.length)];
    return early[0] ?? open[Math.floor(this.dice() * open.length)] ?? tasks[0];
  }

  /**
   * Remember an answer.
   * @param {string} drill
   * @param {DrillTask} task
   * @param {boolean} right
   * @param {number} seconds that it took
   */
  answered(drill, task, right, seconds) {
    const { items, days } = this.progress;
    const day = dayOf(this.clock());
    const box = right ? Math.min((items[task.id]?.[0] ?? 0) + 1, DAYS.length - 1) : 0;
    items[task.id] = [box, dayNumber(day) + DAYS[box]];
    const today = (days[day] ??= {});
    const [asked, good, time] = today[drill] ?? [0, 0, 0];
    today[drill] = [asked + 1, good + (right ? 1 : 0), Math.round(time + Math.min(seconds, 120))];
    this.asked += 1;
    this.right += right ? 1 : 0;
    this.last = [...this.last, task.id].slice(-SOON);
    if (!right) this.again.push({ drill, task, at: this.asked + SOON });
    this.rise(drill, task, right);
  }

  /**
   * To the next step of a drill, once most of its last answers were right.
   * @param {string} drill
   * @param {DrillTask} task
   * @param {boolean} right
   */
  rise(drill, task, right) {
    const { steps, tried } = this.progress;
    const step = this.stepOf(drill);
    if (task.step !== step) return;
    const row = ((tried[drill] ?? "") + (right ? "1" : "0")).slice(-TRIED);
    const enough = row.length === TRIED && [...row].filter((each) => each === "1").length >= ENOUGH;
    const rises = enough && step < (this.limits[drill] ?? 1);
    tried[drill] = rises ? "" : row;
    if (rises) steps[drill] = step + 1;
  }
}

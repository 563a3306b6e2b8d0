// What was undone and may be done again.

class Changes {
  /** @param {string} now */
  constructor(now) {
    this.now = now;
    /** @type {string[]} */
    this.past = [];
    /** @type {string[]} */
    this.future = [];
  }

  /**
   * Keep a state; what was undone before it is gone.
   * @param {string} now
   */
  keep(now) {
    if (now === this.now) return;
    this.past.push(this.now);
    this.future.length = 0;
    this.now = now;
  }

  /** The state before; null at the first. */
  undo() {
    return this.travel(this.past, this.future);
  }

  /** The state that was undone last; null where there is none. */
  redo() {
    return this.travel(this.future, this.past);
  }

  /**
   * @param {string[]} from
   * @param {string[]} to
   */
  travel(from, to) {
    const found = from.pop();
    if (found === undefined) return null;
    to.push(this.now);
    this.now = found;
    return found;
  }
}

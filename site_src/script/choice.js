// Choosing on the music: a touch goes to a note, or in two touches to the bars to repeat; a drag chooses them
// at once.

/** @implements {MusicActs} */
class BarChoice {
  /** @param {Player} player */
  constructor(player) {
    this.player = player;
    this.stage = 0; // 0: no bars are being chosen; 1: waiting for the first; 2: for the last
    this.chosen = 0;
    /** @type {((stage: number) => void)[]} */
    this.listeners = [];
    listenToMusic(player.music, this);
  }

  /** @param {(stage: number) => void} listener */
  listen(listener) {
    this.listeners.push(listener);
  }

  toggle() {
    this.setStage(this.stage ? 0 : 1);
  }

  /** @param {number} stage */
  setStage(stage) {
    const { player } = this;
    this.stage = stage;
    if (stage) player.say(stage === 1 ? "repeatChooseFirst" : "repeatChooseLast");
    if (stage === 1) player.marks.toMusic();
    for (const figure of player.figures) figure.classList.toggle("verset-choosing", stage > 0);
    for (const listener of this.listeners) listener(stage);
  }

  /**
   * @param {string | undefined} id
   * @param {DrawnBar} bar
   */
  note(id, bar) {
    const { player, stage } = this;
    const { timeline, transport, marks } = player;
    if (stage === 1) {
      this.chosen = bar.number;
      marks.repeat([this.chosen, this.chosen]);
      this.setStage(2);
    } else if (stage === 2) {
      this.setStage(0);
      player.setRepeat([this.chosen, bar.number]);
    } else {
      transport.seek(Math.max(transport.span.start, timeline.noteStart(id) ?? timeline.barStart(bar.number)));
    }
  }

  /**
   * @param {number} first
   * @param {number} last
   * @param {boolean} finished
   */
  bars(first, last, finished) {
    const { player } = this;
    if (!first) player.marks.repeat(player.transport.settings.repeat);
    else if (finished) {
      this.setStage(0);
      player.setRepeat([first, last]);
    } else player.marks.repeat([Math.min(first, last), Math.max(first, last)]);
  }
}

/**
 * Keep the screen from going dark while the music goes.
 * @param {Transport} transport
 */
function keepAwake(transport) {
  /** @type {WakeLockSentinel | null | undefined} */
  let wake = null;
  const keep = async () => {
    try {
      if (transport.going && !wake) wake = await navigator.wakeLock?.request("screen");
      else if (!transport.going && wake) {
        const lock = wake;
        wake = null;
        await lock.release();
      }
    } catch {
      wake = null; // the screen may sleep; nothing else changes
    }
  };
  transport.listen(keep);
  document.addEventListener("visibilitychange", () => {
    if (document.hidden) return;
    wake = null; // a lock is lost when the page is hidden
    keep();
  });
}

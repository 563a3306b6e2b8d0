// One's own playing: a recording that stands beside the organ of the page. Its points say at which second of it
// each moment of the verset sounds; its own clock is then the only clock.

/**
 * The value between two rising lists of points; beyond them it goes on at the pace of the points' clock.
 * @param {number[]} from
 * @param {number[]} to
 * @param {number} value
 */
function between(from, to, value) {
  const n = clamp(lastAt(from, value), 0, from.length - 2);
  if (from.length < 2 || value < from[0]) return to[0] + value - from[0];
  if (value > from[from.length - 1]) return to[to.length - 1] + value - from[from.length - 1];
  return to[n] + ((value - from[n]) * (to[n + 1] - to[n])) / (from[n + 1] - from[n]);
}

class Recording {
  /**
   * @param {PlayingData} data
   * @param {HTMLMediaElement} media
   */
  constructor(data, media) {
    this.name = data.name;
    this.of = data.of;
    this.away = data.away;
    this.media = media;
    this.moments = data.points.map(([moment]) => moment);
    this.seconds = data.points.map(([, second]) => second);
    media.controls = false;
    // The stretch of the page is the transport's affair now.
    media.src = media.src.split("#")[0];
  }

  get position() {
    return between(this.seconds, this.moments, this.media.currentTime);
  }

  get ended() {
    return this.media.ended;
  }

  /**
   * Whether it plays the notes of its version in a bar.
   * @param {number} bar
   */
  follows(bar) {
    return this.away !== true && !this.away.includes(bar);
  }

  /**
   * @param {number} position
   * @param {number} rate
   */
  async play(position, rate) {
    this.move(position, rate);
    await this.media.play();
  }

  /**
   * Go on from a position, at a pace; without a step where it is there already.
   * @param {number} position
   * @param {number} rate
   */
  move(position, rate) {
    const { media } = this;
    media.playbackRate = rate;
    if (Math.abs(this.position - position) > 0.05) {
      media.currentTime = Math.max(0, between(this.moments, this.seconds, position));
    }
  }

  stop() {
    this.media.pause();
  }
}

/**
 * The recordings of a page, by the key under which a version is chosen.
 * @param {HTMLElement} root
 * @param {PlayingData[]} playing
 */
function findRecordings(root, playing) {
  /** @type {Record<string, Recording>} */
  const found = {};
  for (const data of playing) {
    const media = root.querySelector(`[data-playing="${data.key}"]`);
    if (media instanceof HTMLMediaElement) found[data.key] = new Recording(data, media);
  }
  return found;
}

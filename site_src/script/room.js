// The room and the case about the pipes: the same response, to the sample, as in the recordings.

const RECORDED_RATE = 44100; // samples a second of the recordings

/** Even noise from -1 to 1, the same each time. */
function dice() {
  let state = 1;
  return () => (state = (Math.imul(state, 1664525) + 1013904223) >>> 0) / 2147483648 - 1;
}

/**
 * The response of the room without the sound that comes straight from the pipes: noise that dies away band by
 * band, and what the walls and the boards of the case give back.
 * @param {number} rate of samples a second
 * @param {Room} room
 */
function echoesOf(rate, { length, bands, late, builds, echoes }) {
  // More samples a second would make the same room louder.
  const slower = RECORDED_RATE / rate;
  const context = new OfflineAudioContext(2, length / slower, rate);
  const [even, early] = [0, 1].map(() => context.createBuffer(2, length, RECORDED_RATE));
  const noise = dice();
  for (const side of [0, 1]) even.copyToChannel(new Float32Array(length).map(noise), side);
  for (const [spread, through, each] of echoes) {
    for (const [side, start, strength] of each) {
      let last = 0;
      const grain = new Float32Array(spread).map((_, n) => {
        last += through * (noise() - last);
        return last * (1 - Math.cos((2 * Math.PI * n) / spread));
      });
      const level = (slower * strength) / Math.hypot(...grain);
      const samples = early.getChannelData(side);
      grain.forEach((sample, n) => (samples[start + n] += level * sample));
    }
  }
  /** @param {AudioBuffer} buffer */
  const play = (buffer, at = 0) => {
    const source = new AudioBufferSourceNode(context, { buffer, loop: true });
    source.start(0, at);
    return source;
  };
  play(early).connect(context.destination);
  const built = new GainNode(context, { gain: 0 });
  built.gain.setTargetAtTime(slower * late, 0, builds);
  built.connect(context.destination);
  for (const [type, frequency, Q, at, dies] of bands) {
    const [first, second] = [0, 1].map(() => new BiquadFilterNode(context, { type, frequency, Q }));
    const fades = new GainNode(context);
    fades.gain.setTargetAtTime(0, 0, dies);
    play(even, at).connect(first).connect(second).connect(fades).connect(built);
  }
  return context.startRendering();
}

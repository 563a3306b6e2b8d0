// The organ in the page. Each sounding note is one oscillator for every rank that speaks there; a limiter
// stands before the loudspeaker, so that no registration can grow louder than the reader allowed. The gains of
// the play data are such that all voices on all ranks stay within full scale.

const ATTACK = 0.022; // seconds: the pipe's speech, soft enough to make no click
const RELEASE = 0.07;
const HUSH = 0.03; // release of notes cut short when the reader stops or seeks

function rankWave(context, rank) {
  const count = rank.harmonics.length + 1;
  const sine = new Float32Array(count);
  rank.harmonics.forEach((amplitude, n) => (sine[n + 1] = amplitude));
  return context.createPeriodicWave(new Float32Array(count), sine, { disableNormalization: true });
}

/** The sounding side of a context (live, or offline in a test): voices, limiter, loudness. */
function createOrgan(context, data) {
  const master = new GainNode(context, { gain: 0 });
  // Threshold in decibels; the node adds make-up gain of its own, which `trim` takes away again.
  const limiter = new DynamicsCompressorNode(context, { threshold: -9, knee: 3, ratio: 20, attack: 0.002, release: 0.2 });
  const trim = new GainNode(context, { gain: 0.56 });
  master.connect(limiter).connect(trim).connect(context.destination);
  const voices = data.voices.map(() => {
    const gain = new GainNode(context, { gain: 1 });
    gain.connect(master);
    return gain;
  });
  const ranks = data.ranks.map((rank) => ({ ...rank, wave: rankWave(context, rank) }));

  return {
    context,
    setLevel(level) {
      // A slider feels even when loudness grows faster than its place.
      master.gain.setTargetAtTime(Math.pow(level, 1.5), context.currentTime, 0.02);
    },
    setVoice(voice, sounds) {
      voices[voice].gain.setTargetAtTime(sounds ? 1 : 0, context.currentTime, 0.015);
    },
    /** Sound a note from `when` to `until` (seconds of the context), in a voice or (without one) under the
     * reader's hands. Gives a handle to change its end. */
    note(when, until, hertz, voice) {
      const envelope = new GainNode(context, { gain: 0 });
      envelope.connect(voices[voice] ?? master);
      const pipes = [];
      for (const rank of ranks) {
        if (hertz < (rank.low ?? 0) || hertz >= (rank.high ?? Infinity)) continue;
        const frequency = hertz * rank.ratio;
        if (frequency > 12000) continue;
        const pipe = new OscillatorNode(context, { frequency, detune: rank.detune ?? 0, periodicWave: rank.wave });
        const gain = new GainNode(context, { gain: rank.gain });
        pipe.connect(gain).connect(envelope);
        pipe.start(when);
        pipes.push(pipe);
      }
      envelope.gain.setValueAtTime(0, when);
      envelope.gain.linearRampToValueAtTime(1, when + ATTACK);
      const handle = { when, until: 0, over: 0 };
      const close = (at, release) => {
        handle.until = at;
        handle.over = at + release * 5;
        envelope.gain.setTargetAtTime(0, at, release / 2);
        for (const pipe of pipes) pipe.stop(handle.over);
      };
      /** Let the note end at another time than was planned. */
      handle.end = (at, release = RELEASE) => {
        const now = context.currentTime;
        if (handle.until <= now) return; // already dying away
        if (when >= now) {
          if (at <= when) return handle.kill();
          envelope.gain.cancelScheduledValues(when + ATTACK + 1e-4);
        } else {
          envelope.gain.cancelScheduledValues(Math.max(now, when + ATTACK + 1e-4));
        }
        close(Math.max(at, when + ATTACK + 2e-4), release);
      };
      /** Take back a note that has not begun. */
      handle.kill = () => {
        handle.until = handle.over = 0;
        envelope.disconnect();
        for (const pipe of pipes) pipe.stop();
      };
      close(Math.max(until, when + ATTACK + 2e-4), RELEASE);
      return handle;
    },
    /** A short knock on a beat, higher on the first of a bar. */
    knock(when, first) {
      const pipe = new OscillatorNode(context, { type: "triangle", frequency: first ? 1568 : 1046 });
      const gain = new GainNode(context, { gain: 0 });
      gain.gain.setValueAtTime(first ? 0.35 : 0.22, when);
      gain.gain.exponentialRampToValueAtTime(0.001, when + 0.05);
      gain.gain.setValueAtTime(0, when + 0.051);
      pipe.connect(gain).connect(master);
      pipe.start(when);
      pipe.stop(when + 0.06);
      return { when, until: when, over: when + 0.06, end() {}, kill: () => gain.disconnect() };
    },
    /** The time of the context that is now at the reader's ear. */
    heard() {
      const stamp = context.getOutputTimestamp?.();
      if (stamp && stamp.contextTime > 0 && stamp.performanceTime > 0) {
        const time = stamp.contextTime + (performance.now() - stamp.performanceTime) / 1000;
        // Some systems give stamps that stand still or run ahead; trust only a plausible one.
        if (time <= context.currentTime + 0.03 && time > context.currentTime - 0.5) return time;
      }
      return context.currentTime - (context.outputLatency || context.baseLatency || 0);
    },
  };
}

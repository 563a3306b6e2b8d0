// The organ in the page. Each sounding note is one oscillator for every rank that speaks there, and the wind at
// its mouth, by rank and register; a burst of wind and the overtones come before the fundamental, lower pipes
// slower, with the same numbers as in the recordings. A limiter
// stands before the loudspeaker, so that no registration can grow louder than the reader allowed. The gains
// of the play data are such that all voices on all ranks stay within full scale.

const ATTACK = 0.022; // seconds at C4: the pipe's speech, soft enough to make no click
const HELD_BACK = -9; // decibels by which the fundamental stands back at first
const Q = 2; // of the band about the fourth harmonic in which the wind blows
const C4 = 261.6;
const RELEASE = 0.07;
const HUSH = 0.03; // release of notes cut short when the reader stops or seeks
const HIGHEST_PIPE = 12000; // hertz

/**
 * @param {BaseAudioContext} context
 * @param {Rank} rank
 */
function rankWave(context, rank) {
  const { harmonics, partials } = rank;
  const sine = new Float32Array(partials + 1);
  const last = harmonics.length;
  // Above those that are given they fall by 18 decibels an octave.
  for (let n = 1; n <= partials; n++) sine[n] = harmonics[n - 1] ?? harmonics[last - 1] * (last / n) ** 3;
  return context.createPeriodicWave(new Float32Array(partials + 1), sine, {
    disableNormalization: true,
  });
}

/**
 * How much slower than at C4 a pipe speaks.
 * @param {number} hertz
 */
const slowness = (hertz) => clamp(Math.pow(C4 / hertz, 0.6), 0.3, 2.5);

/**
 * Cents and decibels by which a pipe differs from its neighbours; the same numbers as in the recordings.
 * @param {Rank} rank
 * @param {number} key
 */
function voiced(rank, key) {
  if (rank.seed === undefined) return [0, 0];
  let mixed = Math.imul(rank.seed + key * 40503, 0x45d9f3b) >>> 0;
  mixed = Math.imul((mixed >>> 16) ^ mixed, 0x45d9f3b) >>> 0;
  const [cents, level] = [mixed >>> 16, mixed & 0xffff].map((part) => (part / 65535) * 2 - 1);
  return [(rank.mistuned ?? 0) * cents, level];
}

/**
 * Two seconds of even noise, the same each time.
 * @param {BaseAudioContext} context
 */
function wind(context) {
  const buffer = context.createBuffer(1, 2 * context.sampleRate, context.sampleRate);
  buffer.copyToChannel(new Float32Array(buffer.length).map(dice()), 0);
  return buffer;
}

/**
 * A note that sounds: its pipes under one envelope.
 * @implements {Sound}
 */
class SoundingNote {
  /**
   * @param {GainNode} envelope
   * @param {number} level
   * @param {AudioScheduledSourceNode[]} pipes
   * @param {number} when
   * @param {number} until
   * @param {number} attack
   */
  constructor(envelope, level, pipes, when, until, attack) {
    this.envelope = envelope;
    this.pipes = pipes;
    this.when = when;
    this.attack = attack;
    this.until = 0;
    this.over = 0;
    envelope.gain.setValueAtTime(0, when);
    envelope.gain.linearRampToValueAtTime(level, when + attack);
    this.close(Math.max(until, when + attack + 2e-4), RELEASE);
  }

  /**
   * @param {number} at
   * @param {number} release
   */
  close(at, release) {
    this.until = at;
    this.over = at + release * 5;
    this.envelope.gain.setTargetAtTime(0, at, release / 2);
    for (const pipe of this.pipes) pipe.stop(this.over);
  }

  /**
   * Let the note end at another time than was planned.
   * @param {number} at
   */
  end(at, release = RELEASE) {
    const now = this.envelope.context.currentTime;
    if (this.until <= now) return; // already dying away
    if (this.when >= now && at <= this.when) {
      this.kill();
      return;
    }
    this.envelope.gain.cancelScheduledValues(Math.max(now, this.when + this.attack + 1e-4));
    this.close(Math.max(at, this.when + this.attack + 2e-4), release);
  }

  /** Take back a note that has not begun. */
  kill() {
    this.until = this.over = 0;
    this.envelope.disconnect();
    for (const pipe of this.pipes) pipe.stop();
  }
}

/** The sounding side of a context (live, or offline in a test): voices, limiter, loudness. */
class Organ {
  /**
   * @param {AudioContext} context
   * @param {PlayData} data
   */
  constructor(context, data) {
    this.context = context;
    this.master = new GainNode(context, { gain: 0 });
    // Threshold in decibels; the node adds make-up gain of its own, which `trim` takes away again.
    const limits = {
      threshold: -9,
      knee: 3,
      ratio: 20,
      attack: 0.002,
      release: 0.2,
    };
    const limiter = new DynamicsCompressorNode(context, limits);
    const trim = new GainNode(context, { gain: 0.56 });
    this.master.connect(limiter).connect(trim).connect(context.destination);
    // As loud as without a room.
    this.pipes = new GainNode(context, { gain: data.room.level });
    const room = new ConvolverNode(context, { disableNormalization: true });
    this.pipes.connect(this.master);
    this.pipes.connect(room).connect(this.master);
    this.voices = data.voices.map(() => {
      const gain = new GainNode(context, { gain: 1 });
      gain.connect(this.pipes);
      return gain;
    });
    this.ranks = data.ranks.map((rank) => ({
      ...rank,
      wave: rankWave(context, rank),
    }));
    this.keys = data.keys;
    this.voicing = data.voicing;
    /** Settled when recorded pipes are there, or cannot be had: our own sound until then. */
    this.ready = Promise.all(this.ranks.map((rank) => takeRecorded(context, rank)));
    /** Settled when the room is there, mostly before the first note: it is not waited for. */
    this.around = echoesOf(context.sampleRate, data.room).then((buffer) => (room.buffer = buffer));
    this.wind = wind(context);
  }

  /** @param {number} level */
  setLevel(level) {
    // A slider feels even when loudness grows faster than its place.
    this.master.gain.setTargetAtTime(Math.pow(level, 1.5), this.context.currentTime, 0.02);
  }

  /**
   * @param {number} voice
   * @param {boolean} sounds
   */
  setVoice(voice, sounds) {
    this.voices[voice].gain.setTargetAtTime(sounds ? 1 : 0, this.context.currentTime, 0.015);
  }

  /**
   * Sound a note from `when` to `until` (seconds of the context), in a voice or (without one) under the
   * reader's hands. Gives a handle to change its end.
   * @param {number} when
   * @param {number} until
   * @param {number} hertz
   * @param {number} [voice]
   */
  note(when, until, hertz, voice) {
    const { context } = this;
    const key = nearestKey(this.keys, hertz);
    const envelope = new GainNode(context, { gain: 0 });
    envelope.connect((voice === undefined ? null : this.voices[voice]) ?? this.pipes);
    const noise = new AudioBufferSourceNode(context, { buffer: this.wind, loop: true });
    noise.start(when, (hertz * 7) % 1.9);
    /** @type {AudioScheduledSourceNode[]} */
    const pipes = [noise];
    for (const rank of this.ranks) {
      if (hertz < (rank.low ?? 0) || hertz >= (rank.high ?? Infinity)) continue;
      const frequency = hertz * rank.ratio;
      if (frequency > HIGHEST_PIPE) continue;
      const recorded = nearestPipe(rank, frequency);
      if (recorded) {
        pipes.push(this.recorded(recorded, rank, frequency, when, envelope));
        continue;
      }
      const [cents, level] = voiced(rank, LOWEST_KEY + key);
      const mouth = new GainNode(context, { gain: rank.gain * 10 ** (level / 20) });
      mouth.connect(envelope);
      pipes.push(this.pipe(rank, frequency, cents, when, mouth));
      this.blow(rank, frequency, when, noise, mouth);
    }
    return new SoundingNote(envelope, this.voicing[key], pipes, when, until, ATTACK * slowness(hertz));
  }

  /**
   * A pipe of ours; its fundamental is held back while the overtones speak.
   * @param {Rank & {wave: PeriodicWave}} rank
   * @param {number} frequency
   * @param {number} cents
   * @param {number} when
   * @param {AudioNode} mouth
   */
  pipe(rank, frequency, cents, when, mouth) {
    const { context } = this;
    const detune = (rank.detune ?? 0) + cents;
    const pipe = new OscillatorNode(context, { frequency, detune, periodicWave: rank.wave });
    const speech = new BiquadFilterNode(context, { type: "lowshelf", frequency: frequency * 1.3 });
    speech.gain.setValueAtTime(HELD_BACK, when);
    speech.gain.setTargetAtTime(0, when, rank.late * slowness(frequency));
    pipe.connect(speech).connect(mouth);
    pipe.start(when);
    return pipe;
  }

  /**
   * A pipe of the course's own, at this pitch.
   * @param {HeardPipe} pipe
   * @param {Rank} rank
   * @param {number} frequency
   * @param {number} when
   * @param {GainNode} envelope
   */
  recorded(pipe, rank, frequency, when, envelope) {
    const { context } = this;
    const source = new AudioBufferSourceNode(context, {
      buffer: pipe.buffer,
      loop: true,
      loopStart: pipe.late + pipe.start,
      loopEnd: pipe.late + pipe.end,
      playbackRate: (frequency / pipe.hertz) * 2 ** ((rank.detune ?? 0) / 1200),
    });
    const level = Math.sqrt(rank.harmonics.reduce((sum, h) => sum + h * h, 0) / 2);
    source.connect(new GainNode(context, { gain: rank.gain * level * pipe.gain })).connect(envelope);
    source.start(when, pipe.late);
    return source;
  }

  /**
   * The wind at the mouth of a pipe: a burst as it begins to speak, then a steady hiss.
   * @param {Rank} rank
   * @param {number} frequency
   * @param {number} when
   * @param {AudioNode} noise
   * @param {AudioNode} mouth
   */
  blow(rank, frequency, when, noise, mouth) {
    const { context } = this;
    const middle = Math.min(4 * frequency, HIGHEST_PIPE);
    const band = new BiquadFilterNode(context, { type: "bandpass", frequency: middle, Q });
    const breath = new GainNode(context, { gain: 0 });
    noise.connect(band).connect(breath).connect(mouth);
    // What makes of even noise in this band one as strong as the root of a mean square of 1.
    const strength = Math.sqrt((3 * Q * context.sampleRate) / (Math.PI * middle));
    const puff = rank.puff * slowness(frequency);
    breath.gain.setValueAtTime(0, when);
    breath.gain.linearRampToValueAtTime(rank.chiff * strength, when + puff);
    breath.gain.setTargetAtTime(rank.wind * strength, when + puff, puff);
  }

  /**
   * A short knock on a beat, higher on the first of a bar.
   * @param {number} when
   * @param {boolean} first
   * @returns {Sound}
   */
  knock(when, first) {
    const pipe = new OscillatorNode(this.context, {
      type: "triangle",
      frequency: first ? 1568 : 1046,
    });
    const gain = new GainNode(this.context, { gain: 0 });
    gain.gain.setValueAtTime(first ? 0.35 : 0.22, when);
    gain.gain.exponentialRampToValueAtTime(0.001, when + 0.05);
    gain.gain.setValueAtTime(0, when + 0.051);
    pipe.connect(gain).connect(this.master);
    pipe.start(when);
    pipe.stop(when + 0.06);
    return {
      when,
      until: when,
      over: when + 0.06,
      end() {},
      kill: () => gain.disconnect(),
    };
  }
  /** The time of the context that is now at the reader's ear. */
  heard() {
    const { context } = this;
    const { contextTime = 0, performanceTime = 0 } = context.getOutputTimestamp?.() ?? {};
    if (contextTime > 0 && performanceTime > 0) {
      const time = contextTime + (performance.now() - performanceTime) / 1000;
      // Some systems give stamps that stand still or run ahead; trust only a plausible one.
      if (time <= context.currentTime + 0.03 && time > context.currentTime - 0.5) return time;
    }
    return context.currentTime - (context.outputLatency || context.baseLatency || 0);
  }
}

// Recorded pipes of a course: a rank is a script of the site, loaded when the organ is made, for a page may fetch
// nothing. Until its samples are there, and where they cannot be had, the page's own pipes speak.

/** This script: those of the pipes lie beside it. */
const HERE = /** @type {HTMLScriptElement | null} */ (document.currentScript)?.src;
const FAINT = 0.02; // share of the loudest sample at which a decoded sound begins

/**
 * Load and decode the samples of a rank, where it has some.
 * @param {BaseAudioContext} context
 * @param {Rank} rank
 */
async function takeRecorded(context, rank) {
  const name = rank.recorded;
  if (!name) return;
  try {
    if (!window.versetPipes?.[name]) await loadScript(new URL(name, HERE || document.baseURI).href);
    const carried = window.versetPipes?.[name]?.pipes ?? [];
    rank.pipes = await Promise.all(carried.map((pipe) => heardPipe(context, pipe)));
  } catch {
    delete rank.pipes;
  }
}

/**
 * @param {BaseAudioContext} context
 * @param {CarriedPipe} pipe
 * @returns {Promise<HeardPipe>}
 */
async function heardPipe(context, pipe) {
  const bytes = Uint8Array.from(atob(pipe.sound), (c) => c.charCodeAt(0));
  const buffer = await context.decodeAudioData(bytes.buffer);
  const samples = buffer.getChannelData(0);
  let most = 0;
  for (const sample of samples) most = Math.max(most, Math.abs(sample));
  // Some decoders put silence before the first sample.
  const first = samples.findIndex((sample) => Math.abs(sample) > FAINT * most);
  const { hertz, gain, start, end } = pipe;
  return { hertz, gain, start, end, buffer, late: Math.max(0, first / buffer.sampleRate) };
}

/**
 * The recorded pipe of a rank nearest in pitch.
 * @param {Rank} rank
 * @param {number} frequency
 */
function nearestPipe({ pipes = [] }, frequency) {
  return pipes[
    nearestKey(
      pipes.map((pipe) => pipe.hertz),
      frequency,
    )
  ];
}

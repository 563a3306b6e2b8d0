// Keyboards that are plugged in, through Web MIDI: they may come and go while they are listened to. What a message
// is follows MIDI 1.0; a page opened from a disk may not be given leave. Knows nothing of the page.

const [NOTE_OFF, NOTE_ON] = [0x80, 0x90];
const REAL_TIME = 0xf8; // from here on: single bytes that may stand anywhere
const SYSTEM = 0xf0; // from here on: no message of a key, and the end of a running status
const SINGLE = [0xc0, 0xd0]; // kinds of messages with one byte of data; all others have two

/** One instrument: its messages, and the keys that are down on it. */
class Instrument {
  /** @param {MidiEar} ear */
  constructor(ear) {
    this.ear = ear;
    this.status = 0; // which holds until another comes
    /** @type {number[]} */
    this.data = [];
    this.down = new Set(/** @type {number[]} */ ([]));
  }

  /** @param {Iterable<number>} bytes */
  hear(bytes) {
    for (const byte of bytes) {
      if (byte >= REAL_TIME) continue;
      if (byte >= NOTE_OFF) {
        this.status = byte < SYSTEM ? byte : 0;
        this.data = [];
      } else if (this.status) {
        this.data.push(byte);
        if (this.data.length === (SINGLE.includes(this.status & 0xf0) ? 1 : 2)) this.message();
      }
    }
  }

  message() {
    const kind = this.status & 0xf0;
    const [key, strength] = this.data;
    this.data = [];
    if (kind === NOTE_ON && strength) {
      this.down.add(key);
      this.ear.down(key);
    } else if ((kind === NOTE_ON || kind === NOTE_OFF) && this.down.delete(key)) this.ear.up(key);
  }

  /** It is gone: none of its keys stays down. */
  leave() {
    for (const key of this.down) this.ear.up(key);
    this.down.clear();
  }
}

/**
 * Listen to all keyboards that are plugged in now, or later.
 * @param {MidiEar} ear
 */
async function listenToMidi(ear) {
  if (!navigator.requestMIDIAccess) {
    ear.told("unknown", "");
    return;
  }
  ear.told("asked", "");
  /** @type {MIDIAccess} */
  let access;
  try {
    access = await navigator.requestMIDIAccess();
  } catch {
    ear.told("refused", "");
    return;
  }
  /** @type {Map<MIDIInput, Instrument>} */
  const known = new Map();
  const wire = () => {
    const here = [...access.inputs.values()].filter(({ state }) => state !== "disconnected");
    for (const [input, instrument] of known) {
      if (here.includes(input)) continue;
      instrument.leave();
      known.delete(input);
    }
    for (const input of here) {
      if (known.has(input)) continue;
      const instrument = new Instrument(ear);
      known.set(input, instrument);
      input.onmidimessage = ({ data }) => instrument.hear(data ?? []);
    }
    ear.told(here.length ? "heard" : "none", here.map(({ name }) => name || "MIDI").join(", "));
  };
  access.addEventListener("statechange", wire);
  wire();
}

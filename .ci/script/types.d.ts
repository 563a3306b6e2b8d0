// The shapes that the script in the reader's page is given, and those that its files hand to each other.
// For the compiler alone: nothing of this reaches a site. Times "at", "onset" and "length" are quarter notes of the
// verset; "start" and "end" are seconds at full speed.

// What the build writes into a page

/** A pitch: staff step (C4 is 28), alteration (-1 flat, 0, 1 sharp). */
type Pitch = [step: number, alter: number];

/** A note drawn on the page: its id, and when it begins. */
type Piece = [id: string, start: number];

/** A note as it is played: start, end, hertz, place of its voice in `voices`, and what is drawn of it. */
type PlayedNote = [start: number, end: number, hertz: number, voice: number, pieces: Piece[]];

/** A rank of pipes: its ratio to the note played, and the hertz it serves. */
interface Rank {
  ratio: number;
  gain: number;
  /** The first partials and the number of all: those above fall evenly. */
  harmonics: number[];
  partials: number;
  /** At C4: seconds in which the fundamental comes up, and of the burst at the mouth. */
  late: number;
  puff: number;
  /** How strong that burst is, and the wind after it; the fundamental is 1. */
  chiff: number;
  wind: number;
  detune?: number;
  low?: number;
  high?: number;
  /** From this number come the differences between its pipes, and these are no more than so many cents. */
  seed?: number;
  mistuned?: number;
  /** The script that carries the course's own recordings of its pipes. */
  recorded?: string;
  pipes?: HeardPipe[];
}

/** A recorded pipe as a script carries it: seconds of its loop, an MP3 in base64. */
interface CarriedPipe {
  hertz: number;
  gain: number;
  start: number;
  end: number;
  sound: string;
}

/** The same decoded; it begins so many seconds late. */
interface HeardPipe extends Omit<CarriedPipe, "sound"> {
  buffer: AudioBuffer;
  late: number;
}

interface PlayData {
  voices: string[];
  bars: [number: number, start: number][];
  beats: number[];
  end: number;
  versions: Record<string, PlayedNote[]>;
  ranks: Rank[];
  /** Hertz of the keys of the keyboard on the screen, from C2 up. */
  keys: number[];
  /** By how much each of them is made stronger, so that all are heard alike in the room. */
  voicing: number[];
  room: Room;
  level?: number;
}

/** A room: samples of its response; the filter of each band, where its noise begins and in how many seconds
 * it falls to 1/e; how strong that is and how it builds up; the echoes by kind; the level at which all is as loud
 * as without a room. */
interface Room {
  length: number;
  bands: [type: BiquadFilterType, frequency: number, Q: number, at: number, dies: number][];
  late: number;
  builds: number;
  echoes: [spread: number, through: number, each: [side: number, start: number, strength: number][]][];
  level: number;
}

/** A stretch in seconds. */
interface Span {
  start: number;
  end: number;
}

interface PageData {
  play: PlayData;
  span: Span;
  versions: string[];
  first: string;
  /** What each note is called, by its id. */
  names: Record<string, string>;
  playing: PlayingData[];
}

/** A recording of one's own playing; `points` are seconds of the verset and of the recording. */
interface PlayingData {
  key: string;
  name: string;
  of: string;
  /** The bars in which it plays other notes than those of its version; true: in all. */
  away: number[] | true;
  picture: boolean;
  points: [moment: number, second: number][];
}

/** Where a page that is served on the teacher's own machine asks for its source to be written. */
interface SourcePlace {
  source: string;
  sum: string;
  token: string;
  address: string;
}

/** One thing that a class is shown: a version of the music, or words. */
interface Slide {
  version: string;
  head: string;
  nodes: Element[];
}

/** How large the notes at the desk are. */
type DeskSize = "small" | "middle" | "large";

type ReaderWord =
  | ("bars" | "rest" | "title" | "go" | "stop" | "again" | "slower" | "faster" | "speed" | "percent")
  | ("desk" | "deskClose" | "deskPrevious" | "deskNext" | "deskPage" | "deskSize" | `desk.${DeskSize}`)
  | ("place" | "counting" | "version" | "voices" | "voicesHint" | "alone" | "aloneLabel")
  | ("repeat" | "repeatFirst" | "repeatLast" | "repeatOff" | "repeatHint" | "repeatChoose")
  | ("repeatChooseFirst" | "repeatChooseLast" | "repeatSaid" | "repeatOffSaid")
  | ("beat" | "countIn" | "click" | "level" | "levelCaution" | "reading" | "follow" | "figures")
  | ("keyboard" | "keyboardLabel" | "noteNames" | "modernClefs" | "allVersions" | "keys" | "keysHint")
  | (
      | "keyGo"
      | "keyBars"
      | "keyRepeat"
      | "keyStart"
      | "keySpeed"
      | "keyVoices"
      | "keyVersion"
      | "keyDesk"
      | "keyClass"
    )
  | ("classroom" | "classHint" | "classAsks")
  | ("pencil" | "pencilTake" | "pencilHint" | "pencilPen" | "pencilRub" | "pencilFinger")
  | ("pencilUndo" | "pencilDone")
  | ("stoppedSaid" | "speedSaid" | "versionSaid" | "voiceOnSaid" | "voiceOffSaid" | "aloneSaid")
  | ("allVoicesSaid" | "noSound");

type TryWord =
  | ("tools" | "undo" | "redo" | "title" | "lead" | "files" | "mine" | "voices" | "sheet" | "keys")
  | ("higher" | "lower" | "sharpen" | "flatten" | "erase" | "hint" | "hinted" | "hear" | "hearOurs")
  | ("compare" | "save" | "open" | "notOurs" | "musicxml" | "print" | "clear" | "clearAsk")
  | ("at" | "nothing" | "missing" | "fine" | "error" | "warning" | "note" | "progress" | "finished")
  | ("divide" | "noneFits" | "graced" | "graceTitle" | "graceLead" | "graceBack" | "graceOn" | "graceAt")
  | ("graceHear" | "graceKeep" | "graceHearAll" | "graceFits" | "answer" | "answerGraces")
  | ("graceSource" | "graceSourceLead" | "graceCopy" | "graceCopied")
  | ("write" | "writtenLast" | "writeBack" | "writeLost");

type TakeWord =
  | ("title" | "lead" | "toLine" | "free" | "stop" | "playing" | "waiting" | "nothing" | "verdict")
  | ("outOfTime" | "hear" | "see" | "send" | "barRight" | "barFaults")
  | ("graces" | "gracesPlaying" | "gracesVerdict" | "gracesFault" | "gracesLost");

/** How it stands with keyboards: asked for, heard, none plugged in, no leave, unknown to the browser. */
type MidiState = "asked" | "heard" | "none" | "refused" | "unknown";

/** Who listens to keyboards: to keys by their MIDI numbers, and to how it stands, with the names of those heard. */
interface MidiEar {
  down(key: number): void;
  up(key: number): void;
  told(state: MidiState, names: string): void;
}

/** The texts of the page's language. */
type Words = Record<ReaderWord, string> & {
  versionNames: Record<string, string>;
  voiceNames: Record<string, string>;
  /** Note names without octave, by letter and sign: "C", "F#", "Bb". */
  names: Record<string, string>;
  take: Record<TakeWord, string>;
  midi: Record<MidiState, string>;
  try: Record<TryWord, string> & { [figure: `figure.${string}`]: string | undefined };
};

/** A reading of a figure: [number over the bass, alteration, role], and the numbers that must sound. */
interface Reading {
  members: [number: number, alter: number, role: number][];
  must: number[];
}

/** A sonority of the exercise. */
interface Sonority extends Span {
  at: number;
  length: number;
  bar: number;
  where: string;
  /** The voice of the given line, and its note. */
  voice: string;
  bass: Pitch;
  figure: string[];
  figured: boolean;
  /** The voices to put in, highest first. */
  upper: string[];
  joined: boolean;
  stays: boolean;
  weight: number;
  free: boolean;
  allowed: string[];
  variants: Reading[];
  /** Where a second note may come in (after so long; at so many seconds), and what the line has there. */
  half?: number;
  middle?: number;
  late?: Pitch;
  /** Whether a double cadence is under way; classes of notes that must be raised, must rise, are minor thirds. */
  doppia?: boolean;
  raise?: string[];
  rise?: string[];
  minor?: string[];
}

/** A note of the given line. */
interface GivenNote extends Span {
  id: string;
  voice: string;
  at: number;
  length: number;
  pitch: Pitch;
  tied: boolean;
  editorial: boolean;
}

/** A bar of the exercise, with the voices on its upper stave. */
type ExerciseBar = [number: number, onset: number, length: number, above: string[]];

interface Exercise {
  key: string;
  title: string;
  metre: [count: number, unit: number];
  symbol: string;
  fifths: number;
  /** Alteration of each letter, C first. */
  signature: number[];
  voices: string[];
  order: string[];
  closed: boolean;
  bars: ExerciseBar[];
  events: Sonority[];
  line: GivenNote[];
  ours: Record<string, (Pitch | null)[]>;
  /** By voice: which notes stand there already, where the teacher asks for others alone. */
  stands?: Record<string, boolean[]>;
  compass: Record<string, [low: number, high: number]>;
  /** By pitch ("28,0"). */
  hertz: Record<string, number>;
  /** By voice and pitch: rules on a single note. */
  notes: Record<string, Record<string, string[]>>;
  /** By the classes of two notes, lower first: rules on what signature and tuning make of them. */
  pairs: Record<string, string[]>;
}

/** What the reader puts in: by voice a note for each sonority, and in `then` second notes. */
type Rows = Record<string, (Pitch | null)[]>;
type Work = Rows & { then?: Rows };

/** A file of work. */
interface WorkFile {
  key: string;
  work: Work;
}

/** A key that was played: MIDI number, and from when to when (seconds). */
interface PlayedKey {
  key: number;
  on: number;
  off: number;
}

/** Keys that begin together: how many came before, and up to its last; its middle, its last, what it costs. */
interface Stroke {
  from: number;
  end: number;
  at: number;
  last: number;
  cost: number;
}

/** The best way to a stroke at a sonority: what it costs, and the sonority and stroke before. */
interface LaidStroke {
  cost: number;
  from: [e: number, stroke: number] | null;
}

/** Keys that may be meant at a sonority, those of them that are struck, and what speaks against it. */
interface HeardKeys {
  keys: PlayedKey[];
  struck: PlayedKey[];
  cost: number;
}

interface CostlyWork {
  work: Work;
  cost: number;
}

/** What a note of a voice in small notes is. */
type GraceKind = "plain" | "passing" | "neighbour" | "anticipation" | "belongs" | "clash";

/**
 * A note of a voice in small notes: its sonority, the place of its plain note, when it sounds in the verset, whether
 * it stands at the beginning of the plain note, and the rules against it.
 */
interface GraceNote {
  n: number;
  e: number;
  time: number;
  pitch: Pitch;
  head: boolean;
  kind: GraceKind;
  rules: string[];
}

/** What a sonority was read from, and the best settings up to it. */
interface ReadSonority {
  laying: Laying;
  stroke: Stroke | null;
  time: number | null;
  settings: CostlyWork[];
}

/** A plain setting, and the voice of it that is played in small notes. */
interface Skeletal {
  work: Work;
  voice: string;
}

/**
 * A take: when it was made, whether to the line, in free time, or a voice in small notes; what was played, and the
 * setting in it.
 */
interface Take {
  at: string;
  mode: "line" | "free" | "graces";
  voice?: string;
  notes: PlayedKey[];
  work: Work;
}

type Severity = "error" | "warning" | "note";

/** How a rule is asked: how grave by number of voices (from one), of which voices, where, from how many voices on. */
interface RuleContext {
  severity: Severity[];
  lowest?: Severity[];
  of: string;
  where: Place[];
  least: number;
}

type Place = "inside" | "beat" | "struck" | "firm";

/** Lists of rules by what they depend on. */
type RuleTable = Record<string, string[]>;

/** What the page itself finds wrong with a note. */
type Owing =
  ("lacking" | "foreign" | "undercut" | "unraised" | "astray" | "minor") | ("untreated" | "cadential");

/** The rules as tables: see `counterpoint/rules/page_tables.py`. */
interface Tables {
  rules: Record<string, RuleContext>;
  perfect: Record<string, number>;
  together: RuleTable;
  stack: { numbers: Record<number, string[]>; sizes: Record<number, string[]> };
  motion: RuleTable;
  across: [RuleTable, RuleTable];
  chromatic: string[];
  melody: RuleTable;
  turns: RuleTable;
  owed: Record<Owing, string[]>;
  clash: string[];
  clashAbove: string[];
  second: RuleTable;
  held: RuleTable;
  hands: { widest: number; rules: string[][]; digits: string[] };
  fourth: number;
  pedal: number;
  entered: Record<number, RuleTable>;
  left: Record<string, RuleTable>;
}

/** A rule in words: title, sentence, advice. */
type RuleWords = Record<string, [title: string, sentence: string, advice: string]>;

/** A pattern of small notes for a plain note. */
interface Pattern {
  figure: string;
  source: string;
  notes: [start: number, length: number, step: number, alter: number, hertz: number][];
  names: string;
  /** The line that pins it in the source; empty where there is none. */
  pin: string;
  met: [rule: string, severity: Severity][];
}

/** A plain note that patterns fit. */
interface PlainNote extends Span {
  voice: string;
  where: string;
  length: number;
  pitch: Pitch;
  next: Pitch;
  patterns: Pattern[];
}

// What the files of the script hand to each other

/** A listener to any kind of event. */
type Listener = { handle(event: Event): unknown }["handle"];

type Attributes = Record<string, string | number | boolean | null | undefined | Listener>;

/** A note of a version, ready for questions. */
interface Note extends Span {
  hertz: number;
  voice: number;
  pieces: Piece[];
}

interface VersionNotes {
  notes: Note[];
  /** When anything begins or ends, and which drawn notes sound from then on. */
  moments: number[];
  sounding: string[][];
  starts: Map<string, number>;
}

/** What sounds until it is told to end. */
interface Sound {
  when: number;
  until: number;
  /** When nothing of it is left. */
  over: number;
  end(at: number, release?: number): void;
  kill(): void;
}

/** A planned sound, with the note that it is (none for a knock). */
interface Planned {
  sound: Sound;
  note: Note | null;
}

/** A stretch planned: from `at` on the clock, position runs from `from` to `to`. */
interface Stretch {
  at: number;
  from: number;
  to: number;
}

type BarsToRepeat = [first: number, last: number];

interface Settings {
  version: string;
  rate: number;
  repeat: BarsToRepeat | null;
  countIn: boolean;
  click: boolean;
}

/** What the reader chose, kept in the browser's store. */
interface Choices {
  level: number | null;
  countIn: boolean;
  click: boolean;
  follow: boolean;
  figures: boolean;
  noteNames: boolean;
  modernClefs: boolean;
  allVersions: boolean;
  keyboard: boolean;
}

type Reads = "follow" | "figures" | "noteNames" | "modernClefs" | "allVersions" | "keyboard";

/** A bar that is drawn; `box` once the music is laid out. */
interface DrawnBar {
  number: number;
  measure: SVGGraphicsElement;
  notes: SVGGraphicsElement[];
  box?: SVGElement;
  system: System;
}

/** A line drawn by hand or a fingering (`finger`), in its bar: shares of its width, engraver's units. */
interface PencilMark {
  version: string;
  clefs: string;
  bar: number;
  finger?: string;
  points: [number, number][];
}

interface System {
  svg: SVGSVGElement;
  bars: DrawnBar[];
  boxed: boolean;
  named: boolean;
}

interface MusicBlock {
  figure: HTMLElement;
  version: string;
  clefs: string;
  sets: { holder: HTMLElement; systems: System[] }[];
}

/** What touches on the music do. `bars` without a first bar takes back what was being chosen. */
interface MusicActs {
  note(id: string | undefined, bar: DrawnBar): void;
  bars(first: number, last: number, finished: boolean): void;
}

/** How a note that is held stands between its neighbours. */
interface HeldNote {
  onset: number;
  length: number;
  pitch: Pitch;
  pieces: HeldPiece[];
}

interface HeldPiece extends Span {
  id: string;
  onset: number;
}

/** A value that can be written in one sign. */
interface WrittenPiece {
  onset: number;
  size: number;
  type: string;
  dotted: boolean;
  bar: number;
}

/** The voices that sound, highest first. */
type Tones = [voice: string, pitch: Pitch][];

/** What a voice has at the start or at the end of a sonority. */
type ToneOf = (exercise: Exercise, work: Work, n: number, voice: string) => Pitch | null;

/** How the notes of a sonority read its figure. */
interface FoundReading {
  fault: number;
  foreign: string[];
  lack: number[];
  roles: Map<string, number>;
}

/** A rule that is met; `owed`: a note of the sonority before is at fault, for where it goes. */
interface Met {
  rule: string;
  voices: string[];
  owed: boolean;
  lowest?: boolean;
}

type Judged = Met & { severity: Severity };

/** How two voices stand to each other. */
interface Pair {
  next?: boolean;
  over?: boolean;
  outer?: boolean;
  count: number;
  second: boolean;
}

/** A note with what stands about it, for the treatment of a clash; undefined: nobody knows. */
interface NoteAbout {
  past: Pitch | null | undefined;
  next: Pitch | null | undefined;
  pitch: Pitch;
  length: number;
  weight: number;
  before: number;
  after: number;
  here: number;
  struck: boolean;
}

type State = "good" | "error" | "warning" | "open";

/** A note that may stand, with the number of its warnings. */
interface Hint {
  pitch: Pitch;
  price: number;
}

/** What the paper of an exercise shows. */
interface View {
  work: Work;
  n: number;
  voice: string;
  second: boolean;
  compare: boolean;
  hints: Hint[];
  states: State[];
}

interface Stave {
  letter: "G" | "F";
  low: number;
  bottom: number;
  y(step: number): number;
  step(y: number): number;
}

interface Sign {
  alter: number;
  kind: "plain" | "editorial" | "reminder";
}

/** A note for the rule of accidentals. */
interface Spelled<Key> {
  onset: number;
  step: number;
  alter: number;
  key: Key;
  continued?: boolean;
  editorial?: boolean;
}

/** A note as the paper writes it. */
interface WrittenNote extends Spelled<string> {
  voice: string;
  ids: string[];
  length: number;
  given: boolean;
  tied: boolean;
  continued: boolean;
  stave: Stave;
  bar: number;
  up: boolean;
  /** Room to the right of its place, where it would touch another voice. */
  aside: number;
}

/** A bar with its room: the moments in it and the gap after each. */
interface RoomyBar {
  number: number;
  onset: number;
  end: number;
  times: number[];
  gaps: number[];
  before: number;
  natural: number;
}

interface OpenSystem {
  bars: RoomyBar[];
  natural: number;
  head: number;
}

/** A system with its places; `foot` (of the figures) and `height` once it is drawn. */
interface PlacedSystem extends OpenSystem {
  x: Map<number, number>;
  ends: number[];
  width: number;
  foot: number;
  height: number;
}

/** Outline and width of a sign, by its code. */
type Glyphs = Record<string, [path: string, width: number]>;

interface Reader {
  el: typeof el;
  svgEl: typeof svgEl;
  say: typeof say;
  clamp: typeof clamp;
  memory: typeof memory;
  button: typeof button;
  row: typeof row;
  hintLine: typeof hintLine;
  readVersion: typeof readVersion;
  createOrgan(context: AudioContext, data: PlayData): Organ;
  createKeys(owner: KeysOwner, hertz: number[]): KeysOnScreen;
  whenAwake(act: (player: Player) => void): void;
}

/** What the drills take from the exercises' script. */
interface Own {
  Paper: typeof Paper;
  Rulings: typeof Rulings;
  readAs: typeof readAs;
  tonesAt: typeof tonesAt;
  emptyWork: typeof emptyWork;
  workToPlay: typeof workToPlay;
  midiOf: typeof midiOf;
  modulo: typeof modulo;
  spelledKey: typeof spelledKey;
  shareOut: typeof shareOut;
  listenToMidi: typeof listenToMidi;
  noteName: typeof noteName;
  glyph: typeof glyph;
  drawNote: typeof drawNote;
  offer: typeof offer;
  SPACE: typeof SPACE;
  HALF: typeof HALF;
  CLEFS: typeof CLEFS;
  ACCIDENTALS: typeof ACCIDENTALS;
  MARKS: typeof MARKS;
}

/** Who has keys on the screen: what is on them, and what happens when they are touched. */
interface KeysOwner {
  label: string;
  organ(): Organ;
  going(): boolean;
  onFrame(act: (position: number) => void): void;
  /** Show anew what is on the keys. */
  renew(): void;
  noSound(): void;
  /** MIDI numbers. */
  pressed(key: number): void;
  released?(key: number): void;
  letters(position: number): [hertz: number, letter: string][];
}

// Drills

declare const createOrgan: Reader["createOrgan"];
declare const createKeys: Reader["createKeys"];

/** A note that is drawn: length, staff step (null for a rest), alteration, a clef before it, the bar it begins. */
type ShownNote = [length: number, step: number | null, alter: number, clef: string, bar: number];

/** A task: a setting where it has an exercise, marks where it has those, notes where it has some that are right,
    else syllables. */
interface DrillTask {
  id: string;
  step: number;
  ask: Record<string, string | number | boolean>;
  shown?: ShownNote[];
  fifths?: number;
  right?: { kind: string; notes: Pitch[] }[];
  /** Whether any octave is right. */
  octave?: boolean;
  marks?: { entries: number[]; cadences: number[] };
  exercise?: Partial<Exercise>;
  /** Of each sonority, how many of its first readings are those of the rule of thumb. */
  rule?: number[];
}

type DrillWords = Record<string, string> & Pick<Words, "voiceNames" | "names" | "try" | "midi">;

/** What all drills of a course share. */
interface DrillCommon {
  words: DrillWords;
  play: Pick<PlayData, "keys" | "ranks" | "room" | "voicing"> & { level: number };
  exercise: Pick<Exercise, "compass" | "hertz" | "notes"> & { pairs: Record<string, Exercise["pairs"]> };
  hexachords: Record<string, [hexachord: number, syllable: number][]>;
  /** By interval (staff steps, title): patterns with name, steps, lengths in quarter notes, source. */
  patterns: [
    interval: number,
    title: string,
    patterns: [name: string, steps: number[], lengths: number[], source: string][],
  ][];
}

/** What a page asks for. */
interface DrillWish {
  steps: Record<string, number>;
  scripts: string[];
  files: Record<string, string>;
  names: Record<string, string>;
  words: Record<"title" | "lead" | "begin" | "loading" | "failed", string>;
}

/** What a reader has done: by task its box and the day on which it comes back; by drill the step, and the last
    answers; by day and drill what was asked, right, and the seconds it took. */
interface Progress {
  v: 1;
  items: Record<string, [box: number, day: number]>;
  steps: Record<string, number>;
  tried: Record<string, string>;
  days: Record<string, Record<string, [asked: number, right: number, seconds: number]>>;
}

interface DrillVerdict {
  right: boolean;
  told: Node[];
}

/** What a task knows of the place where it stands. */
interface DrillPlace {
  stage: Stage;
  words: DrillWords;
  tables: Tables;
  told: RuleWords;
  width(): number;
  changed(): void;
}

/** A task while it is answered. */
interface AskedTask {
  element: HTMLElement;
  /** Whether all is answered that is asked. */
  full: boolean;
  draw(): void;
  take(key: number): void;
  /** Whether a typed key means something here. */
  type(key: string): boolean;
  undo(): void;
  verdict(): DrillVerdict;
  /** Show what is right. */
  show(): void;
  hear(ours: boolean): void;
  hearAsked(): void;
  leave(): void;
}

interface Window {
  versetOwn?: Own;
  versetPipes?: Record<string, { pipes: CarriedPipe[] } | undefined>;
  versetDrills?: { common?: DrillCommon };
  versetDrilling?(root: HTMLElement, wish: DrillWish, load: (addresses: string[]) => Promise<void>): void;
  versetReader?: Reader;
  versetVerdicts?: Tables;
  versetRules?: RuleWords;
  versetWords?: Words;
  versetGlyphs: Glyphs;
  /** Of a theme that exchanges pages without loading. */
  document$?: { subscribe(act: () => void): void };
}

interface HTMLElement {
  /** The player of this section, for tests and the curious. */
  verset?: Player;
  drills?: DrillRoom;
}

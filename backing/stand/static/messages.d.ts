// The messages between server and page, and the server's constants: written from
// backing/stand/messages.py by tests/stand/test_messages.py.

export type Request = CommandLine | Restore | ChangeSet | OpenTune | ChooseOutput | Ping | NameChords | ShowShapes;
export type Announcement = Hello | Pong | Notice | Fault | SongbookListing | ChartView | SoundBank | Bars | Timeline | Idle | State;
export type Player = "bass" | "chop" | "drums" | "lead";
export type NameStyle = "letters" | "numbers" | "roman";
export type Browser = "browser";
export type TicksPerQuarter = 960;

export interface CommandLine {
  type: "say";
  line: string;
  at?: number;
}

export interface Restore {
  type: "again";
  tune: string;
  output: string;
  snapshot?: unknown;
}

export interface ChangeSet {
  type: "set";
  do: "new" | "delete" | "rename" | "add" | "out" | "move";
  name: string;
  tune?: string;
  place?: number;
  to?: number | string;
}

export interface OpenTune {
  type: "open";
  tune: string;
}

export interface ChooseOutput {
  type: "output";
  name: string;
}

export interface Ping {
  type: "ping";
  mine?: number;
}

export interface NameChords {
  type: "names";
  as: "letters" | "numbers" | "roman";
}

export interface ShowShapes {
  type: "shapes";
  instrument?: string;
  shown?: boolean;
  left?: boolean;
}

export interface Hello {
  type: "hello";
}

export interface Pong {
  type: "pong";
  mine: number | null;
  time: number;
}

export interface Notice {
  type: "news";
  text: string;
}

export interface Fault {
  type: "fault";
  text: string;
}

export interface SetListing {
  name: string;
  tunes: string[];
  html: string;
}

export interface SongbookListing {
  type: "songbook";
  tunes: string;
  keys: string;
  styles: string;
  names: string;
  sets: SetListing[];
  playable: Record<string, string>;
}

export interface ChartView {
  type: "chart";
  tune: string;
  title: string;
  names: "letters" | "numbers" | "roman";
  instrument: string;
  left: boolean;
  shapes_fault: string | null;
  key: string;
  has_shapes: boolean;
  bars: number;
  begins: string;
  html: string;
  grips: string;
  form: string;
  loops: string;
}

export interface SoundBank {
  type: "bank";
  url: string;
  sketch: boolean;
}

export interface LiveBar {
  id: number;
  start: number;
  ticks: number;
  bar: [string, number, number] | null;
  part: string;
  index: number;
  chorus: number;
  count: number | null;
  meter: string;
  beat: number;
  key: string;
  chords: [number, string, string][];
  cells: ([string, number, number] | null)[];
  path: number;
  mix: Partial<Record<Player, [number, number, number]>>;
  notes: [number, number, Player, number, number][];
}

export interface Bars {
  type: "bars";
  add: LiveBar[];
  drop: number[];
}

export interface Timeline {
  type: "time";
  line: [number, number, number][];
  playing: boolean;
  generation: number;
}

export interface TempoUnit {
  name: string;
  words: string;
  mark: string;
  step: number;
  slowest: number;
  fastest: number;
}

export interface Idle {
  type: "state";
  output: string;
  outputs: string;
  pages: number;
  tune: null;
  playing: false;
}

export interface State {
  type: "state";
  output: string;
  outputs: string;
  pages: number;
  tune: string;
  playing: boolean;
  ended: boolean;
  part: string | null;
  bar: number | null;
  bars: number | null;
  chorus: number | null;
  round: number | null;
  chords: string[];
  key: string;
  tempo: number;
  tempo_unit: string;
  tempo_wished: number;
  quarter_bpm: number;
  meter: string | null;
  style: string;
  plays: Player[];
  level: number;
  loop: [number, number] | null;
  last_time: boolean;
  title: string;
  levels: Partial<Record<Player, number>>;
  muted: Player[];
  band: Player[];
  semitones: number;
  unit: TempoUnit;
  pressed: string[];
  values: Record<string, string | number | boolean>;
  words: Record<string, string>;
  snapshot: Record<string, unknown>;
  late_ms?: number;
}

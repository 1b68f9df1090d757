// Sounds: prompts from mu-law files without codec delay, tones by Web Audio, one mixer for live and rendered cues.

const PAUSE = 0.08, AFTER_TONE = 0.12, RISE = 0.002, WORD_LEVEL = 0.9;   // as in core/evening/track.py

let tones = {};
let context = null;
const prompts = new Map();
const MU_LAW = Float32Array.from({ length: 256 }, (_, code) => {
  const turned = ~code & 0xff;
  const size = ((((turned & 15) << 3) + 132) << ((turned >> 4) & 7)) - 132;
  return (turned & 0x80 ? -size : size) / 32768;
});

export const setTones = (known) => { tones = known; };
export const audio = () => (context ??= new AudioContext({ latencyHint: "interactive" }));
export const awake = () => context !== null && context.state === "running";
export async function wake() { if (audio().state !== "running") await audio().resume(); }

export async function loadPrompts(names) {
  await Promise.all([...new Set(names)].filter((name) => !prompts.has(name)).map(async (name) => {
    const answer = await fetch(`/static/audio/${name}.wav`);
    if (!answer.ok) throw new Error(`The prompt ${name} is missing.`);
    prompts.set(name, decode(await answer.arrayBuffer()));
  }));
}

function decode(raw) {
  const view = new DataView(raw);
  let rate = 0;
  for (let at = 12; at + 8 <= view.byteLength;) {
    const name = view.getUint32(at), size = view.getUint32(at + 4, true);
    if (name === 0x666d7420) rate = view.getUint32(at + 12, true);
    if (name === 0x64617461) {
      const buffer = new AudioBuffer({ length: size, sampleRate: rate, numberOfChannels: 1 });
      const samples = buffer.getChannelData(0), codes = new Uint8Array(raw, at + 8, size);
      for (let n = 0; n < size; n += 1) samples[n] = MU_LAW[codes[n]];
      return buffer;
    }
    at += 8 + size + (size % 2);
  }
  throw new Error("A prompt has no sound in it.");
}

// One flat list: tones exactly on time, words one after the other.
export function placed(cues) {
  const sorted = [...cues].sort((a, b) => a.at - b.at || (a.tone === null) - (b.tone === null));
  const sounds = [];
  let free = -Infinity;
  for (const cue of sorted) {
    if (cue.tone) sounds.push({ at: cue.at, tone: cue.tone });
    let at = Math.max(cue.at + (cue.tone && cue.say.length ? AFTER_TONE : 0), free);
    for (const name of cue.say) {
      sounds.push({ at, prompt: name });
      at += prompts.get(name).duration + PAUSE;
      free = at;
    }
  }
  return sounds;
}
export const lengthOf = (sound) => (sound.tone ? tones[sound.tone].duration : prompts.get(sound.prompt).duration);

export function play(ctx, sound, when, into = ctx.destination) {
  const gain = new GainNode(ctx, { gain: 0 });
  let source;
  if (sound.tone) {
    const tone = tones[sound.tone];
    source = new OscillatorNode(ctx, { frequency: tone.frequency });
    gain.gain.setValueAtTime(0, when);
    gain.gain.linearRampToValueAtTime(tone.level, when + RISE);
    gain.gain.setValueAtTime(tone.level, when + tone.duration - RISE);
    gain.gain.linearRampToValueAtTime(0, when + tone.duration);
    source.connect(gain).connect(into);
    source.start(when);
    source.stop(when + tone.duration);
  } else {
    gain.gain.value = WORD_LEVEL;
    source = new AudioBufferSourceNode(ctx, { buffer: prompts.get(sound.prompt) });
    source.connect(gain).connect(into);
    source.start(when);
  }
  return source;
}

// A whole track as one buffer, made before the light goes out. lead: seconds before the plan's 0.
export async function render(cues, lead, rate = audio().sampleRate) {
  const sounds = placed(cues);
  const length = Math.max(0, ...sounds.map((sound) => sound.at + lengthOf(sound))) + lead + 0.05;
  const offline = new OfflineAudioContext(1, Math.ceil(length * rate), rate);
  for (const sound of sounds) play(offline, sound, sound.at + lead);
  return offline.startRendering();
}

export function playBuffer(buffer, when = audio().currentTime + 0.06) {
  const source = new AudioBufferSourceNode(audio(), { buffer });
  source.connect(audio().destination);
  source.start(when);
  return { source, when };
}

// ---- audio time of a moment on performance.now(): the audio clock moves in blocks, its most advanced reading is the true one

const samples = [];
function look() {
  samples.push({ at: performance.now(), lead: audio().currentTime - performance.now() / 1000 });
  while (samples.length > 150) samples.shift();
}
export async function settle() {
  for (let n = 0; n < 12; n += 1) { look(); await new Promise((resolve) => setTimeout(resolve, 7)); }
}
// Short, because an audio device that stalls sets its clock back for good.
const LOOKED = 1500;
function lead() {
  const since = performance.now() - LOOKED;
  return Math.max(...samples.filter((one) => one.at > since).map((one) => one.lead));
}
const latency = () => Math.min(audio().outputLatency || audio().baseLatency || 0, 0.3);

// ---- live: the cues of the studio's plan, each on its moment of the studio's clock

// Seconds of the wall. A hidden page's timers may rest for a minute.
const ahead = () => (document.hidden ? 90 : 15);
const STRAYED = 0.004;   // seconds: what was put on the audio clock and has not sounded is put there anew
export class Live {
  // moment: of a time of the studio's clock, seconds on performance.now().
  constructor({ moment }) {
    this.moment = moment;
    this.sounds = [];
    this.going = new Map();
    this.heard = new Map();
    this.timer = null;
  }
  get log() { return [...this.heard.values()]; }
  key(sound) { return `${sound.at.toFixed(3)} ${sound.tone ?? sound.prompt}`; }
  plan(cues) {
    this.sounds = placed(cues);
    const wanted = new Set(this.sounds.map((sound) => this.key(sound)));
    for (const [key, { source, when }] of this.going) {
      if (!wanted.has(key) && when > audio().currentTime) { source.stop(); this.going.delete(key); }
    }
    this.more();
  }
  begin() {
    document.addEventListener("visibilitychange", () => this.more());
    this.timer ??= setInterval(() => this.more(), 100);
    this.more();
  }
  more() {
    if (this.timer === null || !awake()) return;
    look();
    // The device may have stalled, and the studio's clock may have been asked again.
    const far = ahead(), now = performance.now() / 1000, at = lead(), soon = audio().currentTime + 0.05;
    for (const [key, going] of this.going) {
      if (going.when > soon && Math.abs(at + this.moment(going.at) - going.meant) > STRAYED) { going.source.stop(); this.going.delete(key); }
    }
    for (const sound of this.sounds) {
      const moment = this.moment(sound.at);
      const key = this.key(sound);
      if (moment - now < -0.005 || moment - now > far || this.going.has(key)) continue;
      const meant = at + moment;
      const when = Math.max(meant - latency(), audio().currentTime);
      this.going.set(key, { source: play(audio(), sound, when), when, meant, at: sound.at });
      this.heard.set(key, { at: sound.at, name: sound.tone ?? sound.prompt, when });
    }
  }
  silence() {
    clearInterval(this.timer);
    this.timer = null;
    for (const { source } of this.going.values()) source.stop();
    this.going.clear();
  }
}

export function sayNow(names, at = null) {
  let when = at ?? audio().currentTime + 0.05;
  const sources = [];
  for (const name of names) {
    sources.push(play(audio(), { prompt: name }, when));
    when += prompts.get(name).duration + PAUSE;
  }
  return { sources, ends: when };
}
export const beep = (name) => play(audio(), { tone: name }, audio().currentTime + 0.03);

// Microphone and click on one clock: the click is set to start on a frame, and what comes in is recorded from that very
// frame on. Frames are those of the AudioContext.

/** Seconds recorded after the click has ended: the last note rings, and the set-up is late. */
const TAIL_S = 1.5;
/** The click starts on a multiple of this, seconds: a whole frame at every rate, and exact as a number. */
const START_S = 0.5;
/** What counts as full scale. */
const FULL = 0.9999;
/** What a browser does to speech, and must not do to a guitar. */
const PROCESSING = { echoCancellation: "echo cancellation", noiseSuppression: "noise suppression", autoGainControl: "automatic gain" };

/** Why there is no microphone, in a sentence. */
function noMicrophone(error) {
  const name = error?.name;
  if (!navigator.mediaDevices?.getUserMedia || !window.AudioWorkletNode) return "This browser cannot record here. Open the address that starts with 127.0.0.1 in a current browser.";
  if (name === "NotAllowedError" || name === "SecurityError") return "The browser was not allowed to use the microphone. Allow it for this address, by the sign beside the address or in the browser's settings, and press the button again.";
  if (name === "NotFoundError" || name === "OverconstrainedError") return "No microphone was found. Plug in an interface or a microphone and press the button again.";
  if (name === "NotReadableError" || name === "AbortError") return "The microphone is in use by another program, or the system gives no sound from it. Close the other program and press the button again.";
  return `The microphone could not be turned on: ${error?.message ?? error}.`;
}

class Recorder {
  /** `told` is called with the level (peak, 0 to 1) and the context's time of it. */
  constructor(told) {
    this.told = told;
    this.under = null;
  }

  get rate() { return this.context.sampleRate; }
  get open() { return Boolean(this.stream?.getAudioTracks().some((t) => t.readyState === "live")); }
  get now() { return this.context.currentTime; }

  /** What the browser still does to the sound, in words. */
  get processing() {
    return Object.entries(PROCESSING).filter(([key]) => this.settings[key]).map(([, words]) => words);
  }

  /** The input's and the rate's name: a delay belongs to both. */
  get setUp() { return `${this.stream.getAudioTracks()[0].label || "input"}, recorded in the page at ${this.rate} Hz`; }

  async turnOn(device) {
    await this.turnOff();
    const off = Object.fromEntries(Object.keys(PROCESSING).map((key) => [key, false]));
    const audio = { ...off, channelCount: { ideal: 2 }, ...(device ? { deviceId: { exact: device } } : {}) };
    this.stream = await navigator.mediaDevices.getUserMedia({ audio });
    const track = this.stream.getAudioTracks()[0];
    this.settings = track.getSettings();
    // At the microphone's own rate nothing is converted on the way in.
    this.context = new AudioContext({ latencyHint: "playback", ...(this.settings.sampleRate ? { sampleRate: this.settings.sampleRate } : {}) });
    await this.context.audioWorklet.addModule("/assets/recorder-worklet.js");
    this.channels = Math.min(2, this.settings.channelCount ?? 1);
    this.node = new AudioWorkletNode(this.context, "takegauge-recorder", { numberOfOutputs: 1, outputChannelCount: [1] });
    this.node.port.onmessage = ({ data }) => this.hear(data);
    this.source = this.context.createMediaStreamSource(this.stream);
    // The node's own output is silent: the microphone is not heard.
    this.source.connect(this.node).connect(this.context.destination);
    await this.context.resume();
    track.addEventListener("ended", () => this.under?.fail(new Error("The microphone was unplugged or turned off.")));
  }

  async turnOff() {
    this.stream?.getTracks().forEach((t) => t.stop());
    await this.context?.close();
    this.stream = this.context = null;
  }

  hear(data) {
    if (data.peak !== undefined) this.told(data.peak, data.frame / this.rate);
    if (!this.under) return;
    if (data.pieces) this.under.pieces.push(data.pieces);
    if (data.done) this.under.done(data.lost);
  }

  /**
   * Plays `click` (an AudioBuffer at the context's rate) and records from its first frame to its end and a tail.
   * `first` is when the playing begins, seconds after the click's start: stopped before, nothing is kept.
   * `started` gets the context's time at which it starts. Resolves to { file, seconds, lost, full } or, when cancelled, to null.
   */
  async take(click, first, started) {
    if (this.under) throw new Error("A recording is under way.");
    const at = Math.ceil((this.now + 0.25) / START_S) * START_S, from = Math.round(at * this.rate);
    const source = new AudioBufferSourceNode(this.context, { buffer: click });
    source.connect(this.context.destination);
    const pieces = [];
    try {
      const lost = await new Promise((done, fail) => {
        this.under = { pieces, done, fail, plays: at + first };
        this.node.port.postMessage({ record: { from, to: from + click.length + Math.round(TAIL_S * this.rate), channels: this.channels } });
        source.start(at);
        started(at);
      });
      if (lost === null) return null;
      const frames = pieces.reduce((n, p) => n + p[0].length, 0);
      const full = pieces.flat().reduce((n, p) => n + p.reduce((k, x) => k + (Math.abs(x) >= FULL ? 1 : 0), 0), 0);
      return { file: wav(pieces, this.channels, this.rate), seconds: frames / this.rate, lost: lost / this.rate, full };
    } finally {
      source.stop();
      this.under = null;
    }
  }

  /** Ends a recording where it is: what was played is kept, a count-in is forgotten. */
  stop() {
    if (this.now >= this.under.plays) this.node.port.postMessage({ stop: true });
    else {
      this.node.port.postMessage({ drop: true });
      this.under.done(null);
    }
  }

  /** A sound of this server as an AudioBuffer, and the head of its answer. */
  async fetched(address) {
    const answer = await fetch(address);
    if (!answer.ok) throw new Error(sentence(await answer.text()));
    return { sound: await this.context.decodeAudioData(await answer.arrayBuffer()), head: answer.headers };
  }
}

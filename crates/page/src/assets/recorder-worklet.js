"use strict";
// Hands on what the microphone brings, sample by sample, and how loud it is. It runs where the browser makes its sound,
// so that click and recording count the same frames.

/** Frames handed on at a time. */
const PIECE = 16384;
/** Levels told a second. */
const LEVELS = 15;
/** Sound that breaks off from above this into exact silence, full scale 1, is a hole and no rest. */
const ABRUPT = 0.001;

registerProcessor("takegauge-recorder", class extends AudioWorkletProcessor {
  constructor() {
    super();
    this.span = null;
    this.peak = 0;
    this.nextLevel = 0;
    this.port.onmessage = ({ data }) => {
      if (data.record) this.span = { ...data.record, pieces: null, filled: 0, lost: 0, last: 0, hole: false };
      else if (data.stop && this.span) this.span.to = Math.max(this.span.from, Math.min(this.span.to, currentFrame));
      else if (data.drop) this.span = null;
    };
  }

  process([input], [output]) {
    const frames = output[0].length;
    for (const channel of input) for (const x of channel) if (Math.abs(x) > this.peak) this.peak = Math.abs(x);
    if (currentFrame >= this.nextLevel) {
      this.port.postMessage({ peak: this.peak, frame: currentFrame });
      this.peak = 0;
      this.nextLevel = currentFrame + sampleRate / LEVELS;
    }
    if (this.span) this.take(input, frames);
    return true;
  }

  take(input, frames) {
    const span = this.span;
    let at = Math.max(0, span.from - currentFrame);
    const end = Math.min(frames, span.to - currentFrame);
    while (at < end) {
      span.pieces ??= Array.from({ length: span.channels }, () => new Float32Array(PIECE));
      const n = Math.min(end - at, PIECE - span.filled);
      span.pieces.forEach((piece, c) => {
        // A microphone that brings fewer channels than it said fills the others with its last one.
        const from = input[Math.min(c, input.length - 1)];
        if (from) piece.set(from.subarray(at, at + n), span.filled);
      });
      if (this.isHole(input, at, n)) span.lost += n;
      span.filled += n;
      at += n;
      if (span.filled === PIECE) this.hand();
    }
    if (currentFrame + frames < span.to) return;
    this.hand();
    this.port.postMessage({ done: true, lost: span.lost });
    this.span = null;
  }

  /** Whether the browser had no sound for these frames: an input that is gone, or a block of zeros behind loud sound. */
  isHole(input, at, n) {
    const span = this.span, silent = input.every((channel) => channel.subarray(at, at + n).every((x) => x === 0));
    span.hole = silent && (span.hole || span.last > ABRUPT);
    span.last = Math.max(0, ...input.map((channel) => Math.abs(channel[at + n - 1])));
    return span.hole || !input.length;
  }

  hand() {
    const { pieces, filled } = this.span;
    if (!pieces) return;
    this.port.postMessage({ pieces: pieces.map((p) => p.subarray(0, filled)) }, pieces.map((p) => p.buffer));
    this.span.pieces = null;
    this.span.filled = 0;
  }
});

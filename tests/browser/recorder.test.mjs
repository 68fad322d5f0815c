// What records in the page, fed block by block without a browser: which frames are taken, what counts as a hole, and that
// the file holds the samples.
import assert from "node:assert/strict";
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import vm from "node:vm";
import { folder, root } from "./browser.mjs";
import { read } from "./wav.mjs";

const asset = (name) => readFileSync(join(root, "crates/page/src/assets", name), "utf8");
const BLOCK = 128;

/** A recorder as an AudioContext runs it; `feed` gives it the next blocks of channels. */
function recorder() {
  let made;
  const told = [];
  const port = { postMessage: (data) => told.push(data) };
  const scope = vm.createContext({ sampleRate: 48000, currentFrame: 0, AudioWorkletProcessor: class { constructor() { this.port = port; } }, registerProcessor: (_, kind) => { made = kind; } });
  vm.runInContext(asset("recorder-worklet.js"), scope);
  const one = new made();
  return {
    tell: (data) => port.onmessage({ data }),
    feed(channels, frames) {
      for (let at = 0; at < frames; at += BLOCK) {
        assert.equal(one.process([channels.map((c) => c.subarray(at, at + BLOCK))], [[new Float32Array(BLOCK)]]), true);
        scope.currentFrame += BLOCK;
      }
    },
    get levels() { return told.filter((m) => m.peak !== undefined); },
    get done() { return told.find((m) => m.done); },
    /** Everything handed on, channel by channel. */
    get sound() {
      const pieces = told.filter((m) => m.pieces).map((m) => m.pieces);
      return Array.from(pieces[0] ?? [], (_, c) => pieces.flatMap((p) => [...p[c]]));
    },
  };
}

const ramp = (n, from = 1) => Float32Array.from({ length: n }, (_, i) => (from + i) / 65536);

test("exactly the frames asked for are handed on, whatever the blocks", () => {
  for (const [from, to] of [[0, 128], [100, 101], [127, 40000], [130, 300]]) {
    const r = recorder(), left = ramp(40960), right = ramp(40960, 7);
    r.tell({ record: { from, to, channels: 2 } });
    r.feed([left, right], 40960);
    assert.deepEqual(r.sound, [[...left.subarray(from, to)], [...right.subarray(from, to)]], `${from} to ${to}`);
    assert.deepEqual({ ...r.done }, { done: true, lost: 0 });
  }
});

test("a stop keeps what was played, a drop nothing; a missing channel is filled", () => {
  const sound = ramp(1280), r = recorder();
  r.tell({ record: { from: 10, to: 1e9, channels: 2 } });
  r.feed([sound], 640);
  assert.equal(r.done, undefined);
  r.tell({ stop: true });
  r.feed([sound.subarray(640)], 640);
  assert.deepEqual(r.sound, [[...sound.subarray(10, 640)], [...sound.subarray(10, 640)]]);
  assert.equal(r.done.lost, 0);
  const dropped = recorder();
  dropped.tell({ record: { from: 0, to: 1280, channels: 1 } });
  dropped.feed([sound], 640);
  dropped.tell({ drop: true });
  dropped.feed([sound.subarray(640)], 640);
  assert.deepEqual([dropped.sound, dropped.done], [[], undefined]);
});

test("sound that breaks off is a hole, a rest is none, an input that is gone is one", () => {
  const loud = new Float32Array(BLOCK).fill(0.5), none = new Float32Array(BLOCK), soft = new Float32Array(BLOCK).fill(1e-4);
  for (const [blocks, lost] of [
    [[[loud], [none], [none], [loud]], 2 * BLOCK],
    [[[none], [none], [loud], [soft], [none], [loud]], 0],
    [[[loud], [], [loud]], BLOCK],
    [[[], [], [loud]], 2 * BLOCK],
  ]) {
    const r = recorder();
    r.tell({ record: { from: 0, to: blocks.length * BLOCK, channels: 1 } });
    for (const block of blocks) r.feed(block, BLOCK);
    assert.equal(r.done.lost, lost);
    assert.equal(r.sound[0].length, blocks.length * BLOCK);
  }
});

test("the level is the peak of all channels since it was last told", () => {
  const r = recorder(), quiet = new Float32Array(48000).fill(0.01), loud = Float32Array.from(quiet);
  loud[30000] = -0.7;
  r.feed([quiet, loud], 48000);
  assert.ok(r.levels.length >= 14 && r.levels.length <= 16, String(r.levels.length));
  assert.deepEqual(r.levels.filter((l) => l.peak > 0.5).map((l) => Math.round(10 * l.peak)), [7]);
});

test("the file holds each sample, rounded once to 24 bits and clipped at full scale", async () => {
  const make = vm.runInNewContext(`${asset("wav.js")}; wav`, { Blob, DataView, ArrayBuffer, Math });
  const left = Float32Array.from([0, 1, -1, 1.5, -2, 0.5, 1e-7, -1e-7, 6.1e-8, 0.123456789]), right = Float32Array.from(left, (x) => -x);
  for (const channels of [1, 2]) {
    const path = join(folder("wav"), "a.wav"), pieces = [[left.subarray(0, 3), right.subarray(0, 3)], [left.subarray(3), right.subarray(3)]];
    writeFileSync(path, Buffer.from(await make(pieces.map((p) => p.slice(0, channels)), channels, 44100).arrayBuffer()));
    const { rate, bits, samples } = read(path);
    assert.deepEqual([rate, bits, samples.length], [44100, 24, left.length]);
    samples.forEach((x, i) => assert.ok(Math.abs(x - Math.max(-1, Math.min(1 - 2 ** -23, left[i]))) <= 2 ** -24, `${i}: ${x} for ${left[i]}`));
  }
});

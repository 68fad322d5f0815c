// WAV files of whole numbers, 16 or 24 bits, first channel; enough for what the tests write and the page records.
import { readFileSync, writeFileSync } from "node:fs";

export function read(path) {
  const b = readFileSync(path);
  let at = 12, rate, channels, bits;
  for (;;) {
    const name = b.toString("latin1", at, at + 4), size = b.readUInt32LE(at + 4);
    if (name === "fmt ") [channels, rate, bits] = [b.readUInt16LE(at + 10), b.readUInt32LE(at + 12), b.readUInt16LE(at + 22)];
    if (name === "data") {
      const bytes = bits / 8, full = 2 ** (bits - 1), frames = Math.floor(size / (channels * bytes));
      const samples = Float64Array.from({ length: frames }, (_, i) => b.readIntLE(at + 8 + i * channels * bytes, bytes) / full);
      return { rate, bits, samples };
    }
    at += 8 + size + (size % 2);
  }
}

/** One channel of 16 bits. */
export function write(path, { rate, samples }) {
  const b = Buffer.alloc(44 + 2 * samples.length);
  b.write("RIFF"); b.writeUInt32LE(b.length - 8, 4); b.write("WAVEfmt ", 8); b.writeUInt32LE(16, 16);
  b.writeUInt16LE(1, 20); b.writeUInt16LE(1, 22); b.writeUInt32LE(rate, 24); b.writeUInt32LE(2 * rate, 28);
  b.writeUInt16LE(2, 32); b.writeUInt16LE(16, 34); b.write("data", 36); b.writeUInt32LE(2 * samples.length, 40);
  samples.forEach((x, i) => b.writeInt16LE(Math.max(-32768, Math.min(32767, Math.round(x * 32768))), 44 + 2 * i));
  writeFileSync(path, b);
}

export const slice = (wav, from, to) => ({ ...wav, samples: Float64Array.from({ length: to - from }, (_, i) => wav.samples[from + i] ?? 0) });
export const silence = (wav, seconds) => ({ ...wav, samples: new Float64Array(Math.round(seconds * wav.rate)) });
export const concat = (...wavs) => ({ ...wavs[0], samples: Float64Array.from(wavs.flatMap((w) => [...w.samples])) });

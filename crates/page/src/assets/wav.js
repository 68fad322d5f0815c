// A recording as a WAV file of 24-bit integers.

/** `pieces` are lists of channels, in order; each sample is rounded once and nothing else is done to it. */
function wav(pieces, channels, rate) {
  const frames = pieces.reduce((n, p) => n + p[0].length, 0), bytes = frames * channels * 3;
  const view = new DataView(new ArrayBuffer(44 + bytes + (bytes % 2)));
  const text = (at, letters) => [...letters].forEach((l, i) => view.setUint8(at + i, l.charCodeAt(0)));
  text(0, "RIFF"); view.setUint32(4, 36 + bytes + (bytes % 2), true); text(8, "WAVEfmt ");
  view.setUint32(16, 16, true); view.setUint16(20, 1, true); view.setUint16(22, channels, true);
  view.setUint32(24, rate, true); view.setUint32(28, rate * channels * 3, true);
  view.setUint16(32, channels * 3, true); view.setUint16(34, 24, true);
  text(36, "data"); view.setUint32(40, bytes, true);
  let at = 44;
  for (const piece of pieces) for (let n = 0; n < piece[0].length; n++) for (let c = 0; c < channels; c++) {
    const x = Math.max(-8388608, Math.min(8388607, Math.round(piece[c][n] * 8388608)));
    view.setInt16(at, x & 0xffff, true);
    view.setInt8(at + 2, x >> 16);
    at += 3;
  }
  return new Blob([view.buffer], { type: "audio/wav" });
}

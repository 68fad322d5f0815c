// The take on a still axis: waveform, grid, every note's deviation in ms with its uncertainty.
class Timeline {
  constructor(canvas, data, onSelect) {
    this.canvas = canvas;
    this.data = data;
    this.onSelect = onSelect;
    this.selected = -1;
    this.marked = new Set();
    this.playhead = null;
    const n = data.notes;
    this.count = n.at.length;
    this.reach = data.reach_ms;
    const last = this.count ? n.at[this.count - 1] : data.duration_s;
    this.full = [0, Math.max(data.duration_s, last, 0.5)];
    const from = this.count ? Math.max(0, n.at[0] - 0.3) : 0;
    this.view = [from, Math.min(this.full[1], Math.max(last + 0.3, from + 0.5))];
    this.home = [...this.view];
    this.listen();
    new ResizeObserver(() => this.draw()).observe(canvas);
  }

  ask() {
    if (this.asked) return;
    this.asked = true;
    requestAnimationFrame(() => { this.asked = false; this.paint(); });
  }

  draw() { this.ask(); }

  x(t) { return this.left + ((t - this.view[0]) / (this.view[1] - this.view[0])) * this.width; }
  t(x) { return this.view[0] + ((x - this.left) / this.width) * (this.view[1] - this.view[0]); }
  y(ms) { return this.middle - (Math.max(-this.reach, Math.min(this.reach, ms)) / this.reach) * this.half; }

  zoom(factor, at) {
    const span = this.view[1] - this.view[0];
    const next = Math.max(0.2, Math.min(this.full[1] - this.full[0], span * factor));
    const share = (at - this.view[0]) / span;
    this.show(at - share * next, next);
  }

  show(from, span) {
    from = Math.max(this.full[0], Math.min(this.full[1] - span, from));
    this.view = [from, from + span];
    this.draw();
  }

  pan(share) { const span = this.view[1] - this.view[0]; this.show(this.view[0] + share * span, span); }

  /** Brings a time into sight, zoomed to a few seconds. */
  reveal(t) {
    const span = Math.min(this.view[1] - this.view[0], 4);
    this.show(t - span / 2, span);
  }

  select(i, reveal) {
    if (i < 0 || i >= this.count) return;
    this.selected = i;
    const t = this.data.notes.at[i];
    if (reveal || t < this.view[0] || t > this.view[1]) this.reveal(t);
    this.onSelect(i);
    this.draw();
  }

  first(t) {
    const at = this.data.notes.at;
    let a = 0, b = this.count;
    while (a < b) { const m = (a + b) >> 1; if (at[m] < t) a = m + 1; else b = m; }
    return a;
  }

  near(px, py) {
    const n = this.data.notes;
    let best = -1, least = 18 * 18;
    for (let i = this.first(this.t(px - 18)); i < this.count && this.x(n.at[i]) <= px + 18; i++) {
      const dy = n.dev[i] === null ? 0 : this.y(n.dev[i]) - py;
      const d = (this.x(n.at[i]) - px) ** 2 + dy * dy * 0.25;
      if (d < least) { least = d; best = i; }
    }
    return best;
  }

  listen() {
    const c = this.canvas;
    let from = null, moved = false;
    c.addEventListener("pointerdown", (e) => { from = [e.offsetX, ...this.view]; moved = false; c.setPointerCapture(e.pointerId); });
    c.addEventListener("pointermove", (e) => {
      if (!from) return;
      const dx = e.offsetX - from[0];
      if (Math.abs(dx) > 4) moved = true;
      if (moved) this.show(from[1] - (dx / this.width) * (from[2] - from[1]), from[2] - from[1]);
    });
    c.addEventListener("pointerup", (e) => {
      if (from && !moved) { const i = this.near(e.offsetX, e.offsetY); if (i >= 0) this.select(i, false); }
      from = null;
    });
    c.addEventListener("pointercancel", () => { from = null; });
    c.addEventListener("wheel", (e) => {
      if (!e.ctrlKey && !e.metaKey && document.activeElement !== c) return;
      e.preventDefault();
      this.zoom(Math.exp(Math.sign(e.deltaY) * 0.25), this.t(e.offsetX));
    }, { passive: false });
    c.addEventListener("keydown", (e) => this.key(e));
  }

  key(e) {
    const centre = this.selected >= 0 ? this.data.notes.at[this.selected] : (this.view[0] + this.view[1]) / 2;
    const actions = {
      "+": () => this.zoom(0.6, centre), "=": () => this.zoom(0.6, centre), "-": () => this.zoom(1 / 0.6, centre),
      "ArrowLeft": () => (e.shiftKey ? this.pan(-0.25) : this.select(Math.max(0, this.selected - 1), false)),
      "ArrowRight": () => (e.shiftKey ? this.pan(0.25) : this.select(Math.min(this.count - 1, this.selected + 1), false)),
      "Home": () => { this.view = [...this.home]; this.draw(); },
      "PageUp": () => this.pan(-0.8), "PageDown": () => this.pan(0.8),
    };
    if (actions[e.key]) { actions[e.key](); e.preventDefault(); }
  }

  colours() {
    if (this.onPaper) return { ink: "#000", soft: "#333", faint: "#ccc", red: "#8a3600", blue: "#004a77", wave: "#bbb" };
    const s = getComputedStyle(document.documentElement);
    const get = (k) => s.getPropertyValue("--" + k).trim();
    return { ink: get("ink"), soft: get("soft"), faint: get("faint"), red: get("red"), blue: get("blue"), wave: get("wave") };
  }

  paint() {
    const c = this.canvas, dpr = window.devicePixelRatio || 1;
    const w = c.clientWidth, h = c.clientHeight;
    if (!w || !h) return;
    if (c.width !== Math.round(w * dpr) || c.height !== Math.round(h * dpr)) { c.width = Math.round(w * dpr); c.height = Math.round(h * dpr); }
    const g = c.getContext("2d");
    g.setTransform(dpr, 0, 0, dpr, 0, 0);
    g.clearRect(0, 0, w, h);
    this.left = 46; this.width = w - this.left - 10;
    const waveTop = 6, waveHeight = this.data.wave ? Math.max(30, h * 0.16) : 0;
    const top = waveTop + waveHeight + 12, bottom = h - 24;
    this.middle = (top + bottom) / 2; this.half = (bottom - top) / 2;
    const k = this.colours();
    g.font = "11px system-ui, sans-serif";
    this.wave(g, k, waveTop, waveHeight);
    this.axes(g, k, top, bottom);
    this.notes(g, k, top, bottom);
    if (this.playhead !== null && this.playhead >= this.view[0] && this.playhead <= this.view[1]) {
      g.strokeStyle = k.blue; g.lineWidth = 1; g.beginPath();
      const x = this.x(this.playhead); g.moveTo(x, waveTop); g.lineTo(x, bottom); g.stroke();
    }
  }

  wave(g, k, top, height) {
    const v = this.data.wave;
    if (!v) return;
    const mid = top + height / 2, scale = height / 2 / Math.max(1, v.peak);
    g.fillStyle = k.wave;
    const step = (this.view[1] - this.view[0]) / this.width;
    for (let px = 0; px < this.width; px++) {
      const t = this.view[0] + px * step;
      const a = Math.floor(t / v.step_s), b = Math.max(a + 1, Math.floor((t + step) / v.step_s));
      let lo = 0, hi = 0;
      for (let i = Math.max(0, a); i < Math.min(b, v.low.length); i++) { if (v.low[i] < lo) lo = v.low[i]; if (v.high[i] > hi) hi = v.high[i]; }
      g.fillRect(this.left + px, mid - hi * scale, 1, Math.max(1, (hi - lo) * scale));
    }
  }

  axes(g, k, top, bottom) {
    g.lineWidth = 1; g.textAlign = "right"; g.textBaseline = "middle";
    const step = niceStep((this.reach * 2) / 6);
    for (let ms = -Math.floor(this.reach / step) * step; ms <= this.reach; ms += step) {
      const y = Math.round(this.y(ms)) + 0.5;
      g.strokeStyle = Math.abs(ms) < 1e-9 ? k.soft : k.faint;
      g.beginPath(); g.moveTo(this.left, y); g.lineTo(this.left + this.width, y); g.stroke();
      g.fillStyle = k.soft;
      g.fillText((ms > 0 ? "+" : "") + Math.round(ms), this.left - 5, y);
    }
    g.textAlign = "left"; g.textBaseline = "alphabetic";
    g.fillText("late, ms", this.left + 4, top + 12);
    g.fillText("early", this.left + 3, bottom - 4);
    g.textAlign = "center";
    const span = this.view[1] - this.view[0], every = niceStep(span / Math.max(2, this.width / 72));
    for (let t = Math.ceil(this.view[0] / every) * every; t <= this.view[1]; t += every) {
      const x = Math.round(this.x(t)) + 0.5;
      g.strokeStyle = k.faint; g.beginPath(); g.moveTo(x, top); g.lineTo(x, bottom + 3); g.stroke();
      g.fillStyle = k.soft; g.fillText(t.toFixed(every < 0.1 ? 2 : every < 1 ? 1 : 0) + " s", x, bottom + 15);
    }
  }

  notes(g, k, top, bottom) {
    const n = this.data.notes, a = this.first(this.view[0]), b = this.first(this.view[1]);
    // On a narrow screen shapes lie over each other, and are still told apart; only many hundreds are too many to draw.
    const many = b - a > Math.max(600, this.width / 1.5), crowded = b - a > this.width / 3, detailed = b - a < this.width / 5;
    // Where the grid has a note: dotted, where the lines of time are whole.
    if (detailed) { g.strokeStyle = k.soft; g.setLineDash([1, 4]); for (let i = a; i < b; i++) { const x = Math.round(this.x(n.exp[i])) + 0.5; g.beginPath(); g.moveTo(x, top); g.lineTo(x, bottom); g.stroke(); } g.setLineDash([]); }
    const named = b - a < this.width / 36;
    if (many) this.dots(g, k, a, b);
    g.fillStyle = k.ink; g.textAlign = "left";
    for (let i = a; i < b; i++) {
      if (n.dev[i] === null) continue;
      const x = this.x(n.at[i]), y = this.y(n.dev[i]);
      const marked = this.marked.has(i);
      if (many && !marked) continue;
      if (n.unc[i] !== null && detailed) { g.strokeStyle = k.soft; g.beginPath(); g.moveTo(x, this.y(n.dev[i] - n.unc[i])); g.lineTo(x, this.y(n.dev[i] + n.unc[i])); g.stroke(); }
      g.strokeStyle = k.ink; g.lineWidth = crowded ? 1.1 : 1.4;
      drawMark(g, n.kind[i], x, y, marked ? 5 : crowded ? 3 : 3.6);
      if (named) { g.fillStyle = k.soft; g.fillText(n.string[i] + ":" + n.fret[i], x + 7, y - 6); g.fillStyle = k.ink; }
      if (marked) { g.strokeStyle = k.blue; g.strokeRect(x - 8, y - 8, 16, 16); }
      if (n.status[i] === 2) { g.strokeStyle = k.red; g.beginPath(); g.arc(x, y, 7.5, 0, 7); g.stroke(); }
      g.lineWidth = 1;
    }
    if (many) { g.fillStyle = k.soft; g.textAlign = "right"; g.fillText("so many notes are dots; closer they have their shapes", this.left + this.width - 4, bottom - 4); }
    this.faults(g, k, top, bottom, a, b);
    if (this.selected >= a && this.selected < b) {
      const x = this.x(n.at[this.selected]);
      g.strokeStyle = k.blue; g.setLineDash([3, 3]); g.beginPath(); g.moveTo(x, top); g.lineTo(x, bottom); g.stroke(); g.setLineDash([]);
    }
  }

  /** Tens of thousands of notes as one picture of dots on whole pixels: a call a note would cost it its smoothness. */
  dots(g, k, a, b) {
    const n = this.data.notes, w = this.canvas.width, h = this.canvas.height, dpr = window.devicePixelRatio || 1;
    this.sheet ??= document.createElement("canvas");
    if (this.grain?.width !== w || this.grain.height !== h) {
      this.sheet.width = w; this.sheet.height = h;
      this.grain = new ImageData(w, h);
    }
    // Only how opaque each pixel is; the ink is poured over it, whatever colour it is.
    const bits = new Uint32Array(this.grain.data.buffer), side = Math.max(1, Math.round(2 * dpr));
    bits.fill(0);
    for (let i = a; i < b; i++) {
      if (n.dev[i] === null || this.marked.has(i)) continue;
      const x = Math.round((Math.round(this.x(n.at[i])) - 1) * dpr), y = Math.round((Math.round(this.y(n.dev[i])) - 1) * dpr);
      for (let v = Math.max(0, y); v < Math.min(h, y + side); v++) bits.fill(0xff000000, v * w + Math.max(0, x), v * w + Math.min(w, x + side));
    }
    const s = this.sheet.getContext("2d");
    s.putImageData(this.grain, 0, 0);
    s.globalCompositeOperation = "source-in";
    s.fillStyle = k.ink;
    s.fillRect(0, 0, w, h);
    g.drawImage(this.sheet, 0, 0, w / dpr, h / dpr);
  }

  faults(g, k, top, bottom, a, b) {
    const n = this.data.notes;
    g.textAlign = "center"; g.lineWidth = 1.6;
    let clear = -1e9;
    for (let i = a; i < b; i++) {
      if (n.status[i] !== 1) continue;
      const x = this.x(n.at[i]), y = bottom - 8;
      g.strokeStyle = k.red; g.beginPath(); g.moveTo(x - 4, y - 4); g.lineTo(x + 4, y + 4); g.moveTo(x - 4, y + 4); g.lineTo(x + 4, y - 4); g.stroke();
      if (x - clear > 62) { g.fillStyle = k.red; g.fillText("not heard", x, y - 8); clear = x; }
    }
    clear = -1e9;
    for (const e of this.data.extra) {
      if (e[0] < this.view[0] || e[0] > this.view[1]) continue;
      const x = this.x(e[0]), y = top + 18;
      g.strokeStyle = k.blue; g.beginPath(); g.moveTo(x - 5, y); g.lineTo(x + 5, y); g.moveTo(x, y - 5); g.lineTo(x, y + 5); g.stroke();
      if (x - clear > 40) { g.fillStyle = k.blue; g.fillText("extra", x, y - 8); clear = x; }
    }
    g.lineWidth = 1;
  }
}

function niceStep(raw) {
  const power = 10 ** Math.floor(Math.log10(raw));
  for (const m of [1, 2, 5, 10]) if (raw <= m * power) return m * power;
  return 10 * power;
}

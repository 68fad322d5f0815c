// Hearing the take: whole, slowly with its pitch kept, or a loop around a note; a click on the fitted grid on top.
class Player {
  constructor(audio, data, onTime) {
    this.audio = audio;
    this.data = data;
    this.onTime = onTime;
    this.loop = null;
    this.loopKind = "off";
    this.clicks = false;
    this.ticker = null;
    audio.preservesPitch = true;
    audio.addEventListener("play", () => this.follow());
    audio.addEventListener("pause", () => { cancelAnimationFrame(this.ticker); this.onTime(audio.currentTime); });
  }

  static blobUrl(base64, type) {
    const raw = atob(base64), bytes = new Uint8Array(raw.length);
    for (let i = 0; i < raw.length; i++) bytes[i] = raw.charCodeAt(i);
    return URL.createObjectURL(new Blob([bytes], { type }));
  }

  speed(rate) { this.audio.playbackRate = rate; this.audio.preservesPitch = true; }

  /** Plays from a little before a note; with a loop, that stretch again and again. */
  around(i) {
    const n = this.data.notes, beat = this.data.beat_s;
    this.loop = this.range(i);
    this.audio.currentTime = this.loop ? this.loop[0] : Math.max(0, n.at[i] - beat);
    return this.audio.play();
  }

  range(i) {
    const n = this.data.notes, beat = this.data.beat_s;
    if (this.loopKind === "beats") return [Math.max(0, n.at[i] - beat), n.at[i] + beat];
    if (this.loopKind === "repeat") {
      let a = i, b = i;
      while (a > 0 && n.repeat[a - 1] === n.repeat[i] && n.pass[a - 1] === n.pass[i]) a--;
      while (b + 1 < n.at.length && n.repeat[b + 1] === n.repeat[i] && n.pass[b + 1] === n.pass[i]) b++;
      return [Math.max(0, n.at[a] - 0.05), n.at[b] + beat / 2];
    }
    return null;
  }

  follow() {
    let last = this.audio.currentTime;
    const tick = () => {
      const now = this.audio.currentTime;
      if (this.loop && now > this.loop[1]) { this.audio.currentTime = this.loop[0]; last = this.loop[0]; }
      else { if (this.clicks && now > last && now - last < 0.5) this.clickBetween(last, now); last = now; }
      this.onTime(now);
      if (!this.audio.paused) this.ticker = requestAnimationFrame(tick);
    };
    cancelAnimationFrame(this.ticker);
    this.ticker = requestAnimationFrame(tick);
  }

  clickBetween(a, b) {
    for (const [from, to, offset, beat] of this.data.grids) {
      if (a < from - beat || a > to) continue;
      const k = Math.ceil((a - offset) / beat);
      if (offset + k * beat < b) this.click();
    }
  }

  click() {
    this.context ??= new AudioContext();
    const c = this.context, o = c.createOscillator(), v = c.createGain();
    o.frequency.value = 1900; v.gain.setValueAtTime(0.25, c.currentTime); v.gain.exponentialRampToValueAtTime(0.001, c.currentTime + 0.03);
    o.connect(v).connect(c.destination); o.start(); o.stop(c.currentTime + 0.04);
  }
}

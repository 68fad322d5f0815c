// The film of the take: the frame at an attack, frame by frame, slowly, a change again and again, two moments side by side.
// Which frame is on the screen the browser says (requestVideoFrameCallback); nothing is decoded or judged here.
class Film {
  constructor(video, film, said) {
    this.video = video;
    this.film = film;
    this.said = said;
    this.shown = null;
    this.lengths = [];
    this.loop = null;
    this.queue = Promise.resolve();
    if (video.requestVideoFrameCallback) {
      const frame = (_, { mediaTime, presentedFrames }) => {
        const apart = this.shown === null ? 0 : mediaTime - this.shown;
        // While it plays, frames follow one another; one that was left out is no length.
        if (!video.paused && presentedFrames === this.count + 1 && apart > 0.001 && apart < 0.5) this.lengths = [apart, ...this.lengths].slice(0, 60);
        this.count = presentedFrames;
        this.shown = mediaTime;
        if (this.loop && !video.paused && mediaTime > this.loop[1]) video.currentTime = this.loop[0];
        this.told();
        video.requestVideoFrameCallback(frame);
      };
      video.requestVideoFrameCallback(frame);
    }
    video.addEventListener("timeupdate", () => { if (this.loop && !video.paused && video.currentTime > this.loop[1]) video.currentTime = this.loop[0]; });
    video.addEventListener("ended", () => { if (this.loop) { video.currentTime = this.loop[0]; video.play(); } });
  }

  /** Film seconds of a time of the take. */
  time(take) { return this.film.offset_s + take * (1 + this.film.drift_ppm / 1e6); }
  length() {
    const l = [...this.lengths].sort((a, b) => a - b);
    return l.length > 8 ? l[l.length >> 1] : (this.film.frame_ms ?? 1000 / 30) / 1000;
  }
  told() { this.said?.(this); }

  /** One after another: a seek that overtakes another shows neither. */
  then(work) { this.queue = this.queue.then(work, work); return this.queue; }

  /** Shows the frame at a film time; resolves when it is there. */
  async seek(to) {
    const v = this.video;
    if (v.readyState < 1) await new Promise((ready) => v.addEventListener("loadedmetadata", ready, { once: true }));
    to = Math.max(0, Math.min(to, (v.duration || to) - 0.0005));
    const painted = new Promise((done) => {
      if (v.requestVideoFrameCallback) v.requestVideoFrameCallback((_, m) => { this.shown = m.mediaTime; done(); });
    });
    const sought = new Promise((done) => v.addEventListener("seeked", done, { once: true }));
    v.currentTime = to;
    await sought;
    // The same frame again is not painted again.
    await Promise.race([painted, new Promise((done) => setTimeout(done, 120))]);
    if (!v.requestVideoFrameCallback) this.shown = v.currentTime;
    this.told();
  }

  stopAt(take) { this.video.pause(); return this.then(() => this.seek(this.time(take))); }

  /** One frame back or on, whatever the frames' lengths. */
  step(way) {
    this.video.pause();
    return this.then(async () => {
      const from = this.shown ?? this.video.currentTime, usual = this.length();
      if (way < 0) return this.seek(from - 0.001);
      for (let k = 0; k < 30 && this.shown === from; k++) await this.seek(from + (1.5 + k) * usual);
      // Further than a frame: back until the one before is where it came from.
      while (this.shown - from > usual + 0.0015) {
        const here = this.shown;
        await this.seek(here - 0.001);
        if (this.shown <= from || this.shown >= here) return this.seek(here + 0.0002);
      }
    });
  }
}


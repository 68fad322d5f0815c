const filmBox = $("film");
if (filmBox) {
  const n = data.notes, clip = data.film, videos = [...filmBox.querySelectorAll("video")], captions = [...filmBox.querySelectorAll("figcaption")];
  let list = [], place = -1, pair = [-1, -1], beside = false;
  const s = (v) => v.toFixed(3) + " s";
  const from = (v) => (Math.abs(v) < 0.5 ? "with it" : `${Math.abs(v).toFixed(0)} ms ${v < 0 ? "before" : "after"} it`);
  // What the frame on the screen is, against the attack that it was stopped for.
  const words = (k, f) => {
    const i = pair[k];
    if (i < 0) return "";
    const heard = n.status[i] === 1 ? "expected, not heard" : ms(n.dev[i] ?? 0);
    const name = `Note ${n.index[i] + 1}${n.from[i] ? `, ${KINDS[n.kind[i]] || "change"} ${n.from[i]} to ${n.string[i]}` : `, string ${n.string[i]}`}${n.stroke[i] ? `, ${n.stroke[i] === 1 ? "downstroke" : "upstroke"}` : ""}: ${heard}.`;
    if (f.shown === null) return name;
    return `${name} Attack at ${s(f.time(n.at[i]))} of the film; this frame begins ${from((f.shown - f.time(n.at[i])) * 1000)}, at ${s(f.shown)}.`;
  };
  const films = videos.map((v, k) => new Film(v, clip, (f) => { captions[k].textContent = words(k, f); if (k === 0) measured(f); }));
  const measured = (f) => {
    if (f.lengths.length <= 8) return;
    const l = f.lengths, longest = Math.max(...l) * 1000, usual = f.length() * 1000;
    // Where the film's own table says the same, once is enough; time stamps may be whole milliseconds.
    if (clip.frame_ms !== null && Math.abs(usual - clip.frame_ms) < 1.1 && longest < 1.5 * usual) return;
    $("film-frame").textContent = `A frame is ${usual.toFixed(1)} ms as it plays${longest > 1.5 * usual ? `, the longest ${longest.toFixed(0)} ms` : ""}: what is shorter the film cannot show.`;
  };
  const open = (source) => { for (const v of videos) { v.src = source; v.load(); } };
  const running = () => (beside ? films : films.slice(0, 1));

  // The change into a note: from just before the stroke that leaves to just after the new attack.
  const change = (f, i) => {
    const before = i > 0 && n.pass[i - 1] === n.pass[i] && n.at[i] - n.at[i - 1] < 2 ? n.at[i - 1] : n.at[i] - data.beat_s / 2;
    const margin = Math.max(0.06, 2 * f.length());
    return [Math.max(0, f.time(before) - margin), f.time(n.at[i]) + Math.max(0.1, margin)];
  };
  // The best of the same kind: the same strings and stroke where there is another such note, else the same kind of change.
  const best = (i) => {
    const others = n.at.flatMap((_, k) => (k !== i && n.status[k] === 0 && n.dev[k] !== null && covered(k) ? [k] : []));
    const alike = [(k) => n.from[k] === n.from[i] && n.string[k] === n.string[i] && n.stroke[k] === n.stroke[i], (k) => n.kind[k] === n.kind[i], () => true];
    const off = (k) => Math.abs(n.local?.[k] ?? n.dev[k]);
    for (const same of alike) {
      const kind = others.filter((k) => same(k) && n.kind[k] === n.kind[i]);
      if (kind.length) return kind.reduce((a, b) => (off(b) < off(a) ? b : a));
    }
    return -1;
  };
  const covered = (i) => n.at[i] >= clip.covers_s[0] && n.at[i] <= clip.covers_s[1];
  const show = (i) => {
    if (i < 0) return;
    pair = [i, best(i)];
    $("film-about").textContent = covered(i) ? (list.length > 1 ? `Note ${place + 1} of ${list.length} of the finding.` : "") : "The film does not show this moment.";
    films.forEach((f, k) => {
      if (pair[k] < 0 || (k === 1 && !beside)) return;
      f.loop = $("film-loop").checked ? change(f, pair[k]) : null;
      if (f.loop && !f.video.paused) { f.then(() => f.seek(f.loop[0])); return; }
      f.stopAt(n.at[pair[k]]);
    });
  };
  const choose = (rows) => { list = rows; $("film-back").disabled = $("film-on").disabled = rows.length < 2; };
  film = {
    list: choose,
    select: (i) => {
      if (!list.includes(i)) choose([i]);
      place = list.indexOf(i);
      show(i);
    },
  };
  const walk = (by) => { if (list.length) timeline.select(list[(place + by + list.length) % list.length], true); };
  const play = () => {
    const all = running();
    if (!all[0].video.paused) { all.forEach((f) => f.video.pause()); return; }
    if (audio) audio.pause();
    all.forEach((f) => { if (f.loop && (f.video.currentTime < f.loop[0] || f.video.currentTime >= f.loop[1])) f.video.currentTime = f.loop[0]; f.video.play().catch(() => {}); });
  };
  const loop = () => films.forEach((f, k) => { f.loop = $("film-loop").checked && pair[k] >= 0 ? change(f, pair[k]) : null; if (f.loop) f.then(() => f.seek(f.loop[0])); });
  const sideBySide = () => {
    beside = $("film-beside").getAttribute("aria-pressed") !== "true";
    $("film-beside").setAttribute("aria-pressed", beside);
    filmBox.classList.toggle("two", beside);
    videos[1].closest("figure").hidden = !beside;
    films.forEach((f) => f.video.pause());
    if (pair[0] < 0 && n.at.length) pair = [Math.max(0, timeline.selected), -1];
    show(pair[0]);
  };
  const speed = (rate) => { $("film-speed").value = String(rate); films.forEach((f) => { f.video.playbackRate = rate; f.video.preservesPitch = true; }); };
  const stop = () => show(pair[0]);
  const step = (way) => running().forEach((f) => f.step(way));

  videos[1].muted = true;
  videos[0].addEventListener("play", () => { $("film-play").textContent = "Pause the film"; });
  videos[0].addEventListener("pause", () => { $("film-play").textContent = "Play the film"; });
  videos[0].addEventListener("timeupdate", () => {
    if (videos[0].paused) return;
    timeline.playhead = (videos[0].currentTime - clip.offset_s) / (1 + clip.drift_ppm / 1e6);
    timeline.draw();
  });
  videos[0].addEventListener("loadedmetadata", () => {
    filmBox.classList.add("there");
    const long = videos[0].duration;
    $("film-lost").textContent = Number.isFinite(long) && (long < clip.duration_s - 1 || long > clip.duration_s + 10) ? `This file lasts ${long.toFixed(1)} s, the film that was matched ${clip.duration_s.toFixed(1)} s: is it another one?` : "";
    show(pair[0]);
  });
  videos[0].addEventListener("error", () => {
    filmBox.classList.remove("there");
    $("film-lost").textContent = videos[0].currentSrc.startsWith("blob:") ? "This browser cannot play the chosen file." : `The film is not where it was when this was written, or this browser cannot play it. Choose the file ${clip.name}.`;
  });
  $("film-file").addEventListener("change", (e) => { if (e.target.files[0]) open(URL.createObjectURL(e.target.files[0])); });
  for (const [id, act] of Object.entries({ "film-play": play, "film-frame-back": () => step(-1), "film-frame-on": () => step(1), "film-stop": stop, "film-back": () => walk(-1), "film-on": () => walk(1), "film-beside": sideBySide })) $(id).addEventListener("click", act);
  $("film-loop").addEventListener("change", loop);
  $("film-speed").addEventListener("change", (e) => speed(Number(e.target.value)));
  const keys = { " ": play, ",": () => step(-1), ".": () => step(1), ArrowLeft: () => step(-1), ArrowRight: () => step(1), a: stop, p: () => walk(-1), n: () => walk(1), b: sideBySide, l: () => { $("film-loop").checked = !$("film-loop").checked; loop(); }, 1: () => speed(1), 2: () => speed(0.5), 3: () => speed(0.25), 4: () => speed(0.125) };
  videos.forEach((v) => v.addEventListener("keydown", (e) => {
    if (!keys[e.key] || e.ctrlKey || e.metaKey || e.altKey) return;
    keys[e.key]();
    e.preventDefault();
  }));
  if (clip.src) open(clip.src);
  else $("film-lost").textContent = `Choose the film: the file ${clip.name}.`;
}

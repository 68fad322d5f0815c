// Two takes at the same step of the line: heard one against the other, and seen where both have a film.
const pair = $("pair");
if (pair) {
  const takes = JSON.parse($("pair-data").textContent).takes;
  const audio = [$("pair-sound-a"), $("pair-sound-b")], lines = [$("pair-line-a"), $("pair-line-b")];
  const step = $("pair-step"), time = $("pair-time"), NAMES = ["A", "B"];
  const late = ([, , v, heard]) => (v === null ? (heard ? "no time to tell" : "not heard") : v > 0.05 ? v.toFixed(1) + " ms late" : v < -0.05 ? (-v).toFixed(1) + " ms early" : "0.0 ms");
  let now = takes[0].sound ? 0 : 1, list = [], place = -1, films = null, ticker = null;

  for (let k = 0; k < Math.max(takes[0].times, takes[1].times); k++) time.append(new Option(`time ${k + 1}`, k));

  // A note of the step: of the chosen time, or the one nearest to the step's average; [time, at s, late ms, heard].
  const moment = (side) => {
    const all = takes[side].steps[step.value] ?? [];
    if (time.value !== "") return all.find((m) => m[0] === Number(time.value)) ?? null;
    const heard = all.filter((m) => m[2] !== null);
    if (!heard.length) return all[0] ?? null;
    const mean = heard.reduce((sum, m) => sum + m[2], 0) / heard.length;
    return heard.reduce((best, m) => (Math.abs(m[2] - mean) < Math.abs(best[2] - mean) ? m : best));
  };
  const at = (side) => moment(side)?.[1] ?? null;
  const lead = (side) => Math.max(0, at(side) - takes[side].beat_s);

  const told = (more) => {
    const words = takes.map((t, k) => {
      const m = moment(k);
      return m ? `${NAMES[k]}: time ${m[0] + 1} of ${t.times}, ${late(m)}.` : `${NAMES[k]}: this step was not reached.`;
    });
    if (list.length > 1) words.push(`Step ${place + 1} of ${list.length} of the finding.`);
    $("pair-about").textContent = [...words, more].filter(Boolean).join(" ");
    for (const [k, id] of ["pair-a", "pair-b"].entries()) {
      $(id).setAttribute("aria-pressed", now === k);
      $(id).disabled = !takes[k].sound || at(k) === null;
    }
    $("pair-play").disabled = !takes[now].sound || at(now) === null;
    $("pair-play").textContent = audio[now].paused ? "Play" : "Stop";
    lines.forEach((line) => line?.querySelectorAll(".note").forEach((g) => g.classList.toggle("chosen", g.dataset.step === step.value)));
    $("pair-back").disabled = $("pair-on").disabled = list.length < 2;
  };

  // The louder take is turned down to the other: of two the louder one seems the better.
  const levels = () => {
    const [a, b] = takes.map((t) => t.level_db);
    const even = $("pair-level").checked && a !== null && b !== null;
    audio.forEach((sound, k) => { sound.volume = even ? Math.min(1, 10 ** ((Math.min(a, b) - [a, b][k]) / 20)) : 1; });
  };
  const speed = () => {
    const rate = Number($("pair-speed").value);
    for (const sound of audio) { sound.playbackRate = rate; sound.preservesPitch = true; }
    films?.forEach((f) => { f.video.playbackRate = rate; });
  };

  const stop = () => { audio.forEach((a) => a.pause()); cancelAnimationFrame(ticker); told(); };
  const follow = () => {
    const sound = audio[now];
    if (sound.paused) return;
    if ($("pair-loop").checked && sound.currentTime > at(now) + takes[now].beat_s) sound.currentTime = lead(now);
    ticker = requestAnimationFrame(follow);
  };
  const start = (from) => {
    audio[1 - now].pause();
    if (!takes[now].sound || at(now) === null) return told();
    films?.forEach((f) => f.video.pause());
    audio[now].currentTime = from;
    speed();
    audio[now].play().then(() => { cancelAnimationFrame(ticker); follow(); told(); }, () => told());
    told();
  };
  const play = () => (audio[now].paused ? start(lead(now)) : stop());

  // The other take at the same place of the line: as many beats from the step.
  const turn = (to) => {
    if (to === now || !takes[to].sound || at(to) === null) return;
    const from = now, running = !audio[from].paused;
    const beats = at(from) === null ? -1 : (audio[from].currentTime - at(from)) / takes[from].beat_s;
    now = to;
    audio[from].pause();
    const here = Math.max(0, at(to) + beats * takes[to].beat_s);
    if (running) start(here); else { audio[to].currentTime = here; told(); }
  };

  const choose = (to, steps) => {
    if (steps) { list = steps; place = steps.indexOf(to); } else if (!list.includes(to)) { list = []; place = -1; } else place = list.indexOf(to);
    step.value = to;
    if (at(now) === null && at(1 - now) !== null && takes[1 - now].sound) now = 1 - now;
    told();
    films?.forEach((f, k) => { if (at(k) !== null) f.stopAt(at(k)); });
  };
  const again = () => { if (audio.some((a) => !a.paused)) start(lead(now)); };
  const walk = (by) => { if (list.length > 1) { choose(list[(place + by + list.length) % list.length], list); again(); } };

  step.addEventListener("change", () => { choose(step.value); again(); });
  time.addEventListener("change", () => { choose(step.value, list.length ? list : null); again(); });
  $("pair-speed").addEventListener("change", speed);
  $("pair-level").addEventListener("change", levels);
  for (const [id, act] of Object.entries({ "pair-play": play, "pair-a": () => turn(0), "pair-b": () => turn(1), "pair-back": () => walk(-1), "pair-on": () => walk(1) })) $(id).addEventListener("click", act);
  pair.querySelectorAll("[data-steps]").forEach((b) => b.addEventListener("click", () => {
    const steps = b.dataset.steps.split(" ");
    choose(steps[0], steps);
    start(lead(now));
  }));
  audio.forEach((sound, k) => {
    sound.addEventListener("ended", () => told());
    sound.addEventListener("error", () => {
      takes[k].sound = null;
      if (now === k && takes[1 - k].sound) now = 1 - k;
      told(`${NAMES[k]} cannot be heard: its recording is no longer where it was, or this browser cannot play it.`);
    });
  });

  // A note of either line: its step in both, A or B as it was clicked.
  lines.forEach((line, k) => {
    if (!line) return;
    const hear = (g) => {
      choose(g.dataset.step);
      if (takes[k].sound && at(k) !== null) { audio[1 - k].pause(); now = k; }
      if (takes[now].sound && at(now) !== null) start(lead(now));
    };
    line.querySelectorAll(".note").forEach((g) => g.addEventListener("click", () => hear(g)));
    line.addEventListener("keydown", (e) => {
      const all = [...line.querySelectorAll(".key")], i = all.indexOf(document.activeElement);
      if (i < 0) return;
      if (e.key === "Enter") { hear(all[i].parentNode); e.preventDefault(); return; }
      const to = { ArrowRight: i + 1, ArrowLeft: i - 1, Home: 0, End: all.length - 1 }[e.key];
      if (to === undefined || !all[to]) return;
      all[i].setAttribute("tabindex", "-1");
      all[to].setAttribute("tabindex", "0");
      all[to].focus();
      e.preventDefault();
    });
  });
  pair.addEventListener("keydown", (e) => {
    if (e.ctrlKey || e.metaKey || e.altKey) return;
    const own = e.target.closest("button, select, input, video"), keys = { x: () => turn(1 - now), n: () => walk(1), p: () => walk(-1) };
    if (e.target.closest("select")) return;
    const act = keys[e.key.toLowerCase()] ?? (e.key === " " && !own ? play : null);
    if (act) { act(); e.preventDefault(); }
  });

  const box = $("pair-films");
  if (box) {
    const captions = [...box.querySelectorAll("figcaption")], s = (v) => v.toFixed(3) + " s";
    films = [...box.querySelectorAll("video")].map((video, k) => new Film(video, takes[k].film, (f) => {
      const m = moment(k);
      if (m && f.shown !== null) captions[k].textContent = `${NAMES[k]}: ${late(m)}. Attack at ${s(f.time(m[1]))} of the film; this frame begins at ${s(f.shown)}.`;
    }));
    const toAttack = () => films.forEach((f, k) => { if (at(k) !== null) f.stopAt(at(k)); });
    const both = () => {
      if (!films[0].video.paused || !films[1].video.paused) return films.forEach((f) => f.video.pause());
      stop();
      films.forEach((f, k) => { if (at(k) !== null) { f.loop = $("pair-loop").checked ? [f.time(lead(k)), f.time(at(k) + takes[k].beat_s)] : null; f.then(() => f.seek(f.time(lead(k)))).then(() => f.video.play().catch(() => {})); } });
    };
    for (const [id, act] of Object.entries({ "pair-film-play": both, "pair-film-stop": toAttack, "pair-film-back": () => films.forEach((f) => f.step(-1)), "pair-film-on": () => films.forEach((f) => f.step(1)) })) $(id).addEventListener("click", act);
    films[0].video.addEventListener("play", () => { $("pair-film-play").textContent = "Pause the films"; });
    films[0].video.addEventListener("pause", () => { $("pair-film-play").textContent = "Play the films"; });
    films.forEach((f, k) => {
      f.video.muted = true;
      f.video.addEventListener("loadedmetadata", () => { if (films.every((g) => g.video.readyState >= 1)) { box.classList.add("there", "two"); toAttack(); } });
      f.video.addEventListener("error", () => { $("pair-lost").textContent = `The film of ${NAMES[k]} is not where it was, or this browser cannot play it.`; });
      f.video.src = takes[k].film.src;
      f.video.load();
    });
  }
  levels();
  // What stood out first is what is looked at first.
  const first = pair.querySelector("[data-steps]")?.dataset.steps.split(" ");
  choose(first?.[0] ?? step.value, first);
}

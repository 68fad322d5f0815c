// The page that records: choose, count in, play, look, play again.

const go = $("go"), said = $("said"), level = $("level"), levelText = $("level-text"), warned = $("warned");
const say = (text, wrong) => { said.textContent = text; said.classList.toggle("wrong", Boolean(wrong)); };
const warn = (lines) => { warned.textContent = lines.join(" "); warned.hidden = lines.length === 0; };

/** Peaks of the last second, so that the figure can be read. */
let peaks = [];
const words = (db) => (db > -0.5 ? "too loud" : db > -6 ? "loud" : db > -30 ? "good" : db > -50 ? "soft" : "silent");
function heard(peak, at) {
  peaks = peaks.filter((p) => p[1] > at - 1);
  peaks.push([peak, at]);
  const db = (x) => Math.max(-60, 20 * Math.log10(Math.max(x, 1e-6)));
  level.value = db(peak);
  const top = db(Math.max(...peaks.map((p) => p[0])));
  levelText.textContent = `${words(top)}, peak ${top <= -60 ? "below -60" : top.toFixed(0)} dBFS`;
  tick?.(at);
}

const recorder = new Recorder(heard), tries = new Tries($("tries"));
let tick = null, busy = false, drillTempo = null;

/** What the controls say, as the server is asked. */
function wanted() {
  const named = (name) => document.querySelector(`[name="${name}"]`).value;
  return { drill: $("drill").value, tempo: $("tempo").value, count_in: named("count-in"), per_beat: named("per-beat") };
}

async function line() {
  try {
    const answer = await fetch("/record/line?" + new URLSearchParams({ drill: $("drill").value }));
    if (!answer.ok) throw new Error(sentence(await answer.text()));
    const told = await answer.json();
    $("line").textContent = told.line;
    drillTempo = told.tempo_bpm;
    $("tempo").placeholder = String(told.tempo_bpm);
  } catch (e) {
    say(e.message, true);
  }
}

function label() {
  go.textContent = recorder.under ? "Stop" : recorder.open ? "Record" : "Turn the microphone on";
  for (const c of document.querySelectorAll("#set select, #tempo")) c.disabled = Boolean(recorder.under);
  $("measure").disabled = !recorder.open || busy;
}

async function inputs() {
  const found = (await navigator.mediaDevices.enumerateDevices()).filter((d) => d.kind === "audioinput");
  const now = recorder.settings.deviceId;
  $("input").replaceChildren(...found.map((d, i) => new Option(d.label || `input ${i + 1}`, d.deviceId, false, d.deviceId === now)));
}

async function showDelay() {
  try {
    const answer = await fetch("/record/delay?" + new URLSearchParams({ set_up: recorder.setUp }));
    if (!answer.ok) throw new Error(sentence(await answer.text()));
    const { delay_ms } = await answer.json();
    $("delay").textContent = delay_ms === null ? "not measured yet" : `${delay_ms.toFixed(1)} ms, taken off`;
  } catch (e) {
    $("delay").textContent = e.message;
  }
}

async function turnOn() {
  say("The browser may ask whether this page may use the microphone.");
  try {
    await recorder.turnOn($("input").value);
  } catch (e) {
    await recorder.turnOff();
    levelText.textContent = "microphone off";
    say(noMicrophone(e), true);
    return;
  }
  const still = recorder.processing;
  warn(still.length ? [`The browser still applies ${still.join(" and ")} to this input: attacks may be moved or cut. Turn it off in the system's or the browser's settings, or use another browser.`] : []);
  await inputs();
  await showDelay();
  say(`The microphone is on: ${recorder.rate} Hz, ${recorder.channels === 1 ? "one channel" : "two channels"}. Play as loud as you will, and keep the peak below -6 dBFS. Then record.`);
}

async function record() {
  if (!$("tempo").checkValidity()) return say("A tempo is 20 to 400 quarter notes a minute.", true);
  const asked = wanted();
  say("The click is being made.");
  const { sound, head } = await recorder.fetched("/clicks?" + new URLSearchParams({ ...asked, rate: String(recorder.rate) }));
  const first = Number(head.get("x-takegauge-first-step-s")), beat = Number(head.get("x-takegauge-beat-s"));
  const bpm = asked.tempo || drillTempo;
  let shown = "";
  const taken = recorder.take(sound, first, (at) => {
    label();
    tick = (now) => {
      const t = now - at, text = t < 0 ? "Get ready." : t < first ? `Count-in: ${Math.floor(t / beat) + 1} of ${Math.round(first / beat)}` : t < sound.duration ? `Recording at ${bpm} bpm: ${Math.floor(t)} of ${Math.ceil(sound.duration)} s` : "The last note rings out.";
      // Seconds go by silently: a reader hears what changes in kind.
      if (text !== shown) { shown = text; $("clock").textContent = text; }
    };
    say("Count-in, then play. Press the button or R to stop.");
  });
  const take = await taken;
  tick = null;
  $("clock").textContent = "";
  if (!take) return say("Stopped before the drill began; nothing was kept.");
  const warnings = [];
  if (take.lost > 0) warnings.push(`For ${(1000 * take.lost).toFixed(0)} ms the browser had no sound from the microphone: notes after such a hole may lie a little off. Close what loads the machine and play it again.`);
  if (take.full > 0) warnings.push(`${take.full} samples are at full scale: turn the input down.`);
  warn(warnings);
  if (take.file.size > Number($("set").dataset.limit)) return say("The recording is larger than the program takes; start it with a larger --upload-limit-mb.", true);
  say(`${take.seconds.toFixed(1)} s recorded; being sent.`);
  const about = new URLSearchParams({ name: "take.wav", drill: asked.drill, tempo: asked.tempo, count_in: asked.count_in, set_up: recorder.setUp, recorded_ms: String(Date.now()) });
  const answer = await post("/uploads?" + about, take.file);
  const number = answer.headers.get("location").split("/").pop();
  say("Being scored. The next try can be recorded meanwhile.");
  tries.follow(number).then((row) => { if (row && !recorder.under) say(row.querySelector("b").textContent + " is scored. Press R, or the button, for the next."); });
}

/** One thing at a time; what goes wrong is said. */
async function alone(work) {
  if (busy) return;
  busy = true;
  label();
  try { await work(); } catch (e) { tick = null; $("clock").textContent = ""; say(e.message, true); }
  busy = false;
  label();
}

function press() {
  if (!recorder.under) return alone(recorder.open ? record : turnOn);
  recorder.stop();
}

async function measure() {
  const { sound } = await recorder.fetched("/record/loopback.wav?rate=" + recorder.rate);
  say("Twelve clicks, for ten seconds. Keep still.");
  const take = await recorder.take(sound, Infinity, label);
  if (!take) return say("Stopped; the delay is as it was.");
  const answer = await post("/record/loopback?" + new URLSearchParams({ set_up: recorder.setUp }), take.file);
  const d = await answer.json();
  say(`The set-up's delay is ${d.delay_ms.toFixed(1)} ms (median of ${d.clicks} clicks of ${d.of}, scatter ${d.spread_ms.toFixed(2)} ms). It is remembered and taken off from the next try on.`);
  await showDelay();
}

go.addEventListener("click", press);
$("set").addEventListener("submit", (e) => { e.preventDefault(); press(); });
$("keeping")?.addEventListener("submit", (e) => e.preventDefault());
$("measure").addEventListener("click", () => alone(measure));
$("drill").addEventListener("change", line);
$("input").addEventListener("change", () => { if (recorder.open) alone(turnOn); });
addEventListener("keydown", (e) => {
  if (e.ctrlKey || e.altKey || e.metaKey || e.repeat || !$("by-key").checked) return;
  if (e.key.toLowerCase() !== "r" || e.target.closest("input:not([type=checkbox]), select, textarea")) return;
  e.preventDefault();
  press();
});
addEventListener("beforeunload", (e) => { if (recorder.under) e.preventDefault(); });
line();
label();

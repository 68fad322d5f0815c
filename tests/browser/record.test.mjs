// Recording in the page, in a real Chromium. The microphone is a file, or the page's own sound led back to it with a
// known delay; keys alone are used where a player would use the page.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { mkdirSync, readFileSync, readdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { accessible, folder, open, screens, serve, takegauge } from "./browser.mjs";
import { looped } from "./loop.mjs";
import { concat, read, silence, slice, write } from "./wav.mjs";

const place = folder("record");
const drill = join(place, "drill.toml"), take = join(place, "take.wav"), journal = join(place, "journal.db");
/** Of the take's steps, by the click that the drill's first step is. */
let first, againstClick, server;

const json = (...args) => JSON.parse(execFileSync(takegauge, ["-q", ...args, "--json", "-"], { maxBuffer: 1 << 28 }));

before(async () => {
  mkdirSync(screens, { recursive: true });
  execFileSync(takegauge, ["-q", "demo", "-o", join(place, "demo")]);
  // Four repeats of the demo's twelve: a take of 13 s.
  writeFileSync(drill, readFileSync(join(place, "demo/drill.toml"), "utf8").replace(/^repeats = 12$/m, "repeats = 4"));
  first = JSON.parse(readFileSync(join(place, "demo/score.json"), "utf8")).timebase.offset_s;
  const whole = read(join(place, "demo/take.wav"));
  write(take, slice(whole, 0, Math.round((first + 12.2) * whole.rate)));
  againstClick = json("score", take, "--drill", drill, "--click-start", String(first), "--delay", "0").timebase.from_click_ms;
  execFileSync(takegauge, ["-q", "journal", "--journal-file", journal, "add", take, "--drill", drill, "--player", "Ada"], { cwd: place });
  server = await serve(["--journal-file", journal, "--delay-file", join(place, "delays.toml")]);
});
after(() => server?.close());

/** A window on the page that records, its microphone as the options say. */
async function recording(t, { more = [], loop = null, ...options } = {}) {
  const b = await open({ offline: false, more: ["--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream", ...more], ...options });
  t.after(() => b.close());
  if (loop) await b.context.addInitScript(looped, loop);
  await b.page.goto(server.entry);
  await b.page.goto(server.url + "record?drill=journal:1");
  await b.page.waitForFunction(() => document.getElementById("line").textContent.includes("stroke"));
  return b;
}

const keys = (page) => ({
  /** Goes on by Tab until the focus is on what the selector names. */
  async to(selector) {
    for (let n = 0; n < 120; n++) {
      await page.keyboard.press("Tab");
      if (await page.evaluate((s) => document.activeElement.matches(s), selector)) return;
    }
    assert.fail(`Tab never comes to ${selector}`);
  },
  press: (key) => page.keyboard.press(key),
});
const says = (page, text) => page.waitForFunction((t) => document.getElementById("said").textContent.includes(t), text, { timeout: 60_000 });

test("what the microphone brings is recorded sample for sample, its attacks are the file's, and one delay holds for all tries", async (t) => {
  const played = read(take), file = join(place, "microphone.wav");
  write(file, concat(silence(played, 3), played, played, played, silence(played, 2)));
  const original = read(file), b = await recording(t, { more: [`--use-file-for-fake-audio-capture=${file}%noloop`] });
  const k = keys(b.page);
  await k.to("#go");
  await k.press("Enter");
  await says(b.page, "The microphone is on");
  assert.equal(await b.page.isVisible("#warned"), false, "no processing is left on, so nothing is warned of");
  await b.page.waitForFunction(() => /dBFS/.test(document.getElementById("level-text").textContent));
  const tries = [];
  for (const seconds of [8, 6]) {
    await k.press("r");
    await b.page.waitForFunction(() => /^Recording at 160 bpm/.test(document.getElementById("clock").textContent));
    await b.page.waitForTimeout(1000 * seconds);
    await k.press("r");
    await b.page.waitForFunction((n) => document.querySelectorAll("#tries li").length === n, tries.length + 1, { timeout: 60_000 });
    tries.push(await b.page.getAttribute("#tries li", "data-number"));
  }
  const lags = [];
  for (const number of tries) {
    const sound = join(place, "recorded.wav"), own = join(place, "same.wav");
    writeFileSync(sound, await (await b.context.request.get(`${server.url}results/${number}/sound`)).body());
    const recorded = read(sound), from = Math.round(2 * recorded.rate), n = recorded.samples.length;
    assert.equal(recorded.rate, original.rate);
    // Where in the file the recording begins: the lag at which a stretch of it comes back.
    const lag = found(recorded.samples, original.samples, Math.round(4 * recorded.rate), 4000);
    const worst = { off: 0, at: 0 };
    for (let i = from; i < n; i++) {
      const off = Math.abs(recorded.samples[i] - (original.samples[i + lag] ?? 0));
      if (off > worst.off) Object.assign(worst, { off, at: i });
    }
    t.diagnostic(`${((n - from) / recorded.rate).toFixed(1)} s compared; furthest off ${(20 * Math.log10(worst.off)).toFixed(1)} dBFS, at ${(worst.at / recorded.rate).toFixed(3)} s`);
    assert.ok(worst.off < 1e-4, `a sample is ${worst.off} off: sound was lost or changed`);
    // Cut to begin with the same sample, both files give the same attacks.
    write(own, slice(original, lag, lag + n));
    const [a, c] = [sound, own].map((f) => json("onsets", f).onsets.map((o) => o.time_s));
    assert.ok(a.length > 40, `${a.length} attacks`);
    assert.equal(a.length, c.length);
    const off = Math.max(...a.map((x, i) => 1e3 * Math.abs(x - c[i])));
    t.diagnostic(`${a.length} attacks, at most ${off.toFixed(3)} ms apart`);
    assert.ok(off < 0.1, `${off} ms`);
    lags.push(lag);
  }
  // Clicks start on half seconds of the context: between two tries the file has gone on by so many, to the sample.
  const half = original.rate / 2, moved = (lags[1] - lags[0]) % half;
  assert.equal(Math.min(moved, half - moved), 0, `the input slipped by ${moved} samples between two tries`);
  for (const number of tries) {
    await k.to(`#try-${number} [data-do=throw-away]`);
    await k.press("Enter");
    await b.page.waitForFunction((n) => !document.getElementById("try-" + n), number);
  }
  assert.deepEqual(b.faults, []);
});

/** The lag, in samples, at which `n` samples of `a` from `at` come back in `b`. */
function found(a, b, at, n) {
  let best = { off: Infinity, lag: 0 };
  for (let lag = -at; at + lag + n < b.length; lag++) {
    let off = 0;
    for (let i = 0; i < n && off < best.off; i += 7) off += Math.abs(a[at + i] - b[at + lag + i]);
    if (off < best.off) best = { off, lag };
  }
  return best.lag;
}

test("measured, recorded, scored, kept, printed and copied with the keyboard alone; late against the click is right", async (t) => {
  const late = 0.02, delay = 0.1234;
  const b = await recording(t, { loop: { delay, late, first, take: readFileSync(take).toString("base64") } });
  await b.context.grantPermissions(["clipboard-read", "clipboard-write"], { origin: server.url });
  const k = keys(b.page);
  await k.to("#go");
  await k.press("Enter");
  await says(b.page, "The microphone is on");
  assert.equal(await b.page.textContent("#delay"), "not measured yet");
  await k.to("#set-up summary");
  await k.press("Enter");
  await k.to("#measure");
  await k.press("Enter");
  await says(b.page, "The set-up's delay is");
  const told = await b.page.textContent("#said"), measured = Number(told.match(/is ([\d.]+) ms/)[1]), scatter = Number(told.match(/scatter ([\d.]+) ms/)[1]);
  t.diagnostic(told);
  assert.ok(Math.abs(measured - 1e3 * delay) < 0.2, told);
  assert.ok(scatter < 0.1, told);
  assert.match(await b.page.textContent("#delay"), /ms, taken off$/);
  assert.match(readFileSync(join(place, "delays.toml"), "utf8"), /recorded in the page at \d+ Hz"\]/);

  // A try that is broken off in its count-in is none.
  await k.press("r");
  await b.page.waitForFunction(() => /^Count-in: 2 of 4/.test(document.getElementById("clock").textContent));
  await k.press("r");
  await says(b.page, "nothing was kept");
  assert.equal(await b.page.locator("#tries li").count(), 0);
  // Two tries: the whole, and one that is ended early.
  await k.press("r");
  await says(b.page, "Count-in, then play");
  await b.page.waitForFunction(() => /rings out/.test(document.getElementById("clock").textContent), null, { timeout: 60_000 });
  await says(b.page, "is scored");
  await k.press("r");
  await b.page.waitForFunction(() => /: 6 of/.test(document.getElementById("clock").textContent), null, { timeout: 60_000 });
  await k.press("r");
  await b.page.waitForFunction(() => document.querySelectorAll("#tries li[data-over]").length === 2, null, { timeout: 60_000 });
  const number = await b.page.getAttribute("#tries li:last-child", "data-number");
  const score = await (await b.context.request.get(`${server.url}results/${number}/score.json`)).json();
  assert.equal(score.timebase.mode, "click");
  const played = againstClick + 1e3 * late;
  t.diagnostic(`late against the click: ${score.timebase.from_click_ms} ms where ${played.toFixed(3)} ms were played`);
  assert.ok(Math.abs(score.timebase.from_click_ms - played) < 0.3, `${score.timebase.from_click_ms} ms where ${played} ms were played`);
  assert.match(await b.page.textContent("#tries li:last-child .against"), /^\d+\.\d ms after the click on average\.$/);
  assert.equal(score.notes.filter((x) => x.status === "played").length > 110, true);
  await pictures(b.page, "record-tries");

  // Keep the whole one, throw the other away.
  await k.to("#tries li:first-child [data-do=throw-away]");
  await k.press("Enter");
  await b.page.waitForFunction(() => document.querySelectorAll("#tries li").length === 1);
  assert.equal(await b.page.inputValue("[name=player]"), "Ada");
  await k.to("#tries [data-do=keep]");
  await k.press("Enter");
  await b.page.waitForFunction(() => document.querySelector("#tries li").textContent.includes("Kept as"));
  const files = readdirSync(join(place, "recordings"));
  assert.equal(files.length, 1);
  const kept = read(join(place, "recordings", files[0]));
  assert.equal(kept.bits, 24);
  await k.to("#tries [data-do=copy]");
  await k.press("Enter");
  await b.page.waitForFunction(() => document.querySelector("#tries [role=status]").textContent === "Copied.");
  const message = await b.page.evaluate(() => navigator.clipboard.readText());
  assert.match(message, /\nWhat: .*\nHow sure: .*\nNext: /);
  await k.to("#tries a[href$='/student']");
  await k.press("Enter");
  await b.page.waitForURL(/\/takes\/2\/student$/);
  const pdf = join(place, "student.pdf");
  await b.page.pdf({ path: pdf, preferCSSPageSize: true });
  assert.equal(readFileSync(pdf, "latin1").match(/\/Type\s*\/Page[^s]/g).length, 1, "one page to print");
  await b.page.goto(server.url + "takes/2");
  assert.equal(await b.page.locator("#audio").count(), 1, "what was kept is heard from the journal");
  assert.deepEqual(b.faults, []);
});

test("a practice loop: its click is heard and saved, its drill saved, and it is recorded", async (t) => {
  const b = await open({ offline: false });
  t.after(() => b.close());
  await b.page.goto(server.entry);
  await b.page.goto(server.url + "takes/1");
  const one = b.page.locator("ol.findings li", { hasText: "Start at" }).first();
  const play = one.getByRole("button", { name: "Play the click" });
  await play.focus();
  await b.page.keyboard.press("Enter");
  assert.equal(await one.getByRole("button").textContent(), "Stop the click");
  await b.page.keyboard.press("Enter");
  assert.equal(await one.getByRole("button").textContent(), "Play the click");
  for (const [name, ending, begins] of [["Save the click", "click.wav", "RIFF"], ["Save the guide", "guide.wav", "RIFF"], ["Save the drill", ".toml", "name = "]]) {
    const [saved] = await Promise.all([b.page.waitForEvent("download"), one.getByRole("link", { name }).press("Enter")]);
    assert.ok(saved.suggestedFilename().endsWith(ending), saved.suggestedFilename());
    assert.equal(readFileSync(await saved.path(), "latin1").slice(0, begins.length), begins);
  }
  assert.equal(await b.page.locator("text=tempo_bpm =").count(), 0, "the drill is no text on the page");
  await one.getByRole("link", { name: "Score my loop" }).press("Enter");
  await b.page.waitForURL(/\/drills\/loop\/take\.1\.0$/);
  assert.match(await b.page.inputValue("#drill"), /^loop:take\.1\.0$/);
  await b.page.goBack();
  await one.getByRole("link", { name: "Record it" }).press("Enter");
  await b.page.waitForURL(/\/record\?drill=/);
  assert.match(await b.page.inputValue("#drill"), /^loop:take\.1\.0$/);
  assert.deepEqual(b.faults, []);
});

test("no microphone, none allowed, and processing left on are said in words", async (t) => {
  for (const [name, words] of [["NotAllowedError", "was not allowed"], ["NotFoundError", "No microphone was found"], ["NotReadableError", "in use by another program"]]) {
    const b = await recording(t, { loop: { refuse: name } });
    await b.page.focus("#go");
    await b.page.keyboard.press("Enter");
    await says(b.page, words);
    assert.equal(await b.page.textContent("#go"), "Turn the microphone on");
    assert.ok(await b.page.evaluate(() => document.getElementById("said").classList.contains("wrong")));
    if (name === "NotAllowedError") await pictures(b.page, "record-refused");
    }
  const b = await recording(t, { loop: { delay: 0, on: ["echoCancellation", "autoGainControl"] } });
  await b.page.focus("#go");
  await b.page.keyboard.press("Enter");
  await says(b.page, "The microphone is on");
  assert.match(await b.page.textContent("#warned"), /still applies echo cancellation and automatic gain/);
  assert.match(await b.page.textContent("#level-text"), /^silent, peak below -60 dBFS$/, "the level is told in words");
  await accessible(b.page);
  await pictures(b.page, "record-ready");
});

/** Light and dark, wide and narrow: no fault by axe, nothing cut, and a picture of the wide light and the narrow dark. */
async function pictures(page, name) {
  for (const width of [1280, 390]) for (const scheme of ["light", "dark"]) {
    await page.setViewportSize({ width, height: 900 });
    await page.evaluate((s) => { document.documentElement.dataset.theme = s; }, scheme);
    await page.waitForTimeout(100);
    assert.ok((await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)) <= 0, `cut at ${width}`);
    await accessible(page);
    if ((width === 1280) === (scheme === "light")) await page.screenshot({ path: join(screens, `${name}-${width}-${scheme}.png`), fullPage: true });
  }
  await page.setViewportSize({ width: 1280, height: 900 });
}

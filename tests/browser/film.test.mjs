// The film of a take: in the report and on the page, a note is found within a frame, whatever the film's rate.
import assert from "node:assert/strict";
import { execFileSync, spawn } from "node:child_process";
import { copyFileSync, mkdirSync, readFileSync, renameSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { accessible, folder, open, screens, takegauge } from "./browser.mjs";
import { DRIFT, OFFSET, films, kept, make, number } from "./films.mjs";

const place = folder("film");
const take = join(place, "demo/take.wav"), drill = join(place, "demo/drill.toml");
const skip = films ? false : "no ffmpeg is here (FFMPEG names it)";
let b;

before(async () => {
  if (skip) return;
  execFileSync(takegauge, ["-q", "demo", "-o", "demo"], { cwd: place });
  mkdirSync(join(place, "films"));
  mkdirSync(screens, { recursive: true });
  b = await open();
});
after(() => b?.close());

/** A report beside a film, and what it says of the film. */
async function report(name, options) {
  await make(join(place, "films", name), take, { seconds: 42, ...options });
  const [html, json] = [`${name}.html`, `${name}.json`];
  execFileSync(takegauge, ["-q", "score", "demo/take.wav", "--camera", `films/${name}`, "--html", html, "--json", json], { cwd: place });
  await b.page.goto("file://" + join(place, html));
  await b.page.waitForSelector("#film.there", { timeout: 60000 });
  return JSON.parse(readFileSync(join(place, json), "utf8"));
}

const first = () => b.page.locator("#film video").first();
const second = () => b.page.locator("#film video").nth(1);
const caption = (k) => b.page.locator("#film figcaption").nth(k).textContent();
/** Waits until the caption tells of a frame close to the attack (before the jump the film's first frame may be told), and the
 * picture stands. */
async function stands() {
  await b.page.waitForFunction(() => { const v = document.querySelector("#film video"); return v.paused && !v.seeking && /this frame begins (with it|\d{1,2} ms)/.test(document.querySelector("#film figcaption").textContent); });
  await b.page.waitForTimeout(250);
}

/** The frame that is shown is the one during which the attack falls; sound in the film is OFFSET later, by its own clock.
 * A picture of the screen may be some frames late on a busy machine: it is taken again for up to a minute. */
async function within(video, at, rate, vary, what) {
  const truth = OFFSET + at * DRIFT, until = Date.now() + 60000;
  for (;;) {
    const shown = await number(b.page, video);
    let next = shown + 1;
    while (vary && !kept(next)) next++;
    // The place is known to some tenths of a millisecond, and WebM keeps whole milliseconds.
    if (shown / rate <= truth + 0.0015 && next / rate >= truth - 0.0015) return;
    assert.ok(Date.now() < until, `${what}: frame ${shown} at ${shown / rate} s for ${truth} s; told: ${await caption(0)}`);
    await b.page.waitForTimeout(200);
  }
}

const RATES = [["25.mp4", { rate: 25 }], ["60.webm", { rate: 60 }], ["120.mp4", { rate: 120, late: 0.4 }], ["varied.webm", { rate: 60, vary: true, late: 0.4 }]];
for (const [name, options] of RATES) {
  test(`${name}: a jump lands on the attack's frame, a step is a frame`, { skip }, async () => {
    const score = await report(name, options);
    assert.ok(Math.abs(score.camera.offset_s - OFFSET) < 0.002, `${score.camera.offset_s}`);
    assert.ok(Math.abs(score.camera.drift_ppm - (DRIFT - 1) * 1e6) < 3, `${score.camera.drift_ppm}`);
    if (!options.vary) assert.ok(Math.abs(score.camera.frame_ms - 1000 / options.rate) < 1.1, `${score.camera.frame_ms}`);
    const finding = score.findings.find((f) => f.note_indices.length > 3);
    await b.page.locator("button.see").nth(score.findings.indexOf(finding)).click();
    for (let k = 0; k < 4; k++) {
      await stands();
      const at = score.notes.find((n) => n.index === finding.note_indices[k]).played_s;
      assert.match(await caption(0), new RegExp(`^Note ${finding.note_indices[k] + 1},`));
      await within(first(), at, options.rate, options.vary, `note ${k}`);
      await b.page.click("#film-on");
    }
    await stands();
    const from = await number(b.page, first());
    let expected = from;
    for (let k = 0; k < 5; k++) {
      await b.page.click("#film-frame-on");
      await b.page.waitForTimeout(700);
      do expected++; while (options.vary && !kept(expected));
      assert.equal(await number(b.page, first()), expected, `step ${k + 1} on from ${from}`);
    }
    await b.page.click("#film-frame-back");
    await b.page.waitForTimeout(500);
    do expected--; while (options.vary && !kept(expected));
    assert.equal(await number(b.page, first()), expected, "a step back");
    assert.deepEqual(b.faults, []);
    assert.deepEqual(b.attempted, []);
  });
}

test("slowly, in a loop, two moments side by side, by keyboard alone", { skip }, async () => {
  await b.page.goto("file://" + join(place, "60.webm.html"));
  await b.page.waitForSelector("#film.there");
  const score = JSON.parse(readFileSync(join(place, "60.webm.json"), "utf8"));
  const finding = score.findings.find((f) => f.note_indices.length > 3);
  await b.page.locator("button.see").nth(score.findings.indexOf(finding)).focus();
  await b.page.keyboard.press("Enter");
  await stands();
  await first().focus();
  await b.page.keyboard.press("b");
  await b.page.waitForTimeout(800);
  const notes = new Map(score.notes.map((n) => [n.index, n]));
  const [mine, best] = await Promise.all([caption(0), caption(1)].map(async (c) => notes.get(Number((await c).match(/^Note (\d+),/)[1]) - 1)));
  assert.equal(mine.index, finding.note_indices[0]);
  assert.deepEqual([best.change?.from, best.string, best.stroke, best.status], [mine.change?.from, mine.string, mine.stroke, "played"]);
  assert.ok(Math.abs(best.local_deviation_ms) < Math.abs(mine.local_deviation_ms));
  await within(first(), mine.played_s, 60, false, "one");
  await within(second(), best.played_s, 60, false, "the other");
  for (const [width, scheme] of [[1280, "light"], [390, "dark"]]) {
    await b.page.setViewportSize({ width, height: 900 });
    await b.page.evaluate((s) => { document.documentElement.dataset.theme = s; }, scheme);
    const wide = await b.page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    assert.ok(wide <= 0, `${wide} px too wide at ${width}`);
    await accessible(b.page);
    await b.page.locator("#film").screenshot({ path: join(screens, `film-${width}-${scheme}.png`) });
  }
  await b.page.setViewportSize({ width: 1280, height: 900 });
  await first().focus();
  await b.page.keyboard.press("3");
  assert.deepEqual(await b.page.evaluate(() => [...document.querySelectorAll("#film video")].map((v) => v.playbackRate)), [0.25, 0.25]);
  await b.page.keyboard.press("2");
  await b.page.keyboard.press("l");
  await b.page.keyboard.press(" ");
  const before = score.notes[score.notes.indexOf(mine) - 1].played_s, seen = [];
  for (let k = 0; k < 12; k++) {
    await b.page.waitForTimeout(150);
    seen.push(await first().evaluate((v) => v.currentTime));
  }
  const [from, to] = [OFFSET + before - 0.12, OFFSET + mine.played_s + 0.25];
  assert.ok(seen.every((t) => t > from && t < to), `${seen} outside ${from} to ${to}`);
  assert.ok(seen.some((t, k) => k > 0 && t < seen[k - 1]), `${seen} went round`);
  await b.page.keyboard.press(" ");
  assert.equal(await first().evaluate((v) => v.paused), true);
  assert.deepEqual(b.faults, []);
});

test("a film that has gone is asked for, and another one noticed", { skip }, async () => {
  renameSync(join(place, "films/25.mp4"), join(place, "films/elsewhere.mp4"));
  await b.page.goto("file://" + join(place, "25.mp4.html"));
  await b.page.waitForFunction(() => document.getElementById("film-lost").textContent.includes("Choose the file 25.mp4"));
  await b.page.setInputFiles("#film-file", join(place, "films/elsewhere.mp4"));
  await b.page.waitForSelector("#film.there");
  assert.equal(await b.page.textContent("#film-lost"), "");
  b.faults.length = 0;
});

test("another take's film is refused with a reason", { skip }, () => {
  execFileSync(takegauge, ["-q", "demo", "--seed", "2", "-o", "other"], { cwd: place });
  assert.throws(() => execFileSync(takegauge, ["-q", "score", "other/take.wav", "--camera", "films/60.webm"], { cwd: place, stdio: "pipe" }), (e) => {
    assert.equal(e.status, 1);
    assert.match(String(e.stderr), /not this playing.*of \d+ stretches/s);
    return true;
  });
});

test("on the page: the film of the journal's take, in parts, from where it is", { skip }, async () => {
  const journal = join(place, "journal.db");
  execFileSync(takegauge, ["-q", "score", "demo/take.wav", "--camera", "films/60.webm", "--journal-file", journal, "--player", "Ada"], { cwd: place });
  copyFileSync(take, join(place, "plain.wav"));
  const server = spawn(takegauge, ["page", "--journal-file", journal], { stdio: ["ignore", "pipe", "inherit"] });
  const entry = await new Promise((found) => server.stdout.once("data", (d) => found(String(d).trim())));
  const url = new URL("/", entry).href, c = await open({ offline: false });
  try {
    await c.page.goto(entry);
    await c.page.goto(url + "takes/1");
    await c.page.waitForSelector("#film.there");
    const part = await c.context.request.get(url + "takes/1/film", { headers: { Range: "bytes=0-99" } });
    assert.deepEqual([part.status(), part.headers()["content-type"], (await part.body()).length], [206, "video/webm", 100]);
    await c.page.locator("button.see").first().click();
    await c.page.waitForFunction(() => document.querySelector("#film figcaption").textContent.includes("this frame begins"));
    await accessible(c.page);
    // Another film of the same take is named on the page.
    await c.page.click("text=Another film of this take");
    await c.page.fill("input[name=path]", join(place, "films/120.mp4"));
    await c.page.click("button:has-text('Lay it over the take')");
    await c.page.waitForURL(/takes\/1#film$/, { timeout: 60000 });
    const score = await (await c.context.request.get(url + "takes/1/score.json")).json();
    assert.match(score.camera.path, /120\.mp4$/);
    await c.page.fill("input[name=path]", "films/120.mp4").catch(() => {});
    assert.deepEqual(c.faults, []);
  } finally {
    await c.close();
    server.kill("SIGINT");
  }
});

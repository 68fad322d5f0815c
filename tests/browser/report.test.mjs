// The report as one file: it opens from disk, asks for nothing, and can be read, heard, printed and searched by keyboard.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { mkdirSync, readFileSync, statSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { accessible, folder, open, root, screens, takegauge } from "./browser.mjs";

const place = folder("report");
const report = "file://" + join(place, "demo/report.html");
let b;

before(async () => {
  // Named from its own folder, so that no picture holds a path of this machine.
  execFileSync(takegauge, ["-q", "demo", "-o", "demo"], { cwd: place });
  b = await open();
  await b.page.goto(report);
});
after(() => b?.close());

test("opens from disk, offline, without asking for anything and without a fault", async () => {
  await b.page.waitForTimeout(500);
  assert.equal(await b.page.locator("h1").count(), 1);
  assert.ok((await b.page.locator("ol.findings > li").count()) >= 1);
  assert.deepEqual(b.attempted, []);
  assert.deepEqual(b.faults, []);
  const inked = await b.page.evaluate(() => {
    const c = document.getElementById("timeline"), p = c.getContext("2d").getImageData(0, 0, c.width, c.height).data;
    let n = 0;
    for (let i = 3; i < p.length; i += 4) if (p[i]) n++;
    return n / (p.length / 4);
  });
  assert.ok(inked > 0.02 && inked < 0.6, `inked ${inked}`);
});

test("a finding is clicked and heard", async () => {
  const time = () => b.page.evaluate(() => document.getElementById("audio").currentTime);
  const button = b.page.getByRole("button", { name: /^Hear \d/ }).first();
  const at = Number((await button.textContent()).match(/[\d.]+/)[0]);
  await button.click();
  await b.page.waitForFunction((at) => document.getElementById("audio").currentTime > at, at, { timeout: 60000 });
  assert.equal(await b.page.evaluate(() => document.getElementById("audio").paused), false);
  await b.page.selectOption("#speed", "0.25");
  assert.deepEqual(await b.page.evaluate(() => { const a = document.getElementById("audio"); return [a.playbackRate, a.preservesPitch]; }), [0.25, true]);
  await b.page.selectOption("#loop", "beats");
  await b.page.selectOption("#speed", "1");
  const [from, to] = [at - 0.5, at + 0.6];
  await b.page.waitForTimeout(1500);
  const now = await time();
  assert.ok(now > from && now < to, `a loop of two beats around ${at} s is at ${now} s`);
  await b.page.click("#play");
  assert.equal(await b.page.evaluate(() => document.getElementById("audio").paused), true);
});

test("the line as tablature: a note is clicked and heard, walked to by keyboard, one time of it looked at", async () => {
  const notes = b.page.locator("#tab-line .note");
  assert.equal(await notes.count(), 30);
  const late = notes.locator("xpath=self::*[contains(@class, 'late')]");
  assert.ok((await late.count()) >= 4);
  await notes.nth(6).locator(".key").click();
  await b.page.waitForFunction(() => !document.getElementById("audio").paused);
  assert.match(await b.page.textContent("#about"), /^Note 7, repeat 1, step 7: string 3, fret 7/);
  await b.page.click("#play");
  await notes.first().locator(".key").focus();
  await b.page.keyboard.press("ArrowRight");
  await b.page.keyboard.press("ArrowRight");
  assert.equal(await b.page.evaluate(() => document.activeElement.parentNode.dataset.step), "2");
  await b.page.keyboard.press("Enter");
  assert.match(await b.page.textContent("#about"), /^Note 3, repeat 1, step 3:/);
  await b.page.click("#play");
  // Note 98 was not heard: time 4, step 8.
  await b.page.selectOption("#tab-time", "0:3");
  assert.match(await notes.nth(7).locator(".key").getAttribute("aria-label"), /^Note 98, repeat 4, step 8: .* not heard/);
  assert.equal(await notes.nth(7).locator(".ms").textContent(), "");
  await b.page.selectOption("#tab-time", "0:2");
  assert.equal(await notes.nth(7).locator(".cross").isVisible(), false);
  await b.page.selectOption("#tab-time", "");
  assert.match(await notes.nth(7).locator(".key").getAttribute("aria-label"), /on average of 11, 1 of 12 not heard/);
  assert.deepEqual(b.faults, []);
});

test("zoom, walk and listen by keyboard", async () => {
  const ticks = () => b.page.evaluate(() => document.getElementById("timeline").toDataURL().length + ":" + document.getElementById("about").textContent);
  await b.page.focus("#timeline");
  await b.page.keyboard.press("Home");
  await b.page.waitForTimeout(100);
  const whole = await ticks();
  for (let i = 0; i < 4; i++) await b.page.keyboard.press("+");
  await b.page.waitForTimeout(100);
  assert.notEqual(await ticks(), whole);
  await b.page.keyboard.press("ArrowRight");
  const one = await b.page.textContent("#about");
  await b.page.keyboard.press("ArrowRight");
  const two = await b.page.textContent("#about");
  assert.match(one, /^Note \d+, repeat/);
  assert.equal(Number(two.match(/\d+/)[0]), Number(one.match(/\d+/)[0]) + 1);
  await b.page.keyboard.press("Enter");
  await b.page.waitForFunction(() => !document.getElementById("audio").paused);
  await b.page.keyboard.press(" ");
  await b.page.waitForFunction(() => document.getElementById("audio").paused);
  await b.page.keyboard.press("Tab");
  assert.notEqual(await b.page.evaluate(() => document.activeElement.id), "timeline");
});

test("dark and light by button, and kept for the next time", async () => {
  const paper = () => b.page.evaluate(() => getComputedStyle(document.body).backgroundColor);
  const light = await paper();
  await b.page.click("#theme");
  const dark = await paper();
  assert.notEqual(dark, light);
  await b.page.reload();
  assert.equal(await paper(), dark);
});

test("the hand-out is one page in dark ink, even from a dark screen", async () => {
  const pdf = join(place, "hand-out.pdf");
  await b.page.pdf({ path: pdf, preferCSSPageSize: true });
  const pages = readFileSync(pdf, "latin1").match(/\/Type\s*\/Page[^s]/g).length;
  assert.equal(pages, 1);
  mkdirSync(screens, { recursive: true });
  try {
    execFileSync("pdftoppm", ["-r", "80", "-png", "-singlefile", pdf, join(screens, "hand-out")]);
  } catch {
    console.log("left out: the picture of the hand-out (pdftoppm is not here)");
  }
  await b.page.click("#theme");
});

test("every note stands in the table", async () => {
  await b.page.click("#all-notes summary");
  // The table is filled when the section has opened, which the browser tells a moment later.
  await b.page.waitForFunction(() => document.getElementById("note-page").textContent !== "");
  const score = JSON.parse(readFileSync(join(place, "demo/score.json"), "utf8"));
  const reached = score.notes.filter((n) => n.status !== "not_reached").length;
  assert.match(await b.page.textContent("#note-page"), new RegExp(`of ${reached}$`));
  await b.page.click("#note-on");
  assert.match(await b.page.textContent("#note-page"), /^notes 201 to/);
  await b.page.click("#all-notes summary");
});

test("axe finds no serious fault, light and dark", async () => {
  for (const scheme of ["light", "dark"]) {
    await b.page.evaluate((s) => { document.documentElement.dataset.theme = s; }, scheme);
    await accessible(b.page);
  }
});

test("nothing is cut at 1280 and 390 pixels", async () => {
  for (const width of [1280, 390]) for (const scheme of ["light", "dark"]) {
    await b.page.setViewportSize({ width, height: 900 });
    await b.page.evaluate((s) => { document.documentElement.dataset.theme = s; }, scheme);
    await b.page.waitForTimeout(200);
    const wide = await b.page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    assert.ok(wide <= 0, `${wide} px too wide at ${width}`);
    await b.page.screenshot({ path: join(screens, `report-${width}-${scheme}.png`), fullPage: true });
    // The picture in README.md; a test before this one may have scrolled.
    await b.page.evaluate(() => scrollTo(0, 0));
    if (width === 1280 && scheme === "light") await b.page.screenshot({ path: join(screens, "report-top.png"), clip: { x: 40, y: 0, width: 1060, height: 790 } });
  }
  await b.page.setViewportSize({ width: 1280, height: 900 });
});

test("without sound a report stays under 300 KB", () => {
  execFileSync(takegauge, ["-q", "score", join(place, "demo/take.wav"), "--html", join(place, "silent.html")]);
  const size = statSync(join(place, "silent.html")).size;
  assert.ok(size < 300_000, `${size} bytes`);
});

test("24,000 notes stay smooth and under 5 MB", async (t) => {
  // The columns of a real report, end to end until there are enough: 40 minutes at ten notes a second.
  const html = readFileSync(join(place, "silent.html"), "utf8");
  const [, before, json, rest] = html.match(/^([\s\S]*<script type="application\/json" id="data">)([\s\S]*?)(<\/script>[\s\S]*)$/);
  const data = JSON.parse(json), times = Math.ceil(24_000 / data.notes.at.length), span = data.duration_s;
  const shift = (list, key) => Array.from({ length: times }, (_, k) => list.map((v) => (key === "at" || key === "exp") ? Number((v + k * span).toFixed(4)) : key === "index" ? v + k * list.length : v)).flat();
  for (const key of Object.keys(data.notes)) data.notes[key] = shift(data.notes[key], key);
  data.duration_s *= times;
  data.wave.step_s *= times;
  const long = join(place, "long.html");
  writeFileSync(long, before + JSON.stringify(data) + rest);
  assert.ok(data.notes.at.length >= 24_000);
  assert.ok(statSync(long).size < 5_000_000, `${statSync(long).size} bytes`);
  await b.page.goto("file://" + long);
  await b.page.focus("#timeline");
  // What a picture costs is counted, not timed: how long it takes depends on what else the machine does. A call a note
  // would be 24,000; the wave needs one a pixel, and notes drawn as shapes are fewer than the pixels.
  await b.page.evaluate(() => {
    const own = CanvasRenderingContext2D.prototype;
    window.calls = 0;
    for (const name of Object.getOwnPropertyNames(own)) {
      const { value } = Object.getOwnPropertyDescriptor(own, name);
      if (typeof value === "function") own[name] = function (...given) { window.calls++; return value.apply(this, given); };
    }
  });
  const median = (list) => [...list].sort((x, y) => x - y)[list.length >> 1];
  // Panning the whole take shows most marks at once; closer, each mark is drawn in full.
  for (const closer of [0, 3, 8]) {
    await b.page.keyboard.press("Home");
    for (let i = 0; i < closer; i++) await b.page.keyboard.press("+");
    const frames = await b.page.evaluate(async () => {
      const canvas = document.getElementById("timeline"), box = canvas.getBoundingClientRect(), out = [];
      const send = (type, x) => canvas.dispatchEvent(new PointerEvent(type, { pointerId: 1, clientX: box.left + x, clientY: box.top + 200, bubbles: true }));
      canvas.setPointerCapture = () => {};
      send("pointerdown", 600);
      let last = performance.now();
      for (let i = 0; i < 100; i++) {
        window.calls = 0;
        send("pointermove", 600 - 60 * Math.sin(i / 8) - i);
        await new Promise(requestAnimationFrame);
        const calls = window.calls;
        // Reading a pixel back waits until the picture is really there.
        canvas.getContext("2d").getImageData(0, 0, 1, 1);
        out.push({ calls, took: performance.now() - last });
        last = performance.now();
      }
      send("pointerup", 500);
      return out;
    });
    const calls = frames.map((f) => f.calls), took = median(frames.map((f) => f.took));
    t.diagnostic(`closer ${closer}: median frame ${took.toFixed(1)} ms, ${Math.max(...calls)} calls at most`);
    assert.ok(median(calls) > 1000, `a picture is drawn each frame: ${median(calls)} calls`);
    assert.ok(Math.max(...calls) < 10_000, `${Math.max(...calls)} calls for a picture, ${closer} times closer`);
    // Nothing but notes is drawn in this ink.
    const inked = await b.page.evaluate(() => {
      const canvas = document.getElementById("timeline"), probe = document.createElement("canvas").getContext("2d");
      probe.fillStyle = getComputedStyle(document.documentElement).getPropertyValue("--ink").trim();
      probe.fillRect(0, 0, 1, 1);
      const bits = (c, w, h) => new Uint32Array(c.getImageData(0, 0, w, h).data.buffer), [ink] = bits(probe, 1, 1);
      return bits(canvas.getContext("2d"), canvas.width, canvas.height).filter((p) => p === ink).length;
    });
    t.diagnostic(`closer ${closer}: ${inked} pixels of ink`);
    assert.ok(inked > 300, `${inked} pixels of ink, ${closer} times closer`);
  }
});

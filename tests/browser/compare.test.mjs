// Two takes ticked in their list and held against each other: by the keyboard alone, heard and seen at the same step.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { renameSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { accessible, entered, folder, screens, takegauge } from "./browser.mjs";
import { DRIFT, OFFSET, films, make, number } from "./films.mjs";

const place = folder("compare"), journal = join(place, "journal.db"), RATE = 25;
let url, b, close;

/** A demo of another seed, its recording under a name of its own, kept for Ada. */
async function keep(seed, film) {
  execFileSync(takegauge, ["-q", "demo", "--seed", String(seed), "-o", `demo${seed}`], { cwd: place });
  const take = `demo${seed}/take ${seed}.wav`;
  renameSync(join(place, `demo${seed}/take.wav`), join(place, take));
  const camera = film ? ["--camera", `film${seed}.webm`] : [];
  if (film) await make(join(place, `film${seed}.webm`), join(place, take), { seconds: 42, rate: RATE });
  execFileSync(takegauge, ["-q", "score", take, "--drill", "demo1/drill.toml", "--journal-file", journal, "--player", "Ada", ...camera], { cwd: place });
}

before(async () => {
  for (const seed of [1, 2]) await keep(seed, films);
  await keep(3, false);
  ({ b, url, close } = await entered(place, journal));
});
after(() => close?.());

const focused = () => b.page.evaluate(() => document.activeElement.getAttribute("aria-label") ?? document.activeElement.textContent);
/** Tab until what has the focus is called so. */
async function tabTo(name) {
  for (let k = 0; k < 60; k++) {
    if ((await focused()) === name) return;
    await b.page.keyboard.press("Tab");
  }
  assert.fail(`no way by the keyboard to ${name}`);
}
const sounds = () => b.page.evaluate(() => ["a", "b"].map((k) => { const s = document.getElementById("pair-sound-" + k); return { paused: s.paused, at: s.currentTime, volume: s.volume, rate: s.playbackRate }; }));
const about = () => b.page.textContent("#pair-about");
/** When the chosen step was played, as the page has it: the note nearest to the step's average. */
const attacks = () => b.page.evaluate(() => {
  const step = document.getElementById("pair-step").value;
  return JSON.parse(document.getElementById("pair-data").textContent).takes.map((t) => {
    const heard = t.steps[step].filter((m) => m[2] !== null), mean = heard.reduce((s, m) => s + m[2], 0) / heard.length;
    return heard.reduce((best, m) => (Math.abs(m[2] - mean) < Math.abs(best[2] - mean) ? m : best))[1];
  });
});

test("takes are ticked and compared by the keyboard alone, and without a script", async () => {
  await b.page.goto(url + "takes");
  await tabTo("A, take 2");
  await b.page.keyboard.press("Space");
  await tabTo("B, take 1");
  await b.page.keyboard.press("Space");
  // Narrowing the list down loses no tick.
  await b.page.focus("input[name=tag]");
  await b.page.keyboard.type("no such tag");
  await b.page.keyboard.press("Enter");
  await b.page.waitForURL(/tag=no/);
  assert.ok((await b.page.textContent("main")).includes("Ticked, not in this list"));
  await b.page.focus("body");
  await tabTo("Compare A with B");
  await b.page.keyboard.press("Enter");
  await b.page.waitForURL(/\/compare\?first=2&second=1$/);
  assert.ok((await b.page.textContent("main")).includes("kinds of note"));
  assert.deepEqual(b.faults, []);
});

test("both are heard at the same step, and one key goes from one to the other at the same place", async () => {
  await b.page.goto(url + "compare?first=1&second=2");
  await b.page.getByRole("button", { name: "Hear its steps in both" }).first().focus();
  await b.page.keyboard.press("Enter");
  await b.page.waitForFunction(() => !document.getElementById("pair-sound-a").paused && document.getElementById("pair-sound-a").currentTime > 0.3);
  const [a, other] = await attacks();
  let [one, two] = await sounds();
  assert.ok(two.paused && one.at > a - 0.5 && one.at < a + 0.6, `A at ${one.at}, its attack at ${a}`);
  // Slowed down, so that the time between the key and the look counts for little.
  await b.page.selectOption("#pair-speed", "0.125");
  await b.page.focus("#pair-play");
  await b.page.waitForTimeout(100);
  const before = (await sounds())[0].at - a;
  await b.page.keyboard.press("x");
  await b.page.waitForFunction(() => !document.getElementById("pair-sound-b").paused);
  [one, two] = await sounds();
  assert.ok(one.paused && two.rate === 0.125, "only B is heard");
  const now = two.at - other;
  assert.ok(Math.abs(now - before) < 0.08 || now < before, `from ${before} s of A's attack to ${now} s of B's`);
  assert.equal(await b.page.getAttribute("#pair-b", "aria-pressed"), "true");
  // Again and again, a beat before to a beat after.
  await b.page.selectOption("#pair-speed", "1");
  await b.page.waitForTimeout(1500);
  two = (await sounds())[1];
  assert.ok(two.at > other - 0.45 && two.at < other + 0.55, `B at ${two.at}, its attack at ${other}`);
  assert.ok(Math.min(one.volume, two.volume) > 0 && Math.max(one.volume, two.volume) === 1, "the softer one is as it is");
  const here = await b.page.inputValue("#pair-step");
  await b.page.focus("#pair-play");
  await b.page.keyboard.press("n");
  assert.notEqual(await b.page.inputValue("#pair-step"), here);
  assert.match(await about(), /^A: time \d+ of 12, .*B: time \d+ of 12, .*Step 2 of 4 of the finding/);
  await b.page.keyboard.press("p");
  assert.equal(await b.page.inputValue("#pair-step"), here);
  await b.page.keyboard.press("Enter");
  await b.page.waitForFunction(() => document.getElementById("pair-sound-b").paused);
  assert.deepEqual(b.faults, []);
});

test("a note of either line is walked to, and heard in the take it stands in", async () => {
  await b.page.locator("#pair-line-b .key").first().focus();
  await b.page.keyboard.press("ArrowRight");
  await b.page.keyboard.press("Enter");
  await b.page.waitForFunction(() => !document.getElementById("pair-sound-b").paused);
  assert.equal(await b.page.inputValue("#pair-step"), "1");
  assert.equal(await b.page.locator(".note.chosen").count(), 2);
  await b.page.selectOption("#pair-time", "4");
  assert.match(await about(), /^A: time 5 of 12, .*B: time 5 of 12/);
  await b.page.click("#pair-play");
});

test("both films stand at their attack of the step, and are walked frame by frame", { skip: films ? false : "no ffmpeg is here (FFMPEG names it)" }, async () => {
  await b.page.goto(url + "compare?first=1&second=2");
  await b.page.waitForSelector("#pair-films.there", { timeout: 60000 });
  const at = await attacks();
  for (const k of [0, 1]) {
    const video = b.page.locator("#pair-films video").nth(k), truth = OFFSET + at[k] * DRIFT, until = Date.now() + 60000;
    for (;;) {
      const shown = await number(b.page, video);
      if (shown / RATE <= truth + 0.0015 && (shown + 1) / RATE >= truth - 0.0015) break;
      assert.ok(Date.now() < until, `film ${k}: frame ${shown} for ${truth} s`);
      await b.page.waitForTimeout(200);
    }
  }
  const before = await number(b.page, b.page.locator("#pair-films video").first());
  await b.page.click("#pair-film-on");
  await b.page.waitForTimeout(600);
  assert.equal(await number(b.page, b.page.locator("#pair-films video").first()), before + 1);
  await b.page.goto(url + "compare?first=1&second=3");
  assert.ok((await b.page.textContent("main")).includes("Only A has a film"));
  assert.deepEqual(b.faults, []);
});

test("what cannot be heard is said, and the other one still is", async () => {
  renameSync(join(place, "demo3/take 3.wav"), join(place, "demo3/moved.wav"));
  await b.page.goto(url + "compare?first=3&second=1");
  assert.ok((await b.page.textContent("main")).includes("A cannot be heard: the recording of take 3 is no longer where it was"));
  assert.equal(await b.page.isDisabled("#pair-a"), true);
  await b.page.getByRole("button", { name: "Hear its steps in both" }).first().click();
  await b.page.waitForFunction(() => !document.getElementById("pair-sound-b").paused);
  renameSync(join(place, "demo3/moved.wav"), join(place, "demo3/take 3.wav"));
});

test("ticking, comparing and the drills: no serious fault by axe, nothing cut, light and dark, wide and on a phone", async () => {
  b.faults.length = 0;
  const pages = { ticked: "takes?a=1&b=2&b=3", two: "compare?first=1&second=2", sets: "compare?first=1&second=2,3" };
  for (const [name, path] of Object.entries(pages)) {
    for (const width of [1280, 390]) for (const scheme of ["light", "dark"]) {
      await b.page.setViewportSize({ width, height: 900 });
      await b.page.goto(url + path);
      await b.page.evaluate((s) => localStorage.setItem("takegauge-theme", s), scheme);
      await b.page.reload();
      await b.page.waitForTimeout(200);
      const wide = await b.page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
      assert.ok(wide <= 0, `/${path} is ${wide} px too wide at ${width}`);
      await accessible(b.page);
      if ((width === 1280) === (scheme === "light")) await b.page.screenshot({ path: join(screens, `compare-${name}-${width}-${scheme}.png`), fullPage: true });
    }
  }
  assert.deepEqual(b.faults, []);
});

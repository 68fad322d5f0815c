// A player's page: what it tells, and what is set, ticked off and mended there with the keyboard alone.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { accessible, entered, folder, screens, takegauge } from "./browser.mjs";

const place = folder("players");
const journal = join(place, "journal.db");
let url, b, close;

/** The day so many days from now, on this machine's clock. */
function day(n) {
  const d = new Date();
  d.setDate(d.getDate() + n);
  return [d.getFullYear(), d.getMonth() + 1, d.getDate()].map((x) => String(x).padStart(2, "0")).join("-");
}

const run = (...args) => execFileSync(takegauge, ["-q", ...args], { cwd: place, encoding: "utf8" });
const keep = (...args) => run("journal", "--journal-file", journal, ...args);

before(async () => {
  for (const [k, ago] of [21, 14, 6, 2].entries()) {
    run("demo", "--seed", String(k + 1), "-o", `demo${k}`);
    keep("add", `demo${k}/take.wav`, "--drill", `demo${k}/drill.toml`, "--player", k === 1 ? "ada" : "Ada", "--picked", "all", "--recorded-at", day(-ago));
  }
  for (const [k, bpm] of [100, 110, 120].entries()) {
    run("click", "inside-pair", "--guide", "--tempo", String(bpm), "--repeats", "14", "-o", `pair${bpm}.wav`);
    keep("add", `pair${bpm}.wav`, "--drill", "inside-pair", "--player", "Ada", "--picked", "all", "--recorded-at", day(-12 + 4 * k));
  }
  keep("task", "set", "Two minutes of rolls, eyes closed", "--player", "Ada", "--due", day(-3), "--today", day(-10));
  keep("task", "set", "Every day", "--player", "ADA", "--loop", "4", "--tempo", "140", "--due", day(5), "--today", day(-2));
  keep("task", "set", "--player", "Ada", "--drill", "inside-pair", "--tempo", "120", "--due", day(1), "--today", day(-6));
  keep("task", "set", "Film the picking hand from the side", "--player", "Ada", "--due", day(-8), "--today", day(-15));
  keep("task", "done", "4", "--today", day(-9));
  keep("task", "set", "Bring the acoustic", "--player", "Bo", "--due", day(2), "--today", day(0));
  ({ b, url, close } = await entered(place, journal));
});
after(() => close?.());

/** Goes on by Tab until the focus is on what the selector names, then presses a key. */
async function go(selector, key) {
  for (let n = 0; n < 150; n++) {
    await b.page.keyboard.press("Tab");
    if (await b.page.evaluate((s) => document.activeElement.matches(s), selector)) {
      if (key) await b.page.keyboard.press(key);
      return;
    }
  }
  assert.fail(`Tab never comes to ${selector}`);
}
const says = (text) => b.page.waitForFunction((t) => document.querySelector("main")?.textContent.includes(t), text);

test("a task is set, ticked off and had back, a take mended, with the keyboard alone", async () => {
  await b.page.goto(url + "players");
  await go('main a[href="/player?name=Ada"]', "Enter");
  await says("Last take");
  assert.match(await b.page.textContent("main"), /7 takes on 7 days/);
  // Set.
  await go("main details:has(#words, textarea[name=words]) summary", "Enter");
  await go("textarea[name=words]");
  await b.page.keyboard.type("Slow bends");
  await go("input[name=due]");
  await go('form[action="/player/tasks"] button', "Enter");
  await says("Slow bends");
  assert.match(await b.page.textContent("main"), /setting task 6 for Ada/);
  // Ticked off, and had back.
  await go('button[aria-label="Done: Slow bends"]', "Enter");
  await says("ticking off task 6");
  assert.equal(await b.page.locator('button[aria-label="Done: Slow bends"]').count(), 0);
  await go('form[action="/undo"] button', "Enter");
  await b.page.waitForSelector('button[aria-label="Done: Slow bends"]');
  // A take's own words, mended and had back; the summary is closed while there is nothing in it.
  await b.page.goto(url + "takes/1");
  await go("main details:has(input[name=player]) summary", "Enter");
  await go("textarea[name=note]");
  await b.page.keyboard.type("New strings.");
  await go("input[name=player]");
  await b.page.keyboard.press("Control+a");
  await b.page.keyboard.type("Bo");
  await go('form[action="/takes/1/notes"] button', "Enter");
  await says("mending take 1 (note, player)");
  assert.equal(await b.page.inputValue("input[name=player]"), "Bo");
  await go('form[action="/undo"] button', "Enter");
  // The address stays as it was: what stands in the form tells that the page is another.
  await b.page.waitForFunction(() => document.querySelector("input[name=player]")?.value === "Ada");
  await b.page.waitForLoadState();
  // A loop of the report is set as a task: its drill and tempo stand in the form.
  await go('a.button[href^="/player?name=Ada&drill=loop"]', "Enter");
  await b.page.waitForURL(/\/player\?name=Ada&drill=loop/);
  assert.match(await b.page.inputValue("select[name=drill]"), /^loop:take\.1\.\d$/);
  assert.ok(Number(await b.page.inputValue("input[name=tempo]")) > 20);
});

test("what is overdue is said in words, and what is set can be recorded", async () => {
  await b.page.goto(url + "player?name=ada");
  const text = await b.page.textContent("main");
  for (const part of ["Two minutes of rolls, eyes closed", "overdue by 3 days", "due tomorrow", "due in 5 days", "since", "told on 4 of 4 practice days"]) assert.ok(text.includes(part), part);
  await b.page.getByRole("link", { name: /^Record it: Every day/ }).click();
  await b.page.waitForURL(/\/record\?drill=task/);
  assert.equal(await b.page.inputValue("#tempo"), "140");
});

test("players' pages: no fault by axe, nothing cut, light and dark, wide, narrow and printed", async () => {
  b.faults.length = 0;
  for (const [name, path] of Object.entries({ "player-all": "players", player: "player?name=Ada", "player-new": "player?name=Cy", "player-plan": "plan", "player-mend": "takes/4" })) {
    for (const width of [1280, 390]) for (const scheme of ["light", "dark"]) {
      await b.page.setViewportSize({ width, height: 900 });
      assert.equal((await b.page.goto(url + path)).status(), 200, path);
      await b.page.evaluate((s) => localStorage.setItem("takegauge-theme", s), scheme);
      await b.page.reload();
      if (name === "player-mend" || name === "player-new") await b.page.locator("main details").first().evaluate((d) => { d.open = true; });
      await b.page.waitForTimeout(150);
      const wide = await b.page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
      assert.ok(wide <= 0, `/${path} is ${wide} px too wide at ${width}`);
      await accessible(b.page);
      if ((width === 1280) === (scheme === "light")) await b.page.screenshot({ path: join(screens, `page-${name}-${width}-${scheme}.png`), fullPage: name !== "player-mend" });
    }
  }
  await b.page.goto(url + "player?name=Ada");
  await b.page.emulateMedia({ media: "print" });
  assert.equal(await b.page.locator("main button:visible").count(), 0, "a printed page has no buttons");
  await b.page.emulateMedia({ media: null });
  assert.deepEqual(b.faults, []);
});

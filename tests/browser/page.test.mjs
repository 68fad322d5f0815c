// The pages of `takegauge page` in a browser: a take is dropped and scored, kept, looked at, compared.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { mkdirSync, readFileSync } from "node:fs";
import { basename, join } from "node:path";
import { after, before, test } from "node:test";
import { accessible, folder, open, screens, serve, takegauge } from "./browser.mjs";

const place = folder("page");
const take = join(place, "demo/take.wav"), drill = join(place, "demo/drill.toml");
let server, url, b;

/** Drops files on the window, as a file manager does. */
async function drop(page, paths) {
  const files = paths.map((p) => ({ name: basename(p), data: readFileSync(p).toString("base64") }));
  await page.evaluate((files) => {
    const transfer = new DataTransfer();
    for (const { name, data } of files) transfer.items.add(new File([Uint8Array.from(atob(data), (c) => c.charCodeAt(0))], name, { lastModified: 1772385600000 }));
    document.getElementById("drop").dispatchEvent(new DragEvent("drop", { bubbles: true, cancelable: true, dataTransfer: transfer }));
  }, files);
}

before(async () => {
  execFileSync(takegauge, ["-q", "demo", "-o", join(place, "demo")]);
  server = await serve(["--journal-file", join(place, "journal.db"), "--delay-file", join(place, "delays.toml")]);
  const { entry } = server;
  url = server.url;
  b = await open({ offline: false });
  b.page.on("request", (r) => assert.ok(r.url().startsWith(url) || /^(data|blob):/.test(r.url()), r.url()));
  assert.equal((await b.page.goto(url)).status(), 403, "without the key nothing is shown");
  await b.page.goto(entry);
  assert.equal(b.page.url(), url, "the key does not stay in the address");
  mkdirSync(screens, { recursive: true });
});
after(async () => {
  await b?.close();
  await server?.close();
});

test("a dropped drill and take give the figures of the command line", async () => {
  await b.page.goto(url);
  await drop(b.page, [drill]);
  await b.page.waitForFunction(() => document.getElementById("said").textContent.includes("is chosen"));
  await drop(b.page, [take]);
  await b.page.waitForURL(/\/results\/1$/);
  await b.page.waitForSelector("#timeline", { timeout: 120000 });
  const json = join(place, "score.json");
  execFileSync(takegauge, ["-q", "score", take, "--drill", drill, "--json", json]);
  const told = JSON.parse(readFileSync(json, "utf8"));
  for (const sentence of told.summary.headline) assert.ok((await b.page.textContent("main")).includes(sentence), sentence);
  const here = await (await b.context.request.get(url + "results/1/score.json")).json();
  for (const part of ["notes", "extra", "timebase", "summary", "groups", "changes", "findings", "reliability", "drill"]) assert.deepEqual(here[part], told[part], part);
  assert.equal(here.take.path, "take.wav");
});

test("the report on the page is heard and walked like the file", async () => {
  await b.page.getByRole("button", { name: /^Hear \d/ }).first().click();
  await b.page.waitForFunction(() => document.getElementById("audio").currentTime > 0.2 && !document.getElementById("audio").paused);
  await b.page.click("#play");
  await b.page.focus("#timeline");
  await b.page.keyboard.press("ArrowRight");
  assert.match(await b.page.textContent("#about"), /^Note \d+/);
});

test("the back button leads back, and forward again", async () => {
  const here = b.page.url();
  await b.page.getByRole("link", { name: "Drills" }).click();
  await b.page.waitForURL(/\/drills$/);
  await b.page.goBack();
  assert.equal(b.page.url(), here);
  assert.equal(await b.page.locator("#timeline").count(), 1);
  await b.page.goForward();
  assert.match(b.page.url(), /\/drills$/);
  await b.page.goBack();
});

test("it is kept, noted, tagged, and the change taken back", async () => {
  await b.page.click("text=Keep it in the journal");
  await b.page.fill("input[name=player]", "Ada");
  await b.page.fill("input[name=tags]", "evening");
  await b.page.click("button:has-text('Keep')");
  await b.page.waitForURL(/\/takes\/1$/);
  await b.page.fill("textarea[name=note]", "New strings.");
  await b.page.click("button:has-text('Save')");
  await b.page.goto(url + "takes");
  assert.ok((await b.page.textContent("main")).includes("New strings."));
  await b.page.click("text=Take back the last change");
  await b.page.waitForURL(/\/takes\/1$/);
  assert.equal(await b.page.inputValue("textarea[name=note]"), "");
  assert.equal(await b.page.inputValue("input[name=tags]"), "evening");
});

test("what is wrong is said on the page", async () => {
  await b.page.goto(url);
  await b.page.setInputFiles("#file", { name: "bad.toml", mimeType: "text/plain", buffer: Buffer.from("name = 3") });
  await b.page.waitForSelector(".about.wrong");
  await b.page.setInputFiles("#file", { name: "noise.wav", mimeType: "audio/wav", buffer: Buffer.from("this is no recording") });
  await b.page.waitForSelector("text=It could not be scored");
  assert.ok((await b.page.textContent("main")).includes("noise.wav"));
});

test("every page: no serious fault by axe, nothing cut, no error, light and dark", async () => {
  // A second take of the drill, so that comparisons and trends have something to show.
  execFileSync(takegauge, ["-q", "demo", "--seed", "2", "-o", join(place, "two")]);
  execFileSync(takegauge, ["-q", "journal", "--journal-file", join(place, "journal.db"), "add", "two/take.wav", "--drill", drill, "--player", "Ada"], { cwd: place });
  const pages = { send: "", record: "record", loop: "drills/loop/take.2.0", takes: "takes", take: "takes/2", student: "takes/2/student", drills: "drills", drill: "drills/journal/1", players: "players", trend: "trend", ladder: "ladder", compare: "compare?first=1&second=2", plan: "plan", result: "results/1" };
  b.faults.length = 0;
  for (const [name, path] of Object.entries(pages)) {
    for (const width of [1280, 390]) for (const scheme of ["light", "dark"]) {
      await b.page.setViewportSize({ width, height: 900 });
      const answer = await b.page.goto(url + path);
      assert.equal(answer.status(), 200, path);
      await b.page.evaluate((s) => localStorage.setItem("takegauge-theme", s), scheme);
      await b.page.reload();
      await b.page.waitForTimeout(150);
      const wide = await b.page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
      assert.ok(wide <= 0, `/${path} is ${wide} px too wide at ${width}`);
      if (width === 1280) await accessible(b.page);
      // Kinds of note that say nothing are folded: a phone shows the usual ones, and the rest where it is asked for.
      if (name === "ladder" && width === 390) {
        assert.ok((await b.page.locator("table:visible").last().locator("tbody tr").count()) <= 6, "the ladder's table is long");
        await b.page.locator("summary", { hasText: "not come apart" }).click();
        assert.ok(await b.page.getByRole("region", { name: "Kinds of note that do not come apart" }).isVisible());
        assert.ok((await b.page.evaluate(() => document.documentElement.scrollWidth - innerWidth)) <= 0, "cut when unfolded");
        await b.page.locator("summary", { hasText: "not come apart" }).click();
      }
      // The list of pages is long; the wide light one and the narrow dark one show what the others do.
      if ((width === 1280) === (scheme === "light")) await b.page.screenshot({ path: join(screens, `page-${name}-${width}-${scheme}.png`), fullPage: name !== "take" && name !== "result" });
    }
  }
  assert.deepEqual(b.faults, []);
});

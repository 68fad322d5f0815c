// A headless Chromium with a profile of its own, and what the tests of the report and the page share.
import { chromium } from "playwright-core";
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { mkdirSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";

export const here = dirname(fileURLToPath(import.meta.url));
export const root = resolve(here, "../..");
export const takegauge = resolve(root, process.env.TAKEGAUGE ?? "target/release/takegauge");
const executablePath = process.env.CHROMIUM ?? "/usr/bin/chromium";

const args = [
  "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
  "--disable-component-update", "--disable-sync", "--autoplay-policy=no-user-gesture-required", "--mute-audio",
];

/** Where the pictures of all views go; `tests/run pictures` copies them to reports/screens. */
export const screens = join(root, "target/screens");

/** A folder that goes with the process. */
export function folder(name) {
  const path = mkdtempSync(join(tmpdir(), `takegauge-${name}-`));
  process.on("exit", () => rmSync(path, { recursive: true, force: true }));
  return path;
}

/** A browser window; every request that is neither the file itself nor in-page data is refused and written down. */
export async function open({ width = 1280, height = 900, offline = true, dark = false, more = [] } = {}) {
  const context = await chromium.launchPersistentContext(folder("profile"), {
    executablePath, headless: true, args: [...args, ...more], viewport: { width, height }, colorScheme: dark ? "dark" : "light",
    deviceScaleFactor: 1,
  });
  const attempted = [], faults = [];
  if (offline) {
    await context.route("**/*", (route) => {
      const url = route.request().url();
      if (/^(file|data|blob):/.test(url)) return route.continue();
      attempted.push(url);
      return route.abort();
    });
  }
  const page = context.pages()[0] ?? (await context.newPage());
  page.on("pageerror", (e) => faults.push(String(e)));
  page.on("console", (m) => { if (m.type() === "error") faults.push(m.text()); });
  return { context, page, attempted, faults, close: () => context.close() };
}

/** A server of the pages: its address, the one that lets in, and how it ends. */
export async function serve(options) {
  const server = spawn(takegauge, ["page", ...options], { stdio: ["ignore", "pipe", "inherit"] });
  // The printed address carries the key; a browser that showed it once needs it no more.
  const entry = await new Promise((found, failed) => {
    server.stdout.once("data", (d) => found(String(d).trim()));
    server.once("exit", (code) => failed(new Error(`page ended with ${code}`)));
  });
  const close = async () => {
    if (server.exitCode !== null) return;
    const ended = new Promise((done) => server.once("exit", (code) => done(code)));
    server.kill("SIGINT");
    assert.equal(await ended, 0, "Ctrl-C ends it cleanly");
  };
  return { entry, url: new URL("/", entry).href, close };
}

/** The pages over a journal, and a window that was let in. */
export async function entered(place, journal) {
  const server = await serve(["--journal-file", journal, "--delay-file", join(place, "delays.toml")]);
  let b;
  const close = async () => { await b?.close(); await server.close(); };
  try {
    b = await open({ offline: false });
    await b.page.goto(server.entry);
  } catch (e) {
    await close();
    throw e;
  }
  mkdirSync(screens, { recursive: true });
  return { b, url: server.url, close };
}

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

/** No serious or critical fault by axe-core's rules. */
export async function accessible(page) {
  // Run beside the page's own scripts, as its content policy allows no other inside.
  const client = await page.context().newCDPSession(page);
  await client.send("Runtime.evaluate", { expression: axe });
  const { result, exceptionDetails } = await client.send("Runtime.evaluate", {
    expression: "axe.run(document, { resultTypes: ['violations'] }).then((r) => JSON.stringify(r.violations))",
    awaitPromise: true, returnByValue: true,
  });
  assert.equal(exceptionDetails, undefined);
  const faults = JSON.parse(result.value).filter((v) => v.impact === "serious" || v.impact === "critical");
  assert.deepEqual(faults.map((v) => `${v.id}: ${v.nodes.slice(0, 3).map((n) => n.html.slice(0, 120)).join(" | ")}`), []);
  await client.detach();
}

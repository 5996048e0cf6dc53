// One browser, several phones, every scenario on a study and a server process of its own.
// Usage: node field_harness.mjs <stages as JSON> [folder for pictures]; a stage is { name, address, folder }.
//
// The test behind it answers lines: `NAME code` with a code that pairs, `NAME wait N` by letting N seconds go by on the server's
// clock, `NAME kill` and `NAME start` by ending the server's process with SIGKILL and starting it anew on the same study,
// `NAME count` with what is on record.

import { mkdir, mkdtemp, readFile, rm } from "node:fs/promises";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { createInterface } from "node:readline";
import { chromium } from "playwright-core";
import { must } from "./must.mjs";

const CHROMIUM = process.env.CHROMIUM ?? "/usr/bin/chromium";
const FLAGS = ["--headless=new", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"];
const AT_ONCE = 3;
/** A loaded machine takes a minute for the longest. */
const PATIENCE_S = 240;
const axe = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

const answers = new Map();
createInterface({ input: process.stdin }).on("line", (line) => {
  const [name, ...rest] = line.split(" ");
  answers.get(name)?.(rest.join(" "));
});

/** What comes after a step, as a heading. */
const HEADING = { well: "Which well are you at?", strip: "new strip for the", temperature: "How warm is", rinse: "Rinse the strip.", apply: "Put a drop", start: "Do not move the strip", file: "The scan is running." };
const BUTTON = { strip: "I have this strip", temperature: "It is this warm", rinse: "I am rinsing now", apply: "The drop is on", start: "The scan is running now", file: "Send the file" };

class Stage {
  constructor(browser, told, seen, pictures) {
    Object.assign(this, told, { browser, seen, pictures, complaints: [], contexts: [], last: Promise.resolve(), scans: join(told.folder, "..", "scans") });
  }

  /** One question at a time: two phones of a stage may ask at once. */
  ask(words) {
    const asked = this.last.then(() => new Promise((done) => {
      answers.set(this.name, done);
      process.stdout.write(`${this.name} ${words}\n`);
    }));
    this.last = asked;
    return asked;
  }

  async count() {
    return JSON.parse(await this.ask("count"));
  }

  /** So many steps and results are on record, and no step twice. */
  async holds(steps, results) {
    const found = await this.count();
    must(found.steps === steps && found.keys === steps && found.results === results, `${this.name}: ${JSON.stringify(found)} on record, ${steps} steps and ${results} results expected`);
  }
}

/** A phone that is paired. Its steady clock can be moved on together with the server's. */
class Phone {
  static async paired(stage, how = {}) {
    const context = await stage.browser.newContext({
      viewport: { width: how.width ?? 360, height: 740 },
      colorScheme: how.dark ? "dark" : "light",
      hasTouch: true,
      isMobile: true,
      locale: how.locale ?? "en-GB",
      javaScriptEnabled: how.script ?? true,
    });
    stage.contexts.push(context);
    await context.addInitScript(() => {
      const real = performance.now.bind(performance);
      let ahead = 0;
      performance.now = () => real() + ahead;
      const calendar = Date.now.bind(Date);
      const gone = () => Number(sessionStorage.getItem("gone") ?? 0);
      Date.now = () => calendar() + gone();
      globalThis.skipAhead = (ms) => {
        ahead += ms;
        sessionStorage.setItem("gone", String(gone() + ms));
      };
    });
    const page = await context.newPage();
    page.on("console", (message) => {
      const expected = /Failed to load resource|ERR_INTERNET_DISCONNECTED|ERR_CONNECTION|ERR_FAILED|ERR_EMPTY_RESPONSE|ERR_SOCKET/.test(message.text());
      if (message.type() === "error" && !expected) stage.complaints.push(`${page.url()}: ${message.text()}`);
    });
    page.on("pageerror", (error) => stage.complaints.push(`${page.url()}: ${error}`));
    const phone = Object.assign(new Phone(), { stage, page, context, kind: `${how.width ?? 360}-${how.dark ? "dark" : "light"}`, script: how.script ?? true });
    await page.goto(`${stage.address}/pair?code=${await stage.ask("code")}`);
    await phone.look("pair");
    const words = how.words ?? { pair: "Pair", start: "Tests of this phone" };
    await phone.press(words.pair);
    await phone.sees(words.start);
    await page.waitForLoadState("load");
    return phone;
  }

  /** Seconds go by, here and at the server. */
  async wait(seconds) {
    await this.stage.ask(`wait ${seconds}`);
    if (this.script) await this.page.evaluate((ms) => globalThis.skipAhead(ms), 1000 * seconds);
  }

  async press(words) {
    const button = this.page.locator("a.press, button.press, label.press").filter({ hasText: words, visible: true }).first();
    await button.waitFor();
    const box = await button.boundingBox();
    must(box.height >= 48 && box.width >= 48, `${words}: ${box.width} x ${box.height} px`);
    await button.tap();
  }

  async sees(words) {
    await this.page.getByText(words).first().waitFor({ timeout: 20000 });
  }

  /** The page of the server, asking for the step at this place of the run. */
  async isAt(place) {
    await this.page.locator(`main#step[data-place="${place}"]`).waitFor({ timeout: 20000 });
  }

  /** Once for each screen on each kind of phone: nothing for axe, nothing wider than the screen, every target large; a picture. */
  async look(name) {
    const { page, stage } = this;
    const key = `${this.kind}-${name}`;
    if (stage.seen.has(key) || !this.script) return;
    stage.seen.add(key);
    await page.evaluate(axe);
    const found = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ["violations"], rules: { "color-contrast-enhanced": { enabled: true } } }));
    const listed = found.violations.map((one) => `${one.id}: ${one.nodes.slice(0, 3).map((node) => node.html.slice(0, 160)).join(" | ")}`);
    must(listed.length === 0, `${key}: ${listed.join("\n")}`);
    const [wide, room] = await page.evaluate(() => [document.documentElement.scrollWidth, document.documentElement.clientWidth]);
    must(wide <= room, `${key} is ${wide} px wide on ${room} px`);
    const small = await page.evaluate(() => [...document.querySelectorAll("a, button, input:not([type=hidden]), select, summary")]
      .filter((one) => one.checkVisibility() && !one.matches(".skip") && (one.getBoundingClientRect().height < 47.5 || one.getBoundingClientRect().width < 47.5)).map((one) => one.outerHTML.slice(0, 120)));
    must(small.length === 0, `${key}: too small for a thumb: ${small.join(" | ")}`);
    if (stage.pictures) await page.screenshot({ path: join(stage.pictures, `${key}.png`), fullPage: true });
  }

  async begin() {
    await this.press("New test");
    await this.sees(HEADING.well);
  }

  /** A photo of a label: the camera gives the file. */
  async scans(photo) {
    await this.page.locator("input#photo").setInputFiles(join(this.stage.folder, `${photo}.jpg`));
    if (!this.script) await this.press("Read the picture");
  }

  /** One step: what it needs, then its button. What comes of it is looked at by whoever asked. */
  async does([deed, what], purpose = "") {
    const { page, stage } = this;
    await this.sees(HEADING[deed]);
    if (deed === "well") {
      await this.look("well");
      return this.press(what);
    }
    if (deed === "strip") await page.locator("select[name=code]").selectOption(what);
    if (deed === "temperature") await page.locator("input[name=temperature]").fill("21.0");
    if (deed === "apply") await this.wait(10);
    if (deed === "start") {
      if (this.script) must(await page.locator("form.step > .reach button").isDisabled(), "the button is free before the wait is over");
      await this.look(`${purpose}wait`);
      await this.wait(62);
    }
    if (deed === "file") {
      await page.locator("input[name=file]").setInputFiles(join(stage.scans, `${what}.txt`));
      await this.wait(14);
    }
    await this.look(`${purpose}${deed}`);
    return this.press(BUTTON[deed]);
  }

  /** Steps one after the other, with a link. */
  async goes(steps, from = 1, purpose = "") {
    let place = from;
    for (const step of steps) {
      await this.does(step, purpose);
      place += 1;
      await this.isAt(place);
    }
    return place;
  }
}

async function played(stage, play) {
  const started = performance.now();
  const late = new Promise((_, failed) => setTimeout(() => failed(new Error(`not over after ${PATIENCE_S} s`)), 1000 * PATIENCE_S).unref());
  await Promise.race([play(stage, Phone, must), late]);
  must(stage.complaints.length === 0, `the console says:\n${stage.complaints.join("\n")}`);
  const seconds = ((performance.now() - started) / 1000).toFixed(1);
  process.stdout.write(`${stage.name} played in ${seconds} s: ${JSON.stringify(await stage.count())}\n`);
}

const [told, pictures] = process.argv.slice(2);
const dumps = await mkdtemp(join(tmpdir(), "stillwell-browser-"));
let browser;
try {
  if (pictures) await mkdir(pictures, { recursive: true });
  browser = await chromium.launch({ executablePath: CHROMIUM, args: [...FLAGS, `--crash-dumps-dir=${dumps}`] });
  const files = ["./field_flows.mjs", "./field_turned_away.mjs", "./field_lost.mjs", "./field_killed.mjs"];
  const plays = Object.assign({}, ...(await Promise.all(files.map((file) => import(file)))).map((file) => ({ ...file })));
  const seen = new Set();
  const left = JSON.parse(told).map((one) => new Stage(browser, one, seen, pictures));
  const failed = [];
  const worker = async () => {
    for (let stage = left.shift(); stage; stage = left.shift()) {
      await played(stage, plays[stage.name]).catch((error) => {
        console.error(`${stage.name}: ${error.stack}`);
        failed.push(stage.name);
      });
      for (const context of stage.contexts) await context.close();
    }
  };
  await Promise.all(Array.from({ length: AT_ONCE }, worker));
  if (failed.length) throw new Error(`not as it should be: ${failed.join(", ")}`);
  process.stdout.write(`stage screens looked at: ${seen.size}\n`);
} catch (error) {
  console.error(error);
  process.exitCode = 1;
} finally {
  await browser?.close();
  await rm(dumps, { recursive: true, force: true });
  process.exit();
}

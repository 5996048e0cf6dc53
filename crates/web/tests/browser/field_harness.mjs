// One phone, one scenario a file. Usage: node field_harness.mjs <address> <scenario.mjs> <folder of scans> [folder for pictures]
//
// The test behind it answers lines: `code` with a code that pairs, `wait N` by letting N seconds go by on the server's clock.

import { mkdir, mkdtemp, readFile, rm } from "node:fs/promises";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { createInterface } from "node:readline";
import { pathToFileURL } from "node:url";
import { chromium } from "playwright-core";

const CHROMIUM = process.env.CHROMIUM ?? "/usr/bin/chromium";
const FLAGS = ["--headless=new", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"];
const axe = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const lines = createInterface({ input: process.stdin })[Symbol.asyncIterator]();

export function must(condition, words) {
  if (!condition) throw new Error(words);
}

async function ask(words) {
  process.stdout.write(`${words}\n`);
  return (await lines.next()).value;
}

/** A phone that is paired. Its steady clock can be moved on together with the server's. */
export class Phone {
  static async paired(stage, how = {}) {
    const context = await stage.browser.newContext({
      viewport: { width: how.width ?? 360, height: 740 },
      colorScheme: how.dark ? "dark" : "light",
      hasTouch: true,
      isMobile: true,
      locale: how.locale ?? "en-GB",
      javaScriptEnabled: how.script ?? true,
    });
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
      const expected = /Failed to load resource|ERR_INTERNET_DISCONNECTED/.test(message.text());
      if (message.type() === "error" && !expected) stage.complaints.push(`${page.url()}: ${message.text()}`);
    });
    page.on("pageerror", (error) => stage.complaints.push(`${page.url()}: ${error}`));
    const phone = Object.assign(new Phone(), { stage, page, context, name: how.name ?? "phone" });
    await page.goto(`${stage.address}/pair?code=${await ask("code")}`);
    await phone.look("pair");
    await phone.press("Pair");
    await phone.sees("Tests of this phone");
    await page.waitForLoadState("load");
    return phone;
  }

  /** Seconds go by, here and at the server. */
  async wait(seconds) {
    await ask(`wait ${seconds}`);
    await this.page.evaluate((ms) => globalThis.skipAhead(ms), 1000 * seconds);
  }

  async press(words) {
    const button = this.page.locator("a.press, button.press").filter({ hasText: words, visible: true }).first();
    await button.waitFor();
    const box = await button.boundingBox();
    must(box.height >= 48 && box.width >= 48, `${words}: ${box.width} x ${box.height} px`);
    await button.tap();
  }

  async sees(words) {
    await this.page.getByText(words).first().waitFor({ timeout: 15000 });
  }

  /** Nothing for axe, nothing wider than the screen, every target large; and a picture. */
  async look(name) {
    const { page, stage } = this;
    await page.evaluate(axe);
    const found = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ["violations"], rules: { "color-contrast-enhanced": { enabled: true } } }));
    const listed = found.violations.map((one) => `${one.id}: ${one.nodes.slice(0, 3).map((node) => node.html.slice(0, 160)).join(" | ")}`);
    must(listed.length === 0, `${name}: ${listed.join("\n")}`);
    const [wide, room] = await page.evaluate(() => [document.documentElement.scrollWidth, document.documentElement.clientWidth]);
    must(wide <= room, `${name} is ${wide} px wide on ${room} px`);
    const small = await page.evaluate(() => [...document.querySelectorAll("a, button, input:not([type=hidden]), select, summary")]
      .filter((one) => one.checkVisibility() && !one.matches(".skip") && (one.getBoundingClientRect().height < 47.5 || one.getBoundingClientRect().width < 47.5)).map((one) => one.outerHTML.slice(0, 120)));
    must(small.length === 0, `${name}: too small for a thumb: ${small.join(" | ")}`);
    if (stage.pictures) await page.screenshot({ path: join(stage.pictures, `${this.name}-${name}.png`) });
  }

  async begin(well) {
    await this.press("New test");
    await this.sees("Which well are you at?");
    await this.look("well");
    await this.press(well);
  }

  /** One strip from the box to its file. */
  async measure(strip, file, name, temperature = "21.0") {
    const { page } = this;
    await page.locator("select[name=code]").waitFor();
    await this.look(`${name}-strip`);
    await page.locator("select[name=code]").selectOption(strip);
    await this.press("I have this strip");
    await page.locator("input[name=temperature]").fill(temperature);
    await this.look(`${name}-temperature`);
    await this.press("It is so warm");
    await this.sees("Rinse the strip.");
    await this.look(`${name}-rinse`);
    await this.press("I rinse now");
    await this.sees("Put a drop");
    await this.wait(10);
    await this.look(`${name}-apply`);
    await this.press("The drop is on");
    await this.sees("Do not move the strip");
    must(await page.locator("form.step > .reach button").isDisabled(), "the button is free before the wait is over");
    await this.look(`${name}-wait`);
    await this.wait(62);
    await this.press("The scan runs now");
    await this.sees("The scan runs.");
    await page.locator("input[type=file]").setInputFiles(join(this.stage.scans, `${file}.txt`));
    await this.wait(14);
    await this.look(`${name}-file`);
    await this.press("Send the file");
  }
}

const [address, scenario, scans, pictures] = process.argv.slice(2);
const dumps = await mkdtemp(join(tmpdir(), "stillwell-browser-"));
let browser;
try {
  if (pictures) await mkdir(pictures, { recursive: true });
  browser = await chromium.launch({ executablePath: CHROMIUM, args: [...FLAGS, `--crash-dumps-dir=${dumps}`] });
  const stage = { browser, address, scans, pictures, complaints: [] };
  const { default: play } = await import(pathToFileURL(resolve(scenario)).href);
  await play(stage, Phone, must);
  must(stage.complaints.length === 0, `the console says:\n${stage.complaints.join("\n")}`);
} catch (error) {
  console.error(error);
  process.exitCode = 1;
} finally {
  await browser?.close();
  await rm(dumps, { recursive: true, force: true });
  process.exit();
}

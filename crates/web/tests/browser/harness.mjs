// One real browser, one scenario a file. Usage: node harness.mjs <printed address> <scenario.mjs> [folder for pictures]
//
// A scenario exports `default async (stage) => {}`. `stage` opens pages that have come in by the printed address, watches that
// no page writes an error into its console, and runs axe on what is shown. Whatever it throws fails the test.

import { mkdir, mkdtemp, readFile, rm } from "node:fs/promises";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { chromium } from "playwright-core";
import { must } from "./must.mjs";

const CHROMIUM = process.env.CHROMIUM ?? "/usr/bin/chromium";
const FLAGS = ["--headless=new", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"];
const axe = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

class Stage {
  constructor(browser, address, pictures) {
    Object.assign(this, { browser, address, pictures, complaints: [] });
  }

  /** A page that has come in. `how`: width, height, dark, script, touch. */
  async open(how = {}) {
    const context = await this.browser.newContext({
      viewport: { width: how.width ?? 1280, height: how.height ?? 900 },
      colorScheme: how.dark ? "dark" : "light",
      javaScriptEnabled: how.script ?? true,
      hasTouch: how.touch ?? false,
      bypassCSP: false,
    });
    const page = await context.newPage();
    const expected = how.expected ?? (() => false);
    page.on("console", (message) => {
      if (message.type() === "error" && !expected(message.text())) this.complaints.push(`${page.url()}: ${message.text()}`);
    });
    page.on("pageerror", (error) => this.complaints.push(`${page.url()}: ${error}`));
    await page.goto(this.address);
    return page;
  }

  /** No violation on what is shown. */
  async check(page, words) {
    // Evaluated by the debugger, which the page's policy does not concern.
    await page.evaluate(axe);
    const found = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ["violations"] }));
    const listed = found.violations.map((one) => `${one.id}: ${one.nodes.slice(0, 3).map((node) => node.html.slice(0, 160)).join(" | ")}`);
    must(listed.length === 0, `${words} ${page.url()}: ${listed.join("\n")}`);
  }

  /** Nothing is wider than the screen. */
  async fits(page) {
    const [wide, room] = await page.evaluate(() => [document.documentElement.scrollWidth, document.documentElement.clientWidth]);
    if (wide <= room) return;
    const widest = await page.evaluate((room) => [...document.querySelectorAll("body *")]
      .filter((one) => one.getBoundingClientRect().right > room && !one.closest(".wide"))
      .map((one) => `${one.tagName}.${one.className}#${one.id} to ${one.getBoundingClientRect().right}`).slice(0, 30), room);
    must(false, `${page.url()} is ${wide} px wide on ${room} px:\n${widest.join("\n")}`);
  }

  async picture(page, name) {
    if (!this.pictures) return;
    // Where the study lies on this machine is nobody's business.
    await page.evaluate(() => {
      const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
      for (let at = texts.nextNode(); at; at = texts.nextNode()) at.nodeValue = (at.nodeValue ?? "").replace(/\/\S*\/wells\.study/g, "wells.study");
    });
    await page.screenshot({ path: join(this.pictures, `${name}.png`), fullPage: true });
  }

  way(path) {
    return new URL(path, this.address).href;
  }
}

const [address, scenario, pictures] = process.argv.slice(2);
const dumps = await mkdtemp(join(tmpdir(), "stillwell-browser-"));
let browser;
try {
  if (pictures) await mkdir(pictures, { recursive: true });
  browser = await chromium.launch({ executablePath: CHROMIUM, args: [...FLAGS, `--crash-dumps-dir=${dumps}`] });
  const stage = new Stage(browser, address, pictures);
  const { default: play } = await import(pathToFileURL(resolve(scenario)).href);
  await play(stage);
  must(stage.complaints.length === 0, `the console says:\n${stage.complaints.join("\n")}`);
} catch (error) {
  console.error(error);
  process.exitCode = 1;
} finally {
  await browser?.close();
  await rm(dumps, { recursive: true, force: true });
}

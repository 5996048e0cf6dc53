// More than a thousand scans in one overlay: the figure stays small, is read by keyboard, and fits a phone.
import { must } from "./must.mjs";

export default async function (stage) {
  const page = await stage.open();
  await page.goto(stage.way("/scans"));
  const said = await page.locator("main").innerText();
  const n_scans = Number(/(\d+) scans/.exec(said)?.[1] ?? 0);
  must(n_scans > 1000, `${n_scans} scans are fewer than this scenario is for`);
  const began = Date.now();
  await page.goto(stage.way("/signals"));
  const reader = page.locator(".reader").first();
  await reader.waitFor();
  must(Date.now() - began < 10_000, `the overlay took ${Date.now() - began} ms to come`);
  const largest = await page.evaluate(() => Math.max(...[...document.querySelectorAll("figure svg")].map((svg) => svg.outerHTML.length)));
  must(largest < 200_000, `a figure of ${largest} bytes`);
  await reader.focus();
  await page.keyboard.press("ArrowRight");
  must(((await page.locator(".reading").first().textContent()) ?? "").trim() !== "", "no value is read off the overlay");
  await stage.check(page, "overlay");
  await stage.picture(page, "overlay");
  await page.setViewportSize({ width: 360, height: 740 });
  await stage.fits(page);
}

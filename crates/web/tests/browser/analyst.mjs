// The analyst's whole way: files in, scan looked at, peak placed by dragging, kept with a reason, waiting for the approver.
import { readdirSync } from "node:fs";
import { join } from "node:path";
import { must } from "./must.mjs";

const EXAMPLE = join(import.meta.dirname, "../../../../examples/alder-vale");

/** Drags the end of a window by so many pixels, and gives the number field that goes with it. */
export async function drag(page, handle, end, by) {
  const grip = page.locator(`path.grip[data-handle="${handle}"][data-end="${end}"]`).first();
  const box = await grip.boundingBox();
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  await page.mouse.move(x, y);
  await page.mouse.down();
  for (let step = 1; step <= 10; step += 1) await page.mouse.move(x + (by * step) / 10, y);
  await page.mouse.up();
  return page.locator(`input[data-handle="${handle}"][data-end="${end}"]`);
}

export default async function (stage) {
  const page = await stage.open();
  await page.getByRole("link", { name: "Take in", exact: true }).click();
  const files = readdirSync(EXAMPLE).filter((name) => name.includes("-B") || name === "run-sheet.csv").map((name) => join(EXAMPLE, name));
  await page.locator("input[type=file]").setInputFiles(files);
  await page.getByRole("button", { name: "Send" }).click();
  await page.getByText("the run sheet names every one of them").waitFor();
  await stage.check(page, "intake");
  await stage.picture(page, "intake");
  await page.getByLabel("Name of the series").fill("Alder Vale, May");
  await page.getByLabel("Who", { exact: true }).fill("Ines Field");
  await page.getByLabel("Why", { exact: true }).fill("routine measurement");
  await page.getByRole("button", { name: "Take it in" }).click();
  await page.locator(".done").waitFor();
  await stage.check(page, "a job that is over");

  await page.goto(stage.way("/series/1/scans/60"));
  const before = await page.locator('input[data-handle="peak"][data-end="to"]').inputValue();
  const field = await drag(page, "peak", "to", 20);
  must((await field.inputValue()) !== before, "the window did not move with the pointer");
  await page.waitForFunction(() => document.querySelector("[data-of=signal]")?.textContent?.includes("A"));
  await page.locator("[data-of=sample] li").first().waitFor();
  const answered = page.waitForResponse((answer) => /\/try\?.*baseline-1_to=/.test(answer.url()) && answer.ok());
  await drag(page, "baseline-1", "to", 25);
  await answered;
  await stage.check(page, "a scan while its peak is placed");
  await stage.picture(page, "placing");
  await page.getByRole("button", { name: "See what this gives" }).click();
  await page.getByText("Tried, not recorded").waitFor();
  await page.getByLabel(/Name of the new revision/).fill("4");
  await page.getByRole("button", { name: /First look/ }).click();
  await page.getByText("Nothing is recorded yet").waitFor();
  await stage.check(page, "a revision that was looked at");
  await stage.picture(page, "revision");
  await page.getByLabel("Who", { exact: true }).fill("Ines Field");
  await page.getByLabel("Why", { exact: true }).fill("the peak sits lower on this lot");
  await page.getByRole("button", { name: "Make it the method" }).click();
  await page.getByText("is the method now").waitFor();
  await page.goto(stage.way("/results?only=not-approved"));
  must((await page.locator('a[href^="/results/"]').count()) > 0, "nothing waits for the approver");
  await page.goto(stage.way("/method"));
  await page.getByRole("button", { name: /going back/ }).first().click();
  await page.getByText("Nothing is recorded yet").waitFor();
}

// Without script: files in, run sheet tidied, long work followed by its link, a placement tried by the form.
import { must } from "./must.mjs";
import { join } from "node:path";

const BLANKS = join(import.meta.dirname, "../../../../examples/alder-vale/blanks-B1.csv");

export default async function (stage) {
  const page = await stage.open({ script: false });
  await page.goto(stage.way("/intake"));
  await page.locator("input[type=file]").setInputFiles([BLANKS]);
  await page.getByRole("button", { name: "Send" }).click();
  await page.getByRole("button", { name: /Add a line/ }).click();
  await page.locator("summary", { hasText: "One value on many lines" }).click();
  await page.getByLabel("Column").selectOption("role");
  await page.getByLabel(/Value; empty/).fill("blank");
  await page.getByRole("button", { name: "Put it there" }).click();
  await page.getByRole("textbox", { name: "electrode of blanks-B1.csv, scan 1" }).fill("E1");
  await page.getByRole("button", { name: "Save these lines" }).click();
  must((await page.getByRole("textbox", { name: "electrode of blanks-B1.csv, scan 1" }).inputValue()) === "E1", "the cell was not saved");
  await page.goto(stage.way("/series/1/scans/60"));
  await page.locator('input[name="peak_to"]').fill("-0.53");
  await page.getByRole("button", { name: "See what this gives" }).click();
  await page.getByText("Tried, not recorded").waitFor();
  await page.getByLabel(/Name of the new revision/).fill("4");
  await page.getByRole("button", { name: /First look/ }).click();
  for (let n = 0; n < 100 && (await page.getByText("Nothing is recorded yet").count()) === 0; n += 1) {
    await page.getByRole("link", { name: "Look again" }).click();
    await page.waitForTimeout(100);
  }
  await page.getByText("Nothing is recorded yet").waitFor();
}

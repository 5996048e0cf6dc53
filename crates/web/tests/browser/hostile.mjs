// Names that a stranger made, in a real browser: nothing of them runs, nothing of them widens the page.
import { must } from "./must.mjs";

export default async function (stage) {
  const page = await stage.open();
  let ran = false;
  page.on("dialog", async (dialog) => { ran = true; await dialog.dismiss(); });
  await page.goto(stage.way("/intake"));
  const names = ["<img src=x onerror=alert(1)>.csv", "<script>alert(1)<script>.csv", `${"w".repeat(240)}.csv`, "\u05d0\u05d1\u05d2.csv", "=1+1.csv"];
  await page.locator("input[type=file]").setInputFiles(names.map((name) => ({ name, mimeType: "text/csv", buffer: Buffer.from("E / V,i / µA\n0.1,1\n0.2,2\n") })));
  await page.getByRole("button", { name: "Send" }).click();
  await page.getByRole("heading", { name: "Take in 5 files" }).waitFor();
  must((await page.locator("main img, main script").count()) === 0 && !ran, "a name became markup");
  await stage.check(page, "hostile names");
  await stage.fits(page);
  await page.setViewportSize({ width: 360, height: 740 });
  await stage.fits(page);
  await stage.picture(page, "hostile");
}

// Quality over time on the invented year: every page in both themes, wide and on a phone; and a laboratory's file taken in without script.
import { must } from "./must.mjs";

const PAGES = ["/quality", "/quality/control", "/quality/lots", "/quality/validation", "/quality/comparison"];

export default async function (stage) {
  for (const [name, how] of [["light", {}], ["dark", { dark: true }], ["phone", { width: 360, height: 740 }], ["phone-dark", { width: 360, height: 740, dark: true }]]) {
    const page = await stage.open(how);
    for (const way of [...PAGES, "/"]) {
      await page.goto(stage.way(way));
      await stage.check(page, name);
      await stage.fits(page);
      await stage.picture(page, `${name}${way.replaceAll("/", "-")}`);
    }
    await page.goto(stage.way("/quality/control"));
    for (const summary of await page.locator("summary").all()) await summary.click();
    await stage.check(page, `${name}, everything unfolded`);
    await stage.fits(page);
    await page.context().close();
  }
  const page = await stage.open({ script: false });
  await page.goto(stage.way("/quality/comparison"));
  await page.locator("summary", { hasText: "Record a laboratory" }).click();
  const buffer = Buffer.from("sample,value,unit,u\nAV-99,12.0,mg/L as NO3-,0.3\n");
  await page.locator("#laboratory-file").setInputFiles([{ name: "<img src=x onerror=alert(1)>.csv", mimeType: "text/csv", buffer }]);
  await page.locator("#laboratory-actor").fill("Ines Field");
  await page.locator("#laboratory-reason").fill("one more report");
  await page.getByRole("button", { name: "Record it" }).click();
  await page.getByText("Record 2:").waitFor();
  await page.getByRole("link", { name: "To the comparison" }).click();
  must((await page.getByText("no determination of ours bears this name").count()) > 0, "the new result is not among those without partner");
  must((await page.locator("main img").count()) === 0, "a name became markup");
}

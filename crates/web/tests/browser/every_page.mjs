// Every page in both themes, wide and on a phone: no violation of axe, nothing wider than the screen.
import { PAGES } from "./pages.mjs";

export default async function (stage) {
  for (const [name, how] of [["light", {}], ["dark", { dark: true }], ["phone", { width: 360, height: 740 }], ["phone-dark", { width: 360, height: 740, dark: true }]]) {
    const page = await stage.open(how);
    for (const way of PAGES) {
      await page.goto(stage.way(way));
      await stage.check(page, name);
      await stage.fits(page);
      await stage.picture(page, `${name}${way.split("?")[0].replaceAll("/", "-")}`);
    }
    await page.context().close();
  }
}

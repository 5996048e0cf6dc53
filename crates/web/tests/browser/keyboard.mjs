// Keyboard only: values are read off a curve, a window is moved, an act is done; what has the focus can be seen.
import { must } from "./must.mjs";

export default async function (stage) {
  const page = await stage.open();
  await page.goto(stage.way("/series/1/scans/60"));
  await page.keyboard.press("Tab");
  must((await page.evaluate(() => document.activeElement?.className)) === "skip", "the first stop is not the way to the content");
  await page.keyboard.press("Enter");
  const focused = (what) => page.evaluate((what) => document.activeElement?.matches(what) ?? false, what);
  const tab_to = async (what) => {
    for (let n = 0; n < 80; n += 1) {
      if (await focused(what)) return;
      await page.keyboard.press("Tab");
    }
    must(false, `${what} cannot be reached by the keyboard`);
  };
  await tab_to(".reader");
  await page.keyboard.press("PageDown");
  await page.keyboard.press("ArrowRight");
  const first = await page.locator(".reading").first().textContent();
  await page.keyboard.press("Shift+ArrowRight");
  const second = await page.locator(".reading").first().textContent();
  must(/V, .*A/.test(first) && first !== second, `the cross does not move: ${first}, ${second}`);
  await page.keyboard.press("+");
  must((await page.locator(".reader svg").first().getAttribute("viewBox"))?.startsWith("0 0 480") === false, "it does not come closer");
  await page.keyboard.press("0");
  await tab_to('input[data-handle="peak"][data-end="to"]');
  const outline = await page.evaluate(() => getComputedStyle(document.activeElement).outlineStyle);
  must(outline !== "none", "the focus cannot be seen");
  const before = await page.evaluate(() => document.activeElement.value);
  for (let n = 0; n < 5; n += 1) await page.keyboard.press("ArrowDown");
  must((await page.evaluate(() => document.activeElement.value)) !== before, "the window does not move by keys");
  await page.locator("[data-of=sample] li").first().waitFor();
  await page.keyboard.press("Enter");
  await page.getByText("Tried, not recorded").waitFor();
}

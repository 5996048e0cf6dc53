// A method that takes the height at a stated potential: it is moved on the scan, by pointer and by finger.
import { must } from "./must.mjs";

export default async function (stage) {
  const page = await stage.open();
  await page.goto(stage.way("/series/1/scans/60"));
  const field = page.locator("#height-at");
  const line = page.locator("path.height").first();
  await line.scrollIntoViewIfNeeded();
  const before = Number(await field.inputValue());
  let box = await line.boundingBox();
  let [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  await page.mouse.move(x, y);
  await page.mouse.down();
  for (let step = 1; step <= 5; step += 1) await page.mouse.move(x + step * 4, y);
  await page.mouse.up();
  const dragged = Number(await field.inputValue());
  must(dragged !== before, `the pointer moved nothing: ${before}`);
  await page.waitForFunction(() => document.querySelector("[data-of=series]")?.textContent?.includes("otherwise"));
  await page.context().close();

  const phone = await stage.open({ width: 360, height: 740, touch: true });
  await phone.goto(stage.way("/series/1/scans/60"));
  const finger = await phone.context().newCDPSession(phone);
  const grip = phone.locator('path.grip[data-handle="peak"][data-end="to"]').first();
  await grip.scrollIntoViewIfNeeded();
  box = await grip.boundingBox();
  [x, y] = [box.x + box.width / 2 + 8, box.y + box.height / 2];
  const peak = phone.locator('input[data-handle="peak"][data-end="to"]');
  const was = await peak.inputValue();
  await finger.send("Input.dispatchTouchEvent", { type: "touchStart", touchPoints: [{ x, y }] });
  for (let step = 1; step <= 5; step += 1) {
    await finger.send("Input.dispatchTouchEvent", { type: "touchMove", touchPoints: [{ x: x + step * 3, y }] });
  }
  await finger.send("Input.dispatchTouchEvent", { type: "touchEnd", touchPoints: [] });
  must(await peak.inputValue() !== was, "the finger moved nothing");
  await phone.context().close();
}

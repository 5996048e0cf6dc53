// The connection breaks while somebody types: it is said, asked for again, and the typed text is still there.
import { must } from "./must.mjs";

export default async function (stage) {
  const page = await stage.open({ expected: (text) => text.includes("ERR_INTERNET_DISCONNECTED") });
  await page.goto(stage.way("/series/1/scans/60"));
  const summary = page.locator("summary", { hasText: "Leave this scan out" });
  await summary.click();
  const form = page.locator('form[action$="/exclude"]');
  await form.getByLabel("Who").fill("Ines Field");
  await form.getByLabel("Why").fill("a bubble on the strip");
  await page.context().setOffline(true);
  await form.getByRole("button").click();
  await page.getByText("The server does not answer").waitFor();
  await stage.picture(page, "lost");
  must((await form.getByLabel("Why").inputValue()) === "a bubble on the strip", "what was typed is lost");
  await page.context().setOffline(false);
  await page.getByText("The server answers again").waitFor({ timeout: 10_000 });
  must((await form.getByLabel("Why").inputValue()) === "a bubble on the strip", "what was typed is lost");
  await form.getByRole("button").click();
  await page.getByRole("heading", { name: "Recorded" }).waitFor();
}

// Two tabs on one run sheet: the second is told, and nothing that was typed is lost.
import { join } from "node:path";
import { must } from "./must.mjs";

const BLANKS = join(import.meta.dirname, "../../../../examples/alder-vale/blanks-B1.csv");

export default async function (stage) {
  const one = await stage.open({ expected: (text) => text.includes("409") });
  await one.goto(stage.way("/intake"));
  await one.locator("input[type=file]").setInputFiles([BLANKS]);
  await one.getByRole("button", { name: "Send" }).click();
  await one.getByRole("button", { name: /Add a line/ }).click();
  await one.getByRole("button", { name: "Save these lines" }).waitFor();
  const two = await one.context().newPage();
  await two.goto(one.url());
  const note = (page) => page.getByRole("textbox", { name: "note of blanks-B1.csv, scan 1" });
  await note(one).fill("from the first tab");
  await one.getByRole("button", { name: "Save these lines" }).click();
  await one.waitForFunction(() => document.querySelector("input[value='from the first tab']"));
  await note(two).fill("from the second tab");
  await two.getByRole("button", { name: "Save these lines" }).click();
  await two.getByText("changed in another tab").waitFor();
  must((await note(two).inputValue()) === "from the second tab", "what was typed is lost");
  await stage.check(two, "a run sheet that changed meanwhile");
  await two.getByRole("button", { name: "Save these lines" }).click();
  await two.waitForFunction(() => !document.body.textContent?.includes("changed in another tab"));
  must((await note(two).inputValue()) === "from the second tab", "what was typed is not saved");
}

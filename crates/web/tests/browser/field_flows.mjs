// Whole flows that end in a number or in "unknown", each on its own study, on narrow and wider phones, by day and by night.
import { runOf, stripOf } from "./field_steps.mjs";

const control = ["K21A-101", "control"];

/** A control and one strip, then what is seen. */
async function toTheEnd(stage, Phone, must, how, water, words, look) {
  const phone = await Phone.paired(stage, how);
  await phone.look("start");
  await phone.begin();
  const place = await phone.goes(runOf("AVW-11", control, ["K21A-102", water]));
  await phone.sees(words);
  await phone.sees("This counts the whole nitrate");
  must((await phone.page.locator(".number").count()) === 1, "one number");
  await phone.look(look);
  await stage.holds(place - 1, 1);
}

export const below = (stage, Phone, must) => toTheEnd(stage, Phone, must, { width: 360 }, "below", "Below the limit of 50", "below");
export const above = (stage, Phone, must) => toTheEnd(stage, Phone, must, { width: 390, dark: true }, "above", "ABOVE the limit of 50", "above");

async function twoStrips(stage, Phone, how, second) {
  const phone = await Phone.paired(stage, how);
  await phone.begin();
  let place = await phone.goes(runOf("AVW-11", control, ["K21A-102", "near-1"]));
  await phone.sees("One strip is not enough for this water.");
  await phone.sees("Water, second strip");
  await phone.look("second");
  place = await phone.goes(stripOf("K21A-103", second), place);
  return [phone, place];
}

export async function agree(stage, Phone, must) {
  const [phone, place] = await twoStrips(stage, Phone, { width: 390 }, "near-2");
  await phone.sees("Below the limit of 50");
  must((await phone.page.locator(".number").count()) === 1, "one number");
  await phone.look("below");
  await stage.holds(place - 1, 1);
}

export async function disagree(stage, Phone, must) {
  const [phone, place] = await twoStrips(stage, Phone, { width: 360, dark: true }, "far-2");
  await phone.sees("NO RESULT. Treat this water as unknown. Do not use it for infants (babies).");
  await phone.sees("The two strips do not agree.");
  must((await phone.page.locator(".number").count()) === 0, "no number");
  await phone.look("disagree");
  await stage.holds(place - 1, 0);
}

/** Too close to tell; the third verdict. */
export async function close(stage, Phone, must) {
  const phone = await Phone.paired(stage, { width: 360 });
  await phone.begin();
  const place = await phone.goes(runOf("AVW-11", control, ["K21A-102", "at-1"], ["K21A-103", "at-2"]));
  await phone.sees("Too close to the limit of 50");
  must((await phone.page.locator(".number").count()) === 1, "one number");
  await phone.look("too-close");
  await stage.holds(place - 1, 1);
}

export async function dead(stage, Phone, must) {
  const phone = await Phone.paired(stage, { width: 390, dark: true });
  await phone.begin();
  const place = await phone.goes(runOf("AVW-11", ["K21A-101", "dead"]));
  await phone.sees("The test strip did not show what is in the control vial.");
  must((await phone.page.locator(".number").count()) === 0, "no number");
  await phone.look("dead");
  await stage.holds(place - 1, 0);
}

/** Without script, by labels: the same forms, a link for each step. */
export async function scriptless(stage, Phone, must) {
  const phone = await Phone.paired(stage, { width: 360, script: false });
  await phone.begin();
  await phone.scans("well-AVW-11");
  await phone.sees("The label says AVW-11.");
  await phone.press("AVW-11");
  await phone.isAt(2);
  await phone.scans("strip-K21A-101");
  await phone.sees("The label says K21A-101.");
  await phone.press("I have this strip");
  await phone.isAt(3);
  let place = await phone.goes(stripOf("", "control").slice(1), 3);
  place = await phone.goes(stripOf("K21A-102", "below"), place);
  await phone.sees("Below the limit of 50");
  await stage.holds(place - 1, 1);
  must((await stage.count()).labels === 2, "well and strip were scanned");
}

/** Two phones at one well at the same time: each for itself, no strip twice. */
export async function two_phones(stage, Phone) {
  const one = await Phone.paired(stage, { width: 360 });
  const other = await Phone.paired(stage, { width: 390, dark: true });
  await one.begin();
  await other.begin();
  let [here, there] = [await one.goes([["well", "AVW-12"]]), await other.goes([["well", "AVW-12"]])];
  await other.sees("Someone else is measuring this well now.");
  await other.look("two-phones");
  await one.goes([["strip", "K21A-101"]], here);
  await other.does(["strip", "K21A-101"]);
  await other.sees("The strip K21A-101 was used before.");
  await other.look("used");
  [here, there] = [here + 1, there + 1];
  here = await one.goes(stripOf("", "control").slice(1), here);
  there = await other.goes(stripOf("K21A-104", "control-2"), there);
  // The files of both come in at the same moment.
  here = await one.goes(stripOf("K21A-102", "below").slice(0, 5), here);
  there = await other.goes(stripOf("K21A-105", "above").slice(0, 5), there);
  await Promise.all([one.does(["file", "below"]), other.does(["file", "above"])]);
  await one.sees("Below the limit of 50");
  await other.sees("ABOVE the limit of 50");
  await stage.holds(here + there, 2);
}

// The server's process is killed (SIGKILL) at every step of a run under the live page, and started again on the same study.
import { runOf } from "./field_steps.mjs";

const steps = runOf("AVW-11", ["K21A-101", "control"], ["K21A-102", "near-1"], ["K21A-103", "near-2"]);

/** `strike` plays the step and the kill; afterwards the server is there again, and everything counts once. */
async function killed(stage, Phone, must, how, strike) {
  const phone = await Phone.paired(stage, how);
  await phone.begin();
  let place = 1;
  for (const step of steps) {
    await strike(phone, step, place);
    must((await phone.page.locator(".number").count()) === 0 || place === steps.length, "a number before the end");
    await stage.ask("start");
    // At one step the page finds by itself that the server is there again; at the others it is told, to save time.
    if (place !== 2) await phone.page.evaluate(() => dispatchEvent(new Event("online")));
    place += 1;
    await phone.isAt(place);
    const found = await stage.count();
    must(found.steps === place - 1 && found.keys === place - 1, `step ${place - 1}: ${JSON.stringify(found)}`);
  }
  await phone.sees("Below the limit of 50");
  must((await phone.page.locator(".number").count()) === 1, "one number");
  await stage.holds(steps.length, 1);
}

/** Before the step leaves the phone. */
export const killed_before = (stage, Phone, must) => killed(stage, Phone, must, { width: 360 }, async (phone, step) => {
  await stage.ask("kill");
  const waits = step[0] !== "well";
  await phone.does(step);
  await phone.sees("No link. Your steps are kept on this phone.");
  must(waits || (await phone.page.locator("select[name=code]").count()) === 1, "the flow goes on");
});

/** After the step is on record, and before its answer arrives. */
export const killed_after = (stage, Phone, must) => killed(stage, Phone, must, { width: 390, dark: true }, async (phone, step) => {
  const struck = new Promise((done) => {
    void phone.page.route(`**/field/run/*`, async (route) => {
      await route.fetch();
      await stage.ask("kill");
      await route.abort();
      done(undefined);
    }, { times: 1 });
  });
  await phone.does(step);
  await struck;
  await phone.sees("No link. Your steps are kept on this phone.");
});

/** Somewhere while the step is taken: another moment at each step. */
export const killed_within = (stage, Phone, must) => killed(stage, Phone, must, { width: 360, dark: true }, async (phone, step, place) => {
  await phone.does(step);
  await new Promise((done) => setTimeout(done, (place * 7) % 45));
  await stage.ask("kill");
});

// Without a link: for a whole run, and at every single step. Nothing is claimed, nothing lost, nothing twice.
import { runOf } from "./field_steps.mjs";

const steps = runOf("AVW-11", ["K21A-101", "control"], ["K21A-102", "above"]);

/** From the second step to the end, with a page that is loaded anew: one result when the link is back. */
export async function lost(stage, Phone, must) {
  const phone = await Phone.paired(stage, { width: 360, dark: true });
  await phone.begin();
  await phone.goes(steps.slice(0, 1));
  await phone.page.evaluate(() => navigator.serviceWorker.ready.then(() => fetch("/field/steps")));
  await phone.context.setOffline(true);
  for (const step of steps.slice(1)) await phone.does(step, "lost-");
  await phone.sees("NO RESULT YET.");
  await phone.sees("No link. Your steps are kept on this phone.");
  must((await phone.page.locator(".number").count()) === 0, "a number without a link");
  await phone.look("no-result");
  await phone.page.reload();
  await phone.sees("NO RESULT YET.");
  await phone.look("no-result-reloaded");
  await stage.holds(1, 0);
  await phone.wait(3600);
  await phone.context.setOffline(false);
  await phone.sees("ABOVE the limit of 50");
  await phone.look("above");
  await phone.page.goto(stage.address);
  must((await phone.page.locator(".wells li").count()) === 1, "one test, not two");
  await stage.holds(steps.length, 1);
}

/** The link goes as each step is pressed, and comes back after it: before the step left the phone, and after it arrived. */
export async function lost_each(stage, Phone, must) {
  const phone = await Phone.paired(stage, { width: 390 });
  await phone.begin();
  let place = 1;
  for (const step of steps) {
    const isAnswerLost = place % 2 === 0;
    if (isAnswerLost) {
      await phone.page.route(`**/field/run/*`, async (route) => {
        await route.fetch();
        await route.abort();
      }, { times: 1 });
    } else await phone.context.setOffline(true);
    await phone.does(step);
    await phone.sees("No link. Your steps are kept on this phone.");
    await stage.holds(isAnswerLost ? place : place - 1, 0).catch(async (error) => {
      // The last file's answer holds the result.
      if (place !== steps.length) throw error;
      await stage.holds(place, 1);
    });
    must((await phone.page.locator(".number").count()) === 0, "a number that nobody has sent");
    if (isAnswerLost) await phone.page.evaluate(() => dispatchEvent(new Event("online")));
    else await phone.context.setOffline(false);
    place += 1;
    await phone.isAt(place);
  }
  await phone.sees("ABOVE the limit of 50");
  await stage.holds(steps.length, 1);
}

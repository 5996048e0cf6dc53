// Without a link from the second step on: the flow goes on, nothing is claimed, and one result comes when the link is back.
export default async function (stage, Phone, must) {
  const phone = await Phone.paired(stage, { width: 360, dark: true, name: "lost-360" });
  await phone.begin("AVW-11");
  await phone.page.locator("select[name=code]").waitFor();
  await phone.page.evaluate(() => navigator.serviceWorker.ready.then(() => fetch("/field/steps")));
  await phone.context.setOffline(true);
  await phone.measure("K21A-101", "control", "control");
  await phone.page.locator("select[name=code]").waitFor();
  await phone.measure("K21A-102", "above", "water");
  await phone.sees("NO RESULT YET.");
  await phone.sees("No link. Your steps are kept on this phone.");
  must((await phone.page.locator(".number").count()) === 0, "a number without a link");
  await phone.look("no-result");
  await phone.page.reload();
  await phone.sees("NO RESULT YET.");
  await phone.look("no-result-reloaded");
  await phone.wait(3600);
  await phone.context.setOffline(false);
  await phone.sees("ABOVE the limit of 50");
  await phone.look("above");
  await phone.page.goto(stage.address);
  must((await phone.page.locator(".wells li").count()) === 1, "one test, not two");
}

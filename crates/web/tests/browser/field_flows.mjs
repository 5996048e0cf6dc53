// Whole flows on two phones: by day and by night, below and near the limit, and what is turned away on the way.
export default async function (stage, Phone, must) {
  const day = await Phone.paired(stage, { width: 360, name: "day-360" });
  await day.look("start");
  await day.begin("AVW-11");
  await day.page.locator("select[name=code]").selectOption("K21B-201");
  await day.press("I have this strip");
  await day.sees("It is too old.");
  await day.look("expired");
  await day.page.locator("select[name=code]").selectOption("K21A-101");
  await day.press("I have this strip");
  await day.page.locator("input[name=temperature]").fill("34,0");
  await day.press("It is so warm");
  await day.sees("34.0 °C is too warm.");
  await day.look("warm");
  await day.page.locator("summary").tap();
  await day.look("stop");
  await day.press("Something was spilt");
  await day.sees("NO RESULT. Treat this water as unknown.");
  await day.look("unknown");

  await day.begin("AVW-11");
  await day.measure("K21A-101", "control", "control");
  await day.sees("The test strip works.");
  await day.measure("K21A-102", "near-1", "water");
  await day.sees("One strip is not enough for this water.");
  await day.measure("K21A-103", "near-2", "second");
  await day.sees("Below the limit of 50");
  await day.sees("This counts the whole nitrate");
  must((await day.page.locator(".number").count()) === 1, "one number");
  await day.look("below");

  const night = await Phone.paired(stage, { width: 390, dark: true, name: "night-390" });
  await night.begin("AVW-11");
  await night.sees("Someone else").catch(() => {});
  await night.measure("K21A-104", "dead", "control");
  await night.sees("The test strip did not show what is in the control vial.");
  await night.look("dead");
  await day.begin("AVW-12");
  await night.begin("AVW-12");
  await night.sees("Someone else measures this well now.");
  await night.look("two-phones");
  await night.page.goto(stage.address);
  await night.look("start");
}

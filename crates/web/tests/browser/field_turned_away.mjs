// What is turned away before a scan, with the reason and what to do: labels of elsewhere, an expired box, a warm sample.
export async function turned_away(stage, Phone, must) {
  const phone = await Phone.paired(stage, { width: 360 });
  await phone.begin();
  await phone.look("well");
  await phone.scans("foreign-AVW-11");
  await phone.sees("The label AVW-11 is from another list.");
  await phone.look("scan-other-study");
  await phone.scans("unknown-AVW-77");
  await phone.sees("The code “AVW-77” is not on the list of wells.");
  await phone.scans("box-K21A");
  await phone.sees("Now we need the well.");
  await phone.scans("wood");
  await phone.sees("There is no code that we can read in this picture.");
  await phone.look("scan-none");
  must((await stage.count()).steps === 0, "what is scanned is no step");
  await phone.scans("well-AVW-11");
  await phone.sees("The label says AVW-11.");
  await phone.look("scan-well");
  await phone.press("AVW-11");
  await phone.isAt(2);
  await phone.scans("box-K21B");
  await phone.sees("It is too old.");
  await phone.look("scan-expired");
  await phone.page.locator("select[name=code]").selectOption("K21B-201");
  await phone.press("I have this strip");
  await phone.isAt(3);
  await phone.sees("The strip K21B-201 was good until 2026-06-30. It is too old.");
  await phone.look("expired");
  await phone.scans("box-K21A");
  await phone.sees("The label says box K21A.");
  await phone.look("scan-box");
  must((await phone.page.locator("option", { hasText: "K21B" }).count()) === 0, "only that box");
  await phone.press("Show the whole list");
  await phone.page.locator("option", { hasText: "K21B-201" }).waitFor({ state: "attached" });
  await phone.scans("strip-K21A-101");
  await phone.sees("The label says K21A-101.");
  await phone.look("scan-strip");
  await phone.press("I have this strip");
  await phone.isAt(4);
  await phone.page.locator("input[name=temperature]").fill("34,0");
  await phone.press("It is this warm");
  await phone.sees("34.0 °C is too warm.");
  await phone.look("warm");
  await phone.page.locator("summary").tap();
  await phone.look("stop");
  await phone.press("Something was spilt");
  await phone.sees("NO RESULT. Treat this water as unknown.");
  await phone.look("stopped");
  await stage.holds(5, 0);
  must((await stage.count()).labels === 2, "well and strip were scanned");
  // A scan without a link says that the list is the way.
  await phone.begin();
  await phone.context.setOffline(true);
  await phone.scans("well-AVW-11");
  await phone.sees("Without a link you cannot scan. Pick from the list.");
  await phone.look("scan-no-link");
  await phone.context.setOffline(false);
  await phone.scans("well-AVW-11");
  await phone.sees("The label says AVW-11.");
}

/** The same screens in German, and at night. */
export async function german(stage, Phone) {
  const phone = await Phone.paired(stage, { width: 360, dark: true, locale: "de-AT", words: { pair: "Koppeln", start: "Tests mit diesem" } });
  await phone.press("Neuer Test");
  await phone.sees("An welchem Brunnen bist du?");
  await phone.look("de-well");
  await phone.scans("foreign-AVW-11");
  await phone.sees("gehört zu einer anderen Liste");
  await phone.look("de-scan-other-study");
  await phone.press("AVW-11");
  await phone.sees("Nimm einen neuen Streifen");
  await phone.look("de-strip");
}

# What an operator reads at a well. Short sentences, plain words. Each message has the same name in every language.
# `.do` says what to do next.

## Steps

step-well = Which well are you at?
    .do = Scan the plate at the well, or pick the well from the list.
step-strip-control = Take a new strip for the test with the control vial.
    .do = Scan the code on the strip, or pick it from the list.
step-strip-sample = Take a new strip for the water.
    .do = Scan the code on the strip. Use the same box as before.
step-strip-second = Take one more new strip for the same water.
    .do = Scan the code on the strip. Use the same box as before.
step-temperature-control = How warm is the control vial?
    .do = Hold the probe in the vial. Wait until the number stands still. Type it in.
step-temperature-water = How warm is the water?
    .do = Hold the probe in the cup. Wait until the number stands still. Type it in.
step-rinse = Rinse the strip.
    .do = Press the button when you start to rinse.
step-apply-control = Put a drop from the control vial on the strip.
    .do = The drop must cover all the dark spots. Then press the button.
step-apply-water = Put a drop of the water on the strip.
    .do = The drop must cover all the dark spots. Then press the button.
step-start = Wait. Do not move the strip.
    .do = Start the scan when the clock is done. Then press the button.
step-file = The scan is running. Do not move the strip.
    .do = When the scan is done, pick its file here.

## What a scan showed

seen-alive = The test strip works.
    .do = Now measure the water.
seen-not-covered = The drop did not cover the strip.
    .do = Take a new strip. Make the drop big enough. Look for air in it.
seen-unusable = This scan is not good enough.
    .do = Check the plug. Keep the strip still. Try again with a new strip.
seen-second-strip = One strip is not enough for this water.
    .do = Please measure it once more with a new strip.

## Refused steps

refusal-not-now = This step does not come now.
    .do = Do the step that you see on the screen.
refusal-run-is-over = This test is over.
    .do = Start a new test.
refusal-campaign-not-approved = This list of wells is not yet approved.
    .do = Do not measure. Call the lab.
refusal-campaign-withdrawn = This list of wells may not be used any more.
    .do = Do not measure. Call the lab.
refusal-campaign-over = This list of wells was good until { $day }.
    .do = Do not measure. Call the lab.
refusal-calibration-not-in-force = The lab has not cleared box { $lot }.
    .do = Use a strip from another box, or call the lab.
refusal-well-unknown = The code “{ $code }” is not on the list of wells.
    .do = Check that this is the right well. Scan its plate again.
refusal-lot-unknown = The box “{ $code }” is not on the list.
    .do = Use a strip from a box on the list.
refusal-strip-unknown = The strip { $strip } is not on the list.
    .do = Check the number on the strip. Use a strip from the list.
refusal-strip-used = The strip { $strip } was used before.
    .do = Throw it away. Take a new strip.
refusal-strip-expired = The strip { $strip } was good until { $day }. It is too old.
    .do = Throw it away. Take a strip from a newer box.
refusal-strip-recalled = The strip { $strip } was called back by the lab.
    .do = Do not use it. Take a new strip.
refusal-strip-of-other-lot = The strip { $strip } is from another box than your test strip.
    .do = Take a strip from box { $lot }.
refusal-temperature-not-a-number = This cannot be the right number.
    .do = Read the probe again and type the number in.
refusal-too-warm = { $found } °C is too warm. It must be at most { $limit } °C.
    .do = Put it in the shade until it is cool. Then read the probe again.
refusal-too-cold = { $found } °C is too cold. It must be at least { $limit } °C.
    .do = Warm it in your hands. Then read the probe again.
refusal-too-early = It is too soon. Wait { $seconds } more seconds.
    .do = Wait for the clock. Then press the button again.
refusal-too-late = It is too late. It took { $seconds } seconds. At most { $limit } are good.
    .do = Take a new strip and go on from there.
refusal-control-too-old = The test with the control vial is too long ago.
    .do = Do the test with the control vial again. Use a new strip.
refusal-second-too-late = The first strip is too long ago.
    .do = Start a new test.
refusal-run-too-long = This test took too long.
    .do = Start a new test.
refusal-device-restarted = The phone was turned off in between. The clock was lost.
    .do = Take a new strip and go on from there.
refusal-device-clock = The clock of the phone is wrong.
    .do = Turn the phone off and on. Then take a new strip.
refusal-handed-in-too-late = This step was sent too late.
    .do = Start a new test.
refusal-file-unreadable = This file cannot be read: { $why }
    .do = Pick the file of this scan.
refusal-file-used-before = This file was used before.
    .do = Pick the file of this scan. Look at its date.
refusal-file-of-other-scans = Scans in this file: { $found }. There must be { $expected }.
    .do = Pick the file of this scan.

## Labels

label-none = This picture holds no code of ours.
    .do = Scan the label on the well or on the box. Or pick from the list.
label-other-study = The label { $code } is from another list. It may look the same.
    .do = Do not go by it. Are you at the right well? Is it the right box? If not sure, call the lab.
label-outdated = The label { $code } is old. Its code now means something else.
    .do = Do not go by it. Call the lab.
label-well-now = { $code } is a strip or a box. Now we need the well.
    .do = Scan the plate at the well.
label-strip-now = { $code } is a well. Now we need a strip.
    .do = Scan the label on the strip or on its box.

## The end

reading-number = { $value } ± { $plus } { $unit }
reading-less-than = less than { $value } { $unit }
reading-more-than = more than { $value } { $unit }
reading-not-detected = not found: less than { $value } { $unit }
basis-nitrate = This counts the whole nitrate (NO₃⁻). It does not count only the nitrogen (N) in it.
basis-nitrogen = This counts only the nitrogen (N) in the nitrate. It does not count the whole nitrate (NO₃⁻).
basis-other = Look at the unit. Do not mix it up with other units.
verdict-below = Below the limit of { $limit } { $unit }.
    .do = Write down the number and the well.
verdict-above = ABOVE the limit of { $limit } { $unit }.
    .do = Do not use this water for babies. Do not boil it to make it better: that makes it worse. Call the number below.
verdict-too-close = Too close to the limit of { $limit } { $unit } to tell.
    .do = Do not use this water for babies. Call the number below. A lab must test it.
caution = We looked for one thing only. Other things in the water were not tested.
result-id = Number of this result: { $id }
calibration-until = The lab cleared these strips until { $day }.
call = Questions? Call { $name }: { $number }

unknown = NO RESULT. Treat this water as unknown. Do not use it for infants (babies).
why-control-not-alive = The test strip did not show what is in the control vial.
    .do = Do not use more strips from this box. Call the lab.
why-strips-used-up = No strip gave a good scan.
    .do = Check the plug and the strips. Start a new test, or call the lab.
why-disagree = The two strips do not agree.
    .do = Take new water from the well and start a new test. If it comes again, call the lab.
why-no-verdict = The checks do not let us give a number.
    .do = Start a new test with new strips. If it comes again, call the lab.
why-second-too-late = The second strip came too late.
    .do = Take new water from the well and start a new test.
why-run-too-long = The test took too long.
    .do = Take new water from the well and start a new test.
why-too-many-refused = Too many steps went wrong.
    .do = Rest for a moment. Then start a new test, or call the lab.
why-abandoned = The test was stopped.
    .do = Start a new test when you can.
why-overdue = The test was not finished.
    .do = Start a new test when you can.
why-no-longer = This result was good before. The lab has taken it back.
    .do = Start a new test, or call the lab.

## Stopping

abandon = Why are you stopping?
abandon-wrong-well = I am at the wrong well.
abandon-spilt = Something was spilt or fell down.
abandon-broken = Strip, plug or meter does not work.
abandon-had-to-leave = I have to go.
abandon-other = Something else.
note-clock-set = The clock of the phone was changed. We use the clock of the computer.
note-other-run = Someone else is measuring this well now. Each test counts by itself.

## The pages

page-title = Water test
page-skip = To the step
page-pair = Pair this phone
    .do = Type in the code that the computer shows.
page-pair-code = Code
page-pair-go = Pair
page-pair-wrong = This code is not right.
    .do = Look at the computer and type the code in again.
page-pair-wait = Too many wrong codes.
    .do = Wait one minute. Then try again.
page-pair-closed = This code is no longer good.
    .do = Ask for a new code at the computer.
page-not-paired = This phone is not paired.
    .do = Pair it first. All steps on it are kept.
page-new = New test
page-tests = Tests of this phone
page-no-tests = No tests yet.
page-open = not finished
page-unknown = unknown
page-go-on = Go on
page-to-start = All tests
page-strip = Code on the strip
page-pick = Pick the code
page-box = Box { $lot }
page-scan = Scan the code
page-scan-go = Read the picture
page-scan-list = Or pick from the list:
page-scan-busy = We are looking for the code.
page-scan-none = There is no code that we can read in this picture.
    .do = Hold the phone close and still. The code must fill the picture. Or pick from the list.
page-scan-large = This picture is too big.
    .do = Take a smaller one with the camera. Or pick from the list.
page-scan-no-picture = This file is not a picture that we can read.
    .do = Take a photo of the label. Or pick from the list.
page-scan-no-link = Without a link you cannot scan. Pick from the list.
page-picked-well = The label says { $code }.
    .do = Is this your well? Then press it.
page-picked-strip = The label says { $code }.
    .do = Is this your strip? Then press the button.
page-picked-box = The label says box { $code }.
    .do = Now pick the number that stands on the strip.
page-whole-list = Show the whole list
page-sheet-title = Labels
page-sheet-how = Print this on paper that may get wet. Cut it up and put each label where it belongs. A label is good for the lists of this study only.
page-sheet-wells = Plates for the wells
page-sheet-boxes = Labels for the boxes
page-sheet-strips = Labels for the strips
page-sheet-well = Well
page-sheet-box = Box of strips
page-sheet-strip = Strip
page-sheet-numbers = Strips { $first } to { $last }
page-sheet-until = Good until { $day }
page-sheet-recalled = Called back: { $numbers }
page-temperature = How many °C?
page-file = File of the scan
page-go-strip = I have this strip
page-go-temperature = It is this warm
page-go-rinse = I am rinsing now
page-go-apply = The drop is on
page-go-start = The scan is running now
page-go-file = Send the file
page-stop = Stop this test
page-control = Control vial
page-sample = Water
page-second = Water, second strip
page-wait = Wait { $seconds } seconds.
page-within = Do it in the next { $minutes } minutes.
page-call = Call
page-no-result = NO RESULT YET. Treat this water as unknown. Do not use it for infants (babies).
    .do = All steps are kept on this phone. Go to a place with a link. Keep this page open.
page-no-link = No link. Your steps are kept on this phone.
page-language = Deutsch
page-light = Light
page-dark = Dark
page-elsewhere = There is no such page.
    .do = Go back to all tests.
page-stale = This step was done before, or not here.
    .do = Go on with the step that comes now.
page-form = This page is too old.
    .do = Go back to all tests and do the step again.
page-too-large = This file is too big.
    .do = Pick the file of this scan.
page-busy = The computer cannot take this now.
    .do = Wait a little. Then press the button again.

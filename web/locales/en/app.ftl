### The phone: what one does, where a vehicle is, why it waits.

## Everywhere
mine = Mine
queue = Queue
vehicles = Vehicles
the-shop = The shop
more = More
main-places = Places
skip = To the content
loading = One moment …
try-again = Try again
part-not-here = This part is not on your phone yet, and the shop’s server is not reached.
no-such-page = There is nothing at this address.
back = Back
close = Close
save = Save
saved = Saved.
undo = Undo
yes = Yes
no = No
choose = Choose …
department = Department
somebody = somebody
some-card = a card
since = since { $time }
about = about { $at }
planned = planned
new = New:
note = Note
found = Found something
photo = Photo
photos = Photos
name = Name
password = Password
language = Language

## Sent and not sent
not-sent = Not sent
count-not-sent = { $count } not sent
not-reached-since = No server since { $at }
not-reached-now = The shop’s server is not reached. Try again later.
server-error = The server answers with an error. What you do is kept on this phone.
signed-out-here = Sign in again, so that your work is sent.
almost-full = This phone is almost full: photos wait
photo-no-room = The photo was not kept: this phone is almost full. What you typed is kept. Make room on the phone, then take it again.
update-needed = This app is too old for the server. Close it and open it again.
update-ready = Update ready: tap to change over
count-not-accepted = { $count } not accepted
count-to-look-at = { $count } to look at
count-notices = { $count ->
    [one] 1 new notice
   *[other] { $count } new notices
  }
sent-again = { $count ->
    [one] The server was set back; 1 thing was sent again.
   *[other] The server was set back; { $count } things were sent again.
  }
understood = (Understood)
not-kept = This phone could not keep it. Make room on the phone and try again.
first-copy = Just a moment
first-copy-count = The first copy of the shop is coming: { $count } things so far.
first-copy-wait = The shop’s vehicles have not reached this phone yet. They appear as soon as the server is reached.

## Signing in
sign-in = Sign in
join-instead = Sign in with the link you opened, instead of { $name }
lock = Lock
sign-in-to-send = { $count ->
    [one] Sign in to send 1 thing. It is kept on this phone.
   *[other] Sign in to send { $count } things. They are kept on this phone.
  }

## Mine
also-mine = Also mine
nothing-taken = You have not taken anything. Below is what comes to you.
comes-to = { $department }: next
nothing-comes = Nothing waits here.
whole-queue = Everything for { $department }
need-something = Need something …
i-wait-for = I wait for
loop-asked = Asked
loop-taken = Taken
loop-begun = Begun
loop-up = Up
loop-back = Back
answer-line = { $number }: { $what } Your answer is waited for.

## Queue
queue-of = { $department }: order of work
begun = Begun
stretch-now = Now
stretch-soon = Soon
stretch-later = Later: { $count }
order-changed = Order changed: show
row-late = Late
no-place-yet = Its place comes with the next plan.
why-title = Why here
why-chain = What it waits for
why-finish = Why the vehicle is ready when it is
to-vehicle = To { $number }

## A card
start = Start
go-on = Go on
finish = Finish
pause = Pause
take = Take
give-back = Give back
help = Help with it
ask = Ask
put-first = Put first
assign = Give to …
cancel-card = Cancel
life-proposed = Not approved yet.
life-cancelled = Cancelled.
life-ready = Ready.
life-ready-since = Ready since { $since }.
life-done = Done.
life-done-by = Done by { $person }, { $at }.
life-working = { $people }: working on it since { $since }.
life-paused = Paused since { $since }.
life-paused-why = Paused since { $since }: { $why }.
life-taken = Taken by { $person }, { $at }.
life-asked-for = Asked for by you; the server has not said yes yet.
life-asked-for-by = Asked for by { $person }; the server has not said yes yet.
life-curing = Cures until about { $until }.
life-after = Waits for “{ $card }”.
life-after-more = Waits for “{ $card }” and { $more } more.
is-put-first = Put first: { $reason }
card-opens = Opens: { $open }.
card-inside = Only while open: { $open }.
card-closes = Closes: { $open }.
card-one-go = Cannot be left for tomorrow once begun.
card-qualification = Needs the qualification “{ $qualification }”.
pause-title = Pause: why?
pause-break = break
pause-end_of_shift = end of shift
pause-parts = waiting for parts
pause-help = needs help
pause-question = a question is open
pause-other_work = other work
pause-break-button = Break
pause-end_of_shift-button = End of shift
pause-parts-button = Waiting for parts
pause-help-button = I need help
pause-question-button = I have a question
pause-other_work-button = Other work
finish-title = Finish: { $card }
finish-opens = After this the vehicle is open: { $open }. Those who wait for it are told.
checks = Looked at
checks-left = { $count ->
    [one] 1 not ticked.
   *[other] { $count } not ticked.
  }
closing-over-undone = Not done yet, and hidden once this is closed:
closing-stopped = Finish that first, or ask who works on it.
closing-offline = The server is not reached: somebody may have done it meanwhile. Look before you close.
close-not-yet = Not yet: go back
closed-all-the-same = It is closed already, all the same
correct = Correct

## What was done
did-take = Taken: { $card }.
did-ask-for = Asked for: { $card }.
did-take-unreached = Asked for: { $card }. Whether it is yours is told when the server is reached.
did-start = Started: { $card }.
did-pause = Paused: { $card }.
did-finish = Finished: { $card }.
did-give-back = Given back: { $card }.
did-help = You help with: { $card }.
cancel-title = Cancel this?
start-on-title = On which one?
against-out_of_service = Out of service.
against-inspection_overdue = Inspection overdue.
against-unsafe_lift = Lifting points damaged, or heavy parts off.
equipment-title = Lifts, benches, booths
energy = High voltage
energy-title = { $number }: high voltage
energy-is-none = Not on board
energy-is-live = On board, live
energy-is-isolated = On board, isolated and proven dead

## Asking
ask-title = { $number }: ask
handoff-asked = Nobody has taken it yet.
handoff-taken = Taken by { $person }, { $at }.
handoff-started = Begun, { $at }.
handoff-open = Open since { $at }: go on inside.
handoff-handed_back = Handed back, { $at }.
handoff-cancelled = Cancelled.

## A vehicle
open-line = Open: { $open }
stands-at = Stands at: { $place }.
stands-unknown = Nobody has said where it stands.
ready-about = Ready about { $at }.
late-by = { $length } late.
energy-live = High voltage on board, live.
energy-isolated = High voltage on board, isolated.
move = Move
move-title = { $number }: where to?
condition-title = { $number }: what is true now
note-title = { $number }: note
found-title = { $number }: found something
photo-by = Photo by { $person }, { $at }.
photo-on-this-phone = On this phone, not sent yet.
photo-on-own-phone = On another phone of yours, not sent yet.
photo-on-phone-of = On { $person }’s phone, not sent yet.
photo-erased = Erased with the person who took it.
photo-not-reached = The picture is shown when the server is reached.
marked = Marked by { $people }.
photo-not-kept = That was no picture, or the phone has no room for it.
photos-kept = { $count ->
    [one] 1 photo kept
   *[other] { $count } photos kept
  }
fact-rolls = Does it roll?
fact-rolls-yes = Rolls.
fact-rolls-no = Does not roll.
fact-steers = Does it steer?
fact-steers-yes = Steers.
fact-steers-no = Does not steer.
fact-brakes = Do the brakes work?
fact-brakes-yes = Brakes work.
fact-brakes-no = No brakes.
fact-points = Lifting points
fact-points-sound = Lifting points sound.
fact-points-doubtful = Lifting points doubtful: look before lifting.
fact-points-damaged = Lifting points damaged.
points-sound = Sound
points-doubtful = Doubtful
points-damaged = Damaged
fact-weight = Heavy parts are off
fact-weight-front = Heavy parts off at the front: balance has moved.
fact-weight-rear = Heavy parts off at the rear: balance has moved.
end-front = Front
end-rear = Rear
fact-loose = Loose, drained, disconnected
fact-on = What does it stand on?
fact-on-wheels = On its wheels.
fact-on-dollies = On dollies.
fact-on-stands = On stands.
fact-on-lift = On the lift.
on-wheels = Wheels
on-dollies = Dollies
on-stands = Stands
on-lift = Lift
fact-bolts = Bolts and parts: { $where }.
fact-keys = Keys: { $where }.
fact-wet = Wet until { $until }: do not touch.
loose-battery_off = Battery disconnected
loose-airbags_off = Airbags disconnected
loose-high_voltage_off = High voltage isolated
loose-fuel_drained = Fuel drained
loose-coolant_drained = Coolant drained
loose-brakes_open = Brake lines open
loose-refrigerant_out = Refrigerant out
loose-suspension_loose = Suspension loose
loose-steering_loose = Steering loose
loose-trim_out = Trim out
loose-seats_out = Seats out
loose-glass_out = Glass out
loose-battery_off-line = Battery disconnected.
loose-airbags_off-line = Airbags disconnected.
loose-high_voltage_off-line = High voltage isolated.
loose-fuel_drained-line = Fuel drained.
loose-coolant_drained-line = Coolant drained.
loose-brakes_open-line = Brake lines open.
loose-refrigerant_out-line = Refrigerant out.
loose-suspension_loose-line = Suspension loose.
loose-steering_loose-line = Steering loose.
loose-trim_out-line = Trim out.
loose-seats_out-line = Seats out.
loose-glass_out-line = Glass out.
found-seized = Seized
found-damaged = Damaged
found-one_time_fasteners = One-time fasteners needed
found-missing_part = A part is missing
found-wrong_part = Wrong part
found-corrosion = Rust
found-alignment_owed = Alignment owed
found-calibration_owed = Calibration owed
found-other = Something else

## Finding
to-setup = Set up the shop

## Planning
hold = Put on hold
hold-title = { $number }: put on hold
hold-set = Put on hold
hold-what = What is waited for?
hold-cards = Only these (none: the whole vehicle)
hold-blocks = What does it keep from happening?
hold-blocks-start = The work cannot begin
hold-blocks-finish = The work cannot be finished
hold-due = Expected to end
hold-approval = Approval
hold-parts = Parts
hold-customer = The customer
hold-sublet = Work outside
hold-other = Something else
hold-approval-line = Waits for approval.
hold-parts-line = Waits for parts.
hold-customer-line = Waits for the customer.
hold-sublet-line = Away for work outside.
hold-other-line = On hold.
hold-due-title = { $number }: when does it come?
hold-due-other = Another day
hold-due-set = Expect it then
hold-due-line = { $line } Expected { $due }.
hold-overdue-line = { $line } Was expected { $due } and is not here.
unhold = No longer
promise = Promise
promise-title = { $number }: promise
stage = Keys and stage
stage-title = { $number }: keys and stage
stage-undone = { $count ->
    [one] One card is not done: { $card }.
   *[other] { $count } cards are not done, { $card } among them.
  }
stage-no-more = Its visit has ended.
stage-expected = Expected.
stage-expected-line = Expected { $at }.
stage-arrived = Keys are in; not authorised yet.
stage-authorised = Authorised.
stage-away = Away for work outside.
stage-ready = Ready: the keys may go back.
stage-delivered = Keys are back.
stage-stopped = Stopped.
stage-stopped-why = Stopped: { $reason }
stage-arrived-button = Keys in
stage-authorised-button = Authorised
stage-away-button = Leaves for work outside
stage-ready-button = Ready
stage-delivered-button = Keys back
stage-stopped-button = Stopped (total loss, withdrawn)
put-first-title = Put first
put-first-why = Why (everybody reads it)
until-two_hours = Two hours
until-today = The end of today
until-tomorrow = The end of tomorrow
until-week = A week
assign-title = Give to
correct-title = Correct the times
answer = Answer
answer-title = Answer
add-card = Add a card
add-card-title = { $number }: add a card

## Why at this place
nth = Number { $place }
nth-1 = First
nth-2 = Second
nth-3 = Third
nth-4 = Fourth
nth-5 = Fifth
nth-6 = Sixth
why-placed = { $nth }: { $reason }
why-put-first = put first by { $person } until { $until }: { $reason }.
why-next = { $number } goes on to { $department } about { $at }.
why-next-only = { $number } goes to { $department } about { $at } and waits only for this.
why-now = Can begin now.
why-started = Is being worked on.
why-after = Comes after “{ $card }”, about { $until }.
why-vehicle = “{ $card }” is worked on the vehicle until about { $until }.
why-vehicle-ahead = “{ $card }” will be worked on the vehicle until about { $until }.
why-curing = Cures until about { $until }.
why-curing-ahead = It comes after a cure that ends about { $until }.
why-shift = Work begins again { $until }.
why-expected = The vehicle comes about { $until }.
why-people = Somebody of { $department } is free about { $until }.
why-equipment = { $equipment } is free about { $until }.
why-equipment-order = { $equipment } is held by { $number } until about { $until }.
why-equipment-order-ahead = { $equipment } will be held by { $number } until about { $until }.
why-kind = A { $kind } is free about { $until }.
why-kind-order = The { $kind } it needs is held by { $number } until about { $until }.
why-kind-order-ahead = The { $kind } it needs will be held by { $number } until about { $until }.
why-person = { $person } is free about { $until }.
why-one_run = Begins about { $until }, so that what it opens is closed again in one run.
why-put_first = “{ $card }” was put before it, until about { $until }.
why-kept = Keeps its time, { $until }. Can begin sooner if somebody is free.
why-shut = Closed: must be opened again ({ $open }).
why-qualified = Nobody here holds the qualification “{ $qualification }”.
why-late = The promise is missed by { $length }.
why-slack = { $length } to spare before the promise.

## Exceptions
exception-started_early = Started before what must come first was done.
exception-finished_early = Finished before what must come first was done.
exception-closed_over_undone = Closed over undone work.
exception-opened_twice = The vehicle would go up twice.
exception-not_open = Worked inside although it was not open.
exception-two_at_once = One person at two cards at once.
exception-moved_open = Moved while open.
exception-occupied = Two vehicles on one place.
exception-done_by_another = Done by somebody who had not taken it.
exception-after_end = Worked on after it was done or cancelled.
exception-during_hold = Worked on during a hold.
exception-high_voltage = High voltage: a limit or the isolation is missing.
exception-unqualified = Worked on without the qualification it asks for.
exception-out_of_turn = A stage out of turn.
exception-out_of_service = Worked on equipment that is out of service.
exception-too_late = Begun too late after the step before it.
exception-left_open = Driven, ready or keys back with something open, isolated, loose, owed or unanswered.
exception-cancelled_open = Cancelled although the vehicle is open, or will be.
exception-inspection_overdue = On equipment whose inspection is overdue.
exception-unsafe_lift = On a lift with damaged lifting points, or with heavy parts off.
exception-no_keys_in = It went on, but nobody said that its keys came in.
exception-unproved = Done in a sign-in that the server lost.

## Tray
tray = Not sent, and to look at

## Notices
notices = Notices

## Own things
role-technician = Technician
role-parts = Parts
role-planner = Planner
role-manager = Manager
role-admin = Administrator
how-shown = How it looks
theme = Light
theme-auto = Like the phone
theme-light = Light
theme-dark = Dark
theme-sun = Bright sun
devices = Where I am signed in

## Cautions: usual ones, at the card that needs them
cautions = Caution
caution-always = Follow the vehicle maker’s procedure and local rules.
caution-lift = Lift: mind rated load and lifting points, engage the locks, rebalance or set stands before heavy parts come off. Nobody under a vehicle held by hydraulics alone.
caution-unexpected_start = Unexpected start: key out, and kept by the person who works.
caution-pulling = Pulling: stand clear of the line of pull; safety cable on clamps and chains.
caution-hot_work = Welding and cutting: protect battery and control units, fuel and lines away, air out the fumes, guard your eyes. Keep a fire watch of at least 30 minutes afterwards where required.
caution-airbag = Airbags and belts: power off, and wait as long as the maker says.
caution-high_voltage = High voltage: qualified people only; isolated and proven dead before anybody touches it.
caution-spraying = Spraying and sanding: isocyanates and dust. Supplied air or a fitted respirator, booth rules, no phone in the spray area.
caution-refrigerant = Refrigerant: certified people only, recovered and never let out.
caution-spring = Springs hold energy: only with the right tool.
caution-fuel = Fuel: no spark, no flame; drain and vent, keep an extinguisher at hand.
caution-driving = Driving: first look that nothing is open, loose or isolated; brakes, steering and airbags as they must be.

## Words of the starter library
open-suspension-down-rear = suspension down, rear
open-suspension-down-front = suspension down, front
open-cradle-down = cradle down
open-tank-out = tank out
open-interior-out = interior out
open-refrigerant-out = refrigerant out
open-high-voltage-off = high voltage off
open-on-the-bench = on the bench
open-in-the-booth = in the booth
kind-lift = lift
kind-alignment = alignment rack
kind-bench = frame bench
kind-booth = booth
kind-prep = prep stall
kind-stands = stands
qualification-high-voltage = high voltage
qualification-calibration = calibration
qualification-refrigerant = refrigerant
qualification-spray-trained = spraying

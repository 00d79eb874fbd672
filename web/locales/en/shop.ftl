shop-title = The shop
shop-tab-now = Now
shop-tab-measures = Measures
shop-new-order = New repair order
shop-import = Bring over open repair orders
shop-to-setup = Setting up
shop-print = Print
shop-loading = The shop’s vehicles have not come to this device yet. They appear as soon as the server is reached.
shop-empty = No vehicle is in the shop. Open a repair order, or bring over those that are open now.
shop-no-plan = There is no plan yet: what is late and in which order is not known until the server has made one.
shop-somebody = somebody
shop-some-card = work without a name
shop-counts = { $count ->
    [0] No vehicle is in the shop.
    [one] One vehicle in the shop: { $where }.
   *[other] { $count } vehicles in the shop: { $where }.
  }
shop-counts-expected = { $count ->
    [one] One is expected.
   *[other] { $count } are expected.
  }

## Who waits for whom
shop-waits = Who waits for whom
shop-waits-none = Nobody waits: every vehicle is being worked on.
shop-group-outside = For somebody outside the shop
shop-group-unknown = Without a reason
shop-asked-meanwhile = Asked, while other work goes on
shop-asked-sentence = { $from } asked { $to } for { $what } at { $time }.
shop-wait-asked = waits for { $department } since { $since } (asked by { $from }).
shop-wait-nobody_free = waits for { $department } since { $since }: nobody is free.
shop-wait-no_equipment = waits for free equipment in { $department } since { $since }.
shop-wait-no_equipment-by = waits for { $department } since { $since }: { $number } is in its way.
shop-wait-nobody_qualified = waits for { $department } since { $since }: nobody on shift may do this.
shop-wait-curing = is curing since { $since }.
shop-wait-curing-due = is curing since { $since }, until { $due }.
shop-wait-taken_not_started = was taken by { $person } and stands since { $since }: not started.
shop-wait-approval = waits for approval since { $since }.
shop-wait-approval-due = waits for approval since { $since }, expected { $due }.
shop-wait-parts = waits for parts since { $since }, without a date.
shop-wait-parts-due = waits for parts since { $since }, due { $due }.
shop-wait-customer = waits for the customer since { $since }.
shop-wait-customer-due = waits for the customer since { $since }, expected { $due }.
shop-wait-away = is away since { $since }.
shop-wait-away-due = is away since { $since }, back { $due }.
shop-wait-stopped = is stopped since { $since }.
shop-wait-no_reason = stands since { $since }; nobody said why.
shop-wait-no_reason-department = stands at { $department } since { $since }; nobody said why.

## Late and why
shop-late = Late, and why
shop-late-none = Nothing will be late as planned now.
shop-late-unknown = Not known until there is a plan.
shop-late-by = { $length } late.
shop-promised = Promised { $time },
shop-ready-about = ready about { $time }.
shop-no-finish = no end in sight.
shop-why-more = All { $count } steps, from now to the end

## What holds which equipment
shop-holds = Lifts, bench, booth
shop-holds-none = No equipment is named yet.
shop-held-open = Open: { $open }.
shop-held-working = { $person } works on { $card }.
shop-held-waits = Waits for { $card } ({ $department }), about { $time }.
shop-held-idle = Nobody works there, and nothing is planned there.
shop-held-until = Free about { $time }.
shop-held-free = Free.
shop-held-next = Next { $number }, about { $time }.
shop-out-of-service = Out of service until { $time }. { $reason }
shop-inspection-due = Inspection was due { $time }.

## To be answered
shop-exceptions = To be answered
shop-exception-owner = Since { $since }; { $owner } is to answer.
shop-exception-planner = Since { $since }; whoever plans is to answer.
shop-exception-started_early = { $person } started “{ $card }” before “{ $about }” was done.
shop-exception-finished_early = { $person } finished “{ $card }” before “{ $about }” was done.
shop-exception-closed_over_undone = { $person } closed the vehicle with “{ $card }” while “{ $about }” is undone inside.
shop-exception-opened_twice = “{ $card }” would open the vehicle a second time.
shop-exception-not_open = { $person } worked on “{ $card }”, but the vehicle was not open.
shop-exception-two_at_once = { $person } has two pieces of work running at once.
shop-exception-moved_open = { $person } moved the vehicle while it was open.
shop-exception-occupied = Two vehicles stand on one piece of equipment, says { $person }.
shop-exception-done_by_another = { $person } did “{ $card }”, which somebody else held.
shop-exception-after_end = { $person } worked on “{ $card }” after it had ended.
shop-exception-during_hold = { $person } worked on “{ $card }” during a hold.
shop-exception-high_voltage = { $person } worked on “{ $card }” with high voltage on board and no known limit or isolation.
shop-exception-unqualified = { $person } did “{ $card }” without the qualification it asks for.
shop-exception-out_of_turn = { $person } recorded a stage that does not follow from the one before.
shop-answer = Answer
shop-answer-reason = What happened, and what was done about it
shop-answer-send = Put it in the log
shop-answer-not = Not now
shop-answer-needs-reason = An answer needs a reason in words.

shop-strings = The shop over time

## Measures
shop-measures-title = Measures
shop-measures-loading = Reading the log …
shop-measures-unreached = Measures come from the server’s log, and the server is not reached.
shop-measures-span = From { $from } to { $to }, both days included. Stopped orders are left out.
shop-range-from = From
shop-range-to = To
shop-range-last = Last { $days } days
shop-range-no-day = One of the two is not a day.
shop-range-backwards = The first day lies after the last.
shop-csv = Take it as CSV
shop-csv-measure = Measure
shop-csv-part = Part
shop-csv-unit = Unit
shop-csv-clock = Clock
shop-median = Median
shop-p90 = 90th percentile
shop-value = Value
shop-count = Cases
shop-whole = all
shop-unit-days = days
shop-unit-hours = hours
shop-unit-vehicles = vehicles
shop-unit-hours_per_day = hours a day
shop-unit-share = share
shop-clock-calendar = Calendar time: nights and weekends count.
shop-clock-working = Working time: only hours in which the shop is open count.
shop-clock-none = A count or a sum; no clock runs.
shop-part-rolling = rolling in
shop-part-towed_in = towed in
shop-reason-stopped = stopped
shop-reason-away = away
shop-reason-approval = approval
shop-reason-parts = parts
shop-reason-customer = the customer
shop-reason-curing = curing
shop-reason-no_equipment = no equipment free
shop-reason-nobody_qualified = nobody qualified
shop-reason-nobody_free = nobody free
shop-reason-taken_not_started = taken, not started
shop-reason-no_reason = no reason given
shop-measure-group-how-long = How long a visit takes
shop-measure-group-hand-off = Between asking and having it back
shop-measure-group-where-time-goes = Where time goes
shop-measure-group-how-much = How much
shop-measure-group-more = More
measure-keys_to_keys = Keys to keys
measure-keys_to_keys-is = From keys in to keys back, of vehicles whose keys went back in these days.
measure-keys_to_authorised = Keys in to authorised
measure-keys_to_authorised-is = The first leg of the same visits.
measure-authorised_to_ready = Authorised to ready
measure-authorised_to_ready-is = The second leg: the repair itself with all its waiting.
measure-ready_to_keys = Ready to keys back
measure-ready_to_keys-is = The third leg: done, but not yet picked up.
measure-promise_kept = Promises kept
measure-promise_kept-is = Ready by the first promise made after authorisation; later promises do not count.
measure-asked_to_taken = Asked to taken
measure-asked_to_taken-is = From the later of asked and really ready, to taken. Asking early is good and costs nothing here.
measure-asked_to_started = Asked to started
measure-asked_to_started-is = From the later of asked and really ready, to the first work.
measure-asked_to_handed_back = Asked to handed back
measure-asked_to_handed_back-is = From the later of asked and really ready, until the asker has the vehicle back.
measure-touch_clocked = Clocked hours
measure-touch_clocked-is = Hours in which somebody was clocked on a card; two people on one card count twice. Neither planned nor sold hours.
measure-touch_sold = Sold hours a day
measure-touch_sold-is = Sold hours divided by calendar days in the shop, of vehicles whose keys went back.
measure-waited = Ready to started
measure-waited-is = How long cards lay ready before somebody began, by the department that was waited for.
measure-wait_by_reason = Waiting by reason
measure-wait_by_reason-is = How long vehicles stood, by the first reason that applied.
measure-equipment_held = Equipment held
measure-equipment_held-is = Hours in which an open vehicle stood on it.
measure-equipment_blocked = Equipment blocked
measure-equipment_blocked-is = The part of those hours in which the shop was open and nobody worked on the vehicle.
measure-throughput = Vehicles out
measure-throughput-is = Vehicles whose keys went back.
measure-throughput_sold = Sold hours out
measure-throughput_sold-is = Sold hours of those vehicles.
measure-in_process = In the shop
measure-in_process-is = Mean number of vehicles between keys in and keys back, counted over all of the time.

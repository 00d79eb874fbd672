what-if-tab = What if
what-if-title = What if
what-if-intro = Looking changes nothing. The plan as it is and the plan as it would be are both made now, from the order that everybody sees.
what-if-what = What would be otherwise?
what-if-vehicle_first = A vehicle goes first
what-if-out_of_service = Equipment is out of service
what-if-away = Somebody is away
what-if-back = Somebody is there after all
what-if-joins = Somebody more in a department
what-if-extra_shift = A department works longer
what-if-hold_until = What is waited for comes then
what-if-close_up = Closed so that it rolls, opened again later
what-if-vehicle = Vehicle
what-if-equipment = Equipment
what-if-person = Who
what-if-hold = What is waited for
what-if-open = What is open
what-if-until = Until
what-if-due = Comes
what-if-day = Day
what-if-from = From
what-if-to = To
what-if-look = Who gets later?
what-if-busy = Both plans are being made.
what-if-needs-vehicle = Choose a vehicle.
what-if-needs-equipment = Choose the equipment.
what-if-needs-person = Choose who.
what-if-needs-department = Choose a department.
what-if-needs-hold = Choose what is waited for.
what-if-needs-open = Choose what is closed.
what-if-needs-moment = Say when.
what-if-past = That moment has passed; choose a later one.
what-if-backwards = It must end after it begins.
what-if-unreached = Who gets later is not known: the server is not reached.
what-if-said-vehicle_first = If { $number } goes first
what-if-said-out_of_service = If { $equipment } is out of service until { $until }
what-if-said-away = If { $person } is away until { $until }
what-if-said-back = If { $person } is there until { $until }
what-if-said-joins = If { $department } has somebody more until { $until }, who holds no qualification
what-if-said-extra_shift = If { $department } works on { $day } from { $from } to { $to }
what-if-said-hold_until = If { $number } gets what it waits for { $due }
what-if-said-close_up = If { $number } is closed so that it rolls ({ $open })
what-if-as-of = As of { $at }.
what-if-then = Who pays for it
what-if-nobody = No vehicle gets later or earlier.
what-if-later = { $count ->
    [0] No vehicle gets later.
    [one] One vehicle gets later.
   *[other] { $count } vehicles get later.
  }
what-if-earlier = { $count ->
    [0] None gets earlier.
    [one] One gets earlier.
   *[other] { $count } get earlier.
  }
what-if-same = { $count ->
    [0] {""}
    [one] One stays as it is.
   *[other] { $count } stay as they are.
  }
what-if-own = { $number }: { $by }. Ready about { $after } instead of { $before }.
what-if-own-same = { $number } is ready when it is planned now: no sooner, no later.
what-if-missed = { $count ->
    [one] One more promise would be missed, kept as planned now: { $numbers }.
   *[other] { $count } more promises would be missed, kept as planned now: { $numbers }.
  }
what-if-missed-none = No promise would be missed that is kept as planned now.
what-if-change = Change
what-if-before = Ready as planned now
what-if-after = Ready then
what-if-promise = Promise
what-if-later-by = { $length } later
what-if-earlier-by = { $length } earlier
what-if-ready = Ready about { $at }.
what-if-promise-none = Nothing promised.
what-if-promise-kept = Promise would be kept.
what-if-promise-late = Would be { $length } late; is late already.
what-if-promise-late_now = Would be { $length } late; in time as planned now.
what-if-promise-late_no_more = Would no longer be late.
what-if-more = { $count ->
    [one] And one more.
   *[other] And { $count } more.
  }
what-if-weighed = Late vehicles: { $late } now, { $then } then. Lateness of all: { $before } now, { $after } then.
what-if-weighed-same = Late vehicles: { $late } now, { $then } then. Lateness of all stays { $before }.
what-if-weighed-is = Calendar time past the promises, each times the vehicle’s urgency.
what-if-accept-first = { $count ->
    [one] The one thing left to do on it is put first until { $until }.
   *[other] All { $count } things left to do on it are put first until { $until }.
  }
what-if-did-first = Put first. The order follows in a moment.
what-if-accept-out_of_service = Take it out of service
what-if-accept-joins = Enter who it is
what-if-accept-hold_until = Enter the new day
what-if-accept-close_up = Close it, and open it again later
what-if-close_up-care = Adds two cards: closing it now, and opening it again before what waits inside. Closed for rolling only: bolts, torque, alignment and whether it may roll at all are as the vehicle maker’s procedure says.
what-if-accept-manager = A manager enters it in the shop’s calendars.

## The booth's loads
booth-title = In the booth today
booth-title-day = In the booth on { $day }
booth-when = When
booth-what = What
booth-with = Could bake with it
booth-alone = Nothing loose is ready then.
booth-loose = loose part
booth-time = { $from } to { $to }
booth-limit = High voltage on board: { $number } may be baked to { $celsius } °C for { $minutes } min at most, as entered. The vehicle maker’s procedure rules.
booth-limit-missing = High voltage on board, and no bake limit is entered for { $number }: do not bake it before the vehicle maker’s procedure was looked up.
booth-limit-half = High voltage on board, and the bake limit entered for { $number } is not whole: look up temperature and time in the vehicle maker’s procedure before it is baked.
booth-note = Whether parts and vehicles may bake together is decided by the data sheets of the paint and the vehicle maker’s procedures; the lowest limit among them holds for all.
what-if-accept-away = Enter the absence
what-if-accept-back = Take out the absence
what-if-accept-extra_shift = Enter the hours
what-if-accept-shift-own = { $department } works by hours that others keep, too. Accepting gives it its own from now on: later changes of the shared hours do not reach them.
what-if-did = Entered. The order follows in a moment.
jam-title = Where does the shop jam?
jam-intro = Each department in turn stays an hour longer on its next open day, each kind of equipment gets one more, and the shop is planned anew. Nothing is entered.
jam-find = Look where an hour helps most
jam-busy = The shop is being planned once for each. That takes some seconds.
jam-none = No vehicle is late as planned now, so no hour needs to be added.
jam-nowhere = { $late ->
    [one] One vehicle is late, and no single hour or piece of equipment changes that.
   *[other] { $late } vehicles are late, and no single hour or piece of equipment changes that.
  }
jam-verdict = { $more } saves most: { $saved } of { $all }, which is what all are late together, each by its urgency. Late vehicles: { $late } now, { $then } then.
jam-hour = { $count ->
    [one] An hour more in { $department } ({ $day } { $from }–{ $to }, one person)
   *[other] An hour more in { $department } ({ $day } { $from }–{ $to }, { $count } people)
  }
jam-piece = One more of: { $kind }
jam-saves = saves { $saved }.
jam-each = { $each } for each hour worked.
jam-late = Late vehicles then: { $late }.
jam-look = Who gets earlier?
jam-is = Days late count each vehicle as many times as its urgency, so they are more than the plain days. A vehicle that is ready in the evening instead of the next morning has saved the night.
jam-rest = More of these changes nothing: { $names }.
what-if-small = { $count ->
    [one] One more moves by less than half an hour
   *[other] { $count } more move by less than half an hour
}

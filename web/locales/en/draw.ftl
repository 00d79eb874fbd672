draw-trip = The trip over time
draw-away = away
draw-in-words = The trip in words
draw-keys-in = keys in
draw-expected = expected
draw-keys-back = keys back
draw-promise = promise
draw-ready-head = Ready about
draw-sure-head = Nine of ten by
draw-ready-about = ready about { $time }
draw-late = { $length } late
draw-late-head = Late by
draw-from = From
draw-what = What
draw-length = How long
draw-worked = { $department }: { $card }
draw-worked-by = { $department }: { $card }, { $person }
draw-planned = { $department }: { $card }, planned
draw-waiting = waiting at { $department }
draw-planned-wait = would wait at { $department }
draw-hold-approval = approval
draw-hold-parts = parts
draw-hold-customer = customer
draw-hold-sublet = sublet
draw-hold-other = hold
draw-say-in = { $number }: keys in { $time }.
draw-say-expected = { $number }: expected { $time }.
draw-say-here = Now at { $department }.
draw-say-over = Keys back { $time }.
draw-say-finish = Ready about { $time }.
draw-say-late = { $length } late.

draw-strings = The shop over time
draw-zoom = How much time
draw-zoom-day = 1 day
draw-zoom-three = 3 days
draw-zoom-week = Week
draw-move = Earlier or later
draw-earlier = Earlier
draw-later = Later
draw-now = Today
draw-now-at = now { $time }
draw-all-vehicles = All { $count } vehicles
draw-shown-worth = { $count ->
    [0] No vehicle is late or holds equipment.
    [one] One vehicle is late or holds equipment.
   *[other] { $count } vehicles that are late or hold equipment.
  }
draw-shown-all = { $count ->
    [one] One vehicle.
   *[other] All { $count } vehicles.
  }
draw-vehicle = Vehicle
draw-where = Where it is
draw-working-since = since { $time }
draw-waits-since = waiting since { $time }
draw-key-worked = been; thick where it was worked on
draw-key-plan = planned
draw-key-sure = finished within this stretch eight times out of ten; one in ten later
draw-key-band = equipment taken up; hatched while nobody works there
draw-strings-table = The same in words
draw-key-promise = promise; what lies beyond it is late
draw-promise-head = Promise

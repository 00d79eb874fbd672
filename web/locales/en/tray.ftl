### What is not sent, and what came of what was.

## Waiting
waiting-to-send = Waiting to be sent
sending = Being sent …
sent-when-reached = Kept on this phone and sent by itself when the server is reached.
all-sent = Everything is sent.
send-now = Send now
others-wait = { $count ->
    [one] 1 thing of somebody else waits here too. It is sent with yours.
   *[other] { $count } things of others wait here too. They are sent with yours.
  }
held-own = { $count ->
    [one] 1 thing of yours is sent when you unlock.
   *[other] { $count } things of yours are sent when you unlock.
  }
held-others = { $count ->
    [one] 1 thing of somebody else is sent when they unlock.
   *[other] { $count } things of somebody else are sent when they unlock.
  }

## To look at
to-look-at = To look at
nothing-to-look-at = Nothing was refused, nothing is out of turn.
case-title = { $number }: { $card }
lost-take = { $person } took it before you, { $at }.
lost-take-nobody = Somebody took it before you.
kept-done = What you did counts: begun { $from }, done { $to }, by you. A planner looks at it.
kept-done-only = What you did counts: done { $to }, by you. A planner looks at it.
kept-running = You have worked on it since { $from }. That counts.
kept-worked = You worked on it from { $from } to { $to }. That counts.
then-taken = Ask whether a second pair of hands helps, or leave it.
then-taken-helping = You help with it now.
then-taken-running = Speak with { $person } before you go on: help, or hand over.
then-taken-done = Tell { $person } that it is done.
joined-open = It is open already: your asking joined it. { $number } does not go up twice. Go on inside.
joined-asked = This was asked for already: yours joined it. { $number } does not go up twice. You are told when it is open.
recorded-high_voltage = Recorded: high voltage was live, or the limit for baking is not known.
then-high_voltage = Stop. Qualified people only; isolated and proven dead before anybody touches it. Follow the maker’s procedure.
recorded-closed_over_undone = Recorded: closed over work that is not done.
recorded-closed_over_undone-about = Recorded: closed over work that is not done: { $about }.
then-closed_over_undone = An alarm stands until a planner answers. If it is done in truth, finish it in the app. If not, the vehicle does not go on.
recorded-moved_open = Recorded: moved while open.
then-moved_open = Look whether it stands safely. Move an open vehicle only where the maker allows it, on stands or dollies.
recorded-occupied = Recorded: another vehicle is noted at the same place.
then-occupied = Say where each of the two stands now.
recorded-unqualified = Recorded: it asks for a qualification that is not noted for you.
then-unqualified = Stop until a planner has looked.
recorded-not_open = Recorded: the vehicle was not noted as open for this.
then-not_open = If it is open in truth, tell the planner so that it is noted. If not, stop.
recorded-during_hold = Recorded: the work was on hold, or not approved.
then-during_hold = Stop until the planner says go on.
recorded-after_end = Recorded: it had ended before.
recorded-after_end-cancelled = It had been cancelled. What you did is recorded; it stays cancelled.
recorded-after_end-done = { $person } had finished it, { $at }. What you did is recorded beside it.
then-after_end = Say what was done, so that nobody does it again or takes it apart.
recorded-two_at_once = Recorded: two of your cards ran at once.
recorded-two_at_once-about = Recorded: two of your cards ran at once, the other one: { $about }.
then-two_at_once = Say how it was, or correct the times.
recorded-started_early = Recorded: begun before what must come first was done.
recorded-started_early-about = Recorded: begun before this was done: { $about }.
then-started_early = Look whether you can go on. If not, pause.
recorded-finished_early = Recorded: finished before what must come first was done.
recorded-finished_early-about = Recorded: finished before this was done: { $about }.
then-finished_early = If that is not needed any more, tell the planner.
recorded-opened_twice = The vehicle would go up twice for this.
then-opened_twice = A planner looks at it. It may be that your work can go into what is open now.
recorded-out_of_turn = Recorded: a stage out of turn.
recorded-out_of_turn-about = Recorded: a stage out of turn. Not done: { $about }.
then-out_of_turn = A planner answers for it.
recorded-out_of_service = Recorded: the equipment is noted as out of service.
then-out_of_service = Stop and get the vehicle off it, unless it was put right. Then have it noted as in service.
recorded-too_late = Recorded: begun later after the step before it than is allowed.
recorded-too_late-about = Recorded: begun later than is allowed after this: { $about }.
then-too_late = Look what the maker of the product asks for now, for example sanding again. A planner looks at it.
recorded-left_open = Recorded: something is open, isolated, loose, owed or unanswered.
recorded-left_open-about = Recorded: something is open, isolated, loose, owed or unanswered. Look at: { $about }.
then-left_open = Nobody drives it until a planner has answered. Look at the vehicle yourself.
recorded-cancelled_open = Recorded: cancelled although the vehicle is open, or will be.
recorded-cancelled_open-about = Recorded: cancelled although the vehicle is open, or will be: { $about }.
then-cancelled_open = It stands until a planner says how the vehicle is closed.
recorded-inspection_overdue = Recorded: the inspection of the equipment is overdue.
then-inspection_overdue = Ask a planner before you lift anything.
recorded-unsafe_lift = Recorded: lifting points damaged, or heavy parts off.
then-unsafe_lift = Stop. Nobody goes under it before stands carry it. Follow the maker’s procedure.
recorded-no_keys_in = Recorded. But nobody said that its keys came in.
then-no_keys_in = If it is here, say “Keys in”. A planner answers for it.
recorded-unproved = Recorded: the server was set back to a backup and no longer knows the sign-in you did it in.
then-unproved = It counts. A planner asks whether it was so.
recorded-done_by_another = { $person } had taken it. It is recorded as done by you.
then-done_by_another = Tell { $person } that it is done.
answered = { $person } has answered, { $at }: { $reason }

## What to do next
next-help = Help with it
next-hand-over = Hand over to { $person }
next-leave = Leave it to { $person }
next-tell = Tell the planner
next-again = Do it again, as of now
next-open-again = Open it with this number
other-number = Another number
handed-over-note = Handed over to { $person }.
did-hand-over = Handed over to { $person }, and noted.
tell-planner-note = Please look: { $what }
did-tell-planner = Noted on the vehicle for the planner.
did-again = Done again, as of now.
did-open-again = { $number } is opened, with what was noted on it.
copy = Copy the text
copied = Copied.
put-away = Put away

## Why not
refused-taken = { $person } has it, { $at }.
refused-done = { $person } has done it already, { $at }.
refused-cancelled = It was cancelled meanwhile.
refused-not_ready = It cannot begin yet: something before it is not done, it is not approved, or the vehicle is on hold.
refused-not_yours = It is work of another department, or somebody else’s.
refused-not_qualified = It needs a qualification that is not noted for you.
refused-forbidden = Your role may not do this. Ask a planner or manager.
refused-expectation = Meanwhile this has changed; look again before you repeat it.
refused-delivered = The keys of this vehicle are back already. Further work is a new order.
refused-nothing_to_undo = It could no longer be taken back. Correct it instead.
refused-promise_past = The promise lies in the past.
refused-promise_closed = The shop is closed then.
refused-promised_otherwise = { $person } has promised otherwise, { $at }. Look at it before you change it.
refused-reason_needed = The vehicle is open, or will be: say why it is cancelled all the same.
refused-duplicate_number = There is an order { $number } already.
refused-signed_out = Your sign-in had ended when you did it, so it does not count yet.
refused-cycle = That would wait for itself.
refused-put_first_past = The time until which it is first has passed.
refused-unproved = The server was set back to a backup and no longer knows the sign-in you said it in. Say it again if it still holds.
refused-too_large = It was too large to send. Its text is kept here.
refused-invalid = Something in it is not as it must be: { $message }
refused-unknown = The server does not know what it is about.
refused-unknown_card = The server does not know this card. It may have been part of something that was not accepted.
refused-unknown_order = The server does not know this order.
refused-unknown_person = The server does not know this person.
refused-unknown_place = There is no such place any more.
refused-unknown_routing = There is no such routing any more.
refused-routing_outdated = It lays out work for a department that is no more. The planner is told; ask again when the routing is changed, or choose another.
refused-unknown_department = There is no such department any more.
refused-other = The server did not accept it.
refused-also = { $count ->
    [one] With it 1 thing that was noted on it.
   *[other] With it { $count } things that were noted on it.
  }

## Acts
act-take = take
act-give_back = give back
act-start = start
act-pause = pause
act-finish = finish
act-help = help
act-note = note
act-found = found
act-photo = photo
act-mark_photo = marks on a photo
act-move = move
act-condition = what is true of the vehicle
act-energy = high voltage
act-equipment_out = equipment out of service
act-equipment_back = equipment in service again
act-ask = ask
act-lead = lead
act-stage = stage
act-stage_back = keys are not back
act-hold = hold
act-unhold = end of hold
act-promise = promise
act-put_first = put first
act-put_back = no longer first
act-assign = give to somebody
act-correct = correction
act-undo = undo
act-answer = answer
act-add_card = new card
act-edit_card = card changed
act-cancel_card = card cancelled
act-call_off = call off what was asked
act-open_order = new order
act-edit_order = order changed
act-other = change

## Notices
no-notices = Nothing was told to you yet.
notice-asked = { $number }: { $person } asks for “{ $what }”.
notice-taken = { $number }: { $person } has taken “{ $what }”.
notice-taken-about = { $number }: { $person } has taken “{ $what }”; begins about { $about }.
notice-open = { $number } is open: go on inside. { $what }
notice-handed_back = { $number } is handed back: { $what }
notice-given_back = { $number }: { $person } has given back “{ $card }”.
notice-refused = { $number }: not accepted. { $card }
notice-refused-by = { $number }: { $person } was before you: { $card }
notice-exception = { $number }: { $exception } Your answer is waited for.
notice-assigned = { $number }: { $person } gives you “{ $card }”.
notice-next = { $number } comes to you next: { $card }
notice-next-about = { $number } comes to you about { $about }: { $card }
notice-not_next = { $number }: not your turn after all. “{ $card }” waits again.
notice-hold_ended = { $number }: what it waited for has come. { $card }
notice-fell_free = { $number }: nobody has “{ $card }” any more; who had it has left.
notice-closed_over = { $number } was closed over “{ $card }”, which is not done. Tell the planner.
notice-equipment_out = { $number }: { $equipment } is out of service. Get off it if that is safe.
notice-equipment_out-empty = { $equipment } is out of service.
notice-called_off = { $number }: { $person } cancelled “{ $card }”.
notice-called_off-ask = { $number }: { $person } cancelled what you asked for: { $what }
notice-done_for_you = { $number }: { $person } has finished “{ $card }”, which was yours.
notice-put_before = { $number }: something comes before “{ $card }”, which you work on.
notice-taken_away = { $number }: “{ $card }” is not yours any more, says { $person }.
notice-untaken = { $number }: nobody has taken “{ $what }” yet.
notice-still_running = Still running? Your shift is over, or it is your break: { $number }, { $card }
notice-stopped_here = { $number } was stopped, and its keys are still here.
notice-stage_taken_back = { $number } is here again: { $person } says that the keys did not go back.
notice-routing_outdated = { $number }: { $person } asked by a routing with a department that is no more. Change it under “Setting up”, then tell { $person }.
notice-lift_blocked = { $number } holds its place longer than planned: { $card }
notice-promise_unlikely = { $number } will probably not be ready as promised.
notice-promise_unlikely-about = { $number } will probably not be ready as promised, but about { $about }.
tried-for-you = Wrong passwords were typed for you { $count } times, the last time { $at }. If that was not you, choose a new password under “More” and tell an administrator.
told-link = { $person } made a sign-in link for you, { $at }. Whoever opens it comes in as you. If you did not ask for it, speak with them and with another administrator.
told-contact = { $person } changed where your mail goes, { $at }. Look at it under “More”.
told-passkey = A passkey was made for you, { $at }. If that was not you, remove it under “More” and choose a new password.
tried-read = I have read it

outlook-tab = How sure
outlook-title = How sure the dates are
outlook-dates = When each vehicle will be finished
outlook-loading = The dates are being worked out.
outlook-definition = To a customer say the nine-of-ten date: “ready about” elsewhere is the plan if nothing comes between. Made by playing the shop through { $runs } times in the order of the plan, with work that takes as long as it does here; nights and weekends are in the dates.
outlook-learnt = Learnt from { $cards } finished cards: half of them took up to { $ratio } of their planned hours, nine of ten up to { $ratio90 }.
outlook-prior = No work has been clocked yet, so the spread is a guess.
outlook-slip = { $count ->
    [one] One earlier vehicle says
   *[other] { $count } earlier vehicles say
} how much later than played through they end (work found late, approvals, people called away): that is in the dates.
outlook-slip-prior = How much later vehicles end than played through is a guess until some have been through the shop.
outlook-vehicle = Vehicle
outlook-kept = Chance to keep it
outlook-promise = Promised
outlook-half = Half sure by
outlook-ninety = Nine of ten by
outlook-none = nothing promised
outlook-ask = What can be promised?
outlook-ask-intro = A vehicle that has not come yet is laid beside all that is in the shop, and the shop is played through with it. Nothing is entered.
outlook-work = What would be done, in this order
outlook-arriving = Comes on
outlook-look = When would it be finished?
outlook-busy = The shop is being played through with it.
outlook-needs-work = Choose what would be done.
outlook-needs-day = Choose a day that has not passed.
outlook-unreached = Nothing can be said: the server is not reached.
outlook-answer = Nine times out of ten it is finished by { $at }.
outlook-answer-less = Eight of ten by { $p80 }, half by { $p50 }.
outlook-endangered = These promises would be kept less often:
outlook-endangered-by = chance { $after }, now { $before }
outlook-true = Have such dates come true?
outlook-true-intro = The last 180 days, reckoned again from the log: on the evening a vehicle arrived, was authorised or had half of its planned work done, knowing nothing of later. A date counts once it has passed; finished is when the last card was done.
outlook-true-loading = The past is being reckoned again. This takes some seconds.
outlook-true-failed = The past cannot be looked at: the server is not reached.
outlook-true-few = Too few vehicles have been through the shop to say.
outlook-true-sentence = Of { $count } vehicles, { $at ->
    [arrived] on arriving
    [half_way] with half of the work done
   *[authorised] when authorised
}, { $share } were finished by the nine-of-ten date.
outlook-true-at = Given
outlook-true-vehicles = Vehicles
outlook-true-half = By “half sure” (right: 50 %)
outlook-true-ninety = By “nine of ten” (right: 90 %)
outlook-true-factor = Factor
outlook-true-arrived = on arriving
outlook-true-authorised = when authorised
outlook-true-half_way = half way
outlook-true-is = Finished by the date that was half sure, by the one that should be kept nine times out of ten; and by what factor what is left is longer than played through, which is in the dates on this page.

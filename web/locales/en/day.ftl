day-move = Another day
day-before = Day before
day-after = Day after
day-due = Overdue, or promised up to tomorrow night
day-due-none = Nothing is overdue, and nothing promised up to tomorrow night.
day-due-is = “Ready about” is the plan if nothing comes between; the chance counts what usually does.
day-due-ready = It is ready.
day-due-kept = Chance to keep it: { $share }.
day-overdue = overdue
day-passed = Came and went
day-passed-none = Nothing came and nothing went.
day-stage-arrived = Keys in.
day-stage-authorised = Authorised.
day-stage-ready = Ready.
day-stage-delivered = Keys back.
day-stage-stopped = Stopped.
day-promise-kept = First promise kept.
day-nothing-promised = Nothing was promised.
day-done = Work done
day-done-none = No work was clocked.
day-department = Department
day-cards = Cards finished
day-planned = Their planned hours
day-clocked = Hours clocked
day-done-is = Planned hours are those of the cards finished on the day, whenever they were worked on; clocked hours are those of the day, finished or not. They are not meant to be equal.
day-asked = Asked between departments
day-asked-counts = { $asked } asked, { $begun } begun, { $back } handed back.
day-asked-until = Half of those begun had waited up to { $length } since they were asked and really ready.
day-asked-waiting = { $count ->
    [one] One that was asked has not been begun:
   *[other] { $count } that were asked have not been begun:
}
day-asked-waited = { $count ->
    [one] One that was asked had not been begun by the end of the day:
   *[other] { $count } that were asked had not been begun by the end of the day:
}
day-raised = Exceptions
day-raised-counts = { $raised } raised, { $answered } answered.
day-answered = Answered.
day-unanswered = Not answered yet.

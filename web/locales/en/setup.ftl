setup-title = Setting up

## Contents
setup-order = New repair order
setup-order-about = One visit of one vehicle, with the work that is known now.
setup-import = Bring over open repair orders
setup-import-about = From a CSV file, so that a shop begins with the vehicles it has.
setup-people = People
setup-people-about = Who works here, where, what they may do, when they are away; invitations.
setup-departments = Departments
setup-departments-about = Leads or a pool, hours, deputies.
setup-equipment = Equipment
setup-equipment-about = Lifts, benches, stalls and booths by name: one vehicle at a time each.
setup-places = Places
setup-places-about = Where a vehicle can stand.
setup-calendars = Calendars
setup-calendars-about = Shifts, breaks, holidays.
setup-routings = Routings
setup-routings-about = What can be asked for, as steps from one department to the next.
setup-security = Sign-ins and refusals
setup-security-about = Who came in and from where, who may more since when, what was refused. For administrators.
setup-sisters = Sister shops
setup-sisters-about = Other shops of the same business: people of several shops go over with one sign-in.
setup-sisters-admin = Only an administrator says which shops belong together.
setup-sisters-intro = Who works in several shops goes from one to the other without signing in again. Only the sign-in goes over: vehicles, figures and settings stay with each shop, and in each a person can do what that shop lets them.
setup-sisters-step-one = Send this shop’s connection code to the other shop’s administrator, who enters it on this same page there.
setup-sisters-step-two = Enter the other shop’s connection code here, and compare its check number by telephone.
setup-sisters-step-three = When both are entered, the other shop stands on the page “More” and on top of the page “The shop”: go there.
setup-sisters-step-four = The first time it asks who you are there. Sign in there once and press “Yes, both are me”; from then on one touch is enough.
setup-sisters-own = The connection code of this shop
setup-sisters-own-how = It says: { $shop }, { $address }, and the shop’s public key. It need not be kept secret, but it must come from you and nobody else: whoever enters it sees a check number beside your shop’s name, which must be the one below.
setup-sisters-check = check number { $number }
setup-sisters-copy = Copy the connection code
setup-sisters-add = Enter another shop
setup-sisters-code = The connection code of the other shop
setup-sisters-added = { $shop } is entered.
setup-sisters-sure = Remove, and sign out who came from there
setup-shop = The shop itself
setup-shop-about = Name, time zone, usual hours, language.

## Everywhere
setup-none-yet = None yet.
setup-retired-count = { $count ->
    [one] One no longer used
   *[other] { $count } no longer used
  }
setup-missing = This is not there, or not on this device yet.
setup-choose = Please choose
setup-add = Add
setup-remove = Remove
setup-from = From
setup-until = Until
setup-last-day = Last day
setup-why = Why
setup-day = Day
setup-hours = Hours
setup-by-the-hour = By the hour
setup-yes = yes
setup-no = no
setup-name = Name
setup-title-field = Title
setup-department = Department
setup-in-spanish = { $field }, in Spanish
setup-language = Language
setup-calendar = Hours
setup-calendar-of-department = those of the department
setup-calendar-of-shop = those of the shop
setup-save = Save
setup-saved = Saved.
setup-sending = Being sent …
setup-kept-here = Kept on this device. It is sent as soon as the server is reached.
setup-refused = Not accepted.
setup-not-saved = Not saved yet; what you typed is kept in this tab.
setup-discard = Throw away what I typed
setup-rather-not = Rather not
setup-managers-only = Only a manager can change this.
setup-retire = No longer used
setup-unretire = Use it again

## What is wrong
setup-wrong-count = { $count ->
    [one] One thing above needs a look before this can be saved.
   *[other] { $count } things above need a look before this can be saved.
  }
setup-wrong-empty = This cannot be empty.
setup-wrong-choose = Please choose one.
setup-wrong-long = At most { $most } letters.
setup-wrong-many = At most { $most }; remove those that are over or not needed.
setup-wrong-reach = This lies before 1970 or more than five years ahead; check the year.
setup-wrong-step-word = This step’s short word is missing, is used by another step, or has more than { $most } letters; remove the step and add it again.
setup-wrong-minutes-most = At most { $hours } hours for one step.
setup-wrong-lag-most = At most { $days } days.
setup-wrong-sold = At most { $hours } hours are sold; check the number.
setup-wrong-absence = It must end after it begins.
setup-wrong-load = A load in kilograms, as the plate on the equipment says.
setup-wrong-shift = “{ $part }” cannot be read as hours. Write for example 7:00–11:30, 12:00–16:00.
setup-wrong-shift-clock = “{ $part }” is no time of day.
setup-wrong-shift-backwards = “{ $part }” ends before it begins. A night shift is written as two lines, up to 24:00 and from 0:00 of the next day.
setup-wrong-shift-overlap = “{ $part }” begins before the shift in front of it has ended.
setup-wrong-date = This needs a day.
setup-wrong-day-twice = This day stands here twice.
setup-wrong-no-steps = A routing needs at least one step.
setup-wrong-minutes = A length such as 0:40, 1:30 or 2 h.
setup-wrong-after = It follows “{ $step }”, which must stand above it.
setup-wrong-lag = The most time is less than the least.
setup-wrong-inside = No step above opens this.
setup-wrong-closes = No step above opens this, so it cannot be closed.
setup-wrong-zone = No such time zone. Write for example America/Chicago.
setup-wrong-email = This is no e-mail address.
setup-wrong-vehicle = Say what one sees: colour and shape.
setup-wrong-number-taken = { $number } is in the shop already.
setup-wrong-promise-past = This promise lies in the past.
setup-wrong-weight-reason = Others wait for this, so say why.
setup-wrong-hours = Hours such as 12.5.
setup-wrong-number = A number.

## People
setup-people-intro = Names, departments and roles can be read by everybody in the shop; e-mail addresses cannot.
setup-people-add = New person
setup-people-left = Left the shop
setup-people-left-sure = { $name } is signed out everywhere, what { $name } holds goes back to the queues, and the name stays on past work.
setup-people-back = Is back in the shop
setup-also = Also takes work of
setup-also-hint = Further departments whose queue this person sees.
setup-role = Role
role-may-technician = takes, works, asks
role-may-parts = the same, and says what parts hold up
role-may-planner = the same, opens orders, promises, puts first
role-may-manager = the same, and sets up the shop
role-may-admin = the same, and makes administrators
setup-qualifications = Qualifications
setup-qualifications-hint = Work that asks for one is offered only to people who have it.
setup-qualification-add = Further qualification
setup-valid-until = Valid until (empty: no end)
setup-away = Away
setup-away-add = Add time away
setup-invite = Sign-in
setup-invite-intro = A link that works once signs { $name } in on a phone. Show the code or send the link.
setup-invite-self = A code for a further device of yours is made in your own things:
setup-invite-make = Make a link
setup-invite-again = Make another link
setup-invite-qr = Code for the phone’s camera
setup-invite-scan = { $name } points the phone’s camera here, or opens the link. Good until { $time }.
setup-invite-once = Whoever opens it first is signed in as this person: show it to nobody else.
setup-copy = Copy the link
setup-copied = Copied
setup-contact = E-mail
setup-contact-intro = Only this person and managers see it. Mail is sent only if the shop has set up a mail server.
setup-email = E-mail address
setup-email-wanted = Tell this person by e-mail too
setup-contact-save = Save e-mail

## Departments
setup-departments-add = New department
setup-departments-sure = It is no longer offered anywhere; its past work stays.
setup-working = How work is dealt out
setup-working-lead = leads
setup-working-lead-hint = each vehicle has somebody whose car it is
setup-working-pool = a pool
setup-working-pool-hint = whoever is free takes the next one
setup-deputies = Deputies
setup-deputies-hint = Told when nobody of the department is on shift.
setup-rank = Place on screens
setup-rank-hint = A number; small ones come first.

## Equipment and places
setup-equipment-intro = Each piece by its own name, for one vehicle stands on one piece.
setup-equipment-add = New equipment
setup-equipment-title-hint = As people call it: Lift 2, not Lift.
setup-equipment-sure = It is no longer planned on; its past work stays.
setup-kind = Kind
setup-kind-hint = Work asks for a kind, and gets whichever is free.
setup-rated-load = Rated load, kg
setup-rated-load-hint = From the plate on the equipment.
setup-inspection = Next inspection due
setup-inspection-is = inspection due { $date }
setup-inspection-was = inspection was due { $date }
setup-out = Out of service
setup-out-add = Add time out of service
setup-out-now = out of service now
setup-lift-caution = Lifts: looked over by the operator every day, inspected by a qualified person at least every year (ANSI/ALI ALOIM). The maker’s instructions and local rules come first.
setup-places-intro = A vehicle is in one place at a time; moving it takes two taps.
setup-places-add = New place
setup-places-sure = It is no longer offered; where vehicles stood stays in the log.
setup-place-on = on { $equipment }
setup-place-equipment = Equipment at this place
setup-place-equipment-hint = Standing here means standing on it.
setup-place-floor = none, only floor

## Calendars
setup-calendars-intro = Used by the shop, by departments and by single people.
setup-calendars-add = New calendar
setup-calendar-week = { $hours } h a week
setup-week = The usual week
setup-week-hint = Write shifts with the breaks between them: 7:00–11:30, 12:00–16:00. Empty means closed.
setup-week-copy = The same until Friday
setup-closed = closed
setup-shifts-read = { $shifts }: { $hours } h of work
setup-shifts-hours = { $hours } h of work
setup-shifts-unclear = cannot be read yet
setup-special-days = Days unlike their weekday
setup-special-hint = Holidays with empty hours; short or borrowed days with theirs.
setup-special-add = Add a day

## Routings
setup-routings-intro = The shop’s own library. Work that is laid out already keeps the version it came from.
setup-routings-add = New routing
setup-routings-sure = It can no longer be asked for; work laid out from it stays.
setup-routings-maker = Times are planned times. What is done and how is up to the vehicle maker’s procedure, the product’s data sheet and local rules.
setup-routing-line = { $steps ->
    [one] one step
   *[other] { $steps } steps
  }, { $length }
setup-routing-drawn = The steps on a line over time, { $length } in all; thick is work, thin is the wait between.
setup-step-add = Add a step
setup-step-untitled = Step without a title
setup-step-title = What is done
setup-step-minutes = Planned
setup-step-minutes-hint = For example 0:40 or 2 h.
setup-step-up = Move up
setup-step-down = Move down
setup-step-remove = Remove this step
setup-step-equipment = Needs equipment
setup-step-no-equipment = none
setup-step-qualification = Needs a qualification
setup-step-no-qualification = none
setup-step-how = How
setup-off-vehicle = On a loose part, away from the vehicle
setup-beside = May go on beside other work
setup-one-go = Once begun, not left for tomorrow
setup-after = Comes after
setup-lag = At least this long after (cure)
setup-lag-max = At most this long after
setup-opens = Opens
setup-opens-hint = A state such as “suspension down”; what it stands on stays held until it is closed.
setup-inside = Worked while open
setup-inside-hint = Can be worked only while this is open.
setup-closes = Closes
setup-closes-hint = Ends the state, and frees what was held.
setup-opens-short = opens: { $open }
setup-closes-short = closes: { $open }
setup-left-open = “{ $open }” is opened and never closed: what the vehicle stands on would stay held.
setup-checks = Looked at before it is done
setup-check = Check
setup-check-add = Add a check
setup-cautions = Cautions
setup-cautions-hint = Each shows its sentence at the card.
setup-caution-lift = lift
setup-caution-unexpected_start = unexpected start
setup-caution-pulling = pulling
setup-caution-hot_work = welding and cutting
setup-caution-airbag = airbags and belts
setup-caution-high_voltage = high voltage
setup-caution-spraying = spraying and sanding
setup-caution-refrigerant = refrigerant
setup-caution-spring = springs
setup-caution-fuel = fuel
setup-caution-driving = driving

## The shop
setup-shop-name = Name of the shop
setup-zone = Time zone
setup-zone-hint = For example America/Chicago.
setup-shop-calendar = Usual hours
setup-shop-calendar-hint = They hold where a department or a person has none of their own.
setup-shop-language = Language of printed pages and of mail to people without one of their own

## A new repair order
setup-order-planners = Only a planner or manager can open a repair order.
setup-order-number = Number
setup-order-colour = Color
setup-order-shape = Shape
setup-order-other = Other
setup-order-vehicle = Vehicle
setup-order-vehicle-hint = What one sees when looking at it: grey wagon.
setup-order-vin = VIN, if known
setup-vin-length = A VIN has 17 characters. It is kept as you typed it.
setup-vin-letters = A VIN has no I, O or Q, and nothing but letters and digits. It is kept as you typed it.
setup-vin-digit = The check digit does not fit (49 CFR 565.15). Vehicles made for other countries need not have one; look once more. It is kept as you typed it.
setup-order-here = Where it is
setup-order-arrived = Here: the keys are in
setup-order-expected = Expected
setup-order-expected-at = Expected at
setup-order-place = Stands at
setup-order-place-unknown = not said yet
setup-order-towed = Towed in
setup-order-promise = Promise
setup-order-promise-hint = Can be left empty and promised later.
setup-order-routings = Work known now
setup-order-routings-hint = Laid out one after the other, in the order in which you tick them.
setup-order-routings-chosen = In this order: { $list }
setup-order-sold = Sold hours, if known
setup-order-sold-hint = Sold, planned and clocked hours are three numbers and are never mixed.
setup-order-weight = Urgency
setup-weight-1 = can wait
setup-weight-2 = as usual
setup-weight-4 = urgent
setup-order-weight-reason = Why
setup-order-voltage = High voltage
setup-voltage-none = none on board
setup-voltage-live = on board, live
setup-voltage-isolated = on board, isolated
setup-voltage-caution = Only qualified people isolate and prove dead. A damaged one stands apart, 15 m clear or behind a barrier (SAE J2990). No bake without the maker’s limit. The vehicle maker’s procedure and local rules come first.
setup-bake-celsius = Maker’s bake limit, °C of metal
setup-bake-minutes = For at most, minutes
setup-wrong-bake = Vehicles are baked at 30 to 100 °C, for 1 to 240 minutes.
setup-order-open = Open the repair order

## Bringing over
setup-import-intro = Save the list of open repair orders as CSV in the program you use now, and choose it here. Nothing is made until you say so at the end.
setup-import-file = The file
setup-import-paste = Or paste it
setup-import-large = This file is larger than 4 MB: it is hardly a list of open orders.
setup-import-try = Look at it
setup-import-reading = Reading …
setup-import-columns = Which column is what
setup-import-columns-hint = What could be guessed is filled in. Columns nobody names are left out.
setup-import-needed = needed
setup-import-no-column = no column
setup-import-words = What these words mean
setup-import-words-hint = Your program uses words that this shop does not know. Say once what each one means here.
setup-import-word = { $field }: “{ $word }” ({ $count ->
    [one] one line
   *[other] { $count } lines
  })
setup-import-choose = choose …
setup-import-leave-out = nothing: leave it out
setup-import-unsaid = { $count ->
    [one] One line waits
   *[other] { $count } lines wait
  } until you have said what their words mean.
setup-import-result = What was read
setup-import-counts = { $rows ->
    [one] One line
   *[other] { $rows } lines
  }: { $good } can be brought over, { $bad } cannot.
setup-import-missing = Still needed: { $fields }.
setup-import-bad = Lines that cannot be read
setup-import-warnings = Brought over all the same, but worth a look
setup-import-planners = Only a planner or manager can bring over repair orders.
setup-import-line = Line
setup-import-column = Column
setup-import-why = Why
setup-import-preview = The first of those that can
setup-import-do = { $count ->
    [one] Bring over one repair order
   *[other] Bring over { $count } repair orders
  }
setup-import-bad-left = The others stay out. Put them right in the file and bring them over afterwards: what is here already is not made twice.
setup-import-made = { $count ->
    [one] One repair order was brought over.
   *[other] { $count } repair orders were brought over.
  }
setup-import-look = Look at the shop
setup-import-more = Bring over more
setup-field-number = Number
setup-field-vehicle = Vehicle
setup-field-vin = VIN
setup-field-promise = Promise
setup-field-arrived = Keys in
setup-field-stage = Stage
setup-field-towed_in = Towed in
setup-field-sold_hours = Sold hours
setup-field-weight = Urgency
setup-field-place = Place
setup-field-routings = Work
setup-wall = A screen on the wall
setup-wall-intro = A link for a screen that everybody sees: it shows the shop as it stands and enters nothing. It stays signed in without anybody typing, for as long as you are of this shop; your devices list it, and end it.
setup-wall-scan = Open the link on the screen itself. Good until { $time }.
setup-wall-once = Whatever opens it first becomes the screen.

begin-title = First steps
begin-shop = Name, time zone and hours of the shop
begin-people = Who works here
begin-equipment = Lifts, benches and booths
begin-order = The repair orders that are open now
begin-phones = Phones: each person signs in by a code you show
begin-done = done
begin-later = Not now

# Erasing a person
setup-erase = Erase
setup-erase-intro = Takes this person’s name, texts and photos out of the shop for good, where they or the law ask for it. Somebody who has only left needs no erasing.
setup-erase-look = Erase { $name } …
setup-erase-goes = What goes, for good
setup-erase-goes-name = The name, the e-mail address, password and PIN. { $name } is signed out everywhere and leaves the shop.
setup-erase-goes-texts = What { $name } wrote: notes, reasons, what was said when asking, holding or putting first, marks on pictures; and what was typed about absences.
setup-erase-goes-photos = The pictures { $name } took, from everybody’s phone too. Look first whether one is needed for a vehicle that is still here.
setup-erase-goes-phones = Phones and tablets of the shop forget it when they next reach the server. What they still bring counts as work; its texts and pictures are not kept.
setup-erase-stays = What stays
setup-erase-stays-work = What was done, when, and for how long, as the work of nobody by name: the repair record and pay need it. So do checks, findings and high-voltage states.
setup-erase-stays-things = What { $name } set up or named: vehicles, cards, sequences; and where keys and bolts were said to be.
setup-erase-stays-backups = Backups made before. Each restore erases again by the list beside the backups; delete old ones when their time is over.
setup-erase-stays-sisters = What other shops, mail boxes, printed pages and exports hold. Sister shops erase for themselves.
setup-erase-sure = Nobody can take this back.
setup-erase-do = Erase { $name }
setup-erased-line = Erased person
setup-erased = Erased { $at }. Their hours stay with { $department }. If they come back, add them as a new person.

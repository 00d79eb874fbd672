### A tablet that several people share.

who-is-there = Who is there?
add-somebody = Add somebody
add-somebody-how = With an own link or code from a manager, or from “Another phone” in your own app. Then you choose a PIN for this tablet.
pin = PIN
pin-new = New PIN
pin-again = Once more
pin-choose = Choose a PIN for this tablet: { $from } to { $to } digits. It keeps your work apart from that of others; lock the tablet when you walk away.
pin-other = Another PIN
pin-late = You came in here too long ago to choose a PIN. Ask a manager for a new link, open it on this tablet, and choose within ten minutes.
admin-password-how = Administrators have no PIN on a shared tablet. Sign in by password or passkey; the server must be reached.
pin-enter = OK
pin-back = Take back one digit
pin-digits = { $count ->
    [one] 1 digit
   *[other] { $count } digits
  }
pin-looking = One moment …
pin-wrong = That is not the PIN.
pin-differs = The two were not the same. Begin again.
pin-refused = The server did not take this PIN. Choose another one.
pin-no-pin = There is no PIN of yours on this tablet yet, and the shop’s server is not reached. Try again when it is.
pin-ended = Your sign-in on this tablet has ended. Come in with a new link. What is not sent stays here and is sent.
pin-wait = { $count ->
    [one] That was not the PIN. Try again in 1 second.
   *[other] That was not the PIN. Try again in { $count } seconds.
  }
not-me = Somebody else
tablet-ended = This sign-in has ended in the shop. Come in with a new link. What is not sent stays here and is sent.
tablet-pin-changed = The PIN was changed elsewhere. Type the new one.

share-tablet = Share this tablet
share-how = Several people use this tablet, each with a PIN: everybody’s work is kept apart, and sent whoever is there.
share-begin = Share this tablet
share-insecure = That needs a secure address (https).
share-on = Several people use this tablet. It locks by itself.
share-end = Only I use it from now on
locks-after = Locks after
minutes-count = { $count ->
    [one] 1 minute
   *[other] { $count } minutes
  }

## What is kept on this phone
on-this-phone = On this phone
almost-full-how = This phone is almost full. What you do is still kept; photos are not, until there is room: send what waits, or clear something else on the phone.
kept-promised = This phone promised to keep what is not sent, also when it clears up.
kept-not-promised = This phone has not promised to keep what is not sent: it may clear it when it runs short. Putting Turnbuckle on the home screen helps.
kept-ask = Ask the phone to keep it
kept-not-given = The phone did not promise it.
room-used = { $used } MB kept here, { $share } % of what the phone allows.
photos-waiting = { $count ->
    [one] 1 photo waits to be sent.
   *[other] { $count } photos wait to be sent.
  }

## Another phone
trust = A new device on the shop’s network
trust-how = Open this page on it first. It shows the fingerprint of { $authority }, the shop’s own authority. Go on only if it is the same as here:
other-phone-how = Makes a code that signs you in on another phone or in the home screen app. It is good for ten minutes and works once.
make-code = Make a code
proof-secret = Your password or PIN: whoever only holds this phone makes no code
proof-wrong = That is not your password or PIN.
qr-alt = Code to scan with the other phone
devices-later = Shown when the server is reached.
seen-at = Last seen { $at }
sign-out-device = Sign out there
password-now = Password now (if you have one)
password-new = New password, at least { $count } characters
password-end-others = Sign me out everywhere else, and take away passkeys made there
password-wrong_password = That is not your password now.
password-password_length = A password has 10 to 128 characters.
password-password_usual = Many people have this password, or it is made of the shop’s or your own name. Choose another: three or four words that do not belong together are good.
password-link_too_old = You came in here too long ago to choose a first password. Ask a manager for a new link, open it on this device, and choose within ten minutes.
password-too_many_tries = Too many tries. Wait a few minutes.
code-good-until = Good until { $at }, and once. Who has it can sign in as you.
other-phone-install = On the other phone open the shop’s address in the browser and put Turnbuckle on the home screen. Open it there.
other-phone-type = Type the code there, or scan the picture, or open the link.
copy-link = Copy the link
send-link = Send the link
link-copied = Link copied.
code-over = The code is too old. Make a new one.
held-face = { $count ->
    [one] 1 thing is sent when you unlock
   *[other] { $count } things are sent when you unlock
  }
sign-out = Sign out
mail = E-mail
mail-address = E-mail address
mail-me = Also tell me by e-mail
other-phone = Another phone
this-one = (this one)
sign-out-unsent = { $count ->
    [one] 1 thing is not sent. It stays on this phone and is sent when you sign in again.
   *[other] { $count } things are not sent. They stay on this phone and are sent when you sign in again.
  }
device-from = came from { $shop };
device-wall = on the wall

call-title = When my vehicle is up or back
call-both = Sound and vibration
call-sound = Sound
call-vibration = Vibration
call-none = Neither

//! What a caller may send at most, with the reason. What one step of the sync takes is in `sync::limits`.

use std::time::Duration;

/// Bytes of one push.
pub const PUSH_BYTES_MAX: usize = 256 * 1024;
/// Bytes of any other JSON body (an import of some thousand lines fits).
pub const BODY_BYTES_MAX: usize = 2 * 1024 * 1024;
/// A photo scaled down on the phone is below 2 MB; a camera original is below this.
pub const PHOTO_BYTES_MAX: u64 = 24 * 1024 * 1024;
/// One piece of an upload.
pub const PHOTO_CHUNK_BYTES_MAX: usize = 8 * 1024 * 1024;
/// Unfinished uploads of one person: a long day without signal, not a way to fill the disk.
pub const UPLOADS_MAX: usize = 500;
/// Lines of one import: the open orders of a very large shop; more is another kind of file.
pub const IMPORT_LINES_MAX: usize = 2_000;
/// Its columns: what a program lists about an order, and then some.
pub const IMPORT_COLUMNS_MAX: usize = 300;
/// Pixels a decoder may be asked to unfold: a 50-megapixel picture, not a bomb.
pub const PHOTO_PIXELS_MAX: u32 = 50_000_000;
/// Sign-in tries for one name before the next must wait: enough for cold fingers, too few to guess.
pub const PASSWORD_TRIES_MAX: u32 = 10;
/// The same from everywhere together, for browsers that were never here: a guesser with many addresses gets no further,
/// and whoever shares the name signs in on a browser of their own.
pub const PASSWORD_TRIES_ALL_MAX: u32 = 100;
/// Unknown links, passes and wrong passwords from one address before it must wait: a whole shop behind one address
/// mistypes less.
pub const WRONG_FROM_ADDRESS_MAX: u32 = 200;
/// Names and addresses whose tries are remembered at once: some 400 bytes each, so below 10 MB.
pub const TRIES_KEPT: usize = 20_000;
/// The wait, in milliseconds, after the last try that was free; each further one doubles it.
pub const TRY_WAIT_FIRST: i64 = 60_000;
/// And never longer: who shares an address with a guesser comes in all the same.
pub const TRY_WAIT_MAX: i64 = 15 * 60_000;
/// From how many wrong passwords on the person is told: anybody mistypes a few times.
pub const TRIES_TOLD_FROM: u32 = 5;
/// A PIN changes between people who are signed in on the same tablet; it opens nothing from elsewhere.
pub const PIN_DIGITS_MIN: usize = 4;
pub const PIN_DIGITS_MAX: usize = 8;
/// Passkeys of one person: a laptop, a phone, a key on the ring, and spares.
pub const PASSKEYS_MAX: usize = 20;
/// What its owner calls one.
pub const PASSKEY_NAME_CHARS_MAX: usize = 60;
/// Shortest password of a manager (NIST SP 800-63B asks for 8 at least).
pub const PASSWORD_CHARS_MIN: usize = 10;
pub const PASSWORD_CHARS_MAX: usize = 128;

// Before anybody has signed in. -----------------------------------------------------------------------

/// Bytes of a body with which somebody signs in: the longest pass of a sister shop is below 2 KB.
pub const SIGN_IN_BYTES_MAX: usize = 8 * 1024;
/// Passwords checked at once. Each takes 19 MiB and about a fortieth of a second of a core; two leave the
/// rest of a small machine to those who work.
pub const HASHING_RUNNING: usize = 2;
/// Who waits for that: the start of a shift. With two running they wait below a second.
pub const HASHING_WAITING: usize = 16;
/// How long a head may take (Wi-Fi behind a steel wall), and a body before its speed is looked at.
pub const REQUEST_HEAD_WAIT: Duration = Duration::from_secs(10);
pub const BODY_GRACE: Duration = Duration::from_secs(10);
/// Slowest body after that: the slowest mobile network a photo is sent over is faster.
pub const BODY_BYTES_A_SECOND: u64 = 4 * 1024;
/// A phone behind a steel wall needs more than a moment for its greeting.
pub const HANDSHAKE_WAIT: Duration = Duration::from_secs(10);
/// How long a connection stays open for the next question.
pub const CONNECTION_IDLE: Duration = Duration::from_secs(15);
/// How long a connection is read from after a refusal, so that whoever was still sending gets to see it.
pub const LAST_WORDS: Duration = Duration::from_secs(2);
/// Connections of all who have not shown a sign-in. At most some 150 KB each (a head that never ends, and
/// what TLS holds), so below 40 MB.
pub const SEATS_STRANGERS: usize = 256;
/// Of these from one address: a shift of thirty that opens the app at once, with six connections a browser,
/// keeps most of them as soon as it has asked the first thing.
pub const SEATS_ADDRESS: usize = 128;
/// Connections of those who have, in all: two hundred phones, tablets and screens with five each.
pub const SEATS_SIGNED_IN: usize = 1_000;
/// Of these by one sign-in: a browser opens six, and a few tabs may have one sign-in.
pub const SEATS_SIGN_IN: usize = 24;
/// Handles kept free for the journals, tables, photos and the mail server.
pub const HANDLES_KEPT: u64 = 96;
/// Handles with which all of that fits.
pub const HANDLES_WANTED: u64 = 4_096;

// Photos. ---------------------------------------------------------------------------------------------

/// Pictures that wait while one is drawn. The largest takes some seconds; more would hold threads that
/// answer everything else.
pub const DRAWINGS_WAITING: usize = 8;
/// Uploads that one person begins in an hour: eighty photos of a long day, with every one begun anew a few
/// times behind a steel wall.
pub const UPLOADS_AN_HOUR: u32 = 400;
/// The share of the disk that photos leave free: the log grows slowly, and work goes on in the tenth.
pub const DISK_FREE_MIN: f64 = 0.1;
/// How long asking whether the server takes requests may take on the way that requests go.
pub const READY_WAIT: Duration = Duration::from_secs(2);

// Writing. --------------------------------------------------------------------------------------------

/// Bytes of one operation that sets the shop up: a routing of a hundred steps in two languages.
pub const SETUP_OP_BYTES_MAX: usize = 64 * 1024;
/// Of any other: a note of four thousand characters is at most 16 KB, a picture with fifty marks below 40.
pub const OP_BYTES_MAX: usize = 40 * 1024;
/// What one sign-in may send at once: the longest offline day of a tablet that six people share is some six
/// hundred operations; five of those.
pub const WRITE_OPS: f64 = 3_000.0;
pub const WRITE_BYTES: f64 = 8.0 * 1024.0 * 1024.0;
/// And in each hour after that: somebody who taps without a pause does below six hundred.
pub const WRITE_OPS_AN_HOUR: f64 = 1_000.0;
pub const WRITE_BYTES_AN_HOUR: f64 = 2.0 * 1024.0 * 1024.0;

// Telling. --------------------------------------------------------------------------------------------

/// Refused requests of one address that are told in a minute; then one line says that there are more.
pub const SECURITY_DENIED_A_MINUTE: u32 = 60;
/// What administrators see of the time since the start: so many sign-ins and changes, and as many refusals.
pub const SECURITY_KEPT: usize = 1_000;
/// Of these at once.
pub const SECURITY_SHOWN: usize = 200;

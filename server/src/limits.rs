//! What a caller may send at most, with the reason. What one step of the sync takes is in `sync::limits`.

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
/// Sign-in tries for one name in a quarter of an hour: enough for cold fingers, too few to guess.
pub const PASSWORD_TRIES_MAX: u32 = 10;
/// A PIN changes between people who are signed in on the same tablet; it opens nothing from elsewhere.
pub const PIN_DIGITS_MIN: usize = 4;
pub const PIN_DIGITS_MAX: usize = 8;
/// Shortest password of a manager (NIST SP 800-63B asks for 8 at least).
pub const PASSWORD_CHARS_MIN: usize = 10;
pub const PASSWORD_CHARS_MAX: usize = 128;
